"""How a maker likes it: read with every fault, saved without harm, shown everywhere."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pint
import pytest

from soapbench.bench.settingsfile import read_settings, save_settings
from soapbench.desk.keys import ACTS
from soapbench.settings import THEMES, Risk, Settings
from soapbench.ui.settings import SettingsScreen
from soapbench.ui.themes import ALL
from soapbench.words.quantities import degrees, length, mass, spoonfuls, temperature, times, volume
from tests.bench_screen.bench_kit import bench_app, rest, shown, with_plan
from tests.fakes import FakeClock

NAMES = [act.name for act in ACTS]
US = Settings(units="US", temperature="°F", kitchen="US")
PINT = pint.get_application_registry()  # outside the project: pint's own full registry


def test_no_file_is_no_fault(tmp_path: Path) -> None:
    assert read_settings(tmp_path, NAMES) == (Settings(), ())


FAULTS = {
    "a word unknown": ('units = "stone"\n', "units", 1),
    "a key unknown": ("\nunitz = 3\n", "unitz", 2),
    "a number for a word": ("sound = 1\n", "sound", 1),
    "an act unknown": ('[keys]\ndanse = "x"\n', "keys.danse", 2),
    "two acts on a key": ('[keys]\ndone = "x"\nundo = "x"\n', "keys.undo", 3),
    "the way out taken": ('[keys]\ndone = "escape"\n', "keys.done", 2),
    "a risk unknown": ('risk = "reckless"\n', "risk", 1),
    "no TOML": ("units = \n", "", 1),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_told_with_its_line_and_the_rest_holds(tmp_path: Path, name: str) -> None:
    text, key, line = FAULTS[name]
    (tmp_path / "settings.toml").write_text(text)
    settings, faults = read_settings(tmp_path, NAMES)
    assert [(fault.key, fault.line) for fault in faults] == [(key, line)]
    assert faults[0].right
    assert settings.units == "metric"


def test_what_is_saved_is_read_and_comments_stay(tmp_path: Path) -> None:
    file = tmp_path / "settings.toml"
    file.write_text('# mine\nunits = "metric"   # grams\n')
    wanted = Settings(units="US", theme="linen", risk=Risk.CAREFUL, keys={"done": "page_down"})
    save_settings(tmp_path, wanted)
    assert read_settings(tmp_path, NAMES) == (wanted, ())
    assert file.read_text().startswith('# mine\nunits = "US"   # grams\n')
    stamp = file.stat().st_mtime_ns
    save_settings(tmp_path, wanted)
    assert file.stat().st_mtime_ns == stamp, "nothing new, nothing written"


def test_a_line_for_warnings_of_the_first_release_is_read_quietly(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('warn_below = "70 %"\nunits = "US"\n')
    assert read_settings(tmp_path, NAMES) == (Settings(units="US"), ())


@pytest.mark.parametrize(
    ("written", "held"),
    [("degC", "°C"), ("degF", "°F"), ("C", "°C"), ("F", "°F"), ("°C", "°C"), ("°F", "°F")],
)
def test_degrees_are_read_however_they_were_written(
    tmp_path: Path, written: str, held: str
) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(f'temperature = "{written}"\n', "utf-8")
    settings, faults = read_settings(tmp_path, NAMES)
    assert (settings.temperature, faults) == (held, ())
    save_settings(tmp_path, replace(settings, theme="linen"))
    assert f'temperature = "{held}"' in file.read_text("utf-8")


def test_a_file_that_is_no_toml_is_never_written_over(tmp_path: Path) -> None:
    from soapbench.reading.faults import FileFaults

    file = tmp_path / "settings.toml"
    file.write_text("half a thou")
    with pytest.raises(FileFaults):
        save_settings(tmp_path, US)
    assert file.read_text() == "half a thou"


def test_figures_in_other_units_agree_with_pint() -> None:
    ounces = PINT.Quantity(143.2, "g").to("oz").magnitude
    assert mass(143.2, US) == f"{ounces:.2f} oz (143.2 g)"
    fluid = PINT.Quantity(950, "mL").to("floz").magnitude
    assert volume(950, Settings(units="US")) == f"{fluid:.1f} fl oz (950 mL)"
    assert temperature(26, US) == f"{PINT.Quantity(26, 'degC').to('degF').magnitude:.0f} °F"
    assert length(25, US) == f"{PINT.Quantity(25, 'cm').to('inch').magnitude:.3g} in"
    assert mass(143.2, Settings()) == "143.2 g"
    assert degrees("at 26 degC, never 100 °C", US) == "at 79 °F, never 212 °F"
    assert degrees("cooked at 80 to 95 °C", US) == "cooked at 176 to 203 °F", "both ends"
    assert degrees("Warm gently to 35–40 °C", US) == "Warm gently to 95–104 °F"
    assert degrees("80 to 95 °C, 2 to 3 h", Settings()) == "80 to 95 °C, 2 to 3 h"
    assert spoonfuls(10, US) == "2 tsp"
    assert spoonfuls(10, Settings()) == ""


@pytest.mark.parametrize(
    ("written", "factor", "shown"),
    [("1 tsp", 1.5, "1.5 tsp"), ("1 1/2 tsp", 2, "3 tsp"), ("½ tsp", 3, "1.5 tsp"),
     ("450 g", 0.5, "225 g"), ("1.2 kg", 2, "2.4 kg"), ("1 metric tsp", 2, "2 metric tsp")],
)  # fmt: skip
def test_a_quantity_so_many_times_over(written: str, factor: float, shown: str) -> None:
    assert times(written, factor) == shown


async def test_units_reach_the_plan_sheet_and_lye_has_no_spoons(
    tmp_path: Path, clock: FakeClock
) -> None:
    with_plan(tmp_path)
    save_settings(tmp_path, US)
    async with bench_app(tmp_path, clock, (120, 60)) as (app, pilot):
        await pilot.press("enter")
        await rest(app, pilot)
        await pilot.press("w")
        await rest(app, pilot)
        lines = shown(app).splitlines()
        lye = next(line for line in lines if "NaOH (" in line)
        assert "oz (" in lye
        assert not any(word in lye for word in ("tsp", "tbsp", "cup", "fl"))
        assert any("fl oz" in line and "tbsp" in line for line in lines)
        assert not any("°C" in line or "degC" in line for line in lines)


async def test_a_pedal_becomes_the_done_key_and_themes_change_at_once(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("s")
        await rest(app, pilot)
        screen = app.screen
        assert isinstance(screen, SettingsScreen)
        screen.query_one("#page").go_to(("keys", "done"))  # type: ignore[attr-defined]
        await pilot.press("enter", "pagedown")
        assert app.settings.keys == {"done": "pagedown"}
        await pilot.press("enter", "u")  # which undo had: it gets the usual key of done
        assert app.settings.keys == {"done": "u", "undo": "space"}
        screen.query_one("#page").go_to(("theme",))  # type: ignore[attr-defined]
        await pilot.press("enter", "down", "enter")
        await rest(app, pilot)
        assert (app.settings.theme, app.theme) == ("linen", "linen")
    assert read_settings(tmp_path, NAMES)[0].theme == "linen"


async def test_silent_rings_no_bell(
    tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    from textual.app import App

    rang: list[int] = []
    monkeypatch.setattr(App, "bell", lambda _self: rang.append(1))
    async with bench_app(tmp_path, clock) as (app, _):
        app.bell()
        app.settings = Settings(sound="silent")
        app.bell()
    assert rang == [1]


@pytest.mark.parametrize("theme", ALL, ids=lambda theme: theme.name)
def test_text_stands_out_from_every_background(theme: object) -> None:
    """WCAG 2.2, 1.4.3: 4.5 : 1 for text; contrast worked out by coloraide."""
    from coloraide import Color

    colours = vars(theme)
    for ground in ("background", "surface", "panel"):
        inks = [colours[ink] for ink in ("foreground", "primary", "accent", "warning", "error")]
        for ink in (*inks, colours["variables"]["text-muted"]):
            contrast = Color(ink).contrast(colours[ground], method="wcag21")
            assert contrast >= 4.5, (ground, ink, contrast)


def test_every_theme_has_a_name_in_the_settings() -> None:
    assert tuple(theme.name for theme in ALL) == THEMES
