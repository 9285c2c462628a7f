"""The app on a bench whose disk hangs from the first: every look below its folder waits."""

from __future__ import annotations

import builtins
import io
import os
import sqlite3
import sys
import time
from typing import Any

FOLDER = os.environ["SOAPBENCH_DIR"]


def hangs(call: Any) -> Any:
    def hanging(path: Any = ".", *rest: Any, **more: Any) -> Any:
        while not isinstance(path, int) and os.fspath(path).startswith(FOLDER):
            time.sleep(0.05)
        return call(path, *rest, **more)

    return hanging


for name in ("open", "stat", "lstat", "scandir", "listdir", "mkdir", "unlink", "access"):
    setattr(os, name, hangs(getattr(os, name)))
io.open = builtins.open = hangs(io.open)
sqlite3.connect = hangs(sqlite3.connect)

if __name__ == "__main__":
    from soapbench.cli import main
    from soapbench.logfile import patience
    from soapbench.ui import signals

    patience.OPEN_S, signals.HANGUP_S = 1.5, 0.5
    sys.exit(main(sys.argv[1:]))
