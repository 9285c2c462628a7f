"""What a draft comes to: its faults, or its amounts, its chance and the room left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from rich.style import Style
from rich.text import Text

from soapbench.bench.planfile import plan_from_text
from soapbench.bench.tables import cautions
from soapbench.logfile.tomlfile import parse_text
from soapbench.reading.faults import Fault, FileFaults
from soapbench.reading.safetext import clean, counted
from soapbench.words.chances import clock, needs_words, percent
from soapbench.words.quantities import degrees, mass, volume

if TYPE_CHECKING:
    from soapbench.advice import Known
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
    """Its cut face as foreseen."""

    @property
    def chance(self) -> float | None:
        return self.sheet.outlook.chance if self.sheet and self.sheet.outlook else None


def work_out(text: str, known: Known, whole: bool = True) -> Answer:
    """The answer to a draft's text; takes some 0.1 to 0.3 s, so ask on another thread.

    ``whole`` False: without what would change its chance and without its cut face.
    """
    from soapbench.advice import Foreseen
    from soapbench.barface import barplan
    from soapbench.sheet.plansheet import plan_sheet

    try:
        tables = parse_text(text, "the draft")
    except FileFaults as refused:
        return Answer(text, faults=refused.faults)
    try:
        plan = plan_from_text(text, "the draft", known.oils, known.swirls.kinds)
    except FileFaults as refused:
        return Answer(text, tables, refused.faults)
    sheet = plan_sheet(plan, known, cautions(), levers=whole)
    design = None
    if whole and sheet.outlook is not None:
        worked = barplan.foreseen(Foreseen(plan, known, sheet.amounts))
        design = barplan.design(plan, sheet.amounts, known.swirls, worked, known.sinking)
    return Answer(text, tables, (), sheet, design)


def chance_moved(chance: float, before: float | None) -> str:
    """ "81 % (was 64 %)"."""
    if before is None or abs(before - chance) < MOVED:
        return percent(chance)
    return f"{percent(chance)} (was {percent(before)})"


def trial_words(answer: Answer, before: float | None) -> str:
    """A line on what a value would come to, while it is being chosen."""
    if answer.faults:
        fault = answer.faults[0]
        return clean(f"! {fault.wrong}; {fault.right}")
    if answer.sheet is not None and answer.sheet.stops:
        return clean(f"! {answer.sheet.stops[0].text}")
    if answer.chance is None:
        return "! These steps cannot be poured as written."
    return f"To finish: {chance_moved(answer.chance, before)}"


def answer_text(answer: Answer, before: float | None, settings: Settings, wide: bool) -> Text:
    """The answer as the workshop shows it: chance, room left, amounts, problems."""
    if answer.sheet is None:
        count = len(answer.faults)
        text = Text(f"Not a plan yet: {counted(count, 'thing')} to put right, ")
        text.append("each marked ! above." if not wide else "each marked ! beside.")
        if not answer.tables and answer.faults:
            text.append(f"\n{clean(answer.faults[0].wrong)}")
        return text
    sheet, made = answer.sheet, answer.sheet.amounts
    text = Text()
    if sheet.stops:
        text.append("STOP  not to be poured like this\n", Style(bold=True))
    elif answer.chance is None or sheet.outlook is None:
        text.append("These steps cannot be poured as written.\n", Style(bold=True))
    else:
        seen = sheet.outlook
        text.append(f"To finish  {chance_moved(seen.chance, before)}", Style(bold=True))
        text.append(f"   ({clean(sheet.rests_on)})\n")
        if seen.tightest and seen.chance < 0.98:
            text.append(f"Tightest   {clean(needs_words(seen.tightest, seen, 0.0))}\n")
        rooms = [f"{clean(name, 14)} {clock(q.p50)}" for name, q in seen.room_from_scent_s.items()]
        text.append("Room left  ")
        text.append("   ".join(rooms) + "\n")
    text.append("Weigh      ")
    lye = [f"{n} {mass(g, settings)}" for n, g in (("NaOH", made.naoh_g), ("KOH", made.koh_g)) if g]
    weigh = [
        f"oils {mass(made.oils_g, settings, 0)}",
        *lye,
        f"water {mass(made.water_g, settings, 0)}",
    ]
    text.append(("\n           " if wide else "   ").join(weigh) + "\n")
    text.append(
        f"Batter     {volume(made.batter_ml, settings)}, {made.fill * 100:.0f} % of the mould\n"
    )
    for scent in made.fragrances:
        limit = "no limit given" if scent.limit is None else f"limit {scent.limit * 100:.4g} %"
        over = Style(bold=scent.over)
        text.append(
            f"Scent      {mass(scent.g, settings)}, {scent.share_cured * 100:.2f} % of the bar, "
            f"{limit}"
            f"{'  OVER' if scent.over else ''}\n",
            over,
        )
    for problem in sheet.problems:
        text.append(f"! {degrees(clean(problem.text), settings)}\n", Style(bold=True))
    for lever in sheet.levers[: 5 if wide else 2]:
        text.append(
            f"Better     {percent(lever.chance):>5} with {degrees(clean(lever.change), settings)}\n"
        )
    text.rstrip()
    return text
