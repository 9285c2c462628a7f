"""The pour chart: how long each pot can be poured, and when the plan needs it, as one value.

Times are seconds since lye met oils. The same chart is drawn on the plan sheet, over a running
pour, in a rehearsal's report and in the batch report; painters only turn seconds into places.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from soapbench.batter import Tap, Trace
from soapbench.words.acts import COOK, FRAGRANCE_IN, LYE_IN, POUR_OFF

if TYPE_CHECKING:
    from soapbench.outlook.finishing import Outlook, Quantiles
    from soapbench.plan import Pot
    from soapbench.pour.state import PourState
    from soapbench.swirls.stage import Stage

SHORTEST_WAIT_S = 15.0
"""A shorter pause between two stages is no wait that anybody would notice (ours)."""
LEAST_SHOWN_S = 300.0
BEYOND = 1.6
"""So much later than the last stage the windows are still shown (ours)."""
LONG_S, BACK_S = 1800.0, 300.0
"""From so long on, the chart of a running pour begins so long before now (ours)."""

EARLY = {
    LYE_IN: ("l", "lye"),
    "emulsify": ("e", "blend"),
    COOK: ("k", "cook"),
    POUR_OFF: ("p", "pour off"),
    "colour": ("c", "colour"),
    FRAGRANCE_IN: ("f", "fragrance"),
}
"""Letter and word of the handwork before the pour."""
WAIT = ("w", "wait")
SMALL = frozenset(["an", "a", "the", "into", "in", "from", "draw", "down", "accent", "mould", "of"])
"""Words of a handwork that do not tell it from another."""


@dataclass(frozen=True, slots=True)
class Act:
    """A stretch of handwork, or of waiting for a trace state."""

    letter: str
    words: str
    begins: float
    ends: float
    done: bool = False
    waits: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One pot: until when its batter can be poured, and when that is needed."""

    pot: str
    look: str
    sure: float
    """Nine of ten batters can be poured until then; inf: it never matters."""
    likely: float
    """Half of them."""
    may: float
    """One of ten; afterwards it has as good as gone."""
    needed: float | None
    """When the plan is done with what needs it in that state; None: nothing needs it any more."""
    taps: tuple[Tap, ...] = ()
    last_look: float | None = None


@dataclass(frozen=True, slots=True)
class PourChart:
    """Spans and marks between ``begins`` and ``ends``; what lies outside is not drawn."""

    begins: float
    ends: float
    now: float | None
    acts: tuple[Act, ...]
    rows: tuple[Row, ...]
    legend: tuple[tuple[str, str], ...] = field(default=())
    """Letter of each kind of act, and what it stands for, in their order."""


def chart(
    pots: Sequence[Pot],
    outlook: Outlook,
    state: PourState | None = None,
    now: float | None = None,
    looks: Mapping[str, float] | None = None,
) -> PourChart:
    """A plan as foreseen, or with ``state`` and ``now`` a pour under way.

    ``looks``: when each pot was last looked at.
    """
    done = _done(state)
    ahead = _ahead(outlook, state, now)
    needs = _last_needs(outlook)
    rows = []
    for pot in pots:
        at = needs.get(pot.name)
        window = outlook.window_s.get(pot.name) if at is not None else None
        taps = state.pots[pot.name].taps if state else ()
        look = (looks or {}).get(pot.name, taps[-1].t if taps else None)
        if window is None and at is not None:  # however thick: it is good until it is poured
            rows.append(Row(pot.name, pot.colour, at, at, at, at, taps, look))
            continue
        rows.append(_row(pot.name, pot.colour, window, at, taps, look))
    return _framed((*done, *ahead), rows, now)


def poured_chart(
    pots: Sequence[Pot],
    state: PourState,
    reached: Mapping[str, Mapping[Trace, Quantiles]],
    ended: float | None = None,
) -> PourChart:
    """A pour that is over. ``reached``: per pot, when its batter came to each trace state."""
    rows = []
    for pot in pots:
        window, at = _tightest(state, pot.name, reached.get(pot.name, {}))
        taps = state.pots[pot.name].taps
        rows.append(_row(pot.name, pot.colour, window, at, taps, None))
    return _framed(_done(state), rows, None, ended)


def _row(
    pot: str,
    look: str,
    window: Quantiles | None,
    needed: float | None,
    taps: tuple[Tap, ...],
    last_look: float | None,
) -> Row:
    if window is None:
        return Row(pot, look, math.inf, math.inf, math.inf, needed, taps, last_look)
    sure = max(0.0, window.p10)
    likely = max(sure, window.p50)
    return Row(pot, look, sure, likely, max(likely, window.p90), needed, taps, last_look)


def _done(state: PourState | None) -> tuple[Act, ...]:
    if state is None:
        return ()
    return tuple(
        Act("", d.stage.action, d.begun, d.done, done=True)
        for d in state.done
        if not d.skipped and d.done > d.begun
    )


def _ahead(outlook: Outlook, state: PourState | None, now: float | None) -> tuple[Act, ...]:
    """Stages to come, by their medians; a wait before one is an act of its own."""
    acts: list[Act] = []
    at = state.stage_begun if state and state.stage else (now or 0.0)
    for i, stage in enumerate(outlook.stages):
        begins = max(at, stage.begins_s.p50)
        if begins - at >= SHORTEST_WAIT_S and stage.stage.waits:
            acts.append(Act(*WAIT, at, begins, waits=True))
        elif i == 0:
            begins = at  # in hand since then
        ends = max(begins, stage.ends_s.p50)
        acts.append(Act("", stage.stage.action, begins, ends))
        at = ends
    return tuple(acts)


def _last_needs(outlook: Outlook) -> dict[str, float]:
    """Per pot: when the last of the stages ends that need it as thin as its next need does."""
    limits: dict[str, Trace] = {}
    ends: dict[str, float] = {}
    for stage in outlook.stages:
        for pot, latest in _limits(stage.stage).items():
            if limits.setdefault(pot, latest) == latest:
                ends[pot] = stage.ends_s.p50
    return ends


def _limits(stage: Stage) -> dict[str, Trace]:
    """The thickest each pot may be at the end of a stage; pots of which it is all one, left out."""
    latest: dict[str, Trace] = {}
    for need in stage.needs:
        for pot in need.pots:
            if need.latest < Trace.SET_UP:
                latest[pot] = min(need.latest, latest.get(pot, need.latest))
    return latest


def _tightest(
    state: PourState, pot: str, reached: Mapping[Trace, Quantiles]
) -> tuple[Quantiles | None, float | None]:
    """The window that was nearest to shut when its stage was done, and when that was."""
    windows = []
    for done in state.done:
        latest = None if done.skipped else _limits(done.stage).get(pot)
        if latest is not None and (window := reached.get(Trace(latest + 1))):
            windows.append((window.p50 - done.done, done.done, window))
    if not windows:
        return None, None
    _, at, window = min(windows, key=lambda one: one[0])
    return window, at


def _framed(
    acts: tuple[Act, ...], rows: list[Row], now: float | None, ended: float | None = None
) -> PourChart:
    letters = act_letters(act.words for act in acts if not act.waits)
    named = tuple(act if act.waits else replace(act, letter=letters[act.words][0]) for act in acts)
    last = max([LEAST_SHOWN_S, now or 0.0, ended or 0.0, *(act.ends for act in acts)])
    closes = max((row.may for row in rows if math.isfinite(row.may)), default=last)
    ends = max(last * 1.05, min(closes * 1.05, last * BEYOND))
    begins = 0.0
    if now is not None and ended is None and ends > LONG_S and now > BACK_S:
        begins = math.floor((now - BACK_S) / 60) * 60.0
    legend = [*letters.values(), *([WAIT] if any(act.waits for act in named) else [])]
    return PourChart(begins, ends, now, named, tuple(rows), tuple(legend))


def act_letters(actions: Iterable[str]) -> dict[str, tuple[str, str]]:
    """A letter and a word for each kind of handwork, no letter twice.

    Small ones before the pour, capitals from then on.
    """
    letters: dict[str, tuple[str, str]] = {}
    taken = {WAIT[0]}
    for action in dict.fromkeys(actions):
        letter, shown = EARLY.get(action, ("", ""))
        if not letter:
            telling = [word for word in action.split() if word not in SMALL] or action.split()
            shown = " ".join(telling)
            wanted = [word[0] for word in telling] + [c for c in shown if c.isalnum()]
            wanted += "abcdefghijklmnopqrstuvwxyz0123456789"
            letter = next((c.upper() for c in wanted if c.upper() not in taken), "?")
        taken.add(letter)
        letters[action] = (letter, shown)
    return letters
