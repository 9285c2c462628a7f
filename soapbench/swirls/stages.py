"""A plan's swirl as an ordered list of timed stages, as one pair of hands works them.

Lye into oils, emulsify, pour off accents, colour lightest to darkest, fragrance by hand, pour,
tool, top (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from soapbench.batter import Trace
from soapbench.plan import Plan, Pot
from soapbench.plan.tables import EMULSION
from soapbench.reading.safetext import clean
from soapbench.swirls.pouring import lots, pouring_stages
from soapbench.swirls.stage import Stage
from soapbench.swirls.table import Handwork, SwirlTable
from soapbench.words.acts import (
    COLOUR,
    COOK,
    FRAGRANCE_IN,
    KEPT_BACK,
    LYE_IN,
    POUR_OFF,
    SCRAPE,
    STIR_IN,
    TWICE,
    emulsify_until,
    no_pour_first,
    second_pour,
    sentence,
    stir_in,
    too_few_pots,
)


def lightest_first(pots: Iterable[Pot]) -> list[Pot]:
    """Pots in the order their colours are mixed: lightest to darkest by relative luminance."""
    return sorted(pots, key=lambda pot: -luminance(pot.colour))


def luminance(look: str) -> float:
    """Relative luminance of ``#rrggbb``, 0 to 1 (sRGB, IEC 61966-2-1)."""
    channels = [int(look[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def stages(
    plan: Plan, ml: Mapping[str, float], table: SwirlTable, steps: Sequence[str] | None = None
) -> tuple[Stage, ...]:
    """Every stage of ``plan`` from lye to the top; ``ml`` is each pot's batter, mL.

    ``steps`` are other swirl steps than the plan's own.
    """
    kinds = [table.kinds[name] for name in steps or plan.swirl.steps]
    cooked = any(kind.cooked for kind in kinds)
    before = _batter_stages(plan, ml, table, cooked)
    pouring = pouring_stages(kinds, plan, ml, table)
    return tuple(_scented_late([*before, *pouring], plan))


BEFORE_COOK = (LYE_IN, "emulsify")
"""Handwork that comes before a cook; colour and fragrance come after it."""


def cook_stages(plan: Plan, ml: Mapping[str, float], table: SwirlTable) -> list[Stage]:
    """The cook, and the oil kept back for after it."""
    cooking = [_stage(table, COOK, sentence(COOK), plan.pots, ml)]
    if plan.hot_process is not None:
        cooking.append(_stage(table, KEPT_BACK, sentence(KEPT_BACK), plan.pots, ml))
    return cooking


def scrape_stage(
    pots: Sequence[str], plan: Plan, ml: Mapping[str, float], table: SwirlTable
) -> Stage:
    """What is in the mould, or in the base's pot, goes back: into the cooker."""
    scraped = [plan.pot(name) for name in pots]
    scraping = _stage(table, SCRAPE, sentence(SCRAPE), scraped, ml)
    return replace(scraping, id=SCRAPE, puts="pot")


def _stage(
    table: SwirlTable,
    action: str,
    words: str,
    pots: Sequence[Pot],
    ml: Mapping[str, float],
    blend: float | Trace = 0.0,
    fragrance_into: bool = False,
) -> Stage:
    """A stage before the pour, with the handwork of ``action`` for the batter in ``pots``."""
    work = table.handwork.get(action, Handwork(30, 0.3))
    names = tuple(pot.name for pot in pots)
    in_hand_ml = sum(ml[name] for name in names)
    blend_s = 0.0 if isinstance(blend, Trace) else blend
    return Stage(
        id=f"{action}/{names[0]}" if len(names) == 1 and len(ml) > 1 else action,
        action=action,
        words=words,
        pots=names,
        median_s=work.seconds(in_hand_ml) + blend_s,
        spread=work.spread,
        blend_s=blend_s,
        blend_to=blend if isinstance(blend, Trace) else None,
        litres=in_hand_ml / 1000,
        fragrance_into=names if fragrance_into else (),
    )


def _batter_stages(
    plan: Plan, ml: Mapping[str, float], table: SwirlTable, cooked: bool
) -> list[Stage]:
    def stage(action: str, words: str, *pots: Pot, **more: Any) -> Stage:
        return _stage(table, action, words, pots or plan.pots, ml, **more)

    row = [
        stage(LYE_IN, sentence(LYE_IN)),
        stage("emulsify", _emulsify_words(plan.conditions.blend), blend=plan.conditions.blend),
    ]
    if cooked:
        row += cook_stages(plan, ml, table)
    common = [clean(a.name, 24) for a in plan.additives if a.goes_in == EMULSION]
    if common:
        row.append(stage(STIR_IN, stir_in(", ".join(common))))
    row += [stage(POUR_OFF, sentence(POUR_OFF, pot.name), pot) for pot in plan.accents]
    row += [
        stage(COLOUR, sentence(COLOUR, pot.name), pot)
        for pot in lightest_first(plan.pots)
        if pot.colourants
    ]
    for pot in plan.pots:
        if own := [clean(a.name, 24) for a in plan.additives if pot.name in a.pots]:
            row.append(stage(STIR_IN, stir_in(", ".join(own), pot.name), pot))
    if not any(f.in_oils for f in plan.fragrance):
        row += [
            stage(FRAGRANCE_IN, sentence(FRAGRANCE_IN, pot.name), pot, fragrance_into=True)
            for pot in in_order_of_fragrance(plan)
        ]
    return row


def in_order_of_fragrance(plan: Plan) -> list[Pot]:
    """The pots that take fragrance, in the order it goes in: the base last, but pots that are
    listed in the order they are listed in."""
    pots = [pot for pot in (*plan.accents, plan.base) if plan.fragrance_of(pot.name)]
    for fragrance in plan.fragrance:
        if isinstance(fragrance.goes_into, tuple):
            places = [i for i, p in enumerate(pots) if plan.fragrance_of(p.name) is fragrance]
            own = sorted((pots[i] for i in places), key=lambda p: fragrance.goes_into.index(p.name))
            for i, pot in zip(places, own, strict=True):
                pots[i] = pot
    return pots


def _emulsify_words(blend: float | Trace) -> str:
    state, seconds = (blend.words, 0.0) if isinstance(blend, Trace) else ("", blend)
    return sentence("emulsify", until=emulsify_until(state, seconds))


def _scented_late(row: list[Stage], plan: Plan) -> list[Stage]:
    """Stages with each late fragrance moved to just before its pot is first poured."""
    late = {p.name for p in plan.pots if (f := plan.fragrance_of(p.name)) and f.late}
    kept = [s for s in row if not (s.fragrance_into and s.fragrance_into[0] in late)]
    for adding in (s for s in row if s.fragrance_into and s.fragrance_into[0] in late):
        pot = adding.fragrance_into[0]
        at = next((i for i, s in enumerate(kept) if s.step and pot in s.pots), len(kept))
        kept.insert(at, adding)
    return kept


def step_problems(plan: Plan, table: SwirlTable) -> tuple[str, ...]:
    """Why the plan's steps cannot be poured as written; empty when they can."""
    kinds = [table.kinds[name] for name in plan.swirl.steps]
    wrong = []
    if kinds[0].role != "pour":
        pours = ", ".join(kind.name for kind in table.pours)
        wrong.append(no_pour_first(kinds[0].name, pours))
    for kind in kinds[1:]:
        if kind.role == "pour":
            wrong.append(second_pour(kind.name))
    most = max(len(lot.pots) for lot in lots(plan))  # pots too few for it are poured plainly
    for kind in kinds:
        if kind.least_pots > most:
            wrong.append(too_few_pots(kind.name, kind.least_pots, most))
    if len(set(plan.swirl.steps)) < len(kinds):
        wrong.append(TWICE)
    return tuple(wrong)
