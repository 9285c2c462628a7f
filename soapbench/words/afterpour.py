"""What is said of a pour that is over: the summary, and how a rehearsal went."""

from __future__ import annotations

from collections.abc import Sequence

from soapbench.words.chances import clock
from soapbench.words.pouring import took_words

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
