"""Many logs read at once: by helpers of this program, or in this process where those cannot be.

A helper runs this module. It ends when its input does, so that none outlives the program that
started it, however that ended.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Generator, Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pathlib import Path
from queue import SimpleQueue

from soapbench.bench.helpers import start_helper
from soapbench.bench.summary import Derive, Record, digest

MANY = 1000
"""From this many logs on helpers read them; fewer are read before one has started."""
CHUNK = 200
"""Logs read for one question."""
MOST_HELPERS = 4


def read_many(
    bench: Path, paths: Sequence[str], derive: Derive | None
) -> Generator[list[Record], None, None]:
    """Records of these logs in their order, some at a time; files that are gone are left out."""
    chunks = [paths[start : start + CHUNK] for start in range(0, len(paths), CHUNK)]
    name = _name_of(derive)
    count = min(os.cpu_count() or 1, MOST_HELPERS)
    if len(paths) < MANY or count < 2 or name is None or not sys.executable:
        yield from (read_here(bench, chunk, derive) for chunk in chunks)
        return
    helpers = [Helper(bench, name) for _ in range(count)]
    free = SimpleQueue[Helper]()
    for helper in helpers:
        free.put(helper)

    def ask(chunk: Sequence[str]) -> list[Record] | None:
        helper = free.get()
        try:
            return helper.ask(chunk)
        finally:
            free.put(helper)

    threads = ThreadPoolExecutor(count)
    try:
        for chunk, records in zip(chunks, threads.map(ask, chunks), strict=True):
            yield read_here(bench, chunk, derive) if records is None else records
    finally:
        for helper in helpers:
            helper.end()
        threads.shutdown(cancel_futures=True)


def read_here(bench: Path, paths: Sequence[str], derive: Derive | None) -> list[Record]:
    """The records of these logs, read in this process."""
    records = (digest(bench, path, derive) for path in paths)
    return [record for record in records if record is not None]


def _name_of(derive: Derive | None) -> str | None:
    """How a helper finds ``derive.history``; None: it cannot."""
    if derive is None:
        return ":"
    module = getattr(derive.history, "__module__", "")
    name = getattr(derive.history, "__qualname__", "")
    named = getattr(sys.modules.get(module), name, None)
    return f"{module}:{name}" if module != "__main__" and named is derive.history else None


def _derive_named(name: str) -> Derive | None:
    module, _, function = name.partition(":")
    return Derive(str, getattr(import_module(module), function)) if module else None


class Helper:
    """A process that reads logs when asked; one that cannot be started answers nothing."""

    def __init__(self, bench: Path, name: str) -> None:
        """``name``: "module:function" of ``derive.history``, ":" for none."""
        self._process = start_helper(__name__, str(bench.absolute()), name)

    def ask(self, paths: Sequence[str]) -> list[Record] | None:
        """The records of these logs; None: the helper is gone or talks nonsense."""
        process = self._process
        if process is None or process.stdin is None or process.stdout is None:
            return None
        try:
            process.stdin.write(json.dumps(paths).encode() + b"\n")
            process.stdin.flush()
            return [tuple(record) for record in json.loads(process.stdout.readline())]
        except (OSError, ValueError, TypeError):
            return None

    def end(self) -> None:
        """Let it go; what it was reading is not waited for."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()  # whoever waits for its answer gets none now
            for pipe in (self._process.stdin, self._process.stdout):
                if pipe is not None:
                    with contextlib.suppress(OSError):
                        pipe.close()


def serve(bench: Path, name: str) -> None:
    """Answer one line of paths with one line of records, until there is no more to answer."""
    derive = _derive_named(name)
    for line in sys.stdin.buffer:
        answer = json.dumps(read_here(bench, json.loads(line), derive))
        sys.stdout.buffer.write(answer.encode() + b"\n")
        sys.stdout.buffer.flush()


if __name__ == "__main__":
    serve(Path(sys.argv[1]), sys.argv[2])
