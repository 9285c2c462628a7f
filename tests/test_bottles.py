"""A new bottle and a fragrance that may seize are told on the plan sheet; what is usual is not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.advice.known import Known
from soapbench.batter import Reputation
from soapbench.bench import tables
from soapbench.plan import Plan
from soapbench.settings import USUAL
from soapbench.sheet.front import front
from soapbench.sheet.plansheet import PlanSheet, plan_sheet
from soapbench.thickening.fitted import Fragrance, Lot
from tests.plans import plan

NAME = plan().fragrance[0].name


def knowing(known: Known, *lots: str, seized: int = 0) -> Known:
    """Ten batches with the plan's fragrance, from bottles of those names."""
    flat = tuple(Lot(lot, 40.0, 4.0, (0.0,) * len(known.fit.theta)) for lot in lots)
    before = Fragrance(NAME, Reputation.WELL_BEHAVED, 10, 0.1, flat, seized=seized)
    return replace(known, fit=replace(known.fit, batches=10, fragrances={NAME: before}))


def sheet(known: Known, lot: str | None, sold: Reputation = Reputation.WELL_BEHAVED) -> PlanSheet:
    written = plan()
    fragrance = replace(written.fragrance[0], lot=lot, reputation=sold)
    wanted: Plan = replace(written, fragrance=(fragrance,))
    return plan_sheet(wanted, known, tables.cautions(), levers=False)


def line(known: Known, lot: str | None, sold: Reputation = Reputation.WELL_BEHAVED) -> str:
    return " ".join(front(sheet(known, lot, sold), 80, USUAL).says)


def test_a_bottle_never_opened_is_told_and_a_known_one_is_not(known: Known) -> None:
    two = knowing(known, "A17", "B2")
    assert f"New bottle: {NAME} C9 may be faster or slower." in line(two, "C9")
    assert "bottle" not in line(two, "B2").lower()
    assert f"Which bottle of {NAME}?" in line(two, None)


@pytest.mark.parametrize("lot", ["C9", None])
def test_no_bottle_is_asked_for_by_who_never_names_any(known: Known, lot: str | None) -> None:
    assert "bottle" not in line(known, lot).lower()
    assert "bottle" not in line(knowing(known, ""), lot).lower()


def test_seizing_is_told_where_it_is_likely_or_happened(known: Known) -> None:
    assert "seize" not in line(known, None)
    assert f"{NAME} may seize, 1 pour in 10" in line(known, None, Reputation.NOTORIOUS)
    often = line(knowing(known, "", seized=2), None)
    assert f"{NAME} seized in 2 of your 10 batches: mould ready" in often
