"""The aftercare screen of one batch on a fake clock, and what can be seen and pressed there."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from textual.pilot import Pilot
from textual.widgets import Static

from soapbench.aftercare.resting import Resting
from soapbench.bench.learned import open_bench
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind, standing
from soapbench.logfile.batchlog import read_log
from soapbench.ui.aftercare.screen import AftercareScreen
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.bigtext import BigText
from soapbench.ui.ways import ToAftercare
from tests.fakes import FakeClock


@dataclass
class Shown:
    """The app on one batch's aftercare, and what can be seen and pressed."""

    app: SoapbenchApp
    pilot: Pilot[int]
    clock: FakeClock
    path: Path

    @property
    def screen(self) -> AftercareScreen:
        assert isinstance(self.app.screen, AftercareScreen)
        return self.app.screen

    @property
    def rests(self) -> Resting:
        batch = self.screen.rests
        assert batch is not None
        return batch

    def text(self, id: str = "text") -> str:
        return str(self.app.screen.query_one(f"#{id}", Static).render())

    def timer(self) -> str | None:
        shown = self.screen.query_one("#timer").display
        return self.screen.query_one("#left", BigText).text if shown else None

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def later(self, seconds: float) -> None:
        self.clock.passes(seconds)
        self.screen.show()
        await self.pilot.pause()

    def kept(self, kind: Kind) -> list[dict[str, object]]:
        """Values of the standing events of this kind in the file itself."""
        events = standing(read_log(self.path).events)
        return [dict(e.values) for e in events if e.kind is kind]


@asynccontextmanager
async def aftercare(
    desk: Desk, clock: FakeClock, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Shown]:
    path = desk.log.path  # type: ignore[attr-defined]
    desk.close()
    app = SoapbenchApp(open_bench(path.parent.parent), clock)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.take(ToAftercare(path))
        await pilot.pause()
        yield Shown(app, pilot, clock, path)


def typed(words: str) -> list[str]:
    return [{" ": "space", ".": "full_stop", ",": "comma"}.get(c, c) for c in words] + ["enter"]
