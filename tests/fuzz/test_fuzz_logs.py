"""Logs nobody wrote by hand: whatever whole records say, the bench opens and a pour is shown."""

from __future__ import annotations

import io
import math
import warnings
from contextlib import redirect_stderr, redirect_stdout
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fuzz_kit import ANYTHING, MANY, NUMBER, events, plans
from hypothesis import given
from hypothesis import strategies as st

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import colourants, oils, swirls
from soapbench.cli import main
from soapbench.desk.keys import keymap
from soapbench.desk.starting import CannotCarryOn, carry_on
from soapbench.log import Event, Kind
from soapbench.logfile.records import event_text, tables_text
from soapbench.pace import Pace
from soapbench.reading.safetext import clean
from soapbench.settings import USUAL
from soapbench.thickening.fitted import no_batches
from soapbench.ui.pour.facts import facts
from soapbench.ui.pour.layout import pour_lines
from soapbench.words.lines import plain
from tests.fakes import FakeClock
from tests.plans import plan

LYE = Event(
    datetime(2026, 3, 1, 18, tzinfo=UTC),
    0.0,
    Kind.LYE_MEETS_OILS,
    boot_s=990.0,
    boot_id="boot-1",
    id="lye",
)
FIGURES = {
    "mix": {"batter_c": 30.0, "concentration": 0.33, "saturated": 0.3},
    "pot_ml": {"base": 540.0, "rope": 180.0, "gull": 180.0},
    "chance": 0.9,
}


def empty_known() -> Known:
    return Known(no_batches(), Pace(), swirls(), oils(), colourants())


def open_all(folder: Path, data: bytes) -> None:
    """Everything the app does with a log it finds: list, learn, carry on, show."""
    batches = folder / "bench" / "batches"
    batches.mkdir(parents=True, exist_ok=True)
    (batches / "a.toml").write_bytes(data)
    bench = open_bench(folder / "bench", folder / "spill")
    try:
        memory = remember(bench)
        for lesson in memory.lessons:
            assert all(math.isfinite(t.t) for pot in lesson.history.pots for t in pot.taps)
        for row in bench.batches().rows:
            assert clean(row.title, 60).isprintable()
            why = ""
            try:
                desk = carry_on(bench, FakeClock(), lambda: memory.known, bench.path(row))
            except CannotCarryOn as refused:
                why = str(refused)
            assert why.isprintable()
            if why:
                continue
            try:
                for live in (None, desk.advise()):
                    shown(desk, live)
                desk.undo()
                desk.stage_done()
                desk.blender("base")
                desk.blender("base")
                desk.note("base", "still here")
                shown(desk, desk.advise())
                assert bench.read(bench.path(row)).events[-1].values.get("text") == "still here"
            finally:
                desk.close()
    finally:
        bench.close()
    tell_all(folder)


def tell_all(folder: Path) -> None:
    """Every command that reads a log: done or refused with words, and nothing that steers."""
    bench = ("--bench", str(folder / "bench"))
    for wanted in (
        ("report", "a", "-o", str(folder / "a.html")),
        ("calendar", "a", "-o", str(folder / "a.ics")),
        ("export", "a", "-o", str(folder / "a.csv")),
        ("export", "--fragrances", "-o", str(folder / "fragrances.csv")),
        ("fragrances",),
        ("fragrances", "--json"),
    ):
        output = io.StringIO()
        with redirect_stdout(output), redirect_stderr(output):
            assert main([*wanted, *bench]) in (0, 1, 2)
        assert all(line.isprintable() for line in output.getvalue().splitlines())
    assert {p.name for p in folder.iterdir()} <= {
        "bench", "spill", "a.html", "a.ics", "a.csv", "fragrances.csv",
    }  # fmt: skip


def shown(desk: Any, live: Any) -> None:
    """Every word of the pour screen, at several sizes; all of it fit for a terminal."""
    desk.live = live
    shown = facts(desk, desk.now(), desk.plan.base.name, keymap(), USUAL, ("", False))
    for width, height in ((80, 24), (60, 20), (160, 50)):
        lines, rooms = pour_lines(shown, width, height, 3)
        assert len(lines) + rooms.keys == height
        assert all(plain(line).isprintable() for line in lines), lines


def written(tables: dict[str, Any], figures: dict[str, Any], facts: list[Event]) -> bytes:
    begins = datetime(2026, 3, 1, tzinfo=UTC)
    batch = {"id": "b", "title": "Quay Wall", "created": begins, "version": "1", "format": 1}
    head = tables_text({"batch": batch, "plan": tables, "foreseen": figures})
    return head + b"".join(map(event_text, facts))


def ends(facts: list[Event]) -> Event:
    t = max(e.t for e in facts)
    return Event(LYE.at, t, Kind.POUR_ENDED, values={"finished": True}, id="the end")


@MANY
@given(st.lists(events(), max_size=12), st.booleans())
def test_any_events_after_a_sound_header(facts: list[Event], ended: bool) -> None:
    facts = [LYE, *facts]
    if ended and all(abs(e.t) < 1e9 for e in facts):
        facts.append(ends(facts))
    with warnings.catch_warnings(), TemporaryDirectory() as folder:
        warnings.simplefilter("error", RuntimeWarning)
        open_all(Path(folder), written(plan().as_written(), FIGURES, facts))


@MANY
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "mix": ANYTHING
            | st.fixed_dictionaries(
                {"batter_c": NUMBER, "concentration": NUMBER, "saturated": NUMBER}
            ),
            "pot_ml": ANYTHING
            | st.fixed_dictionaries({"base": NUMBER, "rope": NUMBER, "gull": NUMBER}),
            "chance": ANYTHING,
            "minutes": ANYTHING,
            "water_share": NUMBER,
            "stage_s": ANYTHING,
        },
    ),
    st.booleans(),
)
def test_any_figures_in_the_header(figures: dict[str, Any], whole: bool) -> None:
    facts = [LYE, Event(LYE.at, 400.0, Kind.TRACE_SEEN, "rope", {"state": 2}, id="tap")]
    with warnings.catch_warnings(), TemporaryDirectory() as folder:
        warnings.simplefilter("error", RuntimeWarning)
        figures = FIGURES | figures if whole else figures
        open_all(Path(folder), written(plan().as_written(), figures, [*facts, ends(facts)]))


@MANY
@given(plans(), st.lists(events(), max_size=3))
def test_any_plan_in_the_header(tables: dict[str, Any], facts: list[Event]) -> None:
    with TemporaryDirectory() as folder:
        open_all(Path(folder), written(tables, FIGURES, [LYE, *facts]))
