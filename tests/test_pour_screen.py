"""The pour screen, key by key, with a clock that only moves when told to."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Static

from soapbench.advice import Known
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.bigtext import BigText
from soapbench.ui.pour.screen import PourScreen
from tests.desks import ListLog, desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan


@asynccontextmanager
async def poured(
    pour: Desk, clock: FakeClock, tmp_path: Path, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[Pilot[int], PourScreen]]:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=size) as pilot:
        screen = PourScreen(pour)
        await app.switch_screen(screen)
        await pilot.pause()
        yield pilot, screen


async def settled(pilot: Pilot[int], screen: PourScreen) -> None:
    """Let the model answer, then draw as the next tick would."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()
    screen._tick()
    await pilot.pause()


def shown(screen: PourScreen, id: str) -> str:
    return str(screen.query_one(f"#{id}", Static).render())


def lines(screen: PourScreen) -> list[str]:
    return ["".join(s.text for s in strip) for strip in screen._compositor.render_strips()]


async def test_lye_first_then_space_walks_through_the_stages(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        assert "Ready" in shown(screen, "stage")
        await pilot.press("space")
        assert "Lye into oils" in shown(screen, "stage")
        clock.passes(14)
        await settled(pilot, screen)
        assert screen.query_one("#stage_time", BigText).text == "0:14"
        await pilot.press("space")
        assert "Emulsify" in shown(screen, "stage")
        assert "2 of 14" in shown(screen, "stage")
        assert screen.query_one("#stage_time", BigText).text == "0:00"


async def test_every_key_is_logged_for_the_pot_in_hand(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/rope")
    before = len(pour.log.events)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        for key in ("f", "2", "r", "down", "2", "b", "b", "u"):
            clock.passes(2)
            await pilot.press(key)
        logged = pour.log.events[before:]
        facts = [(e.kind, e.pot) for e in logged if e.kind is not Kind.WARNING_SHOWN]
        assert facts == [
            (Kind.FRAGRANCE_IN, "rope"),
            (Kind.TRACE_SEEN, "rope"),
            (Kind.TROUBLE, "rope"),
            (Kind.TRACE_SEEN, "gull"),
            (Kind.BLENDER_ON, "gull"),
            (Kind.BLEND_BURST, "gull"),
            (Kind.UNDO, "gull"),
        ]
        assert pour.state.pots["gull"].trace is Trace.LIGHT
        assert "Taken back: blend burst" in shown(screen, "said")


async def test_room_left_and_chance_come_from_the_model_and_count_down(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/rope")
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await settled(pilot, screen)
        assert pour.live is not None
        assert "%" in shown(screen, "chance")
        first = screen.query_one("#room", BigText).text
        clock.passes(3)
        screen._render_now()
        assert screen.query_one("#room", BigText).text != first
        assert "room left: " in shown(screen, "room_of")


async def test_a_warning_is_shown_with_its_key_and_the_key_takes_it(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base", each_s=35)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await pilot.press("3")
        clock.passes(1)
        await pilot.press("3")  # asked once more, if the model has answered by then
        await settled(pilot, screen)
        warned = shown(screen, "warning")
        assert warned.startswith("! ")
        assert "room left" in warned
        assert "x: " in warned
        assert [e.kind for e in pour.log.events].count(Kind.WARNING_SHOWN) == 1
        await pilot.press("x")
        assert pour.state.rescued
        await pilot.press("u")
        assert not pour.state.rescued


async def test_free_text_cannot_be_swallowed_or_taken_for_markup(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await pilot.press("n", *"fz [/] [b]2", "enter")
        assert pour.state.notes[-1].text == "fz [/] [b]2"
        await pilot.press("n", "a", "escape")
        assert len(pour.state.notes) == 1
        assert "Noted" in shown(screen, "said")


async def test_the_last_stage_ends_the_pour_and_leads_to_the_summary(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "draw the hanger")
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        clock.passes(40)
        await pilot.press("space")
        assert pour.state.finished is True
        assert "Poured" in shown(screen, "stage")
        await pilot.press("space")
        await pilot.pause()
        assert "Finished as planned" in "\n".join(lines(pilot.app.screen))  # type: ignore[arg-type]


async def test_giving_up_asks_first(known: Known, clock: FakeClock, tmp_path: Path) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould")
    async with poured(pour, clock, tmp_path) as (pilot, _):
        await pilot.press("e", "n")
        assert pour.state.ended is None
        await pilot.press("e", "y")
        assert pour.state.finished is False


async def test_leaving_while_pouring_asks_first(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    async with poured(pour, clock, tmp_path) as (pilot, _):
        pilot.app.desk = pour  # type: ignore[attr-defined]
        await pilot.press("ctrl+q")
        await pilot.pause()
        assert pilot.app.is_running
        await pilot.press("n")
        assert not pour.log.closed  # type: ignore[attr-defined]


async def test_keys_can_be_given_to_a_pedal(known: Known, clock: FakeClock, tmp_path: Path) -> None:
    pour = desk(plan(), known, clock)
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.switch_screen(PourScreen(pour, {"done": "f12"}))
        await pilot.press("space")
        assert not pour.state.begun
        await pilot.press("f12")
        assert pour.state.begun


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 20)])
async def test_what_matters_is_on_the_screen_at_every_size(
    known: Known, clock: FakeClock, tmp_path: Path, size: tuple[int, int]
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull", each_s=35)
    async with poured(pour, clock, tmp_path, size) as (pilot, screen):
        await pilot.press("3")
        await settled(pilot, screen)
        text = "\n".join(lines(screen))
        for words in ("to finish", "Fragrance into gull", "room left: ", "medium trace", "!"):
            assert words in text
        assert "██" in text


async def test_a_model_that_fails_shows_itself_and_the_pour_goes_on(
    known: Known, clock: FakeClock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()

    def broken(self: Desk) -> None:
        raise ArithmeticError("no posterior [/]")

    monkeypatch.setattr(Desk, "advise", broken)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await pilot.press("2")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        assert "out of date" in shown(screen, "said")
        await pilot.press("space")
        assert len(pour.state.done) == 1


async def test_late_ticks_lose_no_time(known: Known, clock: FakeClock, tmp_path: Path) -> None:
    pour = desk(plan(), known, clock, ListLog())
    pour.lye_meets_oils()
    async with poured(pour, clock, tmp_path) as (_, screen):
        clock.passes(95.4)
        screen._tick()
        assert screen.query_one("#stage_time", BigText).text == "1:35"


async def test_a_rescue_worked_out_before_the_last_key_is_not_taken(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(THREE_POTS.replace("accelerates", "notorious")), known, clock)
    work(pour, clock, "stir in fragrance/rope", each_s=60.0)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await settled(pilot, screen)
        old = pour.live
        assert old is not None
        assert old.rescue is not None
        pour.note("base", "a note changes nothing that was worked out")
        pour.stage_done()
        pour.live = old
        screen._rescue()
        assert not pour.state.rescued
        assert "being worked out" in screen._said
        pour.heed(pour.advise())
        pour.note("base", "nor does this one")
        screen._rescue()
        assert pour.state.rescued


async def test_when_the_end_was_taken_back_space_ends_it_again_as_finished(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "end")
    assert pour.undo() is not None
    assert pour.state.ended is None
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await pilot.press("space")
        assert screen.desk is pour
        assert pour.state.finished is True
