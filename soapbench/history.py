"""A pour as one who learns from it sees it: how long each pot was watched, how long hands took."""

from __future__ import annotations

from soapbench.batter import BatchHistory, Blend, Mix, PotHistory
from soapbench.pace import Timed
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
    return tuple(
        Timed(d.stage.action, d.stage.median_s, d.done - d.begun, d.stage.spread)
        for d in state.done
        if not d.skipped
    )
