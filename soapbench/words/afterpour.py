"""What is said of a pour that is over: the summary, and how a rehearsal went."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from soapbench.log import Outcome
from soapbench.words.chances import about_words, clock

SUMMARY_KEYS = {
    "over": "done, to aftercare", "cut_face": "cut face", "undo": "undo the end",
    "drop": "drop: it was no pour",
}  # fmt: skip
REPORT_KEYS = {
    "bench": "bench", "another": "new batter", "same": "same batter again", "cut_face": "cut face",
}  # fmt: skip
SCROLL, ONWARD = "scroll", "go on"
POUR_CHART, STEPS, TRACE, MOMENT = "POUR CHART", "STEPS", "TRACE", "THE MOMENT TO SWITCH"
HEADINGS = (POUR_CHART, STEPS, TRACE, MOMENT)
STEP, USUAL, YOURS = "step", "usual", "yours"
SKIPPED, NO_TAPS, NOTES = "skipped", "no taps", "Notes"
DROP = "Drop it: this was no pour?"
DROP_MORE = "It is kept on file, but no date, chance or lesson follows from it"
REPLAYING, MIXING, OVER = "Replaying …", "mixing this batter …", "over"
IN_BASE, IN_MOULD = " (in the base pot)", " (in the mould)"


def took_words(seconds: float) -> str:
    """How long a pour took: "42:10", "2 h 13 min"."""
    return clock(seconds) if seconds < 3600 else about_words(seconds)


class Poured(Protocol):
    """A pour, begun or not."""

    @property
    def begun(self) -> bool: ...
    @property
    def ended(self) -> float | None: ...
    @property
    def outcome(self) -> Outcome | None: ...
    @property
    def came_to_something(self) -> bool: ...
    @property
    def rescued(self) -> bool: ...
    @property
    def steps(self) -> tuple[str, ...]: ...


def came_out(state: Poured) -> str:
    """How a pour came out, as told, else by its taps; in a few words, begun with a capital."""
    words = _came_out(state)
    return f"{words[0].upper()}{words[1:]}"


def _came_out(state: Poured) -> str:
    if not state.begun:
        return "not poured"
    if state.ended is None:
        return "still being poured"
    if not state.came_to_something:
        return "ended early, the swirl was not finished"
    how = {
        Outcome.AS_PLANNED: "finished" if state.rescued else "finished as planned",
        Outcome.IN_PART: "came out in part",
        Outcome.NO: "the swirl did not come out",
    }[state.outcome or Outcome.NO]
    return f"switched to {' + '.join(state.steps) or 'as it was'}: {how}" if state.rescued else how


def title(plan: str) -> str:
    return f"{plan}: the pour"


def ended(came: str, seconds: float, finished: bool) -> str:
    """ "Finished as planned in 42:10."; "Stopped after 6:26; …" where it came to nothing."""
    if finished:
        return f"{came} in {took_words(seconds)}."
    return f"Stopped after {took_words(seconds)}; the swirl was not finished."


def fragrance_at(first: float | None, second: float | None) -> str:
    """ "fragrance at 4:10, a second dose at 5:00"; empty without any."""
    at = f"fragrance at {clock(first)}" if first is not None else ""
    return f"{at}, a second dose at {clock(second)}" if second is not None else at


def taps_at(taps: Sequence[tuple[str, float]]) -> str:
    return ", ".join(f"{state} at {clock(t)}" for state, t in taps)


def practice_head(speed: float, look: str) -> str:
    return f"PRACTICE {speed:g}x   {look}"


def practice_start(blender: str, offer: str) -> str:
    return f"no soap. {blender} blender, ↑↓ look into a pot{offer}"
