"""Levers: changes of a plan that give its swirl more time, each as a plan of its own.

None where a plan cannot be changed so. How much a change gains is for ``advice`` to work out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from soapbench.plan import Fragrance, Plan, Pot


def _cooler(plan: Plan) -> Plan | None:
    batter = plan.conditions.batter
    if batter <= 22:
        return None
    cooler = max(20.0, round(batter) - 6.0)
    return replace(plan, conditions=replace(plan.conditions, batter=cooler))


def _more_water(plan: Plan) -> Plan | None:
    if plan.lye.strength < 0.30:
        return None
    weaker = round(plan.lye.strength - 0.04, 3)
    return replace(plan, lye=replace(plan.lye, concentration=weaker, water_to_lye=None))


def _fewer_accents(plan: Plan) -> Plan | None:
    """Without its smallest accent; the base takes that batter back."""
    if len(plan.accents) < 2:
        return None
    smallest = min(plan.accents, key=lambda pot: pot.share)
    pots = tuple(
        replace(pot, share=pot.share + smallest.share) if pot is plan.base else pot
        for pot in plan.pots
        if pot is not smallest
    )
    return replace(plan, pots=pots, fragrance=_without(plan.fragrance, smallest))


def _without(fragrances: tuple[Fragrance, ...], pot: Pot) -> tuple[Fragrance, ...]:
    kept = []
    for fragrance in fragrances:
        into = fragrance.goes_into
        if isinstance(into, tuple):
            into = tuple(name for name in into if name != pot.name)
        if into and into != pot.name:
            kept.append(replace(fragrance, goes_into=into))
    return tuple(kept)


def _accents_unscented(plan: Plan) -> Plan | None:
    if len(plan.fragrance) != 1 or plan.fragrance[0].goes_into == "base" or not plan.accents:
        return None
    fragrance = replace(plan.fragrance[0], goes_into="base")
    return replace(plan, fragrance=(fragrance,))


def _fragrance_later(plan: Plan) -> Plan | None:
    if not plan.fragrance or all(f.when == "just before pouring" for f in plan.fragrance):
        return None
    fragrances = tuple(
        replace(
            f,
            when="just before pouring",
            goes_into="each pot" if f.goes_into == "oils" else f.goes_into,
        )
        for f in plan.fragrance
    )
    return replace(plan, fragrance=fragrances)


CHANGES: tuple[tuple[Callable[[Plan], str], Callable[[Plan], Plan | None]], ...] = (
    (lambda plan: f"batter at {plan.conditions.batter:g} °C", _cooler),
    (lambda plan: f"more water: lye at {plan.lye.strength * 100:g} %", _more_water),
    (lambda plan: f"fewer accents: {len(plan.accents)}", _fewer_accents),
    (lambda plan: "fragrance in the base only", _accents_unscented),
    (lambda plan: "fragrance just before each pot is poured", _fragrance_later),
)
"""What is changed, in words of the changed plan, and the change."""
