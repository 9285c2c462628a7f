"""What the system tells a program in a terminal: end, the window is closed, stop, go on."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
import threading
from collections.abc import Callable

HANGUP_S = 4.0
"""Time to put a terminal back that may be gone; then the program ends all the same (ours)."""


def end_anyhow(last: Callable[[], object] = lambda: None) -> None:
    """End within some seconds whatever hangs, a terminal or a disk; ``last`` is done just before.

    Every entry is durable before a screen says so, and the system lets go of a lock by itself.
    """

    def over() -> None:
        last()
        os._exit(0)

    timer = threading.Timer(HANGUP_S, over)
    timer.daemon = True
    timer.start()


def listen(
    leave: Callable[[], None],
    drawn: Callable[[], object],
    give_back: Callable[[], object] = lambda: None,
) -> None:
    """Leave when told to end, draw again when gone on with. Call it with the screen running.

    ``give_back``: puts the terminal back when leaving hangs.
    """
    if os.name != "posix":
        return
    loop = asyncio.get_running_loop()

    def ended() -> None:
        end_anyhow(give_back)  # the terminal may be gone, a disk may hang
        leave()

    ends = (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)
    for number in ends:
        loop.add_signal_handler(number, ended)
    if _tell_stops_apart(drawn):
        _hear_anyhow(frozenset(ends), lambda: end_anyhow(give_back))


def _hear_anyhow(ends: frozenset[int], act: Callable[[], object]) -> None:
    """``act`` on a thread of its own when told to end: a disk may hold up the one of the screen."""
    ours, theirs = socket.socketpair()
    theirs.setblocking(False)
    loops = signal.set_wakeup_fd(theirs.fileno(), warn_on_full_buffer=False)

    def hear() -> None:
        with theirs:  # held open as long as somebody listens
            while heard := ours.recv(64):
                if ends.intersection(heard):
                    act()
                with contextlib.suppress(OSError):
                    os.write(loops, heard)

    threading.Thread(target=hear, name="signals", daemon=True).start()


def _tell_stops_apart(drawn: Callable[[], object]) -> bool:
    """Take the terminal again only after it was given back.

    The toolkit takes it with every "go on", even after a stop from outside that it never saw;
    the terminal it would then put back at the end is one already taken, and stays deaf.
    False: there is no real terminal.
    """
    stop, go_on = signal.getsignal(signal.SIGTSTP), signal.getsignal(signal.SIGCONT)
    if not callable(stop) or not callable(go_on):
        return False
    given_back = False

    def stopped(number: int, frame: object) -> None:
        nonlocal given_back
        given_back = True
        stop(number, None)

    def gone_on(number: int, frame: object) -> None:
        nonlocal given_back
        if given_back:
            given_back = False
            go_on(number, None)
        else:
            drawn()

    signal.signal(signal.SIGTSTP, stopped)
    signal.signal(signal.SIGCONT, gone_on)
    return True
