"""What a batch is sold by: its code, dates, net weight, ingredients by labelling names, lots.

Nothing here makes a label lawful: local rules and a safety assessment decide what it must say and
whether the soap may be sold at all. What is wanted: Regulation (EC) 1223/2009, Article 19(1), and
for the United States 21 CFR 701.3 and 701.20, as far as they were read (see DEVELOPERS.md).
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from soapbench.aftercare.practice import Practice
from soapbench.papers import materials
from soapbench.papers.materials import Material
from soapbench.papers.record import BatchReport
from soapbench.papers.saponified import soap_line
from soapbench.reading.entries import UNLABELLED, Labelled
from soapbench.recipe.colourants import ColourantFacts, facts_of
from soapbench.recipe.fragrances import FragranceFacts
from soapbench.recipe.oils import OilFacts
from soapbench.words.quantities import G_PER_OZ

RINSE_OFF = 1e-4
"""From this share of the product an allergen is listed: 0.01 %, for what is rinsed off."""
PARFUM = "Parfum"
WATER, NAOH, KOH = "Aqua", "Sodium Hydroxide", "Potassium Hydroxide"
FROM_MEMORY = "from memory, not verified"
EARLY = "from before it was dry"
RULES = "Local rules and a safety assessment decide what a label must say and what may be sold."


@dataclass(frozen=True, slots=True)
class Listed:
    """One ingredient, named as on a label."""

    label: str
    """Its labelling name; the maker's own where the tables know none."""
    name: str
    """The maker's own."""
    share: float | None
    """Of the batter; None: its dose was not written down."""
    known: bool
    """Its labelling name is in a table."""
    verified: str
    """How far that name was verified."""
    colour: bool = False


@dataclass(frozen=True, slots=True)
class Allergen:
    """An allergen of the fragrances that is listed, and the most it is of any bar."""

    name: str
    share: float


@dataclass(frozen=True, slots=True)
class NetWeight:
    """Of one bar, g, rounded down."""

    g: float
    doubt: str = ""
    """Why it is not to be printed yet; empty: weighed once it was dry."""

    @property
    def words(self) -> str:
        """In g and in avoirdupois ounces, rounded down."""
        ounces = math.floor(self.g / G_PER_OZ * 100) / 100
        return f"{math.floor(self.g)} g ({ounces:.2f} oz)"


@dataclass(frozen=True, slots=True)
class BatchSheet:
    """All of it. Dates are None while they cannot be told."""

    code: str
    title: str
    batch: str
    made: date | None
    ready: date | None
    ready_rests_on: str
    use_by: date | None
    keeps_months: float
    bars: int | None
    net: NetWeight | None
    ingredients: tuple[Listed, ...]
    """Descending mass as added, colours last."""
    allergens: tuple[Allergen, ...]
    no_certificate: tuple[str, ...]
    """Fragrances whose certificate's allergens were not entered."""
    lots: tuple[Material, ...]
    soap_line: str
    """The same by what lye made of the oils, where a label is to name the soaps."""
    stops: tuple[str, ...]
    """Why it should not be sold as it is."""
    missing: tuple[str, ...]
    """What is still to be found out or filled in."""

    @property
    def ingredient_line(self) -> str:
        """As a label has it: ingredients, then the allergens in them."""
        names = [i.label for i in self.ingredients] + [a.name for a in self.allergens]
        return ", ".join(dict.fromkeys(names))


def batch_sheet(
    report: BatchReport,
    practice: Practice,
    oils: Mapping[str, OilFacts],
    colourants: Mapping[str, ColourantFacts],
    fragrances: Mapping[str, FragranceFacts],
) -> BatchSheet:
    """The sheet of one batch by its report and the tables of the bench."""
    begun = report.begun.date() if report.begun else None
    rests, ends = report.resting, report.ready
    ready = ends.about.astimezone(rests.poured.tzinfo).date() if ends and rests else None
    if rests and rests.cured:
        ready = rests.cured.astimezone(rests.poured.tzinfo).date()
    listed = _listed(report, oils, colourants)
    no_certificate = tuple(
        f.name for f in report.fragrances if not getattr(fragrances.get(f.name), "allergens", ())
    )
    net, allergens = _net(report), _allergens(report, fragrances)
    return BatchSheet(
        code=batch_code(report.batch, report.begun),
        title=report.title,
        batch=report.batch,
        made=begun,
        ready=ready,
        ready_rests_on=ends.rests_on if ends else "",
        use_by=months_after(begun, practice.keeps_months) if begun else None,
        keeps_months=practice.keeps_months,
        bars=report.bars,
        net=net,
        ingredients=listed,
        allergens=allergens,
        no_certificate=no_certificate,
        lots=tuple(m for m in report.materials if m.has_lot),
        soap_line=_soap_line(report, oils, listed, allergens),
        stops=tuple(problem.text for problem in report.problems),
        missing=_missing(report, net, listed, no_certificate),
    )


def batch_code(batch: str, begun: datetime | None) -> str:
    """The day it was made and the end of the batch's id: short enough for a label, and found
    again by searching the bench for its last part."""
    day = f"{begun:%y%m%d}" if begun else "000000"
    tail = "".join(c for c in batch if c.isascii() and c.isalnum())[-4:].upper()
    return f"{day}-{tail or '0'}"


def months_after(day: date, months: float) -> date | None:
    """The same day so many whole months later, or that month's last; None past the calendar."""
    count = day.month - 1 + int(months)
    year, month = day.year + count // 12, count % 12 + 1
    if year > 9999:
        return None
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def _net(report: BatchReport) -> NetWeight | None:
    """By the last weighing where the number of bars is known, else by the batter less what dries
    off of it; None before the cut."""
    rests = report.resting
    if rests and rests.weighed and rests.weighed_bars:
        early = report.ready is not None and rests.weighed[-1][0] < report.ready.about
        doubt = EARLY if early and rests.cured is None else ""
        return NetWeight(rests.weighed[-1][1] / rests.weighed_bars, doubt)
    if not report.bars:
        return None
    amounts = report.amounts
    loss = report.curve.share if report.curve else amounts.all_water_g / amounts.batter_g
    return NetWeight(amounts.batter_g * (1 - loss) / report.bars, "estimated")


def _listed(
    report: BatchReport, oils: Mapping[str, OilFacts], colourants: Mapping[str, ColourantFacts]
) -> tuple[Listed, ...]:
    scented_with = {f.name for f in report.fragrances}
    colours = {c.name for pot in report.amounts.pots for c in pot.colourants}
    added = {a.name: a.facts.inci for a in report.amounts.additives}
    chemicals = {materials.NAOH: NAOH, materials.KOH: KOH, materials.WATER: WATER}
    shares: dict[str, Listed] = {}
    for one in report.ingredients:
        named, colour = UNLABELLED, False
        if one.name in chemicals:
            named = Labelled(chemicals[one.name], "", FROM_MEMORY)
        elif one.name in scented_with:
            named = Labelled(PARFUM, "", FROM_MEMORY)
        elif one.name in oils:
            named = oils[one.name].inci
        elif one.name in added:
            named = added[one.name]
        elif one.name in colours:
            named = facts_of(one.name, colourants).inci
            colour = named.name.startswith("CI ")
        line = Listed(
            named.name or one.name, one.name, one.share, bool(named.name), named.verified, colour
        )
        before = shares.get(line.label)
        shares[line.label] = line if before is None else _together(before, line)
    order = sorted(shares.values(), key=lambda i: (i.colour, i.share is None, -(i.share or 0)))
    return tuple(order)


def _soap_line(
    report: BatchReport,
    oils: Mapping[str, OilFacts],
    listed: Iterable[Listed],
    allergens: Iterable[Allergen],
) -> str:
    """Oils and lye as what they became; then colours, in any order, and allergens."""
    amounts = report.amounts
    used = {oil.name for oil in (*amounts.oils, *amounts.extra_oils)}
    inert = [
        i
        for i in listed
        if i.label not in (NAOH, KOH) and not used.intersection(i.name.split(", "))
    ]
    rest = {i.label: (i.share or 0.0) * amounts.batter_g for i in inert if not i.colour}
    labels = {name: facts.inci for name, facts in oils.items()}
    last = [i.label for i in inert if i.colour] + [a.name for a in allergens]
    line = soap_line(amounts, report.plan.lye.potassium, labels, rest)
    return ", ".join(dict.fromkeys([line, *last]))


def _together(one: Listed, other: Listed) -> Listed:
    """Two materials that a label gives one name: sunflower oils, several fragrances."""
    share = None if one.share is None or other.share is None else one.share + other.share
    name = f"{one.name}, {other.name}"
    return Listed(one.label, name, share, one.known, one.verified, one.colour)


def _allergens(
    report: BatchReport, fragrances: Mapping[str, FragranceFacts]
) -> tuple[Allergen, ...]:
    """Those over ``RINSE_OFF`` of the dried soap they are in, most first."""
    shares: dict[str, float] = {}
    for one_of in report.fragrances:
        facts = fragrances.get(one_of.name)
        for name, part in facts.allergens if facts else ():
            shares[name] = max(shares.get(name, 0.0), part * one_of.share_cured)
    allergens = [Allergen(name, share) for name, share in shares.items() if share > RINSE_OFF]
    return tuple(sorted(allergens, key=lambda a: (-a.share, a.name)))


def _missing(
    report: BatchReport,
    net: NetWeight | None,
    listed: Iterable[Listed],
    no_certificate: Iterable[str],
) -> tuple[str, ...]:
    missing = ["Name and address of the responsible person, country of origin where asked for"]
    if net is None:
        missing.append("Net weight: cut it first, and say into how many bars")
    elif net.doubt:
        missing.append(f"Net weight is {net.doubt}: weigh counted bars once it is ready (1219/10)")
    missing += [f"Labelling name of {i.name}" for i in listed if not i.known]
    missing += [f"Dose of {i.name}" for i in listed if i.share is None]
    missing += [f"Allergens of {name}, from its certificate" for name in no_certificate]
    missing += [
        f"Ingredients of the embed {embed.name or number}, from its own batch sheet"
        for number, embed in enumerate(report.plan.embeds, 1)
    ]
    missing += [f"Lot of {m.words}" for m in report.materials if m.has_lot and not m.lot]
    return tuple(missing)
