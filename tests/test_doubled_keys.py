"""A key that bounces or repeats, as gloves make it, acts once: it never takes away a screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from textual import events
from textual.screen import Screen

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench
from soapbench.desk.keys import ACTS
from soapbench.troubles import Trouble
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.dialogs import Ask, KeysHelp, Words
from soapbench.ui.help import Page
from soapbench.ui.home import HomeScreen
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.setout import SetOutScreen
from soapbench.ui.settings import PressKey
from soapbench.words.help import BENCH_PAGE
from tests.desks import desk
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan
from tests.waiting import worked_out


def twice(app: SoapbenchApp, key: str, character: str | None = None) -> None:
    """The key twice before anything could be done about the first."""
    for _ in range(2):
        app.post_message(events.Key(key, character))


@pytest.mark.parametrize(
    ("dialog", "key"),
    [
        (lambda: Ask("Go on?"), "y"),
        (lambda: Words("Note", "a"), "enter"),
        (lambda: Words("Note", "a"), "escape"),
        (lambda: KeysHelp({}), "x"),
        (lambda: Page(BENCH_PAGE), "x"),
        (lambda: PressKey(ACTS[0]), "g"),
    ],
    ids=["ask", "words kept", "words dropped", "keys", "page", "press a key"],
)
async def test_a_doubled_answer_leaves_the_pour_where_it_was(
    known: Known, clock: FakeClock, tmp_path: Path, dialog: Callable[[], Screen[object]], key: str
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = PourScreen(pour)
        await app.switch_screen(screen)
        answers: list[object] = []
        app.push_screen(dialog(), answers.append)
        await pilot.pause()
        assert app.screen is not screen
        twice(app, key, key if len(key) == 1 else None)
        await pilot.pause()
        await pilot.pause()
        assert app.screen is screen
        assert len(answers) == 1
        await pilot.press("r")
        assert pour.state.pots["base"].trouble is Trouble.RICING


async def test_a_doubled_key_asks_once(known: Known, clock: FakeClock, tmp_path: Path) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = PourScreen(pour)
        await app.switch_screen(screen)
        for _ in range(2):
            screen.post_message(events.Key("n", "n"))
        await pilot.pause()
        assert isinstance(app.screen, Words)
        await pilot.press("escape")
        assert app.screen is screen


async def test_enter_pressed_three_times_on_the_sheet_makes_one_batch(
    clock: FakeClock, tmp_path: Path
) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock, SAMPLES / "dune_layers.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        assert isinstance(app.screen, PlanScreen)
        await worked_out(app)
        await pilot.pause()
        for _ in range(3):
            app.post_message(events.Key("enter", None))
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, SetOutScreen | Ask)
        assert len(list((tmp_path / "batches").glob("*.toml"))) == 1


async def test_what_is_typed_at_once_after_the_slash_is_looked_for(
    clock: FakeClock, tmp_path: Path
) -> None:
    from textual.widgets import Input

    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await worked_out(app)
        await pilot.pause()
        for key, character in (("slash", "/"), ("s", "s"), ("e", "e"), ("a", "a")):
            app.post_message(events.Key(key, character))
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
        assert app.screen.query_one("#wanted", Input).value == "sea"


async def test_one_escape_too_many_does_not_leave(clock: FakeClock, tmp_path: Path) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await worked_out(app)
        await pilot.press("escape", "b", "escape", "escape")
        assert app.is_running
        assert app.return_code is None
        await pilot.press("escape")
        await pilot.pause()
        assert app.return_code == 0


async def test_moving_between_two_escapes_means_staying(clock: FakeClock, tmp_path: Path) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await worked_out(app)
        await pilot.press("escape", "down")
        await pilot.pause()
        await pilot.press("escape")
        assert app.return_code is None
        await pilot.press("escape")
        await pilot.pause()
        assert app.return_code == 0
