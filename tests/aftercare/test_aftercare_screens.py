"""Aftercare on screen, with a fake clock: keys, timers, 80x24, text from files."""

from __future__ import annotations

from pathlib import Path

import pytest
from aftercare_kit import EVENING, EVIL, after, poured
from shown_kit import aftercare, typed
from textual.widgets import Static

from soapbench.bench.learned import open_bench
from soapbench.bench.tables import packaged
from soapbench.log import Kind
from soapbench.logfile.batchlog import read_log
from soapbench.ui.aftercare.screen import AftercareScreen
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.home import HomeScreen
from soapbench.ui.pour.summary import SummaryScreen
from soapbench.ui.ways import ToAftercare
from tests.fakes import FakeClock
from tests.waiting import worked_out


async def test_enter_after_the_summary_leads_to_aftercare_and_escape_to_the_bench(
    folder: Path,
) -> None:
    clock = FakeClock(EVENING)
    bench, desk = poured(folder, clock)
    app = SoapbenchApp(bench, clock)
    async with app.run_test(size=(80, 24)) as pilot:
        app.desk = desk
        await app.switch_screen(SummaryScreen(desk))
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, AftercareScreen)
        await pilot.press("s", "y", "escape")
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
        assert app.desk is None
    events = read_log(desk.log.path).events  # type: ignore[attr-defined]
    assert events[-1].kind is Kind.SPRAY


async def test_spray_timer_counts_from_the_event_through_restart_and_clock_step(
    folder: Path,
) -> None:
    """Five minutes from the first spray; neither a wall-clock step nor missed ticks matter."""
    from datetime import timedelta

    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        assert shown.timer() is None
        await shown.press("s", "y")
        assert shown.timer() == "5:00"
        await shown.later(100)
        assert shown.timer() == "3:20"
        clock.wall -= timedelta(hours=3)
        await shown.later(20)
        assert shown.timer() == "3:00"
        again = shown.screen.desk
    clock.wall += timedelta(hours=3)
    async with aftercare(again, clock) as shown:
        assert shown.timer() == "3:00"
        await shown.later(185)
        assert shown.timer() == "0:00"
        assert "Spray again now" in shown.text("timer_words")
        await shown.press("s", "y")
        assert shown.timer() is None
        assert len(shown.rests.sprayed) == 2


async def test_after_a_reboot_the_wall_clock_is_believed(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    desk.record(Kind.SPRAY)
    clock.reboots(90)
    async with aftercare(desk, clock) as shown:
        assert shown.timer() == "3:30"


async def test_no_heat_while_alcohol_is_about(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("s", "y")
        clock.passes(300)
        await shown.press("s", "y", "f", "1")
        assert "no heat for 30:00 yet" in shown.text("said")
        assert (shown.rests.gel, shown.rests.heat) == ("force", "oven")
        assert "oven, about 60 °C to 75 °C; heat off when" in " ".join(shown.text().split())
        assert shown.timer() == "30:00"
        assert "Not into the oven" in shown.text()
        await shown.later(30 * 60)
        assert shown.timer() is None
        assert "Not into the oven" not in shown.text()
        assert "overheat" in shown.text()


async def test_one_key_each_and_undo_never_reaches_into_the_pour(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("a", "3", "c", "m")
        rests = shown.rests
        assert (rests.gel, rests.gel_reached, rests.gel_trouble) == (
            "allow",
            "half way",
            "cracking",
        )
        assert rests.unmoulded is not None
        assert "Gel allowed, halfway; cracking" in shown.text()
        await shown.press("u", "u", "u", "u")
        assert shown.rests.gel == "prevent"
        await shown.press("u", "u")
        assert "Nothing to undo" in shown.text("said")
        assert shown.screen.desk.state.ended is not None
        assert shown.kept(Kind.GEL_SEEN) == []


async def test_cut_weighings_and_ready_about(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("w")
        assert "begin at the cut" in shown.text("said")
        clock.passes(40 * 3600)
        await shown.press("k", *typed("many"))
        assert "Not noted" in shown.text("said")
        await shown.press("k", *typed("12"))
        assert shown.kept(Kind.CUT) == [{"bars": 12}]
        for grams in ("1100", "1,060.0".replace(",", ""), "1040,5"):
            await shown.press("w", *typed(grams))
            clock.passes(7 * 86400)
        assert [v["g"] for v in shown.kept(Kind.WEIGHING)] == [1100.0, 1060.0, 1040.5]
        await shown.later(0)
        text = " ".join(shown.text().split())
        assert "3 weighings: 1,100 → 1,040.5 g (-5.4 %)" in text
        assert "Ready around" in text
        assert "│" in shown.text(), "the curve"
        await shown.press("w", *typed("99999"))
        assert "cannot be" in shown.text("said")
        await shown.press("o", *typed("500"))
        assert [g for _, g in shown.rests.weighed] == [500.0]


async def test_somebody_about_to_do_it_too_early_is_told(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock, size=(120, 40)) as shown:
        clock.passes(600)
        await shown.press("k")
        question = str(shown.app.screen.query_one(".dialog Static", Static).render())
        assert "Early: usually from" in question
        below = shown.app.screen_stack[-2].query_one("#text", Static)
        assert "rule of thumb; i says where" in str(below.render())
        await shown.press("escape", "m")
        assert "Unmoulded, gloves on. Early" in shown.text("said")
        assert shown.kept(Kind.CUT) == []
        clock.passes(40 * 3600)
        await shown.press("k")
        question = str(shown.app.screen.query_one(".dialog Static", Static).render())
        assert question == "Cut into how many bars?"


async def test_a_finishing_touch_gets_a_date_and_is_done_by_the_same_key(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("t")
        assert "once cut" in shown.text("said")
        clock.passes(40 * 3600)
        await shown.press("k", *typed("12"))
        await shown.press("t", "2")  # a date to stamp
        assert "stamp: now, by" in shown.text()
        await shown.press("t", "2")
        assert [act for act, _ in shown.rests.finished] == ["stamp"]
        assert "stamp: now" not in shown.text()
        assert "stamped today" in " ".join(shown.text().split())
        await shown.press("u", "u")
        assert (shown.rests.wished, shown.rests.finished) == ((), ())


async def test_a_gel_that_stopped_half_way_and_ash_are_told_with_what_to_do(folder: Path) -> None:
    """A darker oval; ash is steamed, wiped or planed off (common practice, no source)."""
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("3")
        assert "darker oval inside" in shown.text()
        clock.passes(40 * 3600)
        await shown.press("k", *typed("12"))
        shown.screen.desk.record(Kind.CUT_SEEN, part="middle", ash="a lot")
        await shown.later(0)
        text = " ".join(shown.text().split())
        assert "Soda ash, a lot: harmless. Steam it, wipe it with a damp cloth, or plane it" in text


async def test_put_away_is_asked_for(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    after(desk, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("d", "n")
        assert shown.rests.cured is None
        await shown.press("d", "y")
        assert shown.rests.cured is not None
        assert "Nothing more." in shown.text()


async def test_a_batch_is_set_aside_and_counts_again_by_one_key(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("x")
        assert shown.rests.set_aside
        assert "teaches nothing" in shown.text("said")
        assert "set aside, teaches nothing" in " ".join(shown.text().split())
        await shown.press("x")
        assert not shown.rests.set_aside


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize("no_color", ["", "1"])
async def test_fits_and_keys_are_whole(
    size: tuple[int, int], no_color: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if no_color:
        monkeypatch.setenv("NO_COLOR", no_color)
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock, size) as shown:
        await shown.press("s", "y")
        for id in ("keys", "body", "timer"):
            region = shown.screen.query_one(f"#{id}").region
            assert region.height >= 1
            assert region.right <= size[0]
            assert region.bottom <= size[1]
        lines = shown.text("keys").splitlines()
        assert max(map(len, lines)) <= size[0] - 2
        assert any("k cut" in line for line in lines)
        assert any("Esc bench" in line for line in lines)


async def test_text_from_a_file_is_only_text(folder: Path) -> None:
    """Mark-up and escape sequences in a title and in a verdict are shown or left out, never run."""
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    desk.record(Kind.CUT)
    desk.record(Kind.VERDICT, verdict=f"[@click=app.quit]{EVIL}", next_time="see [/")
    async with aftercare(desk, clock) as shown:
        await shown.press("v")
        assert "[@click=app.quit]" in shown.text("verdict")
        assert "see [/" in shown.text("verdict")
        assert "\x1b" not in shown.text("verdict")


async def test_a_batch_held_elsewhere_is_only_watched(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    path = desk.log.path  # type: ignore[attr-defined]
    before = len(read_log(path).events)
    app = SoapbenchApp(open_bench(folder), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.take(ToAftercare(path))
        await pilot.pause()
        await pilot.press("s", "m")
        assert "View only" in str(app.screen.query_one("#said", Static).render())
    assert len(read_log(path).events) == before
    desk.close()


async def test_a_table_that_cannot_be_read_does_not_keep_the_screen_away(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    (folder / "tables").mkdir()
    (folder / "tables" / "aftercare.toml").write_text("spray = 3\n")
    async with aftercare(desk, clock) as shown:
        await shown.press("s", "y")
        assert shown.timer() == "5:00"


async def test_r_writes_the_report_and_the_dates_ahead_into_the_bench(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        await shown.press("r")
        await worked_out(shown.app)
        await shown.pilot.pause()
        reports = shown.path.parent.parent / "reports"
        html, dates = (reports / f"{shown.path.stem}.{kind}" for kind in ("html", "ics"))
        line = shown.text("said").replace("\n", "")
        assert html.name in line
        assert dates.name in line
        assert shown.screen.desk.plan.title in html.read_text("utf-8")
        assert dates.read_text("utf-8").startswith("BEGIN:VCALENDAR")


async def test_a_report_that_cannot_be_written_says_why(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        (shown.path.parent.parent / "reports").write_text("a file in the way")
        await shown.press("r")
        await worked_out(shown.app)
        await shown.pilot.pause()
        assert "Can't write it: " in shown.text("said")


async def test_where_the_times_come_from_is_one_key_away(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    async with aftercare(desk, clock) as shown:
        assert "no source" not in shown.text()
        await shown.press("i")
        page = str(shown.app.screen.query_one("#page Static", Static).render())
        ours = packaged("aftercare.toml")
        assert f"{ours['source']}; {ours['verified']}" in page
        assert page.count("Unmoulding") == 1
        await shown.press("x")
        assert isinstance(shown.app.screen, AftercareScreen)
