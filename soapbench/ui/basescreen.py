"""What every screen has: keys that count once, work on other threads, one place for what fails.

A key that bounces or repeats, or comes before the next screen is there, still reaches the screen
that was left. There it would act again, or take away the screen that came instead. It is meant for
nobody, unless a pour is there or on its way: no key of a pour is ever lost.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from textual import events, work
from textual.await_complete import AwaitComplete
from textual.css.query import NoMatches
from textual.screen import ModalScreen, Screen
from textual.widgets import Static
from textual.worker import Worker, WorkerState

from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.ui.keyline import KEY
from soapbench.ui.ways import Go
from soapbench.words.troubles import went_wrong

if TYPE_CHECKING:
    from soapbench.ui.host import Host
    from soapbench.ui.ways import Way

T = TypeVar("T")
P = ParamSpec("P")


def in_background(
    group: str, exclusive: bool = True
) -> Callable[[Callable[P, None]], Callable[P, Worker[None]]]:
    """Run a method on another thread; it only posts messages. What fails comes to ``failed``.

    ``exclusive``: a newer call makes an older one of the same group unwanted.
    """

    def threaded(method: Callable[P, None]) -> Callable[P, Worker[None]]:
        return work(thread=True, exclusive=exclusive, group=group, exit_on_error=False)(method)

    return threaded


def failure_words(error: BaseException) -> str:
    """What went wrong, on one line: in a maker's file by its place, else by its own words."""
    if isinstance(error, FileFaults):
        return clean(f"! {error}", 300)
    return clean(f"{type(error).__name__}: {error}", 200)


class Works:
    """Something on screen that works things out on other threads."""

    app: Host

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """The one place where a failed worker comes to."""
        event.stop()
        if event.state is WorkerState.ERROR and event.worker.error is not None:
            self.met(event.worker.error)

    def met(self, error: BaseException) -> None:
        """Tell a failure; one of this program's own is kept with its traceback, too."""
        if not isinstance(error, FileFaults):
            self.app.met(error)
        self.failed(error)

    def failed(self, error: BaseException) -> None:
        """Tell it where the maker looks."""
        raise NotImplementedError


class BaseScreen(Works, Screen[T]):
    """A screen that is deaf once it is left, and whose failures are told in its own line."""

    app: Host
    takes_early_keys = False
    """Keys pressed on the way to this screen are its own."""
    _gone = False
    """A way out was asked for: keys that come before it is taken are not for this screen."""

    def __init__(self) -> None:
        super().__init__()
        self._kept_keys: list[events.Key] = []

    # ---- keys

    async def on_event(self, event: events.Event) -> None:
        if not isinstance(event, events.Key):
            await super().on_event(event)
        elif self.is_active and not self._gone:
            self.app.heard = event.key
            try:
                await super().on_event(event)
            except Exception as error:  # noqa: BLE001 - a key that fails must not end the program
                self.met(error)
        elif event.key != self.app.heard:
            self._pass_on(event)

    def _pass_on(self, key: events.Key) -> None:
        """To the pour that is there, or on its way."""
        there = self.app.screen
        if there is self:
            self._kept_keys.append(key)
        elif isinstance(there, BaseScreen):  # once it knows the answer to what was asked over it
            there.call_next(there._came_late, key)

    def _came_late(self, key: events.Key) -> None:
        if self._gone or not self.is_active:
            self._pass_on(key)
        elif self.takes_early_keys:
            self.post_message(key)

    def left(self) -> None:
        """The way asked for has been taken, or not."""
        early, self._kept_keys = self._kept_keys, []
        there = self.app.screen
        if isinstance(there, BaseScreen) and there is not self:
            for key in early:  # before any that came since
                there._came_late(key)

    async def _on_key(self, event: events.Key) -> None:
        """Act on the screen's own bindings, here and now.

        The toolkit would have the key bubble to the app first, and look it up in whatever screen
        is shown by then.
        """
        event.stop()
        bound = self.active_bindings
        active = bound.get(event.key) or bound.get(event.key.lower())  # else Caps Lock is deaf
        if active is None:
            self.other_key()
            return
        event.prevent_default()
        if active.enabled:
            await self.app.run_action(active.binding.action, active.node)
        else:
            self.without_effect()

    def other_key(self) -> None:
        """A key that is none of the screen's."""

    def without_effect(self) -> None:
        """A key that is the screen's, but does nothing now."""

    def on_click(self, event: events.Click) -> None:
        """A tap on a key that is shown is the key itself."""
        if self.is_active and (key := event.style.meta.get(KEY)):
            event.stop()
            self.app.simulate_key(str(key))

    # ---- ways

    def go(self, way: Way) -> None:
        """Ask the app for another screen."""
        self._gone = True
        self.app.post_message(Go(way, self))

    def stay(self, why: str = "") -> None:
        """The way asked for is not taken after all."""
        self._gone = False
        if why:
            self.say(why)

    def dismiss(self, result: T | None = None) -> AwaitComplete:
        return super().dismiss(result) if self.is_active else AwaitComplete()

    # ---- telling

    def say(self, words: str) -> None:
        """Tell it in the screen's line for such things, where it has one."""
        try:
            self.query_one("#said", Static).update(clean(words))
        except NoMatches:
            self.notify(clean(words), markup=False)

    def failed(self, error: BaseException) -> None:
        wrong = failure_words(error)
        self.say(wrong if isinstance(error, FileFaults) else went_wrong(wrong))


class Dialog(BaseScreen[T], ModalScreen[T]):
    """A question over a screen, answered once."""
