"""Asking a disk that may hang (a network folder, a worn stick): nobody waits for it long."""

from __future__ import annotations

import contextlib
import errno
import threading
from collections.abc import Callable, Iterator
from typing import Generic, TypeVar

NO_ANSWER = "the disk does not answer"
LOOK_S = 0.25
"""For a look that is taken again and again: less than it takes to be noticed (ours)."""
OPEN_S = 4.0
"""For opening a log with all that takes; a busy machine loads for a second (ours)."""
TELL_S = 1.0
"""A terminal that shows nothing for longer is taken for a program that does nothing (ours)."""
T = TypeVar("T")


class NoAnswer(OSError):
    """The disk has not answered in time."""

    def __init__(self) -> None:
        super().__init__(errno.ETIMEDOUT, NO_ANSWER)


def within(seconds: float, act: Callable[[], T], late: Callable[[T], object] | None = None) -> T:
    """What ``act`` gives or raises, done on another thread; NoAnswer where that takes longer.

    ``late``: done with what comes after all, on that thread, since nobody waits for it any more.
    """
    done = threading.Condition()
    results: list[T] = []
    failed: list[BaseException] = []
    given_up = False

    def run() -> None:
        try:
            result = act()
        except BaseException as error:  # noqa: BLE001 - raised again where it was asked for
            with done:
                failed.append(error)
                done.notify_all()
            return
        with done:
            results.append(result)
            done.notify_all()
            unwanted = given_up
        if unwanted and late:
            late(result)

    # A daemon: a disk that never answers must not keep the program from ending.
    threading.Thread(target=run, name="patience", daemon=True).start()
    with done:
        if not done.wait_for(lambda: results or failed, seconds):
            given_up = True
            raise NoAnswer
    if failed:
        raise failed[0]
    return results[0]


def glanced(act: Callable[[], T]) -> T | None:
    """What ``act`` gives where the disk answers at once, else None."""
    try:
        return within(LOOK_S, act)
    except NoAnswer:
        return None


@contextlib.contextmanager
def telling(tell: Callable[[], object], seconds: float = TELL_S) -> Iterator[None]:
    """Call ``tell``, on another thread, where what is done meanwhile takes longer."""
    late = threading.Timer(seconds, tell)
    late.daemon = True
    late.start()
    try:
        yield
    finally:
        late.cancel()


class Asked(Generic[T]):
    """The last answer to a question that is put to a disk again and again."""

    def __init__(self, ask: Callable[[], T], first: T, patience_s: float = LOOK_S) -> None:
        self._ask = ask
        self._last = first
        self._patience_s = patience_s
        self._asking: threading.Thread | None = None

    def __call__(self) -> T:
        """The answer, where it comes at once, else the one before. Never raises OSError."""
        if self._asking is None or not self._asking.is_alive():
            self._asking = threading.Thread(target=self._run, name="a look", daemon=True)
            self._asking.start()
            self._asking.join(self._patience_s)
        return self._last

    def _run(self) -> None:
        with contextlib.suppress(OSError):  # the answer before still is the best there is
            self._last = self._ask()
