"""Helpers: second processes of this program, run by the same Python with pipes for their ends.

A helper sees no terminal and is not reached by keys that signal.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys

_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def start_helper(module: str, *words: str) -> subprocess.Popen[bytes] | None:
    """``module`` run with ``words`` and pipes for input and output; None where that cannot be."""
    if not sys.executable:
        return None
    where = os.pathsep.join(part for part in sys.path if part)
    with contextlib.suppress(OSError, ValueError):
        return subprocess.Popen(
            [sys.executable, "-P", "-m", module, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, **_ONE_THREAD, "PYTHONPATH": where},
            start_new_session=True,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    return None
