"""The plan sheet as plain values, for `soapbench check --json`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from soapbench.plan import Colourant
from soapbench.recipe.pots import PotAmounts
from soapbench.recipe.severity import Caution
from soapbench.recipe.superfat import Superfat
from soapbench.sheet.plansheet import PlanSheet

if TYPE_CHECKING:
    from soapbench.advice.advise import Advice
    from soapbench.advice.ways import SwirlChoice
    from soapbench.outlook.finishing import StageOutlook


def as_json(sheet: PlanSheet) -> dict[str, Any]:
    """The sheet as the stable keys of ``soapbench check --json``; masses g, volumes mL, times s."""
    amounts, outlook = sheet.amounts, sheet.outlook
    return {
        "title": sheet.plan.title,
        "oils_g": round(amounts.oils_g, 2),
        "naoh_g": round(amounts.naoh_g, 2),
        "koh_g": round(amounts.koh_g, 2),
        "water_g": round(amounts.water_g, 2),
        "fragrance_g": round(amounts.fragrance_g, 2),
        "fragrance_share_of_product": round(amounts.fragrance_share_of_product, 5),
        "batter_ml": round(amounts.batter_ml, 2),
        "batter_g": round(amounts.batter_g, 2),
        "superfat_range": _range(amounts.superfat),
        "pots": [_pot(pot, sheet.plan.pot(pot.name).colourants) for pot in amounts.pots],
        "stages": [_stage(stage) for stage in (outlook.stages if outlook else ())],
        "room_left_s": {
            name: {"p10": round(q.p10, 1), "p50": round(q.p50, 1), "p90": round(q.p90, 1)}
            for name, q in (outlook.time_left_from_fragrance_s if outlook else {}).items()
        },
        "chance": round(outlook.chance, 4) if outlook else None,
        "chance_in_part": round(outlook.chance_in_part, 4) if outlook else None,
        "worth": round(outlook.worth, 4) if outlook else None,
        "advice": _advice_json(sheet.advice) if sheet.advice else None,
        "swirls": [_choice(choice) for choice in sheet.choices],
        "levers": [
            {"change": lever.change, "chance": round(lever.chance, 4)} for lever in sheet.levers
        ],
        "together": [
            {
                "changes": list(changes.changes),
                "chance": round(changes.chance, 4),
                "worth": round(changes.worth, 4),
            }
            for changes in sheet.together or ()
        ],
        "cautions": [_caution(c) for c in sheet.cautions],
        "problems": [_caution(p) | {"severity": p.severity.value} for p in sheet.problems],
        "hold_back": [{"oil": h.oil, "g": round(h.g, 2), "for": h.use} for h in amounts.held_back],
        "additives": [
            {"name": a.name, "g": round(a.g, 2), "goes_in": a.place or list(a.pots)}
            for a in amounts.additives
        ],
        "moulds": [{"brim_ml": round(m.brim_ml, 1), "ml": round(m.ml, 1)} for m in amounts.moulds],
        "embeds_ml": round(sum(embed.volume for embed in sheet.plan.embeds), 1),
        "lye_stock": sheet.plan.lye.stock,
        "bottles": [
            {
                "fragrance": bottle.fragrance,
                "lot": bottle.lot,
                "new": bottle.new,
                "chance_to_seize": round(bottle.seizes, 4),
            }
            for bottle in sheet.bottles
        ],
        "extra_oils": [{"oil": oil.name, "g": round(oil.g, 2)} for oil in amounts.extra_oils],
    }


def _pot(pot: PotAmounts, written: Sequence[Colourant]) -> dict[str, Any]:
    """``written``: its colourants as the plan has them."""
    return {
        "name": pot.name,
        "ml": round(pot.ml, 2),
        "g": round(pot.g, 2),
        "fragrance_g": round(pot.fragrance_g, 2),
        "superfat": round(pot.superfat.mid, 4),
        "superfat_range": _range(pot.superfat),
        "colourants": [
            {
                "name": dose.name,
                "dose": meant.dose.written if meant.dose else "",
                "disperse_in": dose.liquid or "none",
                "liquid_ml": round(dose.liquid_ml, 1),
                "oil": dose.oil,
                "oil_from": ("extra" if dose.on_top else "recipe") if dose.oil else "",
            }
            for dose, meant in zip(pot.colourants, written, strict=True)
        ],
    }


def _stage(stage: StageOutlook) -> dict[str, Any]:
    pots = stage.stage.pots
    return {
        "name": stage.stage.words,
        "pot": pots[0] if len(pots) == 1 else None,
        "median_s": round(stage.lasts_s.p50, 1),
        "p10_s": round(stage.lasts_s.p10, 1),
        "p90_s": round(stage.lasts_s.p90, 1),
    }


def _choice(choice: SwirlChoice) -> dict[str, Any]:
    return {
        "name": choice.name,
        "chance": round(choice.chance, 4),
        "chance_in_part": round(choice.chance_in_part, 4),
        "worth": round(choice.worth, 4),
        "minutes": round(choice.minutes, 1),
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


def _caution(caution: Caution) -> dict[str, str]:
    source = f"{caution.source} ({caution.verified})"
    return {"id": caution.id, "text": caution.text, "source": source}
