"""Whatever a terminal sends, the pour goes on and the next key is heard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from safety_kit import dies, new_desk, notes
from textual import events
from textual.message import Message

from soapbench.advice.known import Known
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.clock import SystemClock
from soapbench.ui.terminal.keyboard import Keyboard
from tests.stress.terminal import Terminal, straight_to_pour

ODD = {
    "a Latin-1 letter": b"\xe9",
    "a byte no encoding has": b"\xff",
    "a lone continuation": b"\x80\xbf",
    "a letter cut short": b"\xc3",
    "a sign cut short": b"\xf0\x9f",
    "half of a pair": b"\xed\xa0\x80",
    "a key beyond all characters": b"\x1b[1114112u",
    "a key of twenty digits": b"\x1b[99999999999999999999u",
    "a key of five thousand digits": b"\x1b[" + b"9" * 5000 + b"u",
    "a key that is half a pair": b"\x1b[55296u",
    "text that is half a pair": b"\x1b[97;1;55296u",
    "a window of no size there is": b"\x1b[48;99999;99999;9;9t",
    "a window of many digits": b"\x1b[48;99999999999999999999;99999999999999999999;9;9t",
    "a window of no size": b"\x1b[48;0;0;0;0t",
    "a mouse far away": b"\x1b[<0;99999999;1M",
    "a report of many figures": b"\x1b[" + b"1;" * 40 + b"1m",
    "marks of direction": "\u202e\u2066\u200b".encode(),
    "controls of eight bits": "\x9b31m\x85".encode(),
    "a colour": b"\x1b[31m",
    "a word of a terminal's own": b"\x1b[?1;2c",
    "zeros": bytes(8),
}


def keys_of(messages: list[Message]) -> list[str]:
    return [message.key for message in messages if isinstance(message, events.Key)]


@pytest.mark.parametrize("odd", ODD.values(), ids=ODD.keys())
def test_the_next_key_is_heard(odd: bytes) -> None:
    keyboard = Keyboard()
    heard = keys_of(list(keyboard.feed(odd + b"r")))
    assert heard[-1] == "r"
    assert not {"1", "3", "9", "c", "m", "t", "u", "space"} & set(heard[:-1]), (
        "what is no key was taken for one"
    )


@given(st.lists(st.one_of(st.binary(max_size=40), st.sampled_from(list(ODD.values())))))
@settings(max_examples=60, deadline=None)
def test_no_bytes_at_all_end_it(sent: list[bytes]) -> None:
    now = [0.0]
    keyboard = Keyboard(lambda: now[0])
    for message in [m for data in sent for m in keyboard.feed(data)]:
        assert not isinstance(message, events.Key) or message.character is None or fine(message)
    for _ in range(2):  # a paste that never ends, then what was begun in it
        now[0] += 2.0
        keyboard._parser._timeout_time = 0.0 if keyboard._parser._timeout_time else None
        list(keyboard.tick())
    assert keys_of(list(keyboard.feed(b" rr")))[-1:] == ["r"]


def fine(key: events.Key) -> bool:
    assert key.character is not None
    return key.character.isascii() or key.character.isprintable()


def test_a_report_cut_short_is_no_tap() -> None:
    keyboard = Keyboard()
    assert keys_of(list(keyboard.feed(b"\x1b[<0;1"))) == []
    keyboard._parser._timeout_time = 0.0
    assert keys_of(list(keyboard.tick())) == []
    assert keys_of(list(keyboard.feed(b"3"))) == ["3"]


def test_a_paste_steers_nothing_and_its_end_may_be_missing() -> None:
    now = [0.0]
    keyboard = Keyboard(lambda: now[0])
    sent = "\x1b[200~sea\x9b31m \u202eweed\u2066\r\n2\x00".encode()
    assert list(keyboard.feed(sent)) == []
    now[0] = 5.0
    (pasted,) = [*keyboard.tick(), *keyboard.feed(b"3")][:1]
    assert isinstance(pasted, events.Paste)
    assert pasted.text == "sea31m weed\n2"
    assert keys_of(list(keyboard.feed(b"4"))) == ["4"]


@pytest.fixture
def terminal(tmp_path: Path, known: Known) -> Iterator[tuple[Terminal, Path]]:
    desk = new_desk(tmp_path, known, SystemClock())  # type: ignore[arg-type]
    desk.lye_meets_oils()
    dies(desk)
    log: Path = desk.log.path  # type: ignore[attr-defined]
    run = Terminal(straight_to_pour(log), tmp_path / "bench")
    try:
        run.wait("of lye, slowly")
        yield run, log
    finally:
        run.close()


def test_a_real_pour_goes_on_through_all_of_it(terminal: tuple[Terminal, Path]) -> None:
    run, log = terminal
    for odd in ODD.values():
        run.send_bytes(odd)
        run.pump(0.02)
    run.send("z")
    run.wait(": seizing")
    run.send("\x11")
    run.wait("Quit during a pour?")
    run.send("y")
    assert run.gone() == 0
    assert run.left_as_found() == []
    assert notes(read_log(log).events) == ["seizing"]
