"""The pour screen, key by key, with a clock that only moves when told to."""

from __future__ import annotations

import html
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench
from soapbench.bench.settingsfile import save_settings
from soapbench.desk.keys import pour_keys
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind, Outcome
from soapbench.settings import Settings
from soapbench.ui import letters
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.home import HomeScreen
from soapbench.ui.pour.screen import PourScreen
from tests.bench_screen.bench_kit import tap
from tests.desks import ListLog, desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import until, worked_out


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
    await worked_out(pilot.app)
    await pilot.pause()
    screen._tick()
    await pilot.pause()


def text(screen: PourScreen) -> str:
    """All that stands above the keys."""
    return "\n".join(screen.lines)


def lines(screen: PourScreen) -> list[str]:
    return ["".join(s.text for s in strip) for strip in screen._compositor.render_strips()]


async def test_lye_first_then_space_walks_through_the_stages(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        assert screen.facts().act.saying.large[0] == "READY"
        assert "press SPACE as the lye goes into the oils" in text(screen)
        await pilot.press("space")
        assert screen.facts().act.saying.large[0] == "LYE INTO OILS"
        assert "g of lye" in text(screen)
        clock.passes(14)
        await settled(pilot, screen)
        assert screen.facts().step_s == 14
        await pilot.press("space")
        assert screen.facts().act.saying.large[0] == "BLEND TO EMULSION"
        assert "step 2 of 14" in text(screen)
        assert screen.facts().step_s == 0


async def test_every_key_is_logged_for_the_pot_in_hand(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/rope")
    before = len(pour.log.events)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        for key in ("f", "1", "r", "down", "1", "b", "b", "u"):
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
        assert [tap.state for tap in pour.state.pots["gull"].taps] == [Trace.EMULSION]
        assert "Undone: that blending does not count" in text(screen)


async def test_time_to_spare_chance_and_chart_come_from_the_model(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/rope")
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await settled(pilot, screen)
        assert pour.live is not None
        assert "%" in text(screen)
        assert screen.facts().spare_s is not None
        row = next(line for line in screen.lines if "▸" in line)
        assert row.index("━") < row.index("│") < row.index("◆")
        clock.passes(20)
        screen._tick()
        assert screen.facts().step_s == 20


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
        assert "CHANCE NOW" in text(screen)
        assert "you need" in text(screen)
        assert " X  switch to " in text(screen)
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
        assert "base: noted" in text(screen)


async def test_the_last_stage_ends_the_pour_and_leads_to_the_summary(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "draw the hanger")
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        clock.passes(40)
        await pilot.press("space")
        assert pour.state.finished is True
        assert screen.facts().act.saying.large[0] == "HOW DID IT GO?"
        assert "A as planned · I in part · N not at all" in text(screen)
        await pilot.press("A")
        assert pour.state.by_maker is Outcome.AS_PLANNED
        assert screen.facts().act.saying.large[0] == "FINISHED"
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


async def test_an_accidental_start_is_dropped_from_the_summary(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    pour.stage_done()
    async with poured(pour, clock, tmp_path) as (pilot, _):
        await pilot.press("e", "y", "n", "space")
        await pilot.pause()
        await pilot.press("d", "y")
        await pilot.pause()
        assert isinstance(pilot.app.screen, HomeScreen)
    assert not pour.state.begun
    assert pour.facts.first(Kind.POUR_ENDED, Kind.LYE_MEETS_OILS) is None


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
    save_settings(tmp_path, Settings(keys={"done": "f12"}))
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.switch_screen(PourScreen(pour, app.settings))
        await pilot.press("space")
        assert not pour.state.begun
        await tap(pilot, "f12 done")
        assert pour.state.begun
        await pilot.press("f12")
        assert len(pour.state.done) == 1


async def test_capital_letters_are_their_small_ones_unless_they_have_an_act(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    async with poured(pour, clock, tmp_path) as (pilot, _):
        await pilot.press("B")
        assert pour.state.blender_on is not None
        pilot.app.set_keymap(pour_keys({"undo": "B"}))
        await pilot.press("B")
        assert pour.log.events[-1].kind is Kind.UNDO
        await pilot.press("b")
        assert pour.state.blender_on is not None


async def test_how_it_came_out_and_taking_over_keep_their_keys_whatever_else_is_on_them(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    own = {"spilt": "a", "air": "n", "words": "i", "done": "enter"}
    pour = desk(plan(), known, clock)
    work(pour, clock, "end")
    pour.undo()
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        pilot.app.set_keymap(pour_keys(own))
        await pilot.press("a")
        assert pour.state.notes[-1].text == "spilt"
        await pilot.press("enter")
        assert screen.asks
        notes = len(pour.state.notes)
        await pilot.press("a")
        assert pour.state.by_maker is Outcome.AS_PLANNED
        assert len(pour.state.notes) == notes
        pour.watching = True
        assert screen.active_bindings["enter"].binding.id == "pour.take_over"


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
        await worked_out(pilot.app)
        await pilot.pause()
        assert "out of date" in text(screen)
        await pilot.press("space")
        assert len(pour.state.done) == 1


async def test_late_ticks_lose_no_time(known: Known, clock: FakeClock, tmp_path: Path) -> None:
    pour = desk(plan(), known, clock, ListLog())
    pour.lye_meets_oils()
    async with poured(pour, clock, tmp_path) as (_, screen):
        clock.passes(95.4)
        screen._tick()
        assert screen.facts().step_s == 95


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
        assert "Working out plan B" in screen._said
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


async def test_a_question_leaves_act_clock_and_warning_of_a_running_pour_in_sight(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(THREE_POTS.replace("accelerates", "notorious")), known, clock)
    work(pour, clock, "stir in fragrance/rope", each_s=60.0)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await settled(pilot, screen)
        assert "CHANCE NOW" in text(screen)
        for key, words in (("n", "Note for"), ("e", "End the pour here?"), ("?", "seizing")):
            await pilot.press(key)
            await pilot.pause()
            clock.passes(1)
            screen._tick()
            await pilot.pause()
            screen_text = all_seen(pilot)
            assert words in "\n".join(screen_text)
            for i, line in enumerate(screen.lines):
                kept = i < screen.keep_clear or "CHANCE NOW" in line or "switch to" in line
                if kept:
                    assert "".join(screen_text[i].split()) == "".join(line.split()), (
                        f"row {i}: {words}"
                    )
            await pilot.press("escape")
            await pilot.pause()
            assert pilot.app.screen is screen


def all_seen(pilot: Pilot[int]) -> list[str]:
    """What is on the screen, what shows behind a question with it."""
    svg = pilot.app.export_screenshot()
    rows = re.findall(r'clip-path="url\(#[^)]*-line-(\d+)\)">([^<]*)</text>', svg)
    drawn = [""] * pilot.app.size.height
    for row, words in rows:
        drawn[int(row)] += html.unescape(words).replace("\u00a0", " ")
    return drawn


async def test_a_stray_key_answers_no_question(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await pilot.press("e")
        await pilot.pause()
        await pilot.press("enter", "s", "space")
        await pilot.pause()
        assert pilot.app.screen is not screen
        await pilot.press("Y")
        await pilot.pause()
        assert pour.state.finished is False


async def test_ready_can_be_left_and_a_pour_only_when_that_is_meant(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    for begun in (False, True):
        pour = desk(plan(), known, clock)
        if begun:
            pour.lye_meets_oils()
        async with poured(pour, clock, tmp_path) as (pilot, screen):
            await pilot.press("escape")
            await pilot.pause()
            if begun:
                assert not isinstance(pilot.app.screen, HomeScreen)
                await pilot.press("escape")
                await pilot.pause()
                assert pilot.app.screen is screen
                await pilot.press("escape", "y")
                await pilot.pause()
            assert isinstance(pilot.app.screen, HomeScreen)
            assert pour.log.closed  # type: ignore[attr-defined]


async def test_a_watching_window_is_a_big_display_that_says_so_and_can_be_left(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "colour/rope")
    pour.watching = True
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        before = len(pour.log.events)
        assert "Esc closes" in screen.lines[0]
        assert not screen.query_one("#keys").display
        assert letters.drawn("COLOUR", 2, 2)[0].split()[0] in text(screen)
        await pilot.press("space", "3", "x", "d")
        assert len(pour.log.events) == before
        assert screen.query_one("#keys").display
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(pilot.app.screen, HomeScreen)


async def test_every_key_can_be_tapped_and_a_tap_brings_back_all_from_the_big_letters(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    async with poured(pour, clock, tmp_path) as (pilot, screen):
        await pilot.pause()
        await pilot.click("#keys", offset=(2, 0))
        await until(pilot, lambda: pour.state.begun)
        await pilot.press("d")
        assert not screen.query_one("#keys").display
        await pilot.click("#canvas", offset=(30, 5))
        await pilot.pause()
        assert screen.query_one("#keys").display
