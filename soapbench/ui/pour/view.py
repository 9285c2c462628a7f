"""What the pour screen says, worked out as plain text from the desk; no widget in here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soapbench.batter import TRACE_WORDS
from soapbench.desk.keys import NOTES, Act, shown
from soapbench.pour import PotState, PourState
from soapbench.reading.safetext import clean
from soapbench.stages import Stage
from soapbench.words.chances import clock, needs_words, percent
from soapbench.words.signs import LETTERS, pattern

if TYPE_CHECKING:
    from soapbench.advice import Live


@dataclass(frozen=True, slots=True)
class PotLine:
    """One pot as its line shows it."""

    name: str
    look: str
    pattern: str
    """So that colour is never the only sign; the same as in the cut face."""
    letter: str
    in_hand: bool
    words: str
    """Trace state, or where its batter is."""
    faster: str
    """ "x 3.2" once its fragrance is in."""
    room: str
    spread: str
    urgent: bool


def stage_words(state: PourState) -> str:
    """The stage in hand, in words."""
    if not state.begun:
        return "Ready: lye into oils starts the clock"
    if state.ended is not None:
        return "Poured" if state.finished else "Given up"
    stage = state.stage
    return clean(stage.words) if stage else "Nothing left to do"


def stage_count(state: PourState) -> str:
    total = len(state.done) + len(state.ahead)
    return f"{min(len(state.done) + 1, total)} of {total}"


def stage_time(state: PourState, now: float) -> str:
    """How long the stage in hand has taken."""
    if state.stage is None:
        return clock(state.ended if state.ended is not None else now if state.begun else 0)
    return clock(now - int(state.stage_begun))


def stage_about(state: PourState, live: Live | None) -> str:
    """How long the stage in hand is foreseen to take."""
    stage = state.stage
    if stage is None:
        return ""
    median = stage.median_s
    if live and live.outlook.stages and live.outlook.stages[0].stage.id == stage.id:
        ahead = live.outlook.stages[0]
        waits = ahead.begins_s.p50 - live.now
        if waits > 15:
            return f"wait about {clock(waits)} for {_waits_for(stage)}"
    return f"about {clock(median)}"


def _waits_for(stage: Stage) -> str:
    need = max(stage.needs, key=lambda n: n.earliest)
    return f"{TRACE_WORDS[need.earliest]} in {clean(need.pots[0])}" if need.pots else ""


def next_words(state: PourState) -> str:
    ahead = state.ahead[1:] if state.stage else state.ahead
    if not ahead:
        return "the last one" if state.stage else ""
    return "  ·  ".join(clean(stage.words) for stage in ahead[:3])


def room_now(live: Live, pot: str, now: float) -> float:
    """Median room left at ``now`` by advice given a little earlier, s."""
    return max(0.0, live.outlook.room_s[pot].p50 - (now - live.now))


def urgent_pot(live: Live | None, state: PourState, now: float) -> str | None:
    """The pot with least room left whose thickening still matters."""
    if live is None or state.stage is None:
        return None
    still = {pot for stage in state.ahead for need in stage.needs for pot in need.pots}
    pots = [
        p
        for p in state.pots
        if p in still and p in live.outlook.room_s and state.pots[p].where != "base"
    ]
    return min(pots, key=lambda p: live.outlook.room_s[p].p50) if pots else None


def pot_lines(
    state: PourState, looks: dict[str, str], live: Live | None, now: float, hand: str
) -> list[PotLine]:
    """One line a pot, in the plan's order."""
    urgent = urgent_pot(live, state, now)
    lines = []
    for i, (name, pot) in enumerate(state.pots.items()):
        room = spread = faster = ""
        if live and name in live.outlook.room_s and state.ended is None:
            quantiles, passed = live.outlook.room_s[name], now - live.now
            room = clock(quantiles.p50 - passed)
            spread = f"{clock(quantiles.p10 - passed)}–{clock(quantiles.p90 - passed)}"
            if name in live.acceleration:
                faster = f"×{live.acceleration[name].p50:.1f}"
        lines.append(
            PotLine(
                name=clean(name),
                look=looks[name],
                pattern=pattern(i),
                letter=LETTERS[i],
                in_hand=name == hand,
                words=_where(pot),
                faster=faster or ("in" if pot.fragrance_in is not None else "–"),
                room=room,
                spread=spread,
                urgent=name == urgent,
            )
        )
    return lines


def _where(pot: PotState) -> str:
    where = {"mould": ", in mould", "base": ", in base pot"}.get(pot.where, "")
    return pot.trace.words.removeprefix("stable ") + where


def chance_words(live: Live | None) -> str:
    return percent(live.outlook.chance) if live else "…"


def chance_reason(live: Live | None) -> str:
    """What is tightest, even while all is well."""
    if live is None or live.outlook.tightest is None:
        return ""
    return clean(needs_words(live.outlook.tightest, live.outlook, live.now))


def warning_words(state: PourState, live: Live | None, keys: Mapping[str, Act]) -> str:
    """Why the swirl is in danger and the key that takes the quicker way; what is tightest, else."""
    if state.ended is not None:
        return "Space: what this pour showed, and what comes next"
    if live is None or state.stage is None:
        return ""
    if not live.warning:
        return chance_reason(live)
    rescue = live.rescue
    key = next(shown(pressed) for pressed, act in keys.items() if act.name == "rescue")
    quicker = (
        f"{key}: {rescue.name}, {percent(rescue.chance)}" if rescue else "Nothing quicker is better"
    )
    return f"! {clean(live.warning)}\n{clean(quicker)}"


def key_words(keys: Mapping[str, Act]) -> list[tuple[str, str]]:
    """Every key and what it does, as few words as will do."""
    key = {act.name: shown(pressed) for pressed, act in keys.items()}
    return [
        (key["done"], "done, next"),
        ("".join(key[f"trace{i}"] for i in range(1, 6)), "trace seen"),
        (key["pot_up"] + key["pot_down"], "pot"),
        *((key[name], words) for name, words in _ACTS),
        *((key[act.name], act.words) for act in NOTES),
        (key["words"], "note"),
        (key["end"], "end"),
        (key["help"], "all keys"),
    ]


_ACTS = (
    ("fragrance", "fragrance in"),
    ("blender", "blender"),
    ("rescue", "rescue"),
    ("undo", "undo"),
    ("skip", "leave out"),
)
