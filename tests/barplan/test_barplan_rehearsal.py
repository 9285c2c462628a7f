"""A rehearsal's report shows the face its hidden batter really made."""

from __future__ import annotations

from pathlib import Path

from soapbench.advice.known import Known
from soapbench.barface import Manner
from soapbench.barface.words import poured_showings
from soapbench.bench.learned import open_bench
from soapbench.bench.tables import cautions
from soapbench.desk.rehearsing import Wanted, begin_rehearsal
from soapbench.outlook.batters import trace_at
from soapbench.sheet.plansheet import plan_sheet
from soapbench.thickening.draws import milestone_times
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.face import FaceScreen
from soapbench.ui.pour.rehearsal import ReportScreen
from tests.barplan.test_barplan_screens import drawn, shown, until
from tests.desks import work
from tests.fakes import FakeClock
from tests.plans import plan


async def test_the_face_of_a_rehearsal(tmp_path: Path, known: Known, clock: FakeClock) -> None:
    sheet = plan_sheet(plan(), known, cautions(), levers=False)
    wanted = Wanted(sheet, 4.0, 11)
    at, batter = begin_rehearsal(open_bench(tmp_path), clock, known, wanted)
    work(at, clock, "end", each_s=60)

    poured = poured_showings("r", at.plan, at.amounts, known, at.state, draws=batter.draws)[0]
    dropped = [d for d in at.state.done if d.stage.manner == "drop"]
    base = at.state.pots["base"]
    truth = milestone_times(batter.draws, base.fragrance, base.fragrance_in, base.blends)
    for pour, done in zip(
        (p for p in poured.design.pours if p.manner is Manner.DROP), dropped, strict=True
    ):
        assert pour.trace == trace_at(truth, 0.5 * (done.begun + done.done))[0]

    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(ReportScreen(at, batter, wanted))
        await pilot.press("v")
        await until(pilot, lambda: isinstance(app.screen, FaceScreen) and drawn(app))
        assert shown(app, "label0") == "as poured"
        assert shown(app, "words0") == poured.words
        await pilot.press("escape")
        assert isinstance(app.screen, ReportScreen)
        assert not app.faults
    at.close()
