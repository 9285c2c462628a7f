"""A whole bench of simulated pours: the model learns from their logs, the fragrance book tells it.

Two invented fragrances are sold with the same word. One makes batter thicken eight times faster,
the other hardly. One maker's hidden batters differ by batch effects alone: what the empty bench
does not know of makers in general (theta) is the same in all of them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import numpy as np
import pytest

from soapbench.advice.known import Known
from soapbench.bench.learned import Memory, open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.cli import main
from soapbench.desk.rehearsing import Player, SteppedClock
from soapbench.desk.starting import begin
from soapbench.fragrances.book import each_batch, fragrance_book
from soapbench.fragrances.suited import advice, swirls_for
from soapbench.logfile.clock import Reading
from soapbench.rehearsal.hands import Hands
from soapbench.rehearsal.rehearsal import draw_batter
from soapbench.sheet.plansheet import plan_sheet
from tests.plans import THREE_POTS, plan

TRUTH = {"Tar & Thyme": 8.0, "Milk Thistle": 1.05}
EACH = 15


@pytest.fixture(scope="module")
def poured(known: Known, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Memory]]:
    folder = tmp_path_factory.mktemp("bench")
    bench = open_bench(folder)
    # A top that has to wait for its batter: hands that wait see milestones, slow or fast.
    text = THREE_POTS.replace('"accelerates"', '"unknown"').replace("hanger swirl", "textured top")
    plans = {name: plan(text.replace("Tar & Thyme", name)) for name in TRUTH}
    sheets = {n: plan_sheet(p, known, cautions(), levers=False) for n, p in plans.items()}
    one_maker = replace(known, fit=replace(known.fit, covariance=known.fit.covariance * 1e-6))
    evening = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
    for n in range(EACH * len(TRUTH)):
        name = list(TRUTH)[n % 2]
        sheet = sheets[name]
        hidden = draw_batter(sheet.plan, sheet.amounts, one_maker, seed=n)
        factors = {name: np.log(np.array([TRUTH[name]]))}
        hidden = replace(hidden, draws=replace(hidden.draws, log_af=factors))
        clock = SteppedClock(Reading(evening + timedelta(days=n), 1000.0, f"boot-{n}"))
        desk = begin(bench, clock, known, sheet)
        hands = Hands(known.pace, np.random.default_rng(1000 + n))
        Player(desk, hidden, clock, hands, heedful=False).play()
        desk.close()
    yield folder, remember(bench)
    bench.close()


def test_every_pour_taught_something(poured: tuple[Path, Memory]) -> None:
    _, memory = poured
    assert len(memory.lessons) == EACH * 2
    assert all(lesson.ended is not None for lesson in memory.lessons)
    assert all(lesson.ended and lesson.ended.chance for lesson in memory.lessons)
    assert memory.known.fit.batches == EACH * 2


def test_the_fast_one_is_learned(poured: tuple[Path, Memory]) -> None:
    _, memory = poured
    book = fragrance_book(memory.known, memory.lessons, {})
    tame, fast = book.entries
    assert (tame.name, fast.name) == ("Milk Thistle", "Tar & Thyme")
    assert fast.batches == tame.batches == EACH
    assert fast.factor.p10 <= TRUTH[fast.name] <= fast.factor.p90
    assert fast.factor.p50 == pytest.approx(TRUTH[fast.name], rel=0.3)
    assert tame.factor.p10 <= TRUTH[tame.name] <= tame.factor.p90
    assert tame.factor.p90 < fast.factor.p10


def test_the_book_says_so(poured: tuple[Path, Memory]) -> None:
    _, memory = poured
    book = fragrance_book(memory.known, memory.lessons, {})
    known = memory.known
    advised = {e.name: advice(e, swirls_for(e, book.usual, known), known) for e in book.entries}
    assert advised["Tar & Thyme"].startswith("Thickens about ")
    assert "x faster" in advised["Tar & Thyme"]
    assert "time for any" not in advised["Tar & Thyme"]
    assert "time for" in advised["Milk Thistle"]
    tallies = {e.name: e.swirls[0] for e in book.entries}
    assert {t.poured for t in tallies.values()} == {EACH}
    assert tallies["Tar & Thyme"].as_planned < tallies["Milk Thistle"].as_planned
    word = next(w for w in book.words if w.reputation.value == "unknown")
    assert (word.fragrances, word.slow, word.between, word.fast) == (2, 1, 0, 1)
    assert book.score.pours == EACH * 2


def test_each_batch_has_a_dot_near_what_all_of_them_say(poured: tuple[Path, Memory]) -> None:
    _, memory = poured
    book = fragrance_book(memory.known, memory.lessons, {})
    middles = {}
    for entry in book.entries:
        dots = each_batch(entry, memory.known)
        assert 0 < len(dots) <= EACH
        assert sum(fine for _, fine in dots) <= sum(t.as_planned for t in entry.swirls)
        middles[entry.name] = median(factor for factor, _ in dots)
        assert middles[entry.name] == pytest.approx(entry.factor.p50, rel=0.5)
    assert middles["Tar & Thyme"] > 2 * middles["Milk Thistle"]


def test_the_command_says_the_same(
    poured: tuple[Path, Memory], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, memory = poured
    assert main(["fragrances", "tar", "--json", "--bench", str(folder)]) == 0
    (tar,) = json.loads(capsys.readouterr().out)["fragrances"]
    book = fragrance_book(memory.known, memory.lessons, {})
    assert tar["factor"]["p50"] == pytest.approx(book.entries[1].factor.p50, abs=0.001)
    assert main(["fragrances", "--bench", str(folder)]) == 0
    output = capsys.readouterr().out
    assert "Milk Thistle" in output
    assert f" of {EACH * 2}" in " ".join(output.split())


@pytest.mark.parametrize(
    ("asked", "right"),
    [
        ("Tar and Time", 'did you mean "Tar & Thyme"?'),
        ("t", 'be more specific: "Milk Thistle", "Tar & Thyme"'),
    ],
)
def test_a_name_that_fits_none_or_several_is_refused(
    poured: tuple[Path, Memory], capsys: pytest.CaptureFixture[str], asked: str, right: str
) -> None:
    assert main(["fragrances", asked, "--bench", str(poured[0])]) == 2
    assert right in capsys.readouterr().err
