"""A pour as one who learns from it sees it: how long each pot was watched, how long hands took."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from soapbench.batter import BatchHistory, Blend, Mix, PotHistory, Tap
from soapbench.pace import LEAST_S, Timed
from soapbench.plan import Plan
from soapbench.pour.state import PotState, PourState, blended_with


def history(batch: str, plan: Plan, mix: Mix, state: PourState, now: float) -> BatchHistory:
    """The batch as the thickening model sees it.

    A pot is watched until ``now`` or the end; once poured out, only as far as it was tapped. After
    a second dose it tells nothing of what one does.
    """
    until = min(now, state.ended) if state.ended is not None else now
    pots = tuple(
        PotHistory(
            pot.name,
            _watched(pot, until if pot.second_dose is None else min(until, pot.second_dose)),
            pot.fragrance,
            pot.fragrance_in,
            pot.blends,
            _until(pot),
            pot.together,
            _keyed(state, pot),
        )
        for pot in with_running_blender(state, now).pots.values()
    )
    return BatchHistory(batch, mix, pots, tuple(f.word for f in plan.fragrance))


def _watched(pot: PotState, until: float) -> float:
    if pot.left_pot is None:
        return until
    return min(until, max([pot.left_pot, *(tap.t for tap in pot.taps)]))


def _until(pot: PotState) -> tuple[Tap, ...]:
    """Taps, and looks that found the pot as it was: like a second tap of the same state."""
    looks = []
    for t in pot.looks:
        before = [tap.state for tap in pot.taps if tap.t <= t]
        looks.append(Tap(t, before[-1] if before else pot.together))
    return tuple(sorted((*pot.taps, *looks), key=lambda tap: tap.t))


def _keyed(state: PourState, pot: PotState) -> float:
    """When the maker last had to do with a pot, by the keys: so long it was surely looked at."""
    own = [t for t in (0.0, pot.fragrance_in, pot.left_pot, pot.looked) if t is not None]
    work = (d.done for d in state.done if pot.name in d.stage.pots)
    return max(*own, *(tap.t for tap in pot.taps), *(b.end for b in pot.blends), *work, 0.0)


def with_running_blender(state: PourState, now: float) -> PourState:
    """The pour with the burst that is going on in its pots, as far as it has come."""
    since = state.blender_on
    if since is None or now <= since:
        return state
    burst = Blend(since, now - since, state.blending_l)
    reached = {
        name: replace(state.pots[name], blends=(*state.pots[name].blends, burst))
        for name in blended_with(state, state.blending)
    }
    return replace(state, pots={**state.pots, **reached}, blender_on=None)


def timed(state: PourState) -> tuple[Timed, ...]:
    """The stages this maker's pace is learned from."""
    at_once = _keyed_at_once(state)
    return tuple(
        Timed(d.stage.action, d.stage.median_s, d.done - d.begun, d.stage.spread)
        for d in state.done
        if not d.skipped
        and d.stage.blend_to is None  # ends at a state, not after so much work
        and d.stage.id not in at_once
    )


def _keyed_at_once(state: PourState) -> set[str]:
    """Stages keyed together with the one before them, and that one: nobody knows where it ended.

    So are those that were never in hand, for their fragrance had gone in out of order.
    """
    in_hand, stages = [], set[str]()
    for d in state.done:
        if d.stage.fragrance_into and d.done == d.begun:
            stages.add(d.stage.id)
        else:
            in_hand.append(d)
    for before, after in pairwise(in_hand):
        if after.done - before.done < LEAST_S:
            stages |= {before.stage.id, after.stage.id}
    return stages
