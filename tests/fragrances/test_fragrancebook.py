"""The fragrance book: what is listed, what it rests on, and what it advises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice
from soapbench.batter import BatchHistory, FragranceWord, Mix, Reputation
from soapbench.fragrances.asjson import as_json
from soapbench.fragrances.book import Entry, Tally, fragrance_book
from soapbench.fragrances.suited import advice, swirls_for
from soapbench.fragrances.text import book_text, entry_text, score_lines
from soapbench.lessons import Ended, Lesson
from soapbench.outlook.finishing import Quantiles
from soapbench.outlook.worth import WORTH_POURING
from soapbench.recipe.fragrances import FragranceFacts
from soapbench.thickening import acceleration

MIX = Mix(24.0, 0.36, 0.30)
SHELF = {
    "Reed Smoke": FragranceFacts("Reed Smoke", 0.05, Reputation.NOTORIOUS, note="from the fair"),
    "Reed": FragranceFacts("Reed", reputation=Reputation.WELL_BEHAVED),
}


def lesson(
    fragrance: str, steps: Sequence[str], as_planned: bool, verdict: str = "", next_time: str = ""
) -> Lesson:
    outcome = Ended(
        "b", tuple(steps), tuple(steps), (fragrance,), 0.8, as_planned, True, verdict, next_time
    )
    return Lesson(BatchHistory("b", MIX, (), (FragranceWord(fragrance),)), (), outcome)


LESSONS = (
    lesson("Tar & Thyme", ["drop swirl", "hanger swirl"], False, "not again", "cooler"),
    lesson("Tar & Thyme", ["drop swirl", "hanger swirl"], False, "not again"),
    lesson("Tar & Thyme", ["in-the-pot swirl"], True, "again", "in one pot"),
)


def test_shelf_and_poured_are_both_listed(known: Known) -> None:
    book = fragrance_book(known, LESSONS, SHELF)
    assert [e.name for e in book.entries] == ["Reed", "Reed Smoke", "Tar & Thyme"]
    tar = book.entries[2]
    assert tar.swirls == (
        Tally(("drop swirl", "hanger swirl"), 2, 0),
        Tally(("in-the-pot swirl",), 1, 1),
    )
    assert dict(tar.verdicts) == {"not again": 2, "again": 1}
    assert tar.next_time == "in one pot", "the latest word counts"
    assert book.usual == MIX


def test_unpoured_rests_on_its_reputation_alone(known: Known) -> None:
    smoke = fragrance_book(known, (), SHELF).entries[1]
    believed = acceleration(known.fit, FragranceWord("Reed Smoke", Reputation.NOTORIOUS))
    assert smoke.batches == 0
    assert smoke.rests_on == 'the supplier\'s word alone ("notorious")'
    assert smoke.factor.p50 == pytest.approx(believed.quantile(0.5))
    inside = believed.above(smoke.factor.p10) - believed.above(smoke.factor.p90)
    assert inside == pytest.approx(0.8, abs=0.001), "an 80 % interval holds 80 %"
    words = advice(smoke, swirls_for(smoke, MIX, known), known)
    assert words.startswith("By the supplier's word it thickens about 18x faster: ")
    assert "hot process" in words


@pytest.mark.parametrize(
    ("part", "names"),
    [
        ("reed", ["Reed"]),
        ("REED SM", ["Reed Smoke"]),
        ("e", ["Reed", "Reed Smoke", "Tar & Thyme"]),
        ("kelp", []),
        ("", []),
    ],
)
def test_a_whole_name_beats_a_part_of_one(known: Known, part: str, names: list[str]) -> None:
    book = fragrance_book(known, LESSONS, SHELF)
    assert [e.name for e in book.matches(part)] == names


def test_worse_reputations_leave_fewer_swirls(known: Known) -> None:
    shelf = {w.value: FragranceFacts(w.value, reputation=w) for w in Reputation}
    book = fragrance_book(known, (), shelf)
    fine = {
        entry.name: sum(c.worth >= WORTH_POURING for c in swirls_for(entry, MIX, known))
        for entry in book.entries
    }
    assert fine["well behaved"] >= fine["unknown"] >= fine["accelerates"] >= fine["notorious"]
    assert fine["well behaved"] > fine["notorious"]


def entry(factor: float, batches: int = 3, swirls: tuple[Tally, ...] = ()) -> Entry:
    quantiles = Quantiles(factor * 0.8, factor, factor * 1.25)
    return Entry("Tar & Thyme", Reputation.UNKNOWN, quantiles, batches, swirls)


def choices(**chances: float) -> tuple[SwirlChoice, ...]:
    named = {name.replace("_", " "): chance for name, chance in chances.items()}
    ordered = sorted(named.items(), key=lambda item: -item[1])
    return tuple(SwirlChoice((name,), chance, 5.0, worth=chance) for name, chance in ordered)


@pytest.mark.parametrize(
    ("of", "swirls", "sentence"),
    [
        pytest.param(
            entry(4.2, swirls=(Tally(("drop swirl", "hanger swirl"), 3, 0),)),
            choices(hot_process=1.0, layers=0.9, drop_swirl=0.4, wall_pour=0.3, tiger_stripe=0.1),
            "Thickens about 4x faster: layers or hot process; 0 of 3 drop swirls worked out",
            id="fast",
        ),
        pytest.param(
            entry(1.6),
            choices(hot_process=1.0, layers=0.9, drop_swirl=0.9, tiger_stripe=0.6),
            "Thickens about 1.6x faster: time for most swirls, not for tiger stripe",
            id="middling",
        ),
        pytest.param(
            entry(1.0, swirls=(Tally(("layers",), 1, 1),)),
            choices(hot_process=1.0, layers=0.9, drop_swirl=0.9),
            "Doesn't speed the batter up: time for any swirl",
            id="tame",
        ),
        pytest.param(
            entry(0.7),
            choices(layers=0.9),
            "Slows the batter down: time for any swirl",
            id="slow",
        ),
        pytest.param(
            entry(9.0, swirls=(Tally(("layers",), 2, 1), Tally(("drop swirl",), 1, 0))),
            choices(hot_process=1.0, layers=0.3),
            "Thickens about 9x faster: best bets: layers (30 %), hot process; "
            "1 of 2 layers worked out",
            id="hopeless",
        ),
    ],
)
def test_advice_is_one_plain_sentence(
    known: Known, of: Entry, swirls: tuple[SwirlChoice, ...], sentence: str
) -> None:
    assert advice(of, swirls, known) == sentence


def test_texts_fit_their_width(known: Known) -> None:
    long = replace(
        SHELF["Reed"], name="Reed & Rush & Bulrush & Sedge & Flag & Reed", note="x " * 90
    )
    book = fragrance_book(known, LESSONS, {**SHELF, long.name: long})
    for width in (64, 80, 120):
        texts = [book_text(book, width)]
        texts += [entry_text(e, swirls_for(e, MIX, known), known, width) for e in book.entries]
        assert max(len(line) for text in texts for line in text.splitlines()) <= width
    assert "in-\n" not in book_text(book, 64), "a swirl's name is not broken"


def test_score_is_told_in_words(known: Known) -> None:
    score = fragrance_book(known, LESSONS, {}).score
    head, lines = score_lines(score)
    assert head.startswith("we said")
    assert lines.startswith("80 %")
    assert lines.endswith("1 of 3")
    assert (lines.count("█"), lines.index("◆")) == (7, 10 + 16), "a third came true of 80 % said"
    assert "(11 to 68 % in the long run)" in score_lines(score, details=True)[1]
    assert score_lines(fragrance_book(known, (), {}).score) == [
        "No pour with a chance has ended yet."
    ]


def test_json_holds_the_same(known: Known) -> None:
    book = fragrance_book(known, LESSONS, SHELF)
    data = as_json(book, book.matches("tar"), known)
    (tar,) = data["fragrances"]
    assert tar["poured"][0] == {
        "steps": ["drop swirl", "hanger swirl"], "poured": 2, "as_planned": 0,
    }  # fmt: skip
    assert tar["advice"].endswith("0 of 2 drop swirls worked out")
    assert tar["factor"]["p10"] < tar["factor"]["p50"] < tar["factor"]["p90"]
    assert [w["reputation"] for w in data["words"]] == [r.value for r in Reputation]
    assert data["score"]["pours"] == 3
