"""The plan sheet in words for people, in lines of at most the width asked for (70 or more)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from soapbench.advice.reasons import needs, tightest_of
from soapbench.reading.safetext import clean
from soapbench.recipe.alkali import alkali_words
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.pots import shown_splits
from soapbench.settings import USUAL, Settings
from soapbench.sheet.plansheet import PlanSheet
from soapbench.sheet.screenlines import HEADINGS
from soapbench.sheet.weighing import Weighed
from soapbench.words import numbers
from soapbench.words.acts import liquid_words
from soapbench.words.chances import chances_words, clock, percent
from soapbench.words.plansheet import (
    AMOUNTS_READY,
    NOT_POURABLE,
    STOP_IMPOSSIBLE,
    STOP_NOT_YET,
)
from soapbench.words.quantities import degrees, kitchen_splits, mass, spoonfuls, volume
from soapbench.words.wrapping import wrapped

if TYPE_CHECKING:
    from soapbench.outlook.finishing import Outlook

SHOWN_LEVERS = 8
STOP_WORDS = {False: STOP_NOT_YET, True: STOP_IMPOSSIBLE}
"""By whether it is impossible."""
WORKING_OUT = "working out …"
"""Stands where something is not known yet: never a number that could be taken for one."""


def verdict_words(sheet: Weighed) -> str:
    """Whether this swirl can be finished, on what that rests, what would be better.

    A problem of lye or limit stands in place of all that.
    """
    if sheet.stops:
        return clean(" ".join([STOP_WORDS[sheet.impossible], *(p.text for p in sheet.stops)]), 2000)
    if not sheet.pourable:
        return NOT_POURABLE
    if not isinstance(sheet, PlanSheet) or (outlook := sheet.outlook) is None:
        return AMOUNTS_READY
    swirl = " + ".join(sheet.plan.swirl.steps)
    verdict = f"{swirl}: {chances_words(outlook)}, going by {sheet.rests_on}."
    if sheet.in_danger:
        verdict = f"Don't count on {verdict}"
    if (advice := sheet.advice) and advice.warns:
        verdict += f" Safer: {advice.way.name}, {chances_words(advice.way)}."
    if tight := tightest_of(outlook):
        verdict += f" Tightest: {needs(tight)}."
    return clean(" ".join([verdict, *bottles_words(sheet)]), 2000)


def bottles_words(sheet: PlanSheet) -> list[str]:
    """What new bottles and seizing are worth a word."""
    return [sentence for bottle in sheet.bottles for sentence in bottle.says]


def outlook_of(sheet: Weighed) -> Outlook | None:
    """None: nothing can be foreseen, or it has not been worked out yet."""
    return sheet.outlook if isinstance(sheet, PlanSheet) else None


def as_text(sheet: PlanSheet, width: int = 80, settings: Settings = USUAL) -> str:
    """The whole sheet; its first line is the title."""
    title = clean(sheet.plan.title)
    head = [title, "=" * min(width, len(title)), ""]
    if sheet.stops:
        head += ["*" * min(width, 70), *wrapped(STOP_WORDS[sheet.impossible].upper(), width)]
        head += [*_bullets((p.text for p in sheet.stops), width, settings), "*" * min(width, 70)]
    else:
        head += wrapped(verdict_words(sheet), width)
    return "\n".join([*head, *details(sheet, width, settings)]) + "\n"


def details(sheet: Weighed, width: int = 80, settings: Settings = USUAL) -> list[str]:
    """All below the verdict: each part after an empty line, its heading one of ``HEADINGS``."""
    lines: list[str] = []
    parts = (
        _bullets((p.text for p in sheet.problems if p not in sheet.stops), width, settings),
        _swirls(sheet),
        _levers(sheet, settings),
        _weigh(sheet, width, settings),
        _pots(sheet, width, settings),
        _stages(sheet),
        _bullets((c.text for c in sheet.cautions), width, settings),
    )
    for heading, part in zip(HEADINGS, parts, strict=True):
        part_lines = list(part)
        if part_lines:
            lines += ["", heading, *part_lines]
    return lines


def _weigh(sheet: Weighed, width: int, settings: Settings) -> Iterator[str]:
    amounts = sheet.amounts
    wide = 11 if settings.units == "metric" else 24

    def grams(g: float) -> str:
        return f"{mass(g, settings):>{wide}}"

    for oil in amounts.oils:
        yield f"  {clean(oil.name, 30):<32}{grams(oil.g)} {numbers.share(oil.share, 1):>9}"
        for held in amounts.held_back:
            if held.oil == oil.name:
                yield f"      hold back {mass(held.g, settings)} of it, for {held.use}"[:width]
    for oil in amounts.extra_oils:
        oil_name = f"{clean(oil.name, 16)}, extra, for colours"
        yield f"  {oil_name:<32}{grams(oil.g)}"
    for alkali, g in amounts.alkalis:
        yield f"  {alkali_words(sheet.plan, alkali):<32}{grams(g)}"
    dispersing = amounts.water_g - amounts.lye_water_g
    kept = f"   {numbers.g(dispersing, 0)} of it for colours" if dispersing > 0.05 else ""
    yield f"  {'water':<32}{grams(amounts.water_g)}{kept}"
    for additive in amounts.additives:
        into = "in the " + additive.place if additive.place else ", ".join(additive.pots)
        yield f"  {clean(additive.name, 30):<32}{grams(additive.g)}   {clean(into, 24)}"
    for fragrance in amounts.fragrances:
        limit = (
            f"limit {numbers.written_share(fragrance.limit)}"
            if fragrance.limit
            else "no limit entered"
        )
        of_bar = f"{numbers.share(fragrance.share_cured, 2)} of the cured bar, {limit}"
        of_bar += ": OVER" if fragrance.over else ""
        yield f"  {clean(fragrance.name, 30):<32}{grams(fragrance.g)}"
        yield f"      {of_bar}"
    yield from wrapped(
        f"Batter {volume(amounts.batter_ml, settings)}, {mass(amounts.batter_g, settings, 0)}, "
        f"fills {numbers.share(amounts.fill)} of the mould. {superfat_words(amounts)}",
        width,
        "  ",
        "  ",
    )


def superfat_words(amounts: Amounts) -> str:
    """Of the batch, and of the pots where these differ from it."""
    (low, high), (likely_low, likely_high) = amounts.superfat.range, amounts.superfat.spread
    words = f"Superfat {numbers.share(amounts.superfat.mid, 1)}"
    if high - low > 0.0005:
        words += (
            f": most likely {numbers.share_span(likely_low, likely_high, 1)}, at the very most "
            f"{numbers.share_span(low, high, 1)}, since oils vary"
        )
    own = [f"{clean(pot.name, 20)} {numbers.share(pot.superfat.mid, 1)}" for pot in amounts.pots]
    alike = {numbers.share(pot.superfat.mid, 1) for pot in amounts.pots} == {
        numbers.share(amounts.superfat.mid, 1)
    }
    return f"{words}." if alike else f"{words}. Each pot: {', '.join(own)}."


def _pots(sheet: Weighed, width: int, settings: Settings) -> Iterator[str]:
    yield f"  {'':<16}{'mL':>6}{'g':>6}{'pour off':>10}{'fragrance':>11}  pourable after fragrance"
    pots, outlook = sheet.amounts.pots, outlook_of(sheet)
    spoons = kitchen_splits([pot.ml for pot in pots], settings)
    for pot, written, (ml, g), spoon in zip(
        pots, sheet.plan.pots, shown_splits(pots), spoons, strict=True
    ):
        room = WORKING_OUT if sheet.pourable else ""
        if outlook:
            q = outlook.time_left_from_fragrance_s[pot.name]
            room = numbers.minutes_span(q.p50, q.p10, q.p90)
        off = "–" if written is sheet.plan.base else numbers.ml(pot.pour_off_ml)
        fragrance = numbers.g(pot.fragrance_g, 1) if pot.fragrance_g else "–"
        yield f"  {clean(pot.name, 15):<16}{ml:>6}{g:>6}{off:>10}{fragrance:>11}  {room}"
        if off != "–" and (settings.units == "US" or spoonfuls(pot.pour_off_ml, settings)):
            yield f"    pour off {volume(pot.pour_off_ml, settings)}"[:width]
        if spoon:
            yield f"    total {spoon}"[:width]
        for dose, colourant in zip(pot.colourants, written.colourants, strict=True):
            amount = clean(colourant.dose.written, 20) if colourant.dose else "no dose given"
            liquid = liquid_words(dose.liquid_ml, clean(dose.oil, 20), dose.on_top)
            yield f"    {clean(dose.name, 30)}: {amount}{liquid}"[:width]


def _stages(sheet: Weighed) -> Iterator[str]:
    outlook = outlook_of(sheet)
    if outlook is None:
        if sheet.pourable:
            yield f"  {WORKING_OUT}"
        return
    yield f"  {'':<36}{'usually':>8}{'range':>16}{'in time':>9}"
    for stage in outlook.stages:
        lasts = stage.lasts_s
        spread = f"{clock(lasts.p10)}–{clock(lasts.p90)}"
        yield (
            f"  {clean(stage.stage.words, 35):<36}{clock(lasts.p50):>8}{spread:>16}"
            f"{percent(stage.chance):>9}"
        )
    yield "  in time = that step alone; chance = all steps together"


def _swirls(sheet: Weighed) -> Iterator[str]:
    if not sheet.pourable:
        return
    if not isinstance(sheet, PlanSheet):
        yield f"  {WORKING_OUT}"
        return
    yield f"  {'':<36}{'as planned':>10}{'in part':>9}{'minutes':>9}"
    own = tuple(sheet.plan.swirl.steps)
    for choice in sheet.choices:
        mark = " ◂ yours" if choice.steps == own else ""
        chance, part = percent(choice.chance), percent(choice.chance_in_part)
        name = clean(choice.name, 35)
        yield f"  {name:<36}{chance:>10}{part:>9}{choice.minutes:>9.0f}{mark}"


def _levers(sheet: Weighed, settings: Settings) -> Iterator[str]:
    """Each alone, then the smallest set; other swirls stand under SWIRLS already."""
    if not isinstance(sheet, PlanSheet):
        return
    for lever in sheet.levers[:SHOWN_LEVERS]:
        yield f"  {degrees(clean(lever.change, 41), settings):<42}{percent(lever.chance):>10}"
    for changes in (sheet.together or ())[:1]:
        if len(changes.changes) > 1:
            enough = "together" if changes.worth_pouring else "together, not enough yet"
            yield f"  {enough:<42}{percent(changes.chance):>10}"
            for change, alone in zip(changes.changes, changes.alone, strict=True):
                change_words = degrees(clean(change, 50), settings)
                yield f"    + {change_words:<50} ({percent(alone)} alone)"


def _bullets(texts: Iterator[str], width: int, settings: Settings) -> Iterator[str]:
    for text in texts:
        yield from wrapped(degrees(clean(text, 1000), settings), width, "  ", "- ")
