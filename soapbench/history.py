"""A pour as one who learns from it sees it: how long each pot was watched, how long hands took."""

from __future__ import annotations

from itertools import pairwise

from soapbench.batter import BatchHistory, Blend, Mix, PotHistory
from soapbench.pace import LEAST_S, Timed
from soapbench.plan import Plan
from soapbench.pour import PotState, PourState


def history(batch: str, plan: Plan, mix: Mix, state: PourState, now: float) -> BatchHistory:
    """The batch as the thickening model sees it.

    A pot is watched until ``now`` or the end; once poured out, only as far as it was tapped.
    """
    until = min(now, state.ended) if state.ended is not None else now
    pots = tuple(
        PotHistory(
            pot.name,
            _watched(pot, until),
            pot.fragrance,
            pot.fragrance_in,
            _running(state, pot, now),
            pot.taps,
            pot.together,
        )
        for pot in state.pots.values()
    )
    return BatchHistory(batch, mix, pots, tuple(f.word for f in plan.fragrance))


def _watched(pot: PotState, until: float) -> float:
    if pot.left_pot is None:
        return until
    return min(until, max([pot.left_pot, *(tap.t for tap in pot.taps)]))


def _running(state: PourState, pot: PotState, now: float) -> tuple[Blend, ...]:
    """Bursts of ``pot``, and the one going on."""
    elsewhere = state.blending not in (None, pot.name)
    if state.blender_on is None or elsewhere or now <= state.blender_on:
        return pot.blends
    return (*pot.blends, Blend(state.blender_on, now - state.blender_on))


def timed(state: PourState) -> tuple[Timed, ...]:
    """The stages this maker's pace is learned from."""
    at_once = _keyed_at_once(state)
    return tuple(
        Timed(d.stage.action, d.stage.median_s, d.done - d.begun, d.stage.spread)
        for d in state.done
        if not d.skipped and d.stage.id not in at_once
    )


def _keyed_at_once(state: PourState) -> set[str]:
    """Stages keyed together with the one before them, and that one: nobody knows where it ended.

    So are those that were never in hand, for their fragrance had gone in out of order.
    """
    in_hand = [d for d in state.done if not (d.stage.scents and d.done == d.begun)]
    found = {d.stage.id for d in state.done if d not in in_hand}
    for before, after in pairwise(in_hand):
        if after.done - before.done < LEAST_S:
            found |= {before.stage.id, after.stage.id}
    return found
