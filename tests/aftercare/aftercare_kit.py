"""A finished pour made through the desk with a fake clock; run as a script it fills a bench.

    python -m tests.aftercare.aftercare_kit DIR     makes a bench in DIR to look at

All names are invented (the Saltmarsh workshop).
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from soapbench.aftercare.cutreview import Verdict, answer_values, questions, verdict_values
from soapbench.batter import Trace
from soapbench.bench.folder import Bench
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.planfile import read_plan
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.desk.starting import begin
from soapbench.log import Kind
from soapbench.sheet.plansheet import plan_sheet
from tests.fakes import SAMPLES, FakeClock

EVENING = datetime(2024, 5, 1, 19, 0, tzinfo=UTC)
DAY = 86_400.0


def begun(
    folder: Path, clock: FakeClock, plan: Path = SAMPLES / "harbour_at_dusk.toml"
) -> tuple[Bench, Desk]:
    """A batch of ``plan`` set out in the bench at ``folder``."""
    assert plan.is_file()
    bench = open_bench(folder)
    memory = remember(bench)
    read = read_plan(plan, memory.known.oils, memory.known.swirls.kinds)
    sheet = plan_sheet(read, memory.known, cautions(), levers=False)
    return bench, begin(bench, clock, memory.known, sheet)


def pour(desk: Desk, clock: FakeClock, *, pace: float = 1.1) -> None:
    """Weigh out and pour it, every stage at ``pace`` times the table, taps on the way."""
    for number, item in enumerate(("oil olive", "oil coconut", "NaOH", "water"), 1):
        desk.record(Kind.WEIGHED_OUT, item=item, lot=f"L-{number:03}" if item != "water" else "")
        clock.passes(40)
    clock.passes(600)
    desk.lye_meets_oils()
    while (stage := desk.state.stage) is not None:
        clock.passes(stage.median_s * pace / 2)
        for pot in stage.fragrance_into:
            desk.fragrance_in(pot)
        clock.passes(stage.median_s * pace / 2)
        if "Emulsify" in stage.words or len(desk.state.done) == 1:
            desk.trace_seen(desk.plan.base.name, Trace.EMULSION)
        desk.stage_done()
        if len(desk.state.done) == 11:
            desk.trace_seen(desk.plan.base.name, Trace.MEDIUM)
        if len(desk.state.done) == 6:
            desk.trace_seen(desk.plan.base.name, Trace.LIGHT)
            desk.note(desk.plan.base.name, "smooth and pourable")
    assert desk.state.ended is not None


def poured(folder: Path, clock: FakeClock, name: str = "harbour_at_dusk") -> tuple[Bench, Desk]:
    """A batch poured to its end; the clock stands at that moment."""
    bench, desk = begun(folder, clock, SAMPLES / f"{name}.toml")
    pour(desk, clock)
    return bench, desk


def water_share(desk: Desk) -> float:
    return desk.amounts.water_g / desk.amounts.batter_g


def after(
    desk: Desk, clock: FakeClock, *, weeks: Sequence[int] = (0, 1, 2, 3), verdict: str = "again"
) -> None:
    """Spray twice, no gel, unmould, cut, weigh by the week (tau 14 days), review."""
    desk.record(Kind.SPRAY)
    clock.passes(310)
    desk.record(Kind.SPRAY)
    clock.passes(6 * 3600)
    desk.record(Kind.GEL_SEEN, reach="none")
    clock.passes(40 * 3600)
    desk.record(Kind.UNMOULD)
    clock.passes(3600)
    desk.record(Kind.CUT, bars=10)
    asked = questions([pot.name for pot in desk.plan.accents])
    for i, part in enumerate(("first end", "middle")):
        for j, question in enumerate(asked):
            clock.passes(4)
            number = (i + j) % len(question.answers) if question.pot else min(i, 1)
            desk.record(Kind.CUT_SEEN, question.pot, **answer_values(part, question, number))
    if verdict:
        final = Verdict(verdict, "a little more water, foam lighter", ("drop swirl",))
        desk.record(Kind.VERDICT, **verdict_values(final))
    cut = clock.wall
    for week in weeks:
        clock.passes((cut + timedelta(weeks=week) - clock.wall).total_seconds())
        gone = 0.8 * water_share(desk) * (1 - math.exp(-week * 7 / 14))
        desk.record(Kind.WEIGHING, g=round(1200.0 * (1 - gone), 0))


EVIL = "</title><script>alert(1)</script> [/b] {{ 7*7 }} \x1b]0;x\x07"
"""Mark-up, a template and a terminal's escape sequence, as a note may hold them."""


@dataclass(frozen=True)
class Finished:
    """A bench to be read: one batch through its whole aftercare, one just poured."""

    folder: Path
    whole: Path
    """The log of Dune Layers: cut, reviewed, weighed for three weeks."""
    fresh: Path
    """The log of Harbour at Dusk, poured and left."""
    now: datetime


def finished_bench(folder: Path) -> Finished:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock, "dune_layers")
    after(desk, clock)
    desk.note("sand", EVIL)
    whole = desk.log.path
    desk.close()
    _, other = poured(folder, clock, "harbour_at_dusk")
    fresh = other.log.path
    other.close()
    return Finished(folder, whole, fresh, clock.wall)


def main(folder: Path) -> None:
    """Three batches: one just poured, one to be cut, one curing."""
    now = datetime.now(UTC)
    for name, days in (("dune_layers", 24.0), ("heather_stripes", 1.6), ("harbour_at_dusk", 0.04)):
        clock = FakeClock(now - timedelta(days=days))
        _, desk = poured(folder, clock, name)
        if days > 20:
            after(desk, clock, weeks=(0, 1, 2), verdict="")
        desk.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
