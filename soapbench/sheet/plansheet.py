"""The plan sheet: a plan with its amounts, its outlook and what to mind, as one value.

The app's sheet, ``soapbench check`` and its JSON are three ways of showing this value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from soapbench.outlook.worth import WORTH_POURING
from soapbench.plan import Plan
from soapbench.reading.safetext import counted
from soapbench.recipe.superfat import Superfat
from soapbench.recipe.told import Caution
from soapbench.sheet.weighing import Weighed, weighed
from soapbench.words.chances import rests_on

if TYPE_CHECKING:
    from soapbench.advice.advise import Advice, Known
    from soapbench.advice.changes import Together
    from soapbench.advice.ways import SwirlChoice
    from soapbench.outlook.finishing import Outlook


@dataclass(frozen=True, slots=True)
class PlanSheet(Weighed):
    """Everything known of a plan before it is poured."""

    outlook: Outlook | None
    """None: its steps cannot be poured as written."""
    choices: tuple[SwirlChoice, ...]
    levers: tuple[Together, ...]
    """Changes that alone give the plan's own swirl a better chance, best first."""
    advice: Advice | None
    """None: its steps cannot be poured as written."""
    rests_on: str
    together: tuple[Together, ...] | None = None
    """The smallest sets of changes that make the wish worth pouring, or the best there is; empty:
    it is worth pouring, or nothing helps. None: not worked out, see ``with_together``."""

    @property
    def helps(self) -> tuple[Together, ...]:
        """What would help: sets that make the wish worth pouring first, then what helps alone."""
        sets = self.together or ()
        told = {one.changes for one in sets}
        return (*sets, *(one for one in self.levers if one.changes not in told))

    @property
    def in_danger(self) -> bool:
        """There is something better to pour, or the wish is not worth pouring as it is."""
        return self.advice is not None and (
            self.advice.warns or self.advice.going_on.worth < WORTH_POURING
        )

    @property
    def fine(self) -> bool:
        return not self.problems and not self.in_danger


def plan_sheet(
    plan: Plan, known: Known, texts: Mapping[str, Mapping[str, str]], levers: bool = True
) -> PlanSheet:
    """The sheet of ``plan``; ``texts`` is the table of cautions."""
    return foreseen_sheet(
        weighed(plan, known.oils, known.colourants, known.swirls, texts, known.additives),
        known,
        levers,
    )


def foreseen_sheet(ready: Weighed, known: Known, levers: bool = True) -> PlanSheet:
    """The sheet of a plan that has been weighed out from the tables of ``known``."""
    from soapbench.advice.advise import Foreseen
    from soapbench.advice.changes import levers as levers_of

    foreseen = Foreseen(ready.plan, known, ready.amounts)
    choices = foreseen.choices() if ready.pourable else []
    seen = foreseen.outlook() if ready.pourable else None
    return PlanSheet(
        plan=ready.plan,
        amounts=ready.amounts,
        cautions=ready.cautions,
        problems=ready.problems,
        pourable=ready.pourable,
        outlook=seen,
        choices=tuple(choices),
        levers=tuple(levers_of(ready.plan, known, seen.chance)) if levers and seen else (),
        advice=foreseen.advice(choices, seen) if seen else None,
        rests_on=_rests(ready.plan, known),
    )


def with_together(sheet: PlanSheet, known: Known) -> PlanSheet:
    """The sheet with the changes that help together; some tenths of a second where they do."""
    from soapbench.advice.changes import changes_together

    if sheet.outlook is None:
        return replace(sheet, together=())
    found = changes_together(sheet.plan, known, sheet.outlook.worth)
    return replace(sheet, together=found)


NONE_YET = "rule of thumb, with no batch of yours yet"


def _rests(plan: Plan, known: Known) -> str:
    if not plan.fragrance:
        count = known.fit.batches
        return f"{counted(count, 'batch', 'batches')} of yours" if count else NONE_YET
    told = []
    for fragrance in plan.fragrance:
        seen = known.fit.fragrances.get(fragrance.name)
        word = known.fit.told.get(fragrance.name)
        batches = seen.batches if seen else 0
        told.append(rests_on(batches, fragrance.reputation.value, word.batches if word else 0))
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
        "superfat_range": _range(made.superfat),
        "pots": [
            {
                "name": pot.name,
                "ml": round(pot.ml, 2),
                "g": round(pot.g, 2),
                "fragrance_g": round(pot.fragrance_g, 2),
                "superfat": round(pot.superfat.mid, 4),
                "superfat_range": _range(pot.superfat),
                "colourants": [
                    {
                        "name": colourant.name,
                        "dose": written.dose.written if written.dose else "",
                        "disperse_in": colourant.liquid or "none",
                        "liquid_ml": round(colourant.liquid_ml, 1),
                        "oil": colourant.oil,
                        "oil_from": ("extra" if colourant.on_top else "recipe")
                        if colourant.oil
                        else "",
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
            for name, q in (seen.time_left_from_fragrance_s if seen else {}).items()
        },
        "chance": round(seen.chance, 4) if seen else None,
        "chance_in_part": round(seen.chance_in_part, 4) if seen else None,
        "worth": round(seen.worth, 4) if seen else None,
        "advice": _advice_json(sheet.advice) if sheet.advice else None,
        "swirls": [
            {
                "name": c.name,
                "chance": round(c.chance, 4),
                "chance_in_part": round(c.chance_in_part, 4),
                "worth": round(c.worth, 4),
                "minutes": round(c.minutes, 1),
            }
            for c in sheet.choices
        ],
        "levers": [
            {"change": lever.change, "chance": round(lever.chance, 4)} for lever in sheet.levers
        ],
        "together": [
            {
                "changes": list(found.changes),
                "chance": round(found.chance, 4),
                "worth": round(found.worth, 4),
            }
            for found in sheet.together or ()
        ],
        "cautions": [_told(c) for c in sheet.cautions],
        "problems": [_told(p) | {"severity": p.severity.value} for p in sheet.problems],
        "hold_back": [{"oil": h.oil, "g": round(h.g, 2), "for": h.use} for h in made.held_back],
        "additives": [
            {"name": a.name, "g": round(a.g, 2), "goes_in": a.place or list(a.pots)}
            for a in made.additives
        ],
        "moulds": [{"brim_ml": round(m.brim_ml, 1), "ml": round(m.ml, 1)} for m in made.moulds],
        "embeds_ml": round(sum(embed.volume for embed in sheet.plan.embeds), 1),
        "lye_stock": sheet.plan.lye.stock,
        "extra_oils": [{"oil": oil.name, "g": round(oil.g, 2)} for oil in made.extra_oils],
    }


def _range(superfat: Superfat) -> list[float]:
    return [round(end, 4) for end in superfat.range]


def _advice_json(advice: Advice) -> dict[str, Any]:
    by = advice.switch_by_s
    return {
        "way": advice.way.name,
        "chance": round(advice.chance, 4),
        "chance_in_part": round(advice.way.chance_in_part, 4),
        "worth": round(advice.worth, 4),
        "why": advice.why,
        "switch_by_s": None if by is None else round(by, 1),
    }


def _told(caution: Caution) -> dict[str, str]:
    source = f"{caution.source} ({caution.verified})"
    return {"id": caution.id, "text": caution.text, "source": source}
