"""Screens after a pour, from which whoever has but one button must get away, too."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType

from soapbench.desk.keys import NAMED, POUR
from soapbench.ui.basescreen import BaseScreen
from soapbench.words.afterpour import ONWARD


class OnwardScreen(BaseScreen[None]):
    """The button of the pour, whatever key it is, goes on as Enter does."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(NAMED["done"].key, "onward", ONWARD, id=f"{POUR}done"),
    ]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return action != "onward" or self.app.settings.pedal == "one button"

    def action_onward(self) -> None:
        raise NotImplementedError
