"""What a draft comes to: its faults, or its amounts, its chance and the room left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from rich.style import Style
from rich.text import Text

from soapbench.advice.reasons import needs, tightest_of
from soapbench.bench.planfile import plan_from_text
from soapbench.bench.tables import cautions
from soapbench.desk.colournames import name_of
from soapbench.logfile.tomlfile import parse_text
from soapbench.reading.faults import Fault, FileFaults
from soapbench.reading.safetext import clean
from soapbench.words import workshop as words
from soapbench.words.chances import about_words, percent
from soapbench.words.quantities import degrees, mass, volume
from soapbench.words.signs import LOOK

if TYPE_CHECKING:
    from soapbench.advice.known import Known
    from soapbench.barface import Design
    from soapbench.settings import Settings
    from soapbench.sheet.plansheet import PlanSheet

MOVED = 0.005
"""A chance that moved by less than this is not said to have moved."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A draft worked out. ``sheet`` None: it has faults, or is no TOML (``tables`` empty)."""

    text: str
    tables: Mapping[str, Any] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    sheet: PlanSheet | None = None
    design: Design | None = None
    """Its cut face as predicted."""
    colours: Mapping[str, str] = field(default_factory=dict)
    """Names of the colours in it, by #rrggbb."""

    @property
    def chance(self) -> float | None:
        return self.sheet.outlook.chance if self.sheet and self.sheet.outlook else None


def work_out(text: str, known: Known, whole: bool = True) -> Answer:
    """The answer to a draft's text; takes some 0.1 to 0.3 s, so ask on another thread.

    ``whole`` False: without what would change its chance and without its cut face.
    """
    from soapbench.advice.foreseen import Foreseen
    from soapbench.barface import barplan
    from soapbench.sheet.plansheet import plan_sheet

    try:
        tables = parse_text(text, "the draft")
    except FileFaults as refused:
        return Answer(text, faults=refused.faults)
    try:
        plan = plan_from_text(text, "the draft", known.oils, known.swirls.kinds)
    except FileFaults as refused:
        return Answer(text, tables, refused.faults, colours=_colours(tables))
    sheet = plan_sheet(plan, known, cautions(), levers=whole)
    design = None
    if whole and sheet.outlook is not None:
        worked = barplan.foreseen(Foreseen(plan, known, sheet.amounts))
        design = barplan.design(plan, sheet.amounts, known.swirls, worked, known.sinking)
    return Answer(text, tables, (), sheet, design, _colours(tables))


def _colours(tables: Any) -> dict[str, str]:
    """Names of all the colours anywhere in ``tables``, by #rrggbb."""
    if isinstance(tables, list):
        return {look: name for part in tables for look, name in _colours(part).items()}
    if not isinstance(tables, Mapping):
        return {}
    colours = _colours(list(tables.values()))
    look = tables.get("look")
    if isinstance(look, str) and LOOK.fullmatch(look):
        colours[look] = name_of(look)
    return colours


def chance_moved(chance: float, before: float | None) -> str:
    """ "81 % (was 64 %)"."""
    if before is None or abs(before - chance) < MOVED:
        return percent(chance)
    return words.was(percent(chance), percent(before))


def trial_words(answer: Answer, before: float | None) -> str:
    """A line on what a value would come to, while it is being chosen."""
    if answer.faults:
        fault = replace(answer.faults[0], key="")
        return clean(words.plainly(f"! {fault.words()}"))
    if answer.chance is None:
        return f"! {words.NOT_POURABLE}"
    return words.chance(chance_moved(answer.chance, before))


def answer_text(answer: Answer, before: float | None, settings: Settings, wide: bool) -> Text:
    """The answer as the workshop shows it: chance, time left, amounts, problems."""
    if answer.sheet is None:
        text = Text(words.to_fix(len(answer.faults)), Style(bold=True))
        if not answer.tables and answer.faults:
            text.append(f"\n{clean(words.plainly(answer.faults[0].wrong))}")
        return text
    sheet, amounts = answer.sheet, answer.sheet.amounts
    text = Text()
    if sheet.stops:
        text.append(f"{words.STOP}\n", Style(bold=True))
    elif answer.chance is None or sheet.outlook is None:
        text.append(f"{words.NOT_POURABLE}\n", Style(bold=True))
    else:
        outlook = sheet.outlook
        text.append(words.chance(chance_moved(outlook.chance, before)), Style(bold=True))
        text.append(f"{words.going_by(clean(sheet.rests_on))}\n")
        if tight := tightest_of(outlook):
            text.append(f"{words.tightest(clean(needs(tight)))}\n")
        rooms = [
            f"{clean(name, 14)} {about_words(q.p50)}"
            for name, q in outlook.time_left_from_fragrance_s.items()
        ]
        text.append(f"{words.pourable('   '.join(rooms), bool(amounts.fragrances))}\n")
    lye = [f"{alkali.name} {mass(g, settings)}" for alkali, g in amounts.alkalis]
    weigh = [
        f"oils {mass(amounts.oils_g, settings, 0)}",
        *lye,
        f"water {mass(amounts.water_g, settings, 0)}",
    ]
    text.append(words.WEIGH_OUT + ("\n           " if wide else "   ").join(weigh) + "\n")
    text.append(f"{words.batter(volume(amounts.batter_ml, settings), amounts.fill)}\n")
    for fragrance in amounts.fragrances:
        grams, share = mass(fragrance.g, settings), fragrance.share_cured
        line = words.fragrance(grams, share, fragrance.limit, fragrance.over)
        text.append(f"{line}\n", Style(bold=fragrance.over))
    for problem in sheet.problems:
        text.append(f"! {degrees(clean(problem.text), settings)}\n", Style(bold=True))
    for lever in sheet.levers[: 5 if wide else 2]:
        change = degrees(clean(lever.change), settings)
        text.append(f"{words.with_change(percent(lever.chance), change)}\n")
    text.rstrip()
    return text
