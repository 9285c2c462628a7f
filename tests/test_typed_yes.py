"""A plan with a problem of lye or limit is not poured until that is typed in full, anywhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from soapbench.bench.learned import open_bench, remember
from soapbench.bench.planfile import plan_in_log
from soapbench.bench.tables import cautions, colourants, oils, swirls
from soapbench.desk.starting import NotToBePoured, begin, carry_on
from soapbench.plan.reader import read_poured
from soapbench.recipe.amounts import amounts
from soapbench.recipe.severity import YES
from soapbench.sheet.plansheet import plan_sheet
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.setout import SetOutScreen
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import worked_out

HEAVY = THREE_POTS.replace('superfat = "5 %"', 'superfat = "-10 %"')


@pytest.mark.parametrize("typed", ["", "y", "no", "yes please"])
def test_no_batch_of_a_stop_begins_without_the_word(
    tmp_path: Path, clock: FakeClock, typed: str
) -> None:
    """The refusal stands where every surface has to pass."""
    known = remember(open_bench(tmp_path)).known
    sheet = plan_sheet(plan(HEAVY), known, cautions(), levers=False)
    with pytest.raises(NotToBePoured, match="LYE-HEAVY"):
        begin(open_bench(tmp_path), clock, known, sheet, typed)
    assert not (tmp_path / "batches").exists()


def test_what_was_typed_over_stays_in_the_log_which_can_be_carried_on(
    tmp_path: Path, clock: FakeClock
) -> None:
    known = remember(open_bench(tmp_path)).known
    sheet = plan_sheet(plan(HEAVY), known, cautions(), levers=False)
    bench = open_bench(tmp_path)
    desk = begin(bench, clock, known, sheet, YES)
    desk.lye_meets_oils()
    desk.close()
    (path,) = (tmp_path / "batches").glob("*.toml")
    header = bench.read(path).header
    assert header is not None
    assert "superfat-negative" in header.foreseen.in_spite_of
    again = carry_on(bench, clock, lambda: known, path)
    assert again.amounts.naoh_g == pytest.approx(sheet.amounts.naoh_g)
    again.close()


async def test_the_screen_asks_for_the_word_and_takes_no_other(
    tmp_path: Path, clock: FakeClock
) -> None:
    path = tmp_path / "heavy.toml"
    path.write_text(HEAVY, "utf-8")
    app = SoapbenchApp(open_bench(tmp_path), clock, path)
    async with app.run_test(size=(80, 24)) as pilot:
        await worked_out(app)
        await pilot.pause()
        for typed in ("y", "no"):
            await pilot.press("enter", *typed, "enter")
            await pilot.pause()
            assert isinstance(app.screen, PlanScreen)
            assert app.desk is None
        await pilot.press("enter", *YES, "enter")
        await worked_out(app)
        await pilot.pause()
        assert isinstance(app.screen, SetOutScreen)


def test_a_plan_of_an_old_log_is_poured_from_the_recipe(tmp_path: Path, clock: FakeClock) -> None:
    """Logs of the first release say nothing of where colours take their oil from."""
    bench = open_bench(tmp_path)
    known = remember(bench).known
    desk = begin(bench, clock, known, plan_sheet(plan(), known, cautions(), levers=False))
    desk.close()
    (path,) = (tmp_path / "batches").glob("*.toml")
    header = bench.read(path).header
    assert header is not None
    now = plan_in_log(header, Path("now"), oils(), swirls())
    assert {c.oil_from for pot in now.pots for c in pot.colourants} == {"extra"}
    for pot in header.plan["pots"]:
        for colourant in pot["colourants"]:
            del colourant["oil_from"]
    old = plan_in_log(header, Path("old"), oils(), swirls())
    weighed = amounts(old, oils(), colourants())
    assert weighed.extra_oils == ()
    assert [held.oil for held in weighed.held_back] == ["olive"]
    assert weighed.superfat.mid == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("lye", "naoh_g", "koh_g", "water_g", "pour_off_ml"),
    [
        ("", 88.018, 0.0, 178.703, (512.74, 160.47, 160.44)),
        (
            'alkali = "both"\nkoh_share = "20 %"\npurity = "98 %"\n',
            70.441, 24.208, 189.307, (512.97, 160.55, 160.51),
        ),
        ('alkali = "KOH"\n', 0.0, 112.513, 228.436, (513.76, 160.81, 160.78)),
    ],
)  # fmt: skip
def test_amounts_of_an_old_log_are_those_it_was_poured_with(
    lye: str, naoh_g: float, koh_g: float, water_g: float, pour_off_ml: tuple[float, ...]
) -> None:
    """Figures printed by the first release for these plans; KOH counted as pure then."""
    header = plan(THREE_POTS.replace("[lye]\n", f"[lye]\n{lye}")).as_written()
    header["assumed"] = [name for name in header["assumed"] if name != "lye.koh_purity"]
    if 'alkali = "KOH"' in lye:
        header["lye"]["purity"] = "100 %"
    header["lye"].pop("koh_purity", None)
    for pot in header["pots"]:
        for colourant in pot["colourants"]:
            del colourant["oil_from"]
    weighed = amounts(read_poured(header), oils(), colourants())
    assert (weighed.naoh_g, weighed.koh_g, weighed.water_g) == pytest.approx(
        (naoh_g, koh_g, water_g), abs=2e-3
    )
    assert [pot.pour_off_ml for pot in weighed.pots] == pytest.approx(pour_off_ml, abs=0.02)
