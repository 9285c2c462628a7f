"""The app at a pour that was left, on a disk that hangs as soon as there is a file "hang" on it."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from typing import Any

from straight_to_pour import straight

FOLDER = Path(sys.argv[1]).parent
SIGN = FOLDER / "hang"


def hangs(call: Any) -> Any:
    def hanging(first: Any, *rest: Any, **more: Any) -> Any:
        here = isinstance(first, int) or str(first).startswith(str(FOLDER))
        while here and first != 1 and os.path.lexists(SIGN) and not _is_elsewhere(first):
            time.sleep(0.05)
        return call(first, *rest, **more)

    return hanging


def _is_elsewhere(file: Any) -> bool:
    if not isinstance(file, int):
        return False
    try:
        return not os.readlink(f"/proc/self/fd/{file}").startswith(str(FOLDER))
    except OSError:
        return True


for name in ("open", "write", "fsync", "unlink"):
    setattr(os, name, hangs(getattr(os, name)))

if __name__ == "__main__":
    sys.exit(straight())
