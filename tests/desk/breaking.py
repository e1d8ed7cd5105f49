"""Readers that break in every way, in place of the real one."""

import base64
import ctypes
import json
import os
import struct
import sys
import time


def piece(*values: float) -> None:
    raw = base64.b64encode(struct.pack(f"<{len(values)}f", *values)).decode()
    print(json.dumps({"piece": raw}), flush=True)


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
    elif way == "noise":
        piece(float("nan"), float("inf"), -9e30, 0.5)
        piece(1.0)
        print('{"piece": "not sound"}\n{"piece": 7}\n{"piece": "AAA="}')
    elif way == "hang":
        piece(0.5)
        time.sleep(60)
    elif way == "flood":
        print('{"piece": "' + "A" * 1_000_000 + '"}', flush=True)
        time.sleep(60)
    elif way == "chatter":
        for _ in range(100_000):
            print('{"at": "plan.dxf"}', flush=True)


if __name__ == "__main__":
    _main()
