"""What the pour screen says: each act in large letters and in a sentence, times, the backup."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from soapbench.batter import Trace
from soapbench.log import Outcome
from soapbench.reading.safetext import clean
from soapbench.words import numbers
from soapbench.words.acts import LARGE, SENTENCES
from soapbench.words.chances import about_words, clock

if TYPE_CHECKING:
    from collections.abc import Mapping

WAIT_S = 15.0
"""A wait is told from so long on (ours)."""
GREEN_S = 120.0
"""Time to spare above which it is green; below it amber, and red from 0 down."""
FASTEST_TOLD = 20.0
"""Beyond this a figure tells nothing more."""
FASTER_TOLD = 1.3
NAG_S = 60.0
"""After so long without a look it is asked for (ours)."""


@dataclass(frozen=True, slots=True)
class Said:
    """An act: ``large`` words for it, longest first, in large letters; ``sentence`` else."""

    large: tuple[str, ...]
    sentence: str


class Work(Protocol):
    """A piece of handwork."""

    @property
    def action(self) -> str: ...
    @property
    def words(self) -> str: ...
    @property
    def pots(self) -> tuple[str, ...]: ...
    @property
    def step(self) -> str: ...
    @property
    def blend_to(self) -> Trace | None: ...
    @property
    def mould(self) -> str: ...


def saying(stage: Work) -> Said:
    """How an act is said."""
    pot = clean(stage.pots[0], 40) if len(stage.pots) == 1 else ""
    words, large = clean(stage.words), LARGE.get(stage.action, ())
    if stage.blend_to is not None and stage.blend_to > Trace.EMULSION:
        large = (f"BLEND TO {stage.blend_to.words.upper()}", *large[1:])
    if not large or ("{pot}" in SENTENCES.get(stage.action, "") and not pot):
        short = words.split(":")[0].upper()
        return Said((words.upper().replace(":", ""), short, clean(stage.step).upper()), words)
    shown = tuple(form.format(pot=pot.upper()) for form in large)
    if stage.mould and stage.step:
        named = [form for form in large if "{pot}" in form] or [*large]
        act, mould = named[-1].format(pot=pot.upper()), stage.mould.upper()
        shown = (f"{act}, {mould}", f"{act} - {mould[-1]}", *shown)
    cut = tuple(_shorter(form, pot.upper()) for form in large if "{pot}" in form)
    return Said((*shown, *cut, *(w.replace("{pot}", "").strip() for w in large)), words)


def _shorter(words: str, pot: str) -> str:
    """With the first word of a long name only."""
    first = pot.split()[0] if pot.split() else pot
    return words.format(pot=first[:8])


def press(key: str) -> str:
    """What to do with a key; "HOLD SPACE" says it by itself."""
    return key if " " in key else f"PRESS {key}"


def wait_words(pot: str, state: Trace, seconds: float, then: str, key: str) -> tuple[Said, str]:
    """While hands wait for a trace state: what for, about how long, the key that says it came."""
    large = (f"WAIT FOR {pot.upper()}", "WAIT")
    about = f"about {about_words(seconds)}" if seconds > WAIT_S else "any moment"
    amount = f"{clean(pot)} must reach {state.words}, {about}: press {key} when it has"
    return Said(large, f"wait for {state.words} in {clean(pot)}"), f"{amount} · then {then.lower()}"


def wait_large(state: Trace, key: str) -> tuple[str, ...]:
    """The same in few large letters, longest first."""
    name = state.words.upper()
    return (f"{name}: {press(key)}", f"{name.split()[0]}: {key}", press(key))


VOICE_OFFER = ". Voice: settings, sound"
READY = Said(("READY",), "Ready")
READY_AMOUNT = "press {key} as the lye goes into the oils"
OVER = {
    True: Said(("FINISHED", "DONE"), "Finished"),
    False: Said(("ENDED EARLY",), "Ended early"),
}
HOW_WAS_IT = Said(("HOW DID IT GO?", "HOW WAS IT?"), "How did it come out?")
OVER_AMOUNT = "press {key} for the summary"
LEFT_AMOUNT = "this batter has set long ago: press {key} to end the pour"
NOTHING_LEFT = Said(("ALL STEPS DONE", "ALL DONE"), "All steps done")
THEN = "then {key}"
TWICE, HELD = "{key} TWICE", "HOLD {key}"
ONE_BUTTON = "done · twice: next state · hold: undo, or switch when warned"


def left_alone(seconds: float) -> Said:
    """A pour that nobody has ended: "Left for 10 months"."""
    long = about_words(seconds)
    return Said((f"LEFT {long.upper()}", "LEFT"), f"Left for {long}")


def outcome_keys(keys: Mapping[str, Outcome]) -> str:
    """ "A as planned · I in part · N not at all"."""
    named = {Outcome.NO: "not at all"}
    return " · ".join(f"{key.upper()} {named.get(o, o.value)}" for key, o in keys.items())


def step_label(usual_s: float | None, overdue: bool = False) -> str:
    if overdue and usual_s:
        return f"! OVERDUE: usually {clock(usual_s)}"
    return f"in this step (usually {clock(usual_s)})" if usual_s else "in this step"


def blender_label(seconds: float, of_s: float, key: str) -> str:
    goal = f" / {clock(of_s)}" if of_s else ""
    return f"● BLENDER {clock(seconds)}{goal}  {key} when it stops"


SPARE_WORDS = {"good": "TO SPARE", "amber": "TIGHT", "bad": "SHORT"}
"""By the colour: in large letters beside the figures."""


def spare_ink(seconds: float) -> str:
    """The colour of a time to spare."""
    if seconds > GREEN_S:
        return "good"
    return "amber" if seconds >= 0 else "bad"


def spare_sign(seconds: float) -> str:
    """Time to spare with its sign, short enough for large figures."""
    if seconds >= 3600:
        return ">60"
    if seconds <= -3600:
        return "<-60"
    return f"{'+' if seconds >= 0 else '-'}{clock(abs(seconds))}"


def spare_label(seconds: float | None, known: bool) -> str:
    """What the figures on the right are; the word says what the colour says."""
    if seconds is None:
        return "nothing can run late" if known else "time to spare: working it out …"
    if seconds >= 3600:
        return "minutes to spare: no hurry"
    if seconds > GREEN_S:
        return "to spare, if you keep this pace"
    if seconds >= 0:
        return "to spare: TIGHT, keep moving"
    return "SHORT at this pace"


def look_words(pot: str | None, ago_s: float | None) -> str:
    if pot is None or ago_s is None:
        return "no look yet"
    return f"last look: {clean(pot)} {clock(ago_s)} ago"


def nag_words(pot: str) -> str:
    return f"LOOK AT {clean(pot)}: press 1-5"


def backup_words(name: str, chance: str, saves_min: float) -> str:
    saved = f", saves {clock(saves_min * 60)}" if saves_min * 60 >= 10 else ""
    return f"{clean(name).upper()}: {chance}{saved}"


def why_words(needs_s: float, pot: str, left_s: float, faster: float) -> str:
    """Why a pour is tight: "you need 4:49, rust lasts about 3:18 (thickening 3.3x faster)"."""
    left = f"lasts about {clock(left_s)}" if left_s > 0 else "is too thick by now"
    words = f"you need {clock(needs_s)}, {clean(pot, 20) or 'it'} {left}"
    if faster < FASTER_TOLD:
        return words
    times = numbers.times(faster) if faster <= FASTEST_TOLD else f"more than {FASTEST_TOLD:.0f}x"
    return f"{words} (thickening {times} faster)"


def decide_words(seconds: float | None) -> str:
    if seconds is None:
        return ""
    return f"decide within {clock(seconds)}" if seconds > 0 else "decide NOW"


SINCE_LYE = "{time} since lye"
TABLES_FAULTY = "Your own tables are not used: {file} has a mistake"
RESTARTED = "Computer was restarted; the clock now goes by the time of day"
CLOCK_BEHIND = ", which is behind your last entry: set this computer's clock"
OUT_OF_DATE = "Time left is out of date: {why}"
NO_VOICE = "No voice: {why}"
GOES_ON = "Something went wrong in soapbench; your pour goes on ({why})"
TAKEN, STILL_THEIRS = "You're running this pour now", "Still running in the other window"
CLOCK_STARTED, DONE, SKIPPED = "Clock started", "Done: {act}", "Skipped: {act}"
NOTED, NOTE_FOR, NOTE_KEPT = "{pot}: {note} noted", "Note for {pot}", "{pot}: noted"
TYPE_YES = "{why} Type yes"
BLENDER_ON, BLENDER_OFF = "BLENDER ON: press it again when it stops", "Blender off"
NOT_MARKED, NOTHING_TO_UNDO = "Not marked", "Nothing to undo"
LYE_STAYS = "The lye step can't be skipped. e ends the pour"
SWITCHED, PLAN_B = "Switched to {way}", "Working out plan B … press it again in a moment"
END, END_MORE = "End the pour here?", "It is saved as not finished"
LEAVE = "Leave this pour for the bench?"
LEAVE_MORE = "The clock keeps running; Enter on it there carries on"
NO_BACKUP = "No faster swirl would do better now"
WORKING_OUT = "working it out …"
VIEW_KEYS = " · {far} full view · Esc closes"

SWITCH_TO, THEN_LARGE = "switch to ", "THEN {act}"
NEXT, NEXT_LINE, MINUTES, YOU = "next", "next  ", " minutes", " you"
"""Heads of rows beside and below the pour chart."""


def step_of(done: int, total: int) -> str:
    return f"step {done} of {total}"


def chance_line(chance: str) -> str:
    return f"chance {chance}"


def chance_now(chance: str) -> str:
    return f" CHANCE NOW {chance} "


def tightest_line(why: str) -> str:
    return f"   tightest: {why}"
