"""The voice: real commands, none of which can hold up a key or the log."""

from __future__ import annotations

import shutil
import sys
import time
import wave
from pathlib import Path

import pytest

from soapbench.desk.voice import MACHINES, OWN, TEXT, Voice, command_of, voice_of, with_text

SOON_S = 20.0
"""Within this another program has started or been ended, on a busy machine too."""


def writes(path: Path, then: str = "") -> tuple[str, ...]:
    """A command that appends its words to ``path``, a line each."""
    code = f"import sys; open({str(path)!r}, 'a').write(sys.argv[1] + chr(10)); {then}"
    return (sys.executable, "-c", code, TEXT)


def spoken(path: Path) -> list[str]:
    return path.read_text().splitlines() if path.exists() else []


def test_what_is_said_comes_to_the_command_as_one_word(tmp_path: Path) -> None:
    heard = tmp_path / "heard"
    voice = Voice(writes(heard))
    voice.say("Stir 2.7 grams into rust; $(touch gone) `x` -w out")
    assert voice.silent_within(SOON_S)
    assert spoken(heard) == ["Stir 2.7 grams into rust; $(touch gone) `x` -w out"]
    assert voice.fault == ""
    voice.close()


def test_newer_words_replace_older_ones(tmp_path: Path) -> None:
    heard, going = tmp_path / "heard", tmp_path / "going"
    # The first sentence never ends by itself; it says that it has begun through a second file.
    hangs = f"open({str(going)!r}, 'w').close(); import time; sys.argv[1] == 'a' and time.sleep(99)"
    voice = Voice(writes(heard, hangs), longest_s=60.0)
    voice.say("a")
    ends = time.monotonic() + SOON_S
    while not going.exists() and time.monotonic() < ends:
        assert not voice.silent_within(0.02), "it was ended by nobody"
    for word in ("b", "c", "d"):
        voice.say(word)
    assert voice.silent_within(SOON_S)
    assert spoken(heard)[0] == "a"
    assert spoken(heard)[-1] == "d", "the newest is always said"
    assert voice.fault == "", "being cut short is no fault"
    voice.close()


def test_a_command_that_hangs_is_ended_and_told(tmp_path: Path) -> None:
    voice = Voice((sys.executable, "-c", "import time; time.sleep(99)", TEXT), longest_s=0.2)
    voice.say("a")
    assert voice.silent_within(SOON_S)
    assert "took longer than 0.2 s" in voice.fault
    voice.say("b")
    assert voice.silent_within(SOON_S), "it is not tried again"


@pytest.mark.parametrize(
    ("command", "fault"),
    [
        (("/nowhere/at-all", TEXT), "cannot be run"),
        ((sys.executable, "-c", "import sys; sys.exit(3)", TEXT), "failed (3)"),
    ],
    ids=["is not there", "fails"],
)
def test_a_command_that_does_not_speak_is_told(command: tuple[str, ...], fault: str) -> None:
    voice = Voice(command)
    voice.say("a")
    assert voice.silent_within(SOON_S)
    assert fault in voice.fault


def test_closing_ends_what_is_being_said() -> None:
    voice = Voice((sys.executable, "-c", "import time; time.sleep(99)", TEXT), longest_s=60.0)
    voice.say("a")
    voice.close()
    assert voice.silent_within(SOON_S)
    voice.say("b")
    assert voice.silent_within(0.0), "a voice that is closed says nothing more"


def test_own_command_or_what_the_machine_has() -> None:
    assert command_of("speak --slow '{}'") == ("speak", "--slow", "{}")
    assert command_of("", lambda name: name if name == "espeak-ng" else None) == MACHINES[1][1]
    assert command_of("", lambda name: None) is None
    assert with_text(("speak",), "x")[0] == ["speak", "x"]
    windows, given = with_text(MACHINES[-1][1], "o'clock\"")
    assert given == b"o'clock\""
    assert not any("o'clock" in word for word in windows)
    assert voice_of("bell", {OWN: "speak"}) == (None, "")
    assert voice_of("voice", {OWN: "speak 'open"})[1].startswith(OWN)


@pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng")
def test_espeak_says_it(tmp_path: Path) -> None:
    """Outside: espeak-ng writes what it says; speech takes 0.15 to 0.7 s a word (the range of
    reading speeds, 85 to 400 words a minute; from memory)."""
    sound = tmp_path / "said.wav"
    words = "Stir 2.7 grams of Velvet Rose into rust by hand. 40 seconds to spare"
    voice = Voice(("espeak-ng", "-w", str(sound), "--", TEXT))
    voice.say(words)
    assert voice.silent_within(SOON_S)
    assert voice.fault == ""
    with wave.open(str(sound)) as file:
        lasts = file.getnframes() / file.getframerate()
    assert 0.15 * 14 < lasts < 0.7 * 16
