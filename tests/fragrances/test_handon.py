"""What one fragrance taught, handed on and taken in: small, bounded, and counted as a word."""

from __future__ import annotations

import os
import tomllib
from dataclasses import replace
from datetime import date
from math import log
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.batter import ByOthers, FragranceWord, Reputation
from soapbench.bench.handonfile import read_word, take_in, text_of
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import fragrances
from soapbench.cli import main
from soapbench.fragrances.handon import TABLE, NothingLearned, Word, word_in, word_of
from soapbench.reading.faults import FileFaults
from soapbench.thickening import acceleration, no_batches
from soapbench.thickening.fitted import Fragrance, Lot

TODAY = date(2026, 3, 1)
KELP = Word("Kelp & Fig", Reputation.UNKNOWN, ByOthers(6.0, 4.0, 9.0, 5))
BY_HAND = """\
# my bottles
["Kelp & Fig"]   # the blue one
limit_percent = 9.5   # sheet of 2025
reputation = "well behaved"
"""

names = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1,
                max_size=30)  # fmt: skip
factors = st.floats(0.06, 150).map(lambda x: float(f"{x:.3g}"))
by_others = st.tuples(factors, factors, factors, st.integers(1, 500)).map(
    lambda drawn: ByOthers(sorted(drawn[:3])[1], *(sorted(drawn[:3])[i] for i in (0, 2)), drawn[3])
)


@given(st.builds(Word, names, st.sampled_from(list(Reputation)), by_others))
def test_a_word_comes_back_as_it_was_written(word: Word) -> None:
    again, faults = word_in(tomllib.loads(text_of(word, TODAY)))
    assert faults == ()
    assert again == word


def test_it_counts_as_a_word_and_own_batches_go_before_it() -> None:
    """No batch is counted; the bench's belief moves to it, less sure than the other maker was."""
    empty = no_batches()
    sold = FragranceWord("Kelp & Fig", Reputation.WELL_BEHAVED)
    heard = replace(empty, by_others={"Kelp & Fig": KELP.by_others})
    before, after = acceleration(empty, sold), acceleration(heard, sold)
    assert after.batches == 0
    assert before.quantile(0.5) < 2 < after.quantile(0.5) < 7
    assert after.quantile(0.1) < 4.0
    assert after.quantile(0.9) > 9.0
    other = FragranceWord("Tar & Thyme", Reputation.WELL_BEHAVED)
    assert acceleration(heard, other) == acceleration(empty, other)
    # own sightings, as a likelihood that is sure of twice as fast and no more
    from soapbench.thickening.profile import GRID

    table = tuple(-0.5 * ((a - log(2.0)) / 0.1) ** 2 for a in GRID)
    lot = Lot("", 100.0, 100.0 * log(2.0), (0.0,) * len(empty.theta))
    own = Fragrance("Kelp & Fig", Reputation.WELL_BEHAVED, 4, log(2.0), (lot,), table)
    both = replace(heard, fragrances={"Kelp & Fig": own})
    assert acceleration(both, sold).quantile(0.5) == pytest.approx(2.0, rel=0.15)


def test_only_own_batches_are_handed_on() -> None:
    """What was heard would come back to its teller as if two had found it."""
    heard = replace(no_batches(), by_others={"Kelp & Fig": KELP.by_others})
    with pytest.raises(NothingLearned):
        word_of(heard, "Kelp & Fig", Reputation.UNKNOWN)


def test_taking_in_keeps_the_makers_own_lines(tmp_path: Path) -> None:
    (tmp_path / "tables").mkdir()
    table = tmp_path / "tables" / "fragrances.toml"
    table.write_text(BY_HAND)
    assert take_in(tmp_path, KELP) is False
    text = table.read_text()
    for line in BY_HAND.splitlines():
        assert line in text
    facts = fragrances(tmp_path / "tables")["Kelp & Fig"]
    assert facts.by_others == KELP.by_others
    assert (facts.limit, facts.reputation) == (0.095, Reputation.WELL_BEHAVED)
    again = Word("Kelp & Fig", Reputation.NOTORIOUS, ByOthers(3.0, 2.0, 5.0, 9))
    assert take_in(tmp_path, again) is True
    assert fragrances(tmp_path / "tables")["Kelp & Fig"].by_others == again.by_others
    assert take_in(tmp_path, Word("New [one]", Reputation.ACCELERATES, KELP.by_others)) is False
    assert fragrances(tmp_path / "tables")["New [one]"].reputation is Reputation.ACCELERATES
    known = remember(open_bench(tmp_path)).known
    assert known.fit.by_others["Kelp & Fig"] == again.by_others
    assert known.fit.batches == 0


def test_a_faulty_table_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "tables").mkdir()
    table = tmp_path / "tables" / "fragrances.toml"
    table.write_text('["Kelp & Fig"]\nlimit_percent = "much"\n')
    with pytest.raises(FileFaults):
        take_in(tmp_path, KELP)
    assert "much" in table.read_text()


REFUSED = {
    "": ["fragrance found"],
    "[plan]\ntitle = 'x'": ["plan", "fragrance found"],
    f"['{TABLE}']\nname = ''\ntimes_faster = 900\nbatches = 0\ncolour = 1": [
        "fragrance found.colour", "fragrance found.name", "fragrance found.times_faster",
        "fragrance found.four_in_five", "fragrance found.batches",
    ],
    f"['{TABLE}']\nname = 'x'\ntimes_faster = 3\nfour_in_five = [4, 5]\nbatches = 2": [
        "fragrance found.four_in_five",
    ],
    f"['{TABLE}']\nname = 'x'\ndescribed_as = 'wild'\ntimes_faster = 'fast'\nbatches = 2.5\n"
    "four_in_five = 'wide'\ntold_on = 'yesterday'": [
        "fragrance found.described_as", "fragrance found.told_on", "fragrance found.times_faster",
        "fragrance found.four_in_five", "fragrance found.batches",
    ],
    f"'{TABLE}' = 3": ["fragrance found"],
    "not toml": [""],
}  # fmt: skip


@pytest.mark.parametrize("text", REFUSED)
def test_every_fault_is_told_at_once_with_its_line(text: str, tmp_path: Path) -> None:
    path = tmp_path / "found.toml"
    path.write_text(text)
    with pytest.raises(FileFaults) as refused:
        read_word(path)
    assert [fault.key for fault in refused.value.faults] == REFUSED[text]
    assert all(fault.wrong and fault.right for fault in refused.value.faults)
    if "colour" in text:
        assert refused.value.faults[0].line == 5


def test_only_small_files_are_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "large").write_text("#" * 20_000)
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\x00")
    for path in (tmp_path / "pipe", tmp_path / "large", tmp_path / "bytes", tmp_path,
                 tmp_path / "gone", Path("/dev/zero")):  # fmt: skip
        with pytest.raises(FileFaults):
            read_word(path)


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**30), 10**30) | st.floats() | st.text(max_size=80),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner,
                                                                max_size=4),
    max_leaves=8,
)  # fmt: skip
KEY = st.sampled_from(["name", "described_as", "times_faster", "four_in_five", "batches",
                       "told_on", "x"])  # fmt: skip


@settings(max_examples=300)
@given(
    st.dictionaries(
        st.sampled_from([TABLE, "y"]), values | st.dictionaries(KEY, values), max_size=2
    )
)
def test_whatever_a_file_holds_it_is_taken_or_refused(tables: dict[str, object]) -> None:
    word, faults = word_in(tables)
    assert (word is None) == bool(faults)
    assert len(faults) < 60
    for fault in faults:
        assert len(fault.key) + len(fault.wrong) + len(fault.right) < 700
    if word is not None:
        assert (
            0.05 <= word.by_others.low <= word.by_others.times_faster <= word.by_others.high <= 200
        )


def test_from_one_bench_to_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "aftercare"))
    from aftercare_kit import EVENING, poured

    from tests.fakes import FakeClock

    _, desk = poured(tmp_path / "mine", FakeClock(EVENING))
    desk.close()
    out = tmp_path / "found.toml"
    mine = ["--bench", str(tmp_path / "mine")]
    assert main([*mine, "handon", "kelp", "-o", str(out)]) == 0
    assert "Kelp & Fig: thickens" in capsys.readouterr().out
    assert set(tomllib.loads(out.read_text())) == {TABLE}
    assert desk.batch not in out.read_text()
    theirs = ["--bench", str(tmp_path / "theirs")]
    assert main([*theirs, "takein", str(out)]) == 0
    assert "not as your batches" in capsys.readouterr().out
    assert main([*theirs, "fragrances", "kelp"]) == 0
    assert "In 1 batch of another maker's it" in capsys.readouterr().out
    assert main([*theirs, "handon", "kelp"]) == 2
    assert main([*mine, "handon", "no such"]) == 2
