"""`bolewalk`, but its desk dies, once, between keeping something and answering.

    python -m tests.desk.dying MARK desk --data DIR --port N

It dies by SIGKILL after the first change it keeps while the file MARK is there, and takes it away.
"""

import os
import signal
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

from bolewalk.__main__ import main
from bolewalk.desk.tasks import Tasks
from bolewalk.store.store import Store

KEEPING = ((Store, "change"), (Store, "undo"), (Store, "create_survey"), (Tasks, "ask"))


def dying(kept: Callable[..., Any], mark: Path) -> Callable[..., Any]:
    """Give what keeps something and does not live to tell."""

    @wraps(kept)
    def keep(*arguments: Any, **options: Any) -> Any:
        done = kept(*arguments, **options)
        if mark.exists():
            mark.unlink()
            os.kill(os.getpid(), signal.SIGKILL)
        return done

    return keep


if __name__ == "__main__":
    where = Path(sys.argv.pop(1))
    for holder, name in KEEPING:
        setattr(holder, name, dying(getattr(holder, name), where))
    main()
