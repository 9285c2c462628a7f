"""A soft soap is told the same times wherever one is named: bench, aftercare, calendar, report."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from aftercare_kit import EVENING, begun, pour
from icalendar import Calendar
from textual.widgets import Static

from soapbench.aftercare.windows import window
from soapbench.bench.batchfile import read_batch, resting_in
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import practice
from soapbench.desk.benchlist import due_lines
from soapbench.papers.commands import calendar
from soapbench.papers.report import report_of
from soapbench.ui.aftercare.screen import AftercareScreen
from soapbench.ui.app import SoapbenchApp
from tests.fakes import FakeClock
from tests.plans import THREE_POTS

SOFT = '[[oils]]\nname = "olive"\nshare = "60 %"\n[[oils]]\nname = "sunflower"\nshare = "40 %"\n'
OLIVE = '[[oils]]\nname = "olive"\nshare = "100 %"\n'
OURS = THREE_POTS[THREE_POTS.index("[[oils]]") : THREE_POTS.index("[lye]")]


@pytest.mark.parametrize(("oils", "soft"), [(SOFT, True), (OLIVE, True), (OURS, False)])
async def test_every_surface_names_the_same_times(
    tmp_path: Path, folder: Path, oils: str, soft: bool
) -> None:
    plan = tmp_path / "soft.toml"
    plan.write_text(THREE_POTS.replace(OURS, oils), "utf-8")
    clock, known = FakeClock(EVENING), practice(folder / "tables")
    _, desk = begun(folder, clock, plan)
    pour(desk, clock)
    app = SoapbenchApp(open_bench(folder), clock)
    async with app.run_test(size=(120, 40)) as pilot:
        screen = AftercareScreen(desk, known)
        await app.push_screen(screen)
        await pilot.pause()
        shown = screen.rests
        page = str(screen.query_one("#text", Static).render())
    desk.close()

    bench = open_bench(folder)
    batch = read_batch(bench, desk.log.path)
    (lesson,) = remember(bench).lessons
    rests = resting_in(bench, batch)
    assert rests is not None
    assert lesson.resting == shown == rests == report_of(bench, batch).resting
    assert (rests.saturated < known.soft_below) is soft

    opens, closes = (
        rests.poured + timedelta(hours=h) for h in window(rests, known.unmould_h, known)
    )
    _, ics = calendar(folder, str(desk.log.path), clock.wall)
    dates = {
        str(e["SUMMARY"]).rpartition(": ")[2]: e for e in Calendar.from_ical(ics).walk("VEVENT")
    }
    assert dates["unmould"]["DTSTART"].dt == opens.replace(microsecond=0)
    assert dates["unmould"]["DTEND"].dt == closes.replace(microsecond=0)
    listed = due_lines(bench, bench.batches(), remember(bench), opens)
    assert any(line.words.startswith("unmould: ") for line in listed)
    early = due_lines(bench, bench.batches(), remember(bench), opens - timedelta(days=1, hours=1))
    assert not any(line.words.startswith("unmould: ") for line in early)
    assert f"{opens:%H:%M}" in page
