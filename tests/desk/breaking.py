"""Readers that break in every way, in place of the real one."""

import ctypes
import json
import os
import sys


def _main() -> None:
    way = json.loads(sys.stdin.readline())["name"]
    print('{"at": "plan.dxf"}', flush=True)
    if way == "segfault":
        ctypes.string_at(0)
    elif way == "abort":
        os.abort()
    elif way == "raise":
        raise LookupError("a bug")
    elif way == "half":
        print('{"problems": [], "fac', end="", flush=True)
    elif way == "lies":
        print('{"problems": [{"file": 1}], "facts": {}}')


if __name__ == "__main__":
    _main()
