"""Helpers: second processes of this program, run by the same Python with pipes for their ends.

A helper sees no terminal and is not reached by keys that signal. By hand: processes that
``multiprocessing`` starts stay in this one's session, where Ctrl+C reaches them, and load the
program's main module again.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading

_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def end_with_parent() -> None:
    """For a helper that reads nothing: end at once when the program that started it is gone.

    However that ended, its end of the helper's input is closed then.
    """

    def wait() -> None:
        with contextlib.suppress(OSError, ValueError):
            while os.read(0, 4096):
                pass
        os._exit(1)

    threading.Thread(target=wait, name="parent", daemon=True).start()


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
