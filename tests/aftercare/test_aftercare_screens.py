"""Aftercare and cut review on screen, with a fake clock: keys, timers, 80x24, text from files."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from aftercare_kit import EVENING, EVIL, after, poured
from textual.pilot import Pilot
from textual.widgets import Static

from soapbench.aftercare.cutreview import VERDICTS, Reach, reaches, review
from soapbench.aftercare.resting import Resting
from soapbench.bench.learned import open_bench
from soapbench.bench.tables import packaged
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind, Outcome, standing
from soapbench.logfile.batchlog import read_log
from soapbench.ui.aftercare.review import CutReviewScreen
from soapbench.ui.aftercare.screen import AftercareScreen
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.bigtext import BigText
from soapbench.ui.home import HomeScreen
from soapbench.ui.keyline import Tappable
from soapbench.ui.pour.summary import SummaryScreen
from soapbench.ui.ways import ToAftercare
from tests.fakes import FakeClock
from tests.photos.photo_kit import photograph, truth
from tests.waiting import worked_out


@dataclass
class Shown:
    """The app on one batch's aftercare, and what can be seen and pressed."""

    app: SoapbenchApp
    pilot: Pilot[int]
    clock: FakeClock
    path: Path

    @property
    def screen(self) -> AftercareScreen:
        assert isinstance(self.app.screen, AftercareScreen)
        return self.app.screen

    @property
    def rests(self) -> Resting:
        made = self.screen.rests
        assert made is not None
        return made

    def text(self, id: str = "text") -> str:
        return str(self.app.screen.query_one(f"#{id}", Static).render())

    def timer(self) -> str | None:
        shown = self.screen.query_one("#timer").display
        return self.screen.query_one("#left", BigText).text if shown else None

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def later(self, seconds: float) -> None:
        self.clock.passes(seconds)
        self.screen.show()
        await self.pilot.pause()

    def kept(self, kind: Kind) -> list[dict[str, object]]:
        """Values of the standing events of this kind in the file itself."""
        events = standing(read_log(self.path).events)
        return [dict(e.values) for e in events if e.kind is kind]


@asynccontextmanager
async def aftercare(
    desk: Desk, clock: FakeClock, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Shown]:
    path = desk.log.path  # type: ignore[attr-defined]
    desk.close()
    app = SoapbenchApp(open_bench(path.parent.parent), clock)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.take(ToAftercare(path))
        await pilot.pause()
        yield Shown(app, pilot, clock, path)


def typed(words: str) -> list[str]:
    return [{" ": "space", ".": "full_stop", ",": "comma"}.get(c, c) for c in words] + ["enter"]


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
        made = shown.rests
        assert (made.gel, made.gel_reached, made.gel_trouble) == ("allow", "half way", "cracking")
        assert made.unmoulded is not None
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
        said = " ".join(shown.text().split())
        assert "3 weighings: 1,100 → 1,040.5 g (-5.4 %)" in said
        assert "Ready around" in said
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
        said = " ".join(shown.text().split())
        assert "Soda ash, a lot: harmless. Steam it, wipe it with a damp cloth, or plane it" in said


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


async def test_how_it_came_out_is_told_again_at_the_cut(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    desk.tell_outcome(Outcome.AS_PLANNED)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    async with aftercare(desk, clock) as shown:
        await shown.press("v")
        review = shown.app.screen
        assert isinstance(review, CutReviewScreen)
        assert "Finished as planned. Would you pour this again?" in shown.text("verdict")
        await shown.press("o", "2")
        assert review.desk.state.outcome is Outcome.IN_PART
        assert "Came out in part" in shown.text("verdict")
        await shown.press("u")
        assert review.desk.state.outcome is Outcome.AS_PLANNED


async def test_cut_review_one_key_an_answer(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    async with aftercare(desk, clock) as shown:
        await shown.press("v")
        assert isinstance(shown.app.screen, CutReviewScreen)
        await shown.press("3", "1", "2")  # foam, ember, edges of the middle
        await shown.press("left", "1")  # foam of the first end
        await shown.press("b", *typed("7"), "2")
        await shown.press("9")
        assert "1 to 3" in shown.text("said")
        await shown.press("p", *typed("gone.jpg"))
        await worked_out(shown.app)
        await shown.pilot.pause()
        assert "Photo not added: there is no such file" in shown.text("said")
        await shown.press("v", "2", "4", *typed("less ember"))
        facts = standing(read_log(shown.path).events)
        assert set(reaches(facts)) == {
            Reach("foam", "middle", "stayed on top"),
            Reach("ember", "middle", "to the bottom"),
            Reach("foam", "first end", "to the bottom"),
            Reach("foam", "bar 7", "half way"),
        }
        found = review(facts)
        assert found.photos == {}
        assert found.verdict is not None
        assert (found.verdict.verdict, found.verdict.next_time) == (
            "again with a change",
            "less ember",
        )
        assert len(found.verdict.next_swirl) == 1
        assert "again, with changes" in shown.text("verdict")
        await shown.press("u", "u", "u")
        assert Reach("foam", "bar 7", "half way") not in reaches(
            standing(read_log(shown.path).events)
        )
        await shown.press("escape")
        assert isinstance(shown.app.screen, AftercareScreen)


def snapshot(desk: Desk, file: Path) -> dict[str, str]:
    """A photograph of the batch's own face as it was poured; how far each accent came."""
    from PIL import Image

    from soapbench.barface.words import poured_showings

    loaf = poured_showings(desk.batch, desk.plan, desk.amounts, desk.known, desk.state)[0]
    picture, drawn = photograph(loaf.design, 3)
    file.parent.mkdir(exist_ok=True)
    Image.fromarray(picture).save(file, quality=90)
    reached = truth(drawn, len(desk.plan.pots))[1]
    pots = zip(desk.plan.pots, reached, strict=True)
    return {pot.name: came for pot, came in pots if pot is not desk.plan.base}


async def test_a_photograph_fills_the_review_in_and_one_key_corrects_it(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    camera = folder / "camera"
    came = snapshot(desk, camera / "IMG 1.jpg")
    before = (camera / "IMG 1.jpg").read_bytes()
    async with aftercare(desk, clock, (120, 40)) as shown:
        await shown.press("v")
        await shown.press("p", *typed(str(camera)))
        await worked_out(shown.app)
        await shown.pilot.pause()
        assert "answers filled in" in shown.text("said")
        found = review(standing(read_log(shown.path).events))
        (kept,) = found.photos["middle"]
        assert kept.startswith(f"photos/{shown.path.stem}/middle-")
        assert (folder / kept).read_bytes() == before
        assert (camera / "IMG 1.jpg").read_bytes() == before
        said = {pot: answer for (_, pot), answer in found.answers["middle"].items()}
        assert said
        assert all(came[pot] == answer for pot, answer in said.items() if pot)
        assert "from the photo, " in shown.text("questions")
        assert "In the photo (poured): " in shown.text("shares")
        (asked,) = [key for key in found.by_photo["middle"] if key[1] == "foam"]
        corrected = "3" if said["foam"] != "stayed on top" else "1"
        await shown.press("up", corrected)
        found = review(standing(read_log(shown.path).events))
        assert asked not in found.by_photo["middle"], "the maker's own now"
        assert found.answers["middle"][asked] != said["foam"]
        await shown.press("p", *typed(str(camera)))
        await worked_out(shown.app)
        await shown.pilot.pause()
        again = review(standing(read_log(shown.path).events))
        assert again.answers["middle"][asked] == found.answers["middle"][asked], "and stays"
        await shown.press("f")
        await worked_out(shown.app)
        await shown.pilot.pause()
        rows = [shown.app.screen.query_one(f"#{id}").render_line(4) for id in ("photo", "drawn")]
        assert all(len(set(row.text.strip())) > 1 for row in rows), "signs: no colour in tests"
        await shown.press("r")
        await worked_out(shown.app)
        await shown.pilot.pause()
        turned = review(standing(read_log(shown.path).events)).photos["middle"]
        assert turned[0] == kept
        assert turned[-1] != kept
        assert (folder / kept).read_bytes() == before, "the picture it came of stays as it is"
        await shown.press("escape")
        assert isinstance(shown.app.screen, CutReviewScreen)


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
        said = shown.text("said").replace("\n", "")
        assert html.name in said
        assert dates.name in said
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


async def test_a_verdict_has_room_and_starts_from_what_was_said_before(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    async with aftercare(desk, clock) as shown:
        await shown.press("v", "v")
        await shown.pilot.click(Tappable)  # the first answer, tapped
        await shown.press("escape", *typed("cooler, and three pots"))
        await shown.press("v", "1", "escape", *typed(" next time"))
        found = review(standing(read_log(shown.path).events)).verdict
        assert found is not None
        assert found.next_time == "cooler, and three pots next time"
        assert found.verdict == VERDICTS[0]
