"""Advice: which way to finish is worth most, what would change the chance, when to switch.

Everything is worked out from one value, ``Known``: what this maker's bench knows. Plan sheet, pour,
rehearsal, fragrance book and JSON all ask ``advise``; how ways are chosen lives here and in
``ways``, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.reasons import how, why
from soapbench.advice.switching import ABOUT, Switching
from soapbench.advice.ways import (
    NEAR,
    SwirlChoice,
    Way,
    ahead_by,
    becomes,
    best_first,
    by_trouble,
    choice,
    moves_from,
    still_open,
    ways_from,
)
from soapbench.batter import BatchHistory
from soapbench.outlook.finishing import Outlook, Quantiles, outlook
from soapbench.outlook.looks import Belief, beliefs
from soapbench.outlook.running import Kept
from soapbench.plan import Plan
from soapbench.pour.history import history, with_running_blender
from soapbench.pour.state import PourState
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.swirls.stage import Stage
from soapbench.thickening.draws import Draws
from soapbench.thickening.in_hand import live

THINNED = 4
"""While pouring, every so-manieth of the draws is gone by, the same for all ways."""
CLEARLY, STEADY_S = 0.05, 8.0
"""Another way takes an offered one's place when it has been so much better for so long (ours)."""
FAR = 0.10
"""And at once when it is so much better: a key never does far worse than it could (ours)."""
SURE = 12.0
"""It is warned only of what saves so many times what it gives up, over all draws. What is given up
is given up, while who goes on can still turn to something simpler later; and of many moments the
first at which the danger looks large is more often a false alarm than it seems (ours; by whole
pours: what saves less gave up two wishes for each batch it saved, and gained nothing)."""
NO_DANGER = 0.9
"""From this worth of going on as before, nothing else is offered (ours)."""


@dataclass(frozen=True, slots=True)
class Advice:
    """Which way to finish is worth most, at one moment."""

    way: SwirlChoice
    """The one to take: to go on as before, or ``backup``."""
    going_on: SwirlChoice
    """The way the pour is on, or the plan's own before it."""
    backup: SwirlChoice | None
    """The best other way; None: there is no danger that asks for one."""
    why: str
    """Why it is in danger; empty while it is not."""
    warns: bool
    """There is something better to do now."""
    asks: bool = False
    """A look may still tell that nothing better is needed."""
    switch_by_s: float | None = None
    """Until when the backup can be begun with about its present worth, s since lye met oils."""
    how: str = ""
    """How to do the stage in hand by what was tapped of its batter; empty: as usual."""
    rival: tuple[Way, float] | None = None
    """Another way that would be a better backup, and since when it has been."""
    eyes: int = 0
    """Taps and looks so far: a warning stands until something new is seen."""

    @property
    def chance(self) -> float:
        return self.way.chance

    @property
    def worth(self) -> float:
        return self.way.worth


@dataclass(frozen=True, slots=True)
class Live:
    """What the pour screen shows of the model at one moment."""

    now: float
    outlook: Outlook
    acceleration: Mapping[str, Quantiles]
    """Per pot with its fragrance in: how many times faster it thickens since."""
    advice: Advice | None
    """None: nothing is left to do."""
    state: PourState
    believed: Mapping[str, Belief] = field(default_factory=dict)
    """What is believed of each pot's trace."""
    ways: dict[Way, tuple[Stage, ...]] = field(default_factory=dict, repr=False, compare=False)
    """What lies ahead by each way; the same until something is done."""

    @property
    def warning(self) -> str:
        """Why there is something better to do now; empty while there is not."""
        return self.advice.why if self.advice and self.advice.warns else ""

    @property
    def rescue(self) -> SwirlChoice | None:
        """The other way on offer."""
        return self.advice.backup if self.advice else None


def live_advice(
    batch: str,
    plan: Plan,
    amounts: Amounts,
    known: Known,
    state: PourState,
    now: float,
    before: Live | None = None,
) -> Live:
    """What to show at ``now``: outlook, time left and advice. Pure; takes some 10 ms.

    ``before``: what was shown last, so that what is offered stays until another is clearly better.
    """
    so_far: BatchHistory = history(batch, plan, mix_of(plan, amounts), state, now)
    draws = live(known.fit, so_far, now, thinned=THINNED)
    going = with_running_blender(state, now)
    kept = Kept()
    become = becomes(going.steps, plan, going, known.swirls)
    ahead = outlook(
        going.ahead, going.pots, draws, known.pace, now, going.hands_began, kept, known.risk, become
    )
    scented = {p.name: p.fragrance for p in state.pots.values() if p.fragrance_in is not None}
    factors = {name: _factors(draws, name) for name in set(scented.values()) if name}
    acceleration = {pot: factors[name] for pot, name in scented.items() if name}
    advice, ways = None, _ways_of(before, state)
    if state.stage is not None:
        reason = why(ahead, acceleration, state.pots)
        shown = before.advice if before and before.now <= now else None
        at = Moment(plan, pot_ml(amounts), known, going, draws, now, kept, ways)
        advice = advise(at, reason, shown)
        advice = replace(advice, how=how(state.stage, state))
    return Live(now, ahead, acceleration, advice, state, beliefs(going, draws, now, kept), ways)


def _ways_of(before: Live | None, state: PourState) -> dict[Way, tuple[Stage, ...]]:
    """Those of ``before``, unless something was done or another way was taken since."""
    same = before and before.state.done is state.done and before.state.ahead is state.ahead
    return before.ways if before and same else {}


def advise(at: Moment, reason: str = "", before: Advice | None = None) -> Advice:
    """What to do from the state the pour is really in; ``reason``: why it may be in danger.

    Another way is better now when it is worth more, and waiting for one more look would cost more
    than that look can tell.
    """
    state = at.state
    going_on = _judged(at, (state.steps, ()))
    if going_on is not None and not _in_danger(going_on):
        return Advice(going_on, going_on, None, "", warns=False)
    if before and before.going_on.steps != state.steps:
        before = None
    offered = before.backup if before else None
    ranked = judged(at, going_on, offered)
    advice = advice_of(ranked, state.steps, reason)
    if advice.backup is None:
        return advice
    advice = steady(advice, ranked, before, at.now)
    backup, going_on = advice.backup, advice.going_on
    assert backup is not None
    warned = before is not None and before.warns
    better = backup.worth > going_on.worth + (0.0 if warned else NEAR)
    if before and not shown(state) and before.way == before.going_on:
        if before.backup is None:  # no look and no fragrance has shown any danger
            return replace(advice, way=going_on, backup=None, warns=False)
        better = False
    switching = Switching(at)
    by, stages_left = switching.switch_by(backup)
    eyes = sum(len(pot.taps) + len(pot.looks) for pot in state.pots.values())
    warns = better
    if better and not (before and warned and before.eyes == eyes):
        saves, costs = switching.saves_and_costs(backup, going_on)
        warns = saves > SURE * costs
    if warns and not warned:
        # What a trouble has spoilt no look puts right; what is only foreseen to be spoilt can wait
        # as long as its backup can: a better one may be had by then.
        lost = bool(state.troubles) and going_on.chance + going_on.chance_in_part == 0.0
        least = backup.worth - ABOUT
        warns = lost or switching.waiting(backup, going_on, stages_left, least) < least
    way = backup if better else going_on
    return replace(advice, way=way, warns=warns, asks=better, eyes=eyes, switch_by_s=by)


def shown(state: PourState) -> bool:
    """Whether anything has shown how fast this batter is: a look, a fragrance, a trouble."""
    return bool(state.troubles) or any(
        pot.taps or pot.looks or pot.fragrance_in is not None for pot in state.pots.values()
    )


def steady(
    advice: Advice, ranked: Sequence[SwirlChoice], before: Advice | None, now: float
) -> Advice:
    """``advice`` with the backup offered before, until another has been clearly better a while or
    is far better."""
    kept = before.backup if before else None
    if before is None or kept is None or advice.backup is None:
        return advice
    same = next((way for way in ranked if way.key == kept.key), None)
    if same is None or same.key == advice.backup.key or not _helps(same, advice.going_on):
        return advice
    if advice.backup.worth <= same.worth + CLEARLY:
        return replace(advice, backup=same)
    since = now
    if before.rival and before.rival[0] == advice.backup.key:
        since = before.rival[1]
    if now - since >= STEADY_S or advice.backup.worth > same.worth + FAR:
        return advice
    return replace(advice, backup=same, rival=(advice.backup.key, since))


def judged(
    at: Moment, going_on: SwirlChoice | None = None, offered: SwirlChoice | None = None
) -> list[SwirlChoice]:
    """Every way to finish from here, best first; going on as before is one of them.

    With ``going_on``, which is that one judged already, only those that may be its backup: what
    could not come near the best of them, however it came out, is not run, but for what was
    ``offered`` before.
    """
    plan, state, table = at.plan, at.state, at.known.swirls
    others = [*moves_from(state), *((steps, ()) for steps in ways_from(plan, state, table))]
    become = {way: becomes(way[0], plan, state, table, way[1]) for way in others}
    ways, enough = [going_on or _judged(at, (state.steps, ()))], -np.inf
    for other in sorted(others, key=lambda way: -become[way].worth):
        if become[other].worth < enough and (offered is None or other != offered.key):
            continue
        ways.append(way := _judged(at, other))
        if going_on and way and _helps(way, going_on):
            enough = max(enough, way.worth - NEAR)
    return best_first([way for way in ways if way is not None], plan, table)


def _judged(at: Moment, way: Way) -> SwirlChoice | None:
    """One way to finish from here; None: what was seen has shut it."""
    (steps, moves), state, table = way, at.state, at.known.swirls
    ahead = at.ways.get(way)
    if ahead is None:
        ahead = at.ways[way] = ahead_by(steps, at.plan, at.ml, state, table, moves)
    if way != (state.steps, ()) and not still_open(ahead, state):
        return None
    ending = by_trouble(at.finish(ahead), ahead, state)
    return choice(steps, ending, becomes(steps, at.plan, state, table, moves), at.known.risk, moves)


def advice_of(ranked: Sequence[SwirlChoice], on: tuple[str, ...], reason: str) -> Advice:
    """``ranked``: every way, best first; ``on``: the one the pour is on."""
    going_on = next(way for way in ranked if way.key == (on, ()))
    others = (way for way in ranked if way is not going_on and _helps(way, going_on))
    in_danger = _in_danger(going_on)
    backup = next(others, None) if in_danger else None
    better = backup is not None and backup.worth > going_on.worth + NEAR
    way = backup if backup and better else going_on
    return Advice(way, going_on, backup, reason if in_danger else "", better)


def _helps(way: SwirlChoice, going_on: SwirlChoice) -> bool:
    """Whether ``way`` is a backup at all: worth more, or clearly surer to come to something."""
    surer = way.chance + way.chance_in_part - going_on.chance - going_on.chance_in_part
    return way.worth > going_on.worth or surer > CLEARLY


def _in_danger(going_on: SwirlChoice) -> bool:
    return going_on.worth < NO_DANGER * going_on.become.worth


def _factors(draws: Draws, fragrance: str) -> Quantiles:
    p10, p50, p90 = np.quantile(draws.factor(fragrance), (0.1, 0.5, 0.9))
    return Quantiles(float(p10), float(p50), float(p90))
