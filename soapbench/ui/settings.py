"""The settings screen: units, colours, bell, what a spoilt batch costs, every key of the pour."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, ClassVar, get_args

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Static

from soapbench.bench.settingsfile import FILE, save_settings
from soapbench.desk.keys import ACTS, Act, keymap, shown
from soapbench.desk.rows import Cell, Row
from soapbench.logfile.patience import within
from soapbench.logfile.slowdisk import PATIENCE_S
from soapbench.reading.faults import FileFaults
from soapbench.settings import (
    ESCAPES,
    QUESTION,
    THEMES,
    USUAL,
    Degrees,
    Kitchen,
    Pedal,
    Risk,
    Settings,
    Sound,
    Units,
)
from soapbench.ui.basescreen import BaseScreen, Dialog
from soapbench.ui.editor import Editor, Question
from soapbench.ui.grid import Grid
from soapbench.ui.keyline import KeyLine
from soapbench.ui.ways import ToBench
from soapbench.words import settings as words
from soapbench.words.quantities import mass, spoonfuls, temperature, volume
from soapbench.words.troubles import not_saved

CHOICES: dict[str, tuple[str, ...]] = {
    "units": get_args(Units),
    "temperature": get_args(Degrees),
    "kitchen": get_args(Kitchen),
    "sound": get_args(Sound),
    "pedal": get_args(Pedal),
    "theme": THEMES,
    "risk": tuple(Risk),
}
COLUMNS = 3
NAME_WIDE, VALUE_WIDE = 12, 22


class SettingsScreen(BaseScreen[None]):
    """Each change is saved and holds at once."""

    AUTO_FOCUS = "#page"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "edit", "edit", id="settings.edit"),
        Binding("delete,backspace", "reset", "reset to default", id="settings.reset"),
        Binding("escape", "back", "bench", id="settings.back"),
    ]

    def compose(self) -> ComposeResult:
        yield Static(words.TITLE, id="title", markup=False, classes="strong")
        yield Grid(id="page")
        yield Static(id="said", markup=False)
        yield KeyLine([("up down left right", "move")])

    def on_mount(self) -> None:
        faults = self.app.settings_faults
        if faults:
            self.say(f"! {faults[0].words(FILE)}")
        self._show()

    def _show(self) -> None:
        self.query_one("#page", Grid).fill(settings_rows(self.app.settings))

    def action_edit(self) -> None:
        if cell := self.query_one("#page", Grid).cell:
            self._ask(str(cell.keys[0]), str(cell.keys[-1]))

    def action_reset(self) -> None:
        if cell := self.query_one("#page", Grid).cell:
            self._as_everybody(str(cell.keys[0]), str(cell.keys[-1]))

    def action_back(self) -> None:
        self.go(ToBench())

    def _ask(self, what: str, name: str) -> None:
        settings = self.app.settings
        if what == "keys":
            act = next(act for act in ACTS if act.name == name)
            self.app.push_screen(PressKey(act), lambda key: self._key_given(name, key))
        else:
            choices = CHOICES[what]
            asked = QUESTION if what == "risk" else words.ABOUT[what].capitalize()
            # Two choices are simply changed over.
            if len(choices) == 2:
                other = choices[1 - choices.index(getattr(settings, what))]
                self._take(_with(settings, what, other))
            else:
                self.app.push_screen(
                    Editor(Question(asked, choices, True), getattr(settings, what)),
                    lambda typed: self._take(_with(settings, what, typed)) if typed else None,
                )

    def _key_given(self, name: str, key: str | None) -> None:
        if key is None:
            return
        if key in ESCAPES:
            self.say(words.for_leaving(key))
            return
        taken = keymap({**self.app.settings.keys, name: key})
        self._take(replace(self.app.settings, keys=_own_keys(taken)))

    def _as_everybody(self, what: str, name: str) -> None:
        settings = self.app.settings
        if what == "keys":
            usual_key = next(act.key for act in ACTS if act.name == name)
            self._key_given(name, usual_key)
        else:
            self._take(_with(settings, what, getattr(USUAL, what)))

    def _take(self, settings: Settings) -> None:
        """Save it, then hold to it."""
        try:
            within(PATIENCE_S, lambda: save_settings(self.app.bench.folder, settings))
        except FileFaults as refused:
            self.say(not_saved(refused))
            return
        except OSError as error:
            self.say(not_saved(error.strerror))
            return
        warns = settings.risk != self.app.settings.risk
        self.app.read_settings()
        if warns:
            self.app.forget()
        self.say(words.saved_in(self.app.bench.folder / FILE))
        self._show()


class PressKey(Dialog[str | None]):
    """The next key pressed, by its name; Escape leaves it."""

    AUTO_FOCUS = None

    def __init__(self, act: Act) -> None:
        super().__init__()
        self._act = act

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(words.press_words(_act_words(self._act)), markup=False)
            yield Static(words.SWAPS, markup=False, classes="quiet")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        self.dismiss(None if event.key == "escape" else event.key)


def _with(settings: Settings, what: str, value: Any) -> Settings:
    return replace(settings, **{what: value})


def _own_keys(keys: dict[str, Act]) -> dict[str, str]:
    """The keys that differ from everybody's, by act."""
    return {act.name: key for key, act in keys.items() if key != act.key}


def _act_words(act: Act) -> str:
    if act.name.startswith("trace"):
        return words.key_pressed(act.words)
    if act.name.startswith("pot_"):
        return words.POT_ABOVE if act.name == "pot_up" else words.POT_BELOW
    return act.words


def settings_rows(settings: Settings) -> list[Row]:
    shows = {
        "units": mass(143.2, settings),
        "temperature": temperature(26, settings),
        "kitchen": spoonfuls(47, settings) or volume(47, settings),
        "risk": settings.risk.words,
    }
    rows = [
        _row(name, words.SHOWN.get(getattr(settings, name), getattr(settings, name)), shown)
        for name, shown in ((name, shows.get(name, "")) for name in CHOICES)
    ]
    keys = {act.name: key for key, act in keymap(settings.keys).items()}
    cells = [
        Cell(
            ("keys", act.name), shown(keys[act.name]), f"{_act_words(act):>14.14}",
            quiet=keys[act.name] == act.key, wide=6,
        )
        for act in ACTS
    ]  # fmt: skip
    for start in range(0, len(cells), COLUMNS):
        rows.append(Row(tuple(cells[start : start + COLUMNS]), "" if start else words.KEYS))
    return rows


def _row(name: str, value: str, shown: str) -> Row:
    about = words.shown_about(name, shown)
    return Row((Cell((name,), value, wide=VALUE_WIDE),), f"{name:<{NAME_WIDE}}", more=about)
