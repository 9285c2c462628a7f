"""Screens whose keys count once: only while the screen is the one the maker sees.

A key that bounces or repeats, or comes before the next screen is there, still reaches the screen
that was left. There it would act again, or take away the screen that came instead.
"""

from __future__ import annotations

from typing import TypeVar

from textual import events
from textual.await_complete import AwaitComplete
from textual.screen import ModalScreen, Screen

T = TypeVar("T")


class Once(Screen[T]):
    """A screen that is deaf once it is left."""

    async def on_event(self, event: events.Event) -> None:
        if not isinstance(event, events.Key) or self.is_current:
            await super().on_event(event)

    def dismiss(self, result: T | None = None) -> AwaitComplete:
        return super().dismiss(result) if self.is_current else AwaitComplete()


class Dialog(Once[T], ModalScreen[T]):
    """A question over a screen, answered once."""
