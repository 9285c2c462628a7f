"""A pour that is heard, and one poured with a single button."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest
from textual.pilot import Pilot

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench
from soapbench.log import Kind, Outcome
from soapbench.settings import Settings
from soapbench.ui.aftercare.screen import AftercareScreen
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.summary import SummaryScreen
from tests.desks import desk
from tests.fakes import FakeClock
from tests.plans import plan


@dataclass
class Ear:
    """In place of a voice: keeps what it was given."""

    heard: list[str] = field(default_factory=list)
    fault: str = ""
    closed: bool = False

    def say(self, words: str) -> None:
        if words:
            self.heard.append(words)

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def ear(monkeypatch: pytest.MonkeyPatch) -> Ear:
    ear = Ear()
    monkeypatch.setattr("soapbench.ui.pour.aloud.voice_of", lambda sound, environ: (ear, ""))
    return ear


@dataclass
class Foot:
    """One button, and the seconds between its presses."""

    screen: PourScreen
    pilot: Pilot[int]
    now: float = 0.0

    def __post_init__(self) -> None:
        self.screen._foot_s = lambda: self.now

    async def press(self, times: int = 1, every: float = 0.3) -> None:
        for _ in range(times):
            await self.pilot.press("space")
            self.now += every
        self.now += 2.0
        self.screen._tick()
        await self.pilot.pause()

    async def hold(self) -> None:
        await self.pilot.press("space")
        self.now += 0.5
        await self.press(times=30, every=0.03)


async def test_each_act_is_said_as_it_begins_with_its_amount(
    known: Known, clock: FakeClock, tmp_path: Path, ear: Ear
) -> None:
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        screen = PourScreen(pour, Settings(sound="voice"))
        await pilot.app.switch_screen(screen)
        await pilot.press("space", "space", "space")
        await pilot.pause()
        acts = [
            "Ready", "Pour the lye into the oils",
            "Emulsify, stop at stable emulsion", "Pour off ",
        ]  # fmt: skip
        sentences = [next(words for words in ear.heard if act in words) for act in acts]
        assert sorted(map(ear.heard.index, sentences)) == list(map(ear.heard.index, sentences))
        assert "grams of lye" in sentences[1]
        assert "millilitres" in sentences[3]
        await pilot.app.switch_screen(PourScreen(pour))
    assert ear.closed


async def test_a_whole_pour_with_one_button(
    known: Known, clock: FakeClock, tmp_path: Path, ear: Ear
) -> None:
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        screen = PourScreen(pour, Settings(sound="voice", pedal="one button"))
        await pilot.app.switch_screen(screen)
        await pilot.pause()
        foot = Foot(screen, pilot)
        await foot.press()
        assert pour.state.begun
        clock.passes(20)
        await foot.press()
        await foot.hold()  # nothing is warned of: held means undo
        kinds = [event.kind for event in pour.log.events]
        assert kinds == [Kind.LYE_MEETS_OILS, Kind.STAGE_DONE, Kind.UNDO]
        for _ in range(len(pour.state.ahead)):
            clock.passes(15)
            await foot.press()
        assert pour.state.ended is not None
        assert screen.asks
        await foot.press(times=2)
        assert pour.state.outcome is Outcome.IN_PART
        asked = next(words for words in ear.heard if "How did it come out" in words)
        assert "SPACE TWICE in part" in asked
        assert ear.heard[-1] == "Saved. in part. Finished"
        pilot.app.settings = screen._settings  # type: ignore[attr-defined]
        await foot.press()
        assert isinstance(pilot.app.screen, SummaryScreen)
        assert "SPACE go on" in str(pilot.app.screen.query_one("#keys").render())
        await pilot.press("space")
        await pilot.pause()
        assert isinstance(pilot.app.screen, AftercareScreen)


async def test_the_button_leads_on_from_the_summary_whatever_key_it_is(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    (tmp_path / "settings.toml").write_text('pedal = "one button"\n[keys]\ndone = "g"\n')
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        await pilot.app.switch_screen(SummaryScreen(pour))
        await pilot.pause()
        assert "g go on" in str(pilot.app.screen.query_one("#keys").render())
        await pilot.press("space")
        await pilot.pause()
        assert isinstance(pilot.app.screen, SummaryScreen)
        await pilot.press("g")
        await pilot.pause()
        assert isinstance(pilot.app.screen, AftercareScreen)


async def test_with_other_keys_a_press_does_not_leave_the_summary(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        await pilot.app.switch_screen(SummaryScreen(pour))
        await pilot.press("space")
        await pilot.pause()
        assert isinstance(pilot.app.screen, SummaryScreen)
        assert "go on" not in str(pilot.app.screen.query_one("#keys").render())


async def test_twice_marks_the_next_state_of_the_pot_to_be_looked_at(
    known: Known, clock: FakeClock, tmp_path: Path, ear: Ear
) -> None:
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        screen = PourScreen(pour, Settings(pedal="one button"))
        await pilot.app.switch_screen(screen)
        await pilot.pause()
        foot = Foot(screen, pilot)
        await foot.press()
        for _ in range(40):
            clock.passes(60)
            await foot.press(times=2)
            if pour.state.pots[screen._hand].trace >= Trace.LIGHT:
                break
        assert pour.state.pots[screen._hand].trace is Trace.LIGHT
        assert any("light trace" in words for words in ear.heard)


async def test_a_press_counts_at_once_without_one_button(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        await pilot.app.switch_screen(PourScreen(pour))
        await pilot.press("space")
        assert pour.state.begun


async def test_what_a_press_did_and_the_act_it_opened_are_said_in_one_breath(
    known: Known, clock: FakeClock, tmp_path: Path, ear: Ear
) -> None:
    """One after the other, the newer would cut the older short and it would never be heard."""
    pour = desk(plan(), known, clock)
    async with SoapbenchApp(open_bench(tmp_path), clock).run_test() as pilot:
        screen = PourScreen(pour, Settings(sound="voice", pedal="one button"))
        await pilot.app.switch_screen(screen)
        await pilot.pause()
        foot = Foot(screen, pilot)
        await foot.press()
        clock.passes(20)
        await foot.press()
        await foot.hold()
        undone = [words for words in ear.heard if words.startswith("Undone")]
        assert len(undone) == 1
        assert "Pour the lye into the oils. 254 grams" in undone[0]
        assert "twice: next state" in str(screen.query_one("#keys").render())
