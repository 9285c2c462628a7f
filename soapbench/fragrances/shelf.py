"""The fragrances a maker has to choose from: from the own table, and from what was poured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp

from soapbench.batter import Reputation
from soapbench.lessons import Ended
from soapbench.recipe.fragrances import FragranceFacts
from soapbench.thickening.fitted import Fit
from soapbench.words import numbers
from soapbench.words.chances import rests_on


@dataclass(frozen=True, slots=True)
class ShelfFragrance:
    """One fragrance: what its certificate says, and what it did so far."""

    name: str
    limit: float | None = None
    """Most it may be of the finished product, 0 to 1; None: not in the own table."""
    reputation: Reputation = Reputation.UNKNOWN
    density: float | None = None
    vanillin: float | None = None
    """Share of it, 0 to 1."""
    others_batches: int = 0
    """Batches in which another maker tried it, where one told of it."""
    lot: str = ""
    note: str = ""
    batches: int = 0
    faster: float | None = None
    """How many times faster batter thickens with it, best single guess; None: never poured."""
    poured: int = 0
    as_planned: int = 0
    last: str = ""
    """The swirl it was last poured as, and how that came out."""


def shelf(
    own: Mapping[str, FragranceFacts], fit: Fit, outcomes: Iterable[Ended]
) -> dict[str, ShelfFragrance]:
    """Every fragrance of the own table or of a batch, by name. ``outcomes``: oldest first."""
    pours: dict[str, list[Ended]] = {}
    for outcome in outcomes:
        for name in outcome.fragrances:
            pours.setdefault(name, []).append(outcome)
    fragrances = {}
    for name in sorted({*own, *fit.fragrances, *pours}, key=str.casefold):
        facts = own.get(name, FragranceFacts(name))
        learnt = fit.fragrances.get(name)
        reputation = facts.reputation if name in own or learnt is None else learnt.reputation
        came = pours.get(name, [])
        fragrances[name] = ShelfFragrance(
            name=name,
            limit=facts.limit,
            reputation=reputation,
            density=facts.density,
            vanillin=facts.vanillin,
            others_batches=facts.by_others.batches if facts.by_others else 0,
            lot=facts.lot,
            note=facts.note,
            batches=learnt.batches if learnt else 0,
            faster=exp(learnt.log_af) if learnt and learnt.batches else None,
            poured=len(came),
            as_planned=sum(outcome.as_planned for outcome in came),
            last=_last(came[-1]) if came else "",
        )
    return fragrances


def _last(outcome: Ended) -> str:
    swirl = " + ".join(outcome.steps)
    if outcome.as_planned:
        return f"{swirl}, finished as planned"
    return f"{swirl}, {'finished another way' if outcome.finished else 'not finished'}"


def history_words(fragrance: ShelfFragrance) -> str:
    """What it did so far: "3 batches with this fragrance; thickens 2.4 times faster; …"."""
    parts = [rests_on(fragrance.batches, fragrance.reputation.value, fragrance.others_batches)]
    if fragrance.faster is not None:
        parts.append(f"thickens {numbers.times(fragrance.faster)} faster")
    if fragrance.poured:
        parts.append(f"{fragrance.as_planned} of {fragrance.poured} swirls worked out")
    if fragrance.last:
        parts.append(f"last: {fragrance.last}")
    return "; ".join(parts)


def limit_words(fragrance: ShelfFragrance) -> str:
    """Its certificate's limit; never a default."""
    if fragrance.limit is None:
        return "no limit entered; see its certificate"
    return (
        f"limit {numbers.written_share(fragrance.limit)} of the finished soap, from its certificate"
    )


def plan_values(fragrance: ShelfFragrance) -> dict[str, str | None]:
    """What choosing it writes into a plan's fragrance; None: the key goes out."""
    return {
        "name": fragrance.name,
        "limit": None if fragrance.limit is None else f"{fragrance.limit * 100:.10g} %",
        "reputation": fragrance.reputation.value,
        "density": None if fragrance.density is None else f"{fragrance.density:.10g} g/mL",
        "vanillin": None if fragrance.vanillin is None else f"{fragrance.vanillin * 100:.10g} %",
        "lot": fragrance.lot or None,
    }


FAST = 2.0
"""From this factor on a fragrance is pointed out beside the plans that use it (ours)."""


def troubled(fragrance: ShelfFragrance) -> bool:
    """Whether a plan with it is to be thought over: it is fast here, or spoilt most swirls."""
    spoilt = fragrance.poured > 0 and 2 * fragrance.as_planned < fragrance.poured
    return spoilt or (fragrance.faster is not None and fragrance.faster >= FAST)


def trouble_words(fragrance: ShelfFragrance) -> str:
    """Why: "Tar & Thyme: thickened 3.1x faster; 1 of 4 swirls worked out"."""
    reasons = (
        [f"thickened {numbers.times(fragrance.faster)} faster"]
        if fragrance.faster is not None
        else []
    )
    if fragrance.poured:
        reasons.append(f"{fragrance.as_planned} of {fragrance.poured} swirls worked out")
    return f"{fragrance.name}: {'; '.join(reasons)}"
