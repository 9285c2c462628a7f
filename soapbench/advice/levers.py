"""Levers: changes of a plan that give its swirl more time, each as a plan of its own.

None where a plan cannot be changed so. How much a change gains is for ``changes`` to work out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from soapbench.batter import Trace
from soapbench.plan import Fragrance, Plan, Pot
from soapbench.plan.tables import BASE, EACH_POT, JUST_BEFORE
from soapbench.swirls.stages import in_order_of_fragrance
from soapbench.words import ways as words

COOLER_BY, LEAST_COOLER = 6.0, 2.0
"""By how much to cool at most, and from how much on it is worth doing, K (ours)."""
WEAKER_BY, STRONG_FROM = 0.04, 0.30
"""Lye concentration: more water by this much, for lye not weaker than this (ours)."""
LEAST_LOAD = 0.015
"""Half of a smaller load is hardly a fragrance any more (ours)."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a plan, cheapest first in ``CHANGES``."""

    words: Callable[[Plan], str]
    """In words of the changed plan."""
    make: Callable[[Plan, float], Plan | None]
    """The changed plan; the second value is the melting floor of its oils, degC."""


def _cooler(plan: Plan, floor: float) -> Plan | None:
    """Cooler oils and lye, never below what keeps the hard fats melted, nor below the room."""
    given = plan.conditions
    apart = given.oils is not None and given.lye is not None
    warm = max(given.oils or 0.0, given.lye or 0.0) if apart else given.batter
    cooler = float(max(round(warm) - COOLER_BY, math.ceil(floor), math.ceil(given.room)))
    if cooler > warm - LEAST_COOLER:
        return None
    if given.oils is None or given.lye is None:
        return replace(plan, conditions=replace(given, batter=cooler))
    both = replace(given, oils=min(given.oils, cooler), lye=min(given.lye, cooler))
    return replace(plan, conditions=both)


def _coolest(plan: Plan) -> float:
    given = plan.conditions
    return given.batter if given.oils is None else max(given.oils, given.lye or 0.0)


def _less_blending(plan: Plan, floor: float) -> Plan | None:
    if plan.conditions.blend == Trace.EMULSION:
        return None
    return replace(plan, conditions=replace(plan.conditions, blend=Trace.EMULSION))


def _more_water(plan: Plan, floor: float) -> Plan | None:
    if plan.lye.strength < STRONG_FROM:
        return None
    weaker = round(plan.lye.strength - WEAKER_BY, 3)
    return replace(plan, lye=replace(plan.lye, concentration=weaker, water_to_lye=None))


def _fewer_accents(plan: Plan, floor: float) -> Plan | None:
    """Without its smallest accent; the base takes that batter back. A mould asks for its pots."""
    if len(plan.accents) < 2 or plan.mould.by_pots:
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


def _base_only(plan: Plan, floor: float) -> Plan | None:
    if len(plan.fragrance) != 1 or plan.fragrance[0].goes_into == BASE or not plan.accents:
        return None
    into = plan.fragrance[0].goes_into
    if isinstance(into, tuple) and len(into) == len(plan.pots):
        return None  # put into an order just now, for nothing
    return replace(plan, fragrance=(replace(plan.fragrance[0], goes_into=BASE),))


def _half_the_load(plan: Plan, floor: float) -> Plan | None:
    if not any(f.load >= LEAST_LOAD for f in plan.fragrance):
        return None
    halved = (
        replace(f, load=round(f.load / 2, 5)) if f.load >= LEAST_LOAD else f for f in plan.fragrance
    )
    return replace(plan, fragrance=tuple(halved))


def _fragrance_later(plan: Plan, floor: float) -> Plan | None:
    if not plan.fragrance or all(f.late for f in plan.fragrance):
        return None
    fragrances = tuple(
        replace(
            f,
            when=JUST_BEFORE,
            goes_into=EACH_POT if f.in_oils else f.goes_into,
        )
        for f in plan.fragrance
    )
    return replace(plan, fragrance=fragrances)


def _order(plan: Plan, wanted: Callable[[Plan], Sequence[Pot]]) -> Plan | None:
    """Fragrance into the pots in another order; what is poured, and how, stays."""
    if len(plan.fragrance) != 1 or not plan.accents:
        return None
    (fragrance,) = plan.fragrance
    if fragrance.goes_into != EACH_POT or fragrance.late:
        return None
    names = tuple(pot.name for pot in wanted(plan))
    if names == tuple(pot.name for pot in in_order_of_fragrance(plan)):
        return None
    return replace(plan, fragrance=(replace(fragrance, goes_into=names),))


def _as_poured(plan: Plan, floor: float) -> Plan | None:
    """What is poured first and has to carry the rest has its fragrance first."""
    return _order(plan, lambda plan: plan.pots)


def _last_first(plan: Plan, floor: float) -> Plan | None:
    """The accents the other way round: what is poured last has had its fragrance longest, and
    the base, last of all, stays thin for it."""
    return _order(plan, lambda plan: (*reversed(plan.accents), plan.base))


def _in_turn(plan: Plan) -> str:
    return words.first_into(in_order_of_fragrance(plan)[0].name)


CHANGES = (
    Change(lambda plan: words.FRAGRANCE_LATER, _fragrance_later),
    Change(_in_turn, _as_poured),
    Change(_in_turn, _last_first),
    Change(lambda plan: words.LESS_BLENDING, _less_blending),
    Change(lambda plan: words.cool_to(_coolest(plan)), _cooler),
    Change(lambda plan: words.more_water(plan.lye.strength), _more_water),
    Change(lambda plan: words.BASE_ONLY, _base_only),
    Change(lambda plan: words.half_fragrance([f.load for f in plan.fragrance]), _half_the_load),
    Change(lambda plan: words.fewer_accents(len(plan.accents)), _fewer_accents),
)
"""Cheapest first."""
