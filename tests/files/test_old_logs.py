"""A log as the first release wrote it still opens, carries on and teaches."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.batchfile import read_batch, resting_in
from soapbench.bench.learned import open_bench, remember
from soapbench.desk.starting import carry_on
from soapbench.log import Event, Kind, Outcome
from soapbench.logfile.records import event_text, tables_text
from soapbench.troubles import Trouble
from tests.fakes import FakeClock
from tests.plans import plan

EVENING = datetime(2025, 11, 2, 18, 0, tzinfo=UTC)
FORESEEN = {
    "chance": 0.62,
    "minutes": 9.4,
    "mix": {"batter_c": 30.0, "concentration": 0.33, "saturated": 0.31},
    "water_share": 0.23,
    "pot_ml": {"base": 540.0, "rope": 180.0, "gull": 180.0},
    "stage_s": {"lye into oils": 15.0},
    "stage_at_s": {"lye into oils": 0.0},
    "room_s": {"base": 300.0},
    "face": {"thinner": 0.0, "traces": {}},
}
"""As the first release kept it."""


def events(finished: bool | None) -> list[Event]:
    """Lye, two stages, the notes it had for what went wrong, and its end as it wrote that."""
    facts: list[tuple[float, Kind, str | None, dict[str, Any]]] = [
        (0, Kind.LYE_MEETS_OILS, None, {}),
        (20, Kind.STAGE_DONE, None, {"stage": "lye into oils"}),
        (30, Kind.TRACE_SEEN, "rope", {"state": 1}),  # not poured off yet: of the one vessel
        (60, Kind.STAGE_DONE, None, {"stage": "emulsify"}),
        (70, Kind.NOTE, "base", {"text": "seizing"}),
        (75, Kind.NOTE, "base", {"text": "heating up"}),
    ]
    if finished is not None:
        facts.append((300, Kind.POUR_ENDED, None, {"finished": finished}))
    return [
        Event(EVENING + timedelta(seconds=t), t, kind, pot, values, 1000.0 + t, "b", f"e{i}")
        for i, (t, kind, pot, values) in enumerate(facts)
    ]


def written(folder: Path, finished: bool | None) -> Path:
    batch = {"id": "b1", "title": "Quay Wall", "created": EVENING, "version": "0.1.0", "format": 1}
    head = tables_text({"batch": batch, "plan": plan().as_written(), "foreseen": FORESEEN})
    path = folder / "batches" / "20251102T180000Z-quay-wall-0011223344.toml"
    path.parent.mkdir(parents=True)
    path.write_bytes(head + b"".join(map(event_text, events(finished))))
    return path


@pytest.mark.parametrize(("finished", "came"), [(True, Outcome.AS_PLANNED), (False, Outcome.NO)])
def test_it_teaches_what_it_taught(tmp_path: Path, finished: bool, came: Outcome) -> None:
    path = written(tmp_path, finished)
    bench = open_bench(tmp_path)
    (lesson,) = remember(bench).lessons
    assert lesson.ended is not None
    assert (lesson.ended.came, lesson.ended.chance) == (came, 0.62)
    assert lesson.ended.as_planned is finished
    assert len(lesson.history.pots) == 3
    assert lesson.resting == resting_in(bench, read_batch(bench, path))
    assert lesson.resting is not None
    assert (lesson.resting.saturated, lesson.resting.water_share) == (0.31, 0.23)


def test_it_is_carried_on_and_its_file_is_only_added_to(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    path = written(tmp_path, None)
    before = path.read_bytes()
    clock.boot_id, clock.boot_s, clock.wall = "b", 1100.0, EVENING + timedelta(seconds=100)
    desk = carry_on(open_bench(tmp_path), clock, lambda: known, path)
    assert desk.now() == 100
    assert desk.state.stage is not None
    assert desk.foreseen.chance == 0.62
    assert [t.trouble for t in desk.state.troubles] == [Trouble.SEIZING, Trouble.OVERHEATING]
    assert desk.state.pots["base"].trace is Trace.SET_UP
    assert path.read_bytes() == before
    desk.look("base")
    desk.close()
    after = path.read_bytes()
    assert after.startswith(before)
    assert len(after) > len(before)
