"""A pour said aloud: what the screen shows at one moment, handed to the voice."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from soapbench.desk.voice import voice_of
from soapbench.settings import Sound
from soapbench.words.spoken import Moment, Spoken, Warned, aloud, to_say

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk
    from soapbench.ui.pour.facts import Facts


class Aloud:
    """What has been said of a pour, and the voice that says it; silent where none is wanted."""

    def __init__(self, sound: Sound) -> None:
        self._voice, self._none = voice_of(sound, os.environ)
        self._spoken = Spoken()
        self._first = ""

    @property
    def fault(self) -> str:
        """Why nothing is heard although a voice is wanted."""
        return self._none or (self._voice.fault if self._voice else "")

    def hear(self, moment: Moment) -> None:
        """Say what is new in it, if anything. Never waits."""
        if self._voice is None:
            return
        self._spoken, words = to_say(self._spoken, moment)
        self._voice.say(". ".join(part for part in (self._first, words) if part))
        self._first = ""

    def first(self, words: str) -> None:
        """Say this with what is heard next, in one breath: newer words would cut it short."""
        self._first = aloud(words)

    def say(self, words: str) -> None:
        if self._voice:
            self._voice.say(aloud(words))

    def close(self) -> None:
        if self._voice:
            self._voice.close()


def moment(
    shown: Facts, desk: Desk, now: float, held: bool = False, sight: str = "", asks: bool = False
) -> Moment:
    """What of the screen can be heard. ``held``: a backup is taken by one button, held."""
    return Moment(
        now=now,
        act=shown.act.saying.sentence,
        step=shown.step[0],
        amount=shown.act.amount if shown.running or asks else "",
        spare_s=shown.spare_s if shown.running else None,
        look_at=desk.look_wanted if shown.running else None,
        warned=_warned(shown, desk, held),
        sight=sight,
    )


def _warned(shown: Facts, desk: Desk, held: bool) -> Warned | None:
    advice = desk.live.advice if desk.live else None
    if advice is None or advice.backup is None or shown.backup is None or not shown.backup.warns:
        return None
    return Warned(advice.backup.name, shown.backup.key, shown.backup.decide_s, held)
