"""Asking a disk that may not answer: condition by condition, without waiting on the clock."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from hung_kit import LONG_S, Named

from soapbench.logfile import patience
from soapbench.logfile.patience import Asked, NoAnswer, glanced, telling, within


def test_looks_and_openings_have_their_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """A quarter of a second for a look, four for opening a log, a second until a terminal that
    shows nothing is told of (ours)."""
    asked: list[float] = []
    monkeypatch.setattr(patience, "within", lambda s, act: (asked.append(s), act())[1])
    assert glanced(lambda: 3) == 3
    assert asked == [0.25]
    assert Asked(lambda: 3, 0)._patience_s == 0.25
    assert patience.OPEN_S == 4.0
    timers: list[tuple[float, bool]] = []

    class Timer(threading.Timer):
        def start(self) -> None:
            timers.append((self.interval, self.daemon))

    monkeypatch.setattr(threading, "Timer", Timer)
    with telling(lambda: None):
        pass
    with telling(lambda: None, 7.0):
        pass
    assert timers == [(1.0, True), (7.0, True)], "it keeps no program from ending"


def test_no_answer_in_time_is_none_for_a_look(monkeypatch: pytest.MonkeyPatch) -> None:
    def late(seconds: float, act: Callable[[], int]) -> int:
        raise NoAnswer

    monkeypatch.setattr(patience, "within", late)
    assert glanced(lambda: 3) is None


def test_what_comes_in_time_is_not_let_go_of(monkeypatch: pytest.MonkeyPatch, named: Named) -> None:
    wrong: list[object] = []
    monkeypatch.setattr(threading, "excepthook", wrong.append)
    unwanted: list[int] = []
    assert within(LONG_S, lambda: 3, unwanted.append) == 3
    assert within(LONG_S, lambda: 0) == 0
    with pytest.raises(KeyError):
        within(LONG_S, lambda: {}[1], unwanted.append)
    go = threading.Event()
    with pytest.raises(NoAnswer):
        within(0.0, lambda: go.wait(LONG_S) and 5, unwanted.append)
    with pytest.raises(NoAnswer):
        within(0.0, lambda: go.wait(LONG_S) and 5)
    assert len(named("patience")) == 2
    assert all(thread.daemon for thread in named("patience"))
    go.set()
    for thread in named("patience"):
        thread.join(LONG_S)
    assert unwanted == [5]
    assert wrong == []


def test_a_question_is_asked_once_at_a_time(named: Named) -> None:
    go, asked = threading.Event(), []

    def ask() -> int:
        asked.append(1)
        assert go.wait(LONG_S)
        return len(asked)

    look = Asked(ask, 0, patience_s=0.0)
    assert [look(), look(), look()] == [0, 0, 0]
    assert len(asked) == 1
    assert all(thread.daemon for thread in named("a look"))
    go.set()
    assert look._asking is not None
    look._asking.join(LONG_S)
    look._patience_s = LONG_S
    assert look() == 2
    assert len(asked) == 2


def test_a_look_that_fails_gives_the_answer_before() -> None:
    def refuse() -> int:
        raise OSError("gone")

    look = Asked(refuse, 7, patience_s=LONG_S)
    assert look() == 7
