"""What every screen has: failures are told and kept, a way out is taken once."""

from __future__ import annotations

from pathlib import Path

from textual import events
from textual.app import ComposeResult
from textual.widgets import Static

from soapbench.bench.learned import open_bench
from soapbench.reading.faults import Fault, FileFaults
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.basescreen import BaseScreen, in_background
from soapbench.ui.editor import Editor, Question
from soapbench.ui.home import HomeScreen
from soapbench.ui.ways import CarryOn, ToBench
from tests.fakes import FakeClock


class Failing(BaseScreen[None]):
    """Fails at keys and at work on another thread."""

    def __init__(self, error: Exception) -> None:
        super().__init__()
        self._error = error

    def compose(self) -> ComposeResult:
        yield Static(id="said", markup=False)

    @in_background("work")
    def _work(self) -> None:
        raise self._error

    def on_key(self, event: events.Key) -> None:
        if event.key == "w":
            self._work()
        elif event.key == "b":
            self.go(ToBench())
        else:
            raise self._error


def message(app: SoapbenchApp) -> str:
    return str(app.screen.query_one("#said", Static).render())


async def test_a_failure_is_told_and_kept_with_its_traceback(
    clock: FakeClock, tmp_path: Path
) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("x", "w"):
            error = LookupError(f"of {key} [/]")
            await app.switch_screen(Failing(error))
            await pilot.press(key)
            await pilot.pause(0.05)
            assert f"LookupError: of {key} [/]" in message(app)
            assert app.faults[repr(error)].__traceback__ is not None
        assert app.is_running


async def test_a_fault_in_the_makers_own_file_is_told_by_its_place_and_is_none_of_ours(
    clock: FakeClock, tmp_path: Path
) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    error = FileFaults("oils.toml", [Fault("tiger nut.lot", "too long", "at most 40", 7)] * 2)
    async with app.run_test(size=(120, 24)) as pilot:
        await app.switch_screen(Failing(error))
        await pilot.press("x")
        assert (
            message(app) == "! oils.toml, line 7: tiger nut.lot too long; at most 40 (and 1 more)"
        )
        assert not app.faults


async def test_a_way_is_taken_once_and_keys_on_the_way_are_meant_for_nobody(
    clock: FakeClock, tmp_path: Path
) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = Failing(LookupError("it still listens"))
        await app.switch_screen(screen)
        for key in ("b", "x", "b"):
            screen.post_message(events.Key(key, key))
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
        assert not app.faults


async def test_a_way_that_cannot_be_taken_leaves_the_screen_listening(
    clock: FakeClock, tmp_path: Path
) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(120, 24)) as pilot:
        screen = Failing(LookupError("heard"))
        await app.switch_screen(screen)
        screen.go(CarryOn(tmp_path / "gone.toml"))
        await pilot.pause()
        assert app.screen is screen
        assert "gone.toml can't be carried on" in message(app)
        await pilot.press("x")
        assert "heard" in message(app)


async def test_an_editor_whose_trial_fails_says_so(clock: FakeClock, tmp_path: Path) -> None:
    def fails(_typed: str) -> str:
        raise ZeroDivisionError("of the trial")

    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        editor = Editor(Question("How much?"), "", fails)
        app.push_screen(editor)
        await pilot.press("4")
        editor.try_now()
        await pilot.pause(0.05)
        assert "of the trial" in str(editor.query_one("#trial", Static).render())
        assert len(app.faults) == 1
