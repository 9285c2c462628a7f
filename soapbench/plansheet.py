"""The plan sheet: a plan with its amounts, its outlook and what to mind, as one value.

The app's sheet, ``soapbench check`` and its JSON are three ways of showing this value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soapbench.advice import (
    Foreseen,
    Known,
    Lever,
    SwirlChoice,
    clock,
    needs_words,
    percent,
    rests_on,
)
from soapbench.amounts import Amounts
from soapbench.cautions import Caution, cautions, problems
from soapbench.outlook import Outlook
from soapbench.plan import Plan
from soapbench.stages import left_unpoured, stages, step_problems
from soapbench.text import clean


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """Everything known of a plan before it is poured."""

    plan: Plan
    amounts: Amounts
    outlook: Outlook | None
    """None: its steps cannot be poured as written; ``problems`` says why."""
    choices: tuple[SwirlChoice, ...]
    levers: tuple[Lever, ...]
    cautions: tuple[Caution, ...]
    problems: tuple[Caution, ...]
    rests_on: str
    warn_below: float

    @property
    def in_danger(self) -> bool:
        return self.outlook is not None and self.outlook.chance < self.warn_below

    @property
    def fine(self) -> bool:
        return not self.problems and not self.in_danger


def plan_sheet(
    plan: Plan, known: Known, texts: Mapping[str, Mapping[str, str]], levers: bool = True
) -> PlanSheet:
    """The sheet of ``plan``; ``texts`` is the table of cautions."""
    foreseen = Foreseen(plan, known)
    made = foreseen.amounts
    wrong = list(problems(plan, made, texts))
    steps_wrong = step_problems(plan, known.swirls)
    if not steps_wrong:
        unpoured = left_unpoured(stages(plan, foreseen.ml, known.swirls), plan)
        steps_wrong = tuple(f"The steps never pour {pot}." for pot in unpoured)
    wrong += [Caution("swirl-steps", clean(words), "the plan's own steps", "yes") for words in steps_wrong]
    choices = foreseen.choices() if not steps_wrong else []
    return PlanSheet(
        plan=plan,
        amounts=made,
        outlook=None if steps_wrong else foreseen.outlook(),
        choices=tuple(choices),
        levers=tuple(foreseen.levers(choices)) if levers and choices else (),
        cautions=cautions(plan, made, texts),
        problems=tuple(wrong),
        rests_on=_rests(plan, known),
        warn_below=known.warn_below,
    )


def _rests(plan: Plan, known: Known) -> str:
    if not plan.fragrance:
        count = known.fit.batches
        return "no batches of yours yet" if not count else f"{count} batches of yours"
    told = []
    for fragrance in plan.fragrance:
        seen = known.fit.fragrances.get(fragrance.name)
        told.append(rests_on(seen.batches if seen else 0, fragrance.reputation.value))
    return "; ".join(dict.fromkeys(told))


def as_json(sheet: PlanSheet) -> dict[str, Any]:
    """The sheet as the stable keys of ``soapbench check --json``; masses g, volumes mL, times s."""
    made, seen = sheet.amounts, sheet.outlook
    return {
        "title": sheet.plan.title,
        "oils_g": round(made.oils_g, 2),
        "naoh_g": round(made.naoh_g, 2),
        "koh_g": round(made.koh_g, 2),
        "water_g": round(made.water_g, 2),
        "fragrance_g": round(made.fragrance_g, 2),
        "fragrance_share_of_product": round(made.fragrance_share_of_product, 5),
        "batter_ml": round(made.batter_ml, 2),
        "batter_g": round(made.batter_g, 2),
        "superfat_range": [round(s, 4) for s in made.superfat_range],
        "pots": [
            {
                "name": pot.name,
                "ml": round(pot.ml, 2),
                "g": round(pot.g, 2),
                "fragrance_g": round(pot.fragrance_g, 2),
                "colourants": [
                    {
                        "name": colourant.name,
                        "dose": written.dose.written if written.dose else "",
                        "disperse_in": colourant.liquid or "none",
                        "liquid_ml": round(colourant.liquid_ml, 1),
                    }
                    for colourant, written in zip(
                        pot.colourants, sheet.plan.pot(pot.name).colourants, strict=True
                    )
                ],
            }
            for pot in made.pots
        ],
        "stages": [
            {
                "name": stage.stage.words,
                "pot": stage.stage.pots[0] if len(stage.stage.pots) == 1 else None,
                "median_s": round(stage.lasts_s.p50, 1),
                "p10_s": round(stage.lasts_s.p10, 1),
                "p90_s": round(stage.lasts_s.p90, 1),
            }
            for stage in (seen.stages if seen else ())
        ],
        "room_left_s": {
            name: {"p10": round(q.p10, 1), "p50": round(q.p50, 1), "p90": round(q.p90, 1)}
            for name, q in (seen.room_from_scent_s if seen else {}).items()
        },
        "chance": round(seen.chance, 4) if seen else None,
        "swirls": [
            {"name": c.name, "chance": round(c.chance, 4), "minutes": round(c.minutes, 1)}
            for c in sheet.choices
        ],
        "levers": [
            {"change": lever.change, "chance": round(lever.chance, 4)} for lever in sheet.levers
        ],
        "cautions": [_told(c) for c in sheet.cautions],
        "problems": [_told(p) for p in sheet.problems],
    }


def _told(caution: Caution) -> dict[str, str]:
    return {"id": caution.id, "text": caution.text, "source": f"{caution.source} ({caution.verified})"}


def verdict_words(sheet: PlanSheet) -> str:
    """One sentence: whether this swirl can be finished, on what that rests, what is tight."""
    seen = sheet.outlook
    if seen is None:
        return "These steps cannot be poured as written."
    swirl = " + ".join(sheet.plan.swirl.steps)
    said = f"{swirl}: {percent(seen.chance)} to finish, by {sheet.rests_on}."
    if sheet.in_danger:
        better = next((c for c in sheet.choices if c.chance >= sheet.warn_below), None)
        quick = next((c for c in sheet.choices if c.minutes < 30 and c.chance > seen.chance + 0.1), better)
        said = f"Do not count on {said}"
        if quick:
            said += f" Better: {quick.name}, {percent(quick.chance)}."
    if seen.tightest and seen.chance < 0.98:
        said += f" Tightest: {needs_words(seen.tightest, seen, 0.0)}."
    return said


def as_text(sheet: PlanSheet, width: int = 80) -> str:
    """The sheet for people, at most ``width`` columns."""
    import textwrap

    made, seen = sheet.amounts, sheet.outlook
    lines = [clean(sheet.plan.title), "=" * min(width, len(clean(sheet.plan.title))), ""]

    def wrapped(text: str, first: str = "", rest: str = "  ") -> None:
        lines.extend(textwrap.wrap(text, width, initial_indent=first, subsequent_indent=rest) or [""])

    wrapped(clean(verdict_words(sheet), 2000), rest="")
    lines += ["", "WEIGH"]
    for oil in made.oils:
        lines.append(f"  {clean(oil.name)[:40]:<42}{oil.g:>9.1f} g {oil.share * 100:>7.1f} %")
    for name, g in (("NaOH", made.naoh_g), ("KOH", made.koh_g)):
        if g:
            lines.append(f"  {name + ' as weighed':<42}{g:>9.1f} g")
    of = "" if abs(made.lye_water_g - made.water_g) < 0.05 else f"  ({made.lye_water_g:.1f} g in the lye)"
    lines.append(f"  {'water':<42}{made.water_g:>9.1f} g{of}")
    for fragrance in made.fragrances:
        limit = f"limit {fragrance.limit * 100:.4g} %" if fragrance.limit else "no limit given"
        lines.append(
            f"  {clean(fragrance.name)[:40]:<42}{fragrance.g:>9.1f} g "
            f"{fragrance.share_cured * 100:>7.2f} % of the dried bar"
        )
        lines.append(f"  {'':<42}{'':>11}{limit:>16}")
    low, high = made.superfat_range
    inner_low, inner_high = made.superfat_spread
    wrapped(
        f"Batter {made.batter_ml:.0f} mL, {made.batter_g:.0f} g, {made.fill * 100:.0f} % of the "
        f"mould. Superfat {made.superfat * 100:.1f} % at mid range; the oils' ranges make it "
        f"{low * 100:.1f} to {high * 100:.1f} % at worst, {inner_low * 100:.1f} to "
        f"{inner_high * 100:.1f} % in four of five. Lye may reach {made.lye_peak_c:.0f} °C.",
        "  ",
    )
    lines += ["", f"POTS{'':<22}{'mL':>7}{'g':>8}{'pour off':>11}{'fragrance':>12}{'  pourable':>14}"]
    for pot in made.pots:
        room = ""
        if seen:
            q = seen.room_from_scent_s[pot.name]
            room = f"{clock(q.p50)} ({clock(q.p10)}–{clock(q.p90)})"
        off = f"{pot.pour_off_ml:.0f} mL" if pot.name != sheet.plan.base.name else "–"
        scent = f"{pot.fragrance_g:.1f} g" if pot.fragrance_g else "–"
        lines.append(
            f"  {clean(pot.name)[:22]:<24}{pot.ml:>7.0f}{pot.g:>8.0f}{off:>11}{scent:>10}  {room}"
        )
        for colourant, written in zip(pot.colourants, sheet.plan.pot(pot.name).colourants, strict=True):
            liquid = f" in {colourant.liquid_ml:.0f} mL of the {colourant.liquid}" if colourant.liquid_ml else ""
            dose = clean(written.dose.written) if written.dose else "no dose given"
            lines.append(f"    {clean(colourant.name)[:30]}: {dose}{liquid}"[:width])
    if seen:
        lines += ["", f"STAGES{'':<38}{'about':>8}{'four of five':>17}{'in time':>9}"]
        for stage in seen.stages:
            lasts = stage.lasts_s
            spread = f"{clock(lasts.p10)}–{clock(lasts.p90)}"
            lines.append(
                f"  {clean(stage.stage.words)[:40]:<42}{clock(lasts.p50):>8}{spread:>17}"
                f"{percent(stage.chance):>9}"
            )
        lines += ["", f"SWIRLS{'':<44}{'to finish':>11}{'minutes':>9}"]
        own = tuple(sheet.plan.swirl.steps)
        for choice in sheet.choices:
            mark = "this plan  " if choice.steps == own else ""
            lines.append(f"  {choice.name[:48]:<48}{percent(choice.chance):>11}{choice.minutes:>9.0f}  {mark}".rstrip())
    if sheet.levers:
        lines += ["", "WHAT WOULD CHANGE IT"]
        lines += [f"  {clean(lever.change)[:56]:<58}{percent(lever.chance):>6}" for lever in sheet.levers[:8]]
    for heading, told in (("PROBLEMS", sheet.problems), ("MIND", sheet.cautions)):
        if told:
            lines += ["", heading]
            for caution in told:
                wrapped(clean(caution.text, 1000), "- ")
    return "\n".join(lines) + "\n"
