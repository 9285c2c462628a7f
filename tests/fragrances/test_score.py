"""The tool's own score, checked against statsmodels, scipy and scoringrules."""

from __future__ import annotations

import numpy as np
import pytest

from soapbench.fragrances.score import (
    EDGES,
    as_json,
    record,
    record_words,
    score,
    short_record,
    wilson,
)
from soapbench.lessons import Ended
from soapbench.log import Outcome as Came


def outcome(chance: float | None, as_planned: bool) -> Ended:
    steps = ("drop swirl",)
    return Ended("b", steps, steps, ("Tar & Thyme",), chance, as_planned, True)


@pytest.mark.parametrize(
    ("came", "of"), [(0, 1), (1, 1), (0, 3), (3, 3), (1, 4), (7, 9), (50, 60), (999, 1000)]
)
@pytest.mark.parametrize("level", [0.8, 0.95])
def test_interval_is_wilsons(came: int, of: int, level: float) -> None:
    from scipy.stats import binomtest
    from statsmodels.stats.proportion import proportion_confint

    expected = proportion_confint(came, of, alpha=1 - level, method="wilson")
    again = binomtest(came, of).proportion_ci(level, method="wilson")
    assert wilson(came, of, level) == pytest.approx(expected, abs=1e-9)
    assert wilson(came, of, level) == pytest.approx((again.low, again.high), abs=1e-9)


def test_few_pours_leave_much_open() -> None:
    assert wilson(0, 0) == (0.0, 1.0)
    low, high = wilson(0, 3)
    assert low == 0.0
    assert high > 0.3, "none of three says little"
    low, high = wilson(3, 3)
    assert high == 1.0
    assert low < 0.7


def test_brier_score_is_the_usual_one() -> None:
    import scoringrules

    rng = np.random.default_rng(5)
    chances = rng.random(200)
    came = rng.random(200) < chances
    scored = score(outcome(float(c), bool(o)) for c, o in zip(chances, came, strict=True))
    expected = float(np.mean(scoringrules.brier_score(came.astype(float), chances)))
    assert scored.brier == pytest.approx(expected, abs=1e-12)
    assert scored.brier_of_share is not None
    assert scored.brier is not None
    assert scored.brier < scored.brier_of_share, "chances that come true beat their mean"


def test_always_saying_the_share_is_no_skill() -> None:
    scored = score([outcome(0.75, True)] * 3 + [outcome(0.75, False)])
    assert scored.brier == pytest.approx(scored.brier_of_share)


def test_every_pour_with_a_chance_falls_into_one_bin() -> None:
    chances = [*EDGES, 0.05, 0.45, 0.69999, 0.8, 0.95]
    scored = score([outcome(c, True) for c in chances] + [outcome(None, True)])
    assert scored.pours == len(chances) == sum(b.pours for b in scored.bins)
    about_80 = next(b for b in scored.bins if b.low <= 0.8 < b.high)
    assert (about_80.low, about_80.high, about_80.pours) == (0.7, 0.9, 2)
    assert about_80.given == pytest.approx(0.75)
    assert scored.bins[-1].pours == 3, "certainty falls into the last bin"


def test_no_pour_yet() -> None:
    scored = score([])
    assert (scored.pours, scored.brier) == (0, None)
    assert as_json(scored)["bins"][0] == {
        "from": 0.0, "to": 0.2, "pours": 0, "as_planned": 0, "given": None, "low": 0.0, "high": 1.0,
    }  # fmt: skip


# ---------------------------------------------------------------- the record in plain words


def came(
    what: Came, *, warned: bool = False, followed: bool = False, thick: bool | None = None
) -> Ended:
    steps = ("drop swirl",)
    planned = what is Came.AS_PLANNED and not followed
    return Ended(
        "b", steps, steps, ("Tar & Thyme",), 0.5, planned, True, came=what,
        warned=warned, followed=followed, thickened=thick,
    )  # fmt: skip


POURS = [
    came(Came.AS_PLANNED),
    came(Came.AS_PLANNED, warned=True),  # needless
    came(Came.NO, warned=True, thick=True),  # right, and not heeded
    came(Came.AS_PLANNED, warned=True, followed=True, thick=True),  # right
    came(Came.AS_PLANNED, warned=True, followed=True, thick=False),  # needless
    came(Came.IN_PART, warned=True, followed=True),  # nobody tapped: nobody can tell
    came(Came.IN_PART),
]


def test_the_record_by_hand() -> None:
    kept = record(POURS)
    assert (kept.pours, kept.as_planned, kept.in_part, kept.ruined) == (7, 2, 4, 1)
    assert (kept.warned, kept.followed) == (5, 3)
    assert (kept.right, kept.needless, kept.open) == (2, 2, 1)


def test_the_record_in_plain_words() -> None:
    assert record_words(record(POURS)) == [
        "7 pours: 2 as planned, 4 in part or another way, 1 ruined.",
        "We warned in 5: you switched in 3; 2 of the warnings were right, 2 needless, "
        "1 nobody can tell.",
    ]
    assert record_words(record(POURS[:1]))[1] == "None of them needed a warning."
    assert record_words(record([])) == ["No pour has ended yet."]


def test_the_record_in_a_line_of_the_bench() -> None:
    assert short_record(record(POURS)) == (
        "7 pours: 2 as planned, 4 in part, 1 ruined; 5 warnings: 2 right, 2 needless"
    )
    assert short_record(record(POURS[:1])) == "1 pour: 1 as planned"
    assert short_record(record([])) == ""


def test_a_log_of_which_nobody_knows_how_it_came_out_is_left_out() -> None:
    assert record([outcome(0.5, True)]).pours == 0
