"""What is due when: windows by gel and recipe, several batches at once, what lapses."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from aftercare_kit import EVENING

from soapbench.aftercare.due import (
    What,
    due,
    due_today,
    due_words,
    forced_words,
    is_resting,
    ready,
)
from soapbench.aftercare.page import gel_lines
from soapbench.aftercare.resting import Resting
from soapbench.aftercare.soapkind import Makeup, makeup
from soapbench.aftercare.windows import soap, window, window_words
from soapbench.bench import tables
from soapbench.bench.tables import practice
from soapbench.figures import as_table, figures_of
from soapbench.lessons import foreseen_figures
from soapbench.reading.faults import FileFaults
from soapbench.recipe.amounts import amounts
from soapbench.words.days import when_words
from tests.fakes import SAMPLES
from tests.plans import THREE_POTS, plan, sample

P = practice()
BATCH = Resting("b1", "Harbour", EVENING, "allow", 0.4, 0.33, 0.2)
CUT = replace(BATCH, unmoulded=EVENING + timedelta(hours=30), cut=EVENING + timedelta(hours=40))


def whats(batch: Resting) -> list[What]:
    return [item.what for item in due(batch, P)]


WINDOWS = {
    "as chosen": (BATCH, P.cut_h["allow"], 1.0),
    "prevented": (replace(BATCH, gel="prevent"), P.cut_h["prevent"], 1.0),
    "forced": (replace(BATCH, gel="force"), P.cut_h["force"], 1.0),
    "seen goes before chosen": (
        replace(BATCH, gel="prevent", gel_reached="to the edges"), P.cut_h["force"], 1.0,
    ),
    "forced, yet none seen": (
        replace(BATCH, gel="force", gel_reached="none"), P.cut_h["prevent"], 1.0,
    ),
    "soft oils": (replace(BATCH, saturated=0.15), P.cut_h["allow"], P.soft_times),
    "soft oils, much water": (
        replace(BATCH, saturated=0.15, concentration=0.26), P.cut_h["allow"],
        P.soft_times * P.wet_times,
    ),
    "cooked": (replace(BATCH, cooked=True), P.cut_h["cooked"], 1.0),
    "brittle, whatever its gel": (
        replace(BATCH, lauric=0.8, gel="force", concentration=0.26), P.cut_h["brittle"], 1.0,
    ),
    "brittle and salty": (replace(BATCH, lauric=1.0, salt=0.5), P.cut_h["salty"], 1.0),
    "castile, soft oils counted once": (
        replace(BATCH, olive=1.0, saturated=0.15), P.cut_h["castile"], 1.0,
    ),
    "just not brittle": (replace(BATCH, lauric=0.6), P.cut_h["allow"], 1.0),
}  # fmt: skip


@pytest.mark.parametrize("case", WINDOWS)
def test_cut_window(case: str) -> None:
    batch, (early, late), times = WINDOWS[case]
    assert window(batch, P.cut_h, P) == pytest.approx((early * times, late * times))
    cut = next(d for d in due(batch, P) if d.what is What.CUT)
    assert cut.opens == EVENING + timedelta(hours=early * times)
    assert cut.why == window_words(batch, P)
    assert cut.why


DAYS = 24.0
# What makers say of the cut and of when a soap is ready (common practice, no source): hours from
# the pour, weeks from the cut.
AFTERWARDS = {
    "usual": (BATCH, (18, 48), (4, 6)),
    "over 60 % coconut, palm kernel or babassu": (replace(BATCH, lauric=0.65), (4, 12), (4, 4)),
    "salt more than a quarter of the oils": (replace(BATCH, salt=0.3, lauric=0.9), (1, 4), (4, 4)),
    "over 80 % olive": (
        replace(BATCH, olive=0.85, saturated=0.18), (2 * DAYS, 5 * DAYS), (6, 6),
    ),
    "hot process": (replace(BATCH, cooked=True), (12, 24), (1, 2)),
}  # fmt: skip


@pytest.mark.parametrize("row", AFTERWARDS)
def test_cut_and_ready_as_makers_say(row: str) -> None:
    batch, hours, weeks = AFTERWARDS[row]
    assert window(batch, P.cut_h, P) == hours
    unmould = window(batch, P.unmould_h, P)
    assert unmould[0] <= hours[0]
    assert unmould[1] <= hours[1], "nothing is cut before it is out of its mould"
    cut = EVENING + timedelta(hours=hours[0])
    ends = ready(replace(batch, cut=cut), P)
    assert ends is not None
    assert (ends.earliest, ends.latest) == tuple(cut + timedelta(weeks=w) for w in weeks)


@pytest.mark.parametrize("gel", ["prevent", "allow", "force"])
def test_the_usual_soap_is_cut_next_day_whatever_its_gel(gel: str) -> None:
    """18 to 48 hours (common practice, no source)."""
    early, late = window(replace(BATCH, gel=gel), P.cut_h, P)
    assert 18 <= early < late <= 48


def test_castile_is_usable_at_six_weeks_and_left_up_to_a_year_by_custom() -> None:
    """Common practice, no source."""
    castile = replace(BATCH, olive=0.9, cut=EVENING)
    ends = ready(castile, P)
    assert ends is not None
    assert "usable after 6 weeks, by custom left 6 to 12 months" in ends.rests_on
    assert is_resting(castile, EVENING + timedelta(days=365), P)
    assert not is_resting(replace(castile, olive=0.1), EVENING + timedelta(days=365), P)


def test_a_forced_gel_says_by_what_how_warm_and_when_off() -> None:
    """About 60–75 °C, until the middle is translucent (common practice, no source)."""
    forced = replace(BATCH, gel="force", heat="oven")
    watch = next(d for d in due(forced, P) if d.what is What.GEL_WATCH)
    assert watch.why == "oven, about 60 °C to 75 °C; heat off when the middle is translucent"
    assert forced_words(BATCH, P) == ""


def test_makeup_by_the_names_of_the_oils() -> None:
    plan = sample(SAMPLES / "harbour_at_dusk.toml")
    oils = (
        replace(plan.oils[0], name="Coconut oil", share=0.3),
        replace(plan.oils[0], name="babassu", share=0.2),
        replace(plan.oils[0], name="olive pomace", share=0.5),
    )
    shares = makeup(replace(plan, oils=oils))
    assert shares == Makeup(lauric=pytest.approx(0.5), olive=pytest.approx(0.5))


def test_finishing_touches_fall_due_once_wanted_and_until_done() -> None:
    assert {What.PLANE, What.STAMP, What.WRAP}.isdisjoint(whats(CUT))
    wanted = replace(CUT, wished=("plane", "wrap"))
    todo = {d.what: d for d in due(wanted, P)}
    assert CUT.cut is not None
    assert todo[What.PLANE].opens == CUT.cut + timedelta(days=P.finish_days["plane"][0])
    assert todo[What.WRAP].opens >= todo[What.CURE_OVER].opens, "dry bars are wrapped"
    assert What.STAMP not in todo
    done = replace(wanted, finished=(("plane", EVENING),))
    assert What.PLANE not in whats(done)
    assert What.STAMP in [d.what for d in due(CUT, replace(P, finish_always=("stamp",)))]


STEPS = {
    "poured": (BATCH, [What.GEL_WATCH, What.UNMOULD, What.CUT]),
    "sprayed once": (
        replace(BATCH, sprayed=(EVENING,)),
        [What.SPRAY_AGAIN, What.GEL_WATCH, What.UNMOULD, What.CUT],
    ),
    "sprayed twice": (
        replace(BATCH, sprayed=(EVENING, EVENING)), [What.GEL_WATCH, What.UNMOULD, What.CUT],
    ),
    "gel prevented": (replace(BATCH, gel="prevent"), [What.UNMOULD, What.CUT]),
    "unmoulded": (replace(BATCH, unmoulded=EVENING), [What.CUT]),
    "cut": (CUT, [What.REVIEW, What.WEIGH, What.CURE_OVER]),
    "cut and judged": (replace(CUT, verdict="again"), [What.WEIGH, What.CURE_OVER]),
    "put away": (replace(CUT, cured=EVENING), []),
    "potash soap is never cut": (replace(BATCH, paste=True, gel="prevent"), []),
}  # fmt: skip


@pytest.mark.parametrize("case", STEPS)
def test_what_comes_next(case: str) -> None:
    batch, expected = STEPS[case]
    assert whats(batch) == expected


def test_second_spray_is_due_five_minutes_after_the_first() -> None:
    first = EVENING + timedelta(minutes=2)
    item = due(replace(BATCH, sprayed=(first,)), P)[0]
    assert (item.what, item.opens - first) == (What.SPRAY_AGAIN, timedelta(minutes=5))


def test_several_batches_today_longest_due_first() -> None:
    """One to cut, one to weigh, one whose gel watch is over and whose cut is tomorrow."""
    now = EVENING + timedelta(days=30)
    to_cut = replace(BATCH, batch="a", title="A", poured=now - timedelta(hours=30))
    to_cut = replace(to_cut, unmoulded=now - timedelta(hours=2))
    curing = replace(
        CUT, batch="b", title="B", verdict="again", weighed=((now - timedelta(days=8), 1000.0),)
    )
    young = replace(BATCH, batch="c", title="C", gel="prevent", poured=now - timedelta(hours=1))
    todo = due_today([young, to_cut, curing], now, P)
    assert [(d.title, d.what) for d in todo] == [("B", What.WEIGH), ("A", What.CUT)]


def test_what_was_missed_stays_due_but_a_spray_lapses() -> None:
    batch = replace(BATCH, sprayed=(EVENING,))
    later = EVENING + timedelta(days=9)
    assert [d.what for d in due_today([batch], later, P)] == [What.UNMOULD, What.CUT]
    assert due_words(due_today([batch], later, P)[1], later).startswith("cut: overdue since")


def test_today_ends_at_the_makers_own_midnight() -> None:
    """21:30 UTC is 23:30 in Paris and already tomorrow in Tokyo (fixed offsets)."""
    batch = replace(BATCH, unmoulded=EVENING, gel="prevent", poured=EVENING - timedelta(hours=24))
    opens = next(d.opens for d in due(batch, P) if d.what is What.CUT)
    assert opens == EVENING
    before = EVENING - timedelta(hours=3)
    assert due_today([batch], before.astimezone(timezone(timedelta(hours=2))), P)
    assert not due_today([batch], before.astimezone(timezone(timedelta(hours=7))), P)


def test_a_batch_nobody_put_away_is_forgotten_in_the_end() -> None:
    """A maker who never says so must not be told of every batch ever cured."""
    assert CUT.cut is not None
    weeks = timedelta(weeks=P.forgotten_weeks)
    assert due_today([CUT], CUT.cut + weeks - timedelta(hours=1), P)
    assert due_today([CUT], CUT.cut + weeks + timedelta(hours=1), P) == ()


WHEN = {
    "today 21:05": timedelta(hours=2, minutes=5),
    "tomorrow 00:30": timedelta(hours=5, minutes=30),
    "yesterday 18:00": timedelta(hours=-25),
    "Saturday 19:00": timedelta(days=3),
    "11 May": timedelta(days=10),
    "26 January 2025": timedelta(days=270),
}


@pytest.mark.parametrize("words", WHEN)
def test_when(words: str) -> None:
    assert EVENING.strftime("%A %H:%M") == "Wednesday 19:00"
    assert when_words(EVENING + WHEN[words], EVENING) == words


def test_ready_by_common_practice_until_there_are_weighings() -> None:
    assert ready(BATCH, P) is None
    ends = ready(CUT, P)
    assert ends is not None
    assert CUT.cut is not None
    assert not ends.measured
    assert (ends.earliest, ends.about) == (
        CUT.cut + timedelta(weeks=4),
        CUT.cut + timedelta(weeks=6),
    )
    assert ends.rests_on == "4 to 6 weeks"
    assert P.rule == "rule of thumb"


def weighed(tau_days: float, share: float, days: list[float]) -> tuple[tuple[datetime, float], ...]:
    import math

    assert CUT.cut is not None
    return tuple(
        (CUT.cut + timedelta(days=d), 1000 * (1 - share * (1 - math.exp(-d / tau_days))))
        for d in days
    )


def test_ready_follows_the_weighings_but_never_before_four_weeks() -> None:
    """tau 20 days, 15 % in the end: 1 % is still to go after 20 ln 15 = 54.2 days."""
    assert CUT.cut is not None
    slow = ready(replace(CUT, weighed=weighed(20, 0.15, [0, 7, 14, 21, 28])), P)
    quick = ready(replace(CUT, weighed=weighed(4, 0.15, [0, 7, 14, 21])), P)
    assert slow
    assert quick
    assert (slow.about - CUT.cut) / timedelta(days=1) == pytest.approx(54.16, abs=0.1)
    assert slow.earliest <= slow.about <= slow.latest
    assert slow.measured
    assert quick.measured
    assert quick.about == CUT.cut + timedelta(weeks=4)
    assert quick.rests_on == "from 4 weighings, and at least 4 weeks"


def test_the_makers_own_times_replace_ours(tmp_path: Path) -> None:
    (tmp_path / "aftercare.toml").write_text("[cure]\nweeks = [8, 10]\nweigh_every_days = 14\n")
    own = practice(tmp_path)
    assert (own.cure_weeks["usual"], own.weigh_every_days) == ((8, 10), 14)
    assert own.cure_weeks["castile"] == P.cure_weeks["castile"]
    assert own.spray_again_s == P.spray_again_s
    assert own.source == "the maker's own table"


def test_a_faulty_table_of_the_makers_own_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "aftercare.toml").write_text('\n[spray]\nagain_s = "soon"\n')
    with pytest.raises(FileFaults) as refused:
        practice(tmp_path)
    assert [(f.key, f.line) for f in refused.value.faults] == [("spray.again_s", 3)]


SALT_BAR = THREE_POTS + '[[additives]]\nname = "sea salt"\ndose = "{dose}"\n'


@pytest.mark.parametrize(
    ("dose", "kind"), [("30 %", "salty"), ("20 %", "usual"), ("2 tsp", "usual")]
)
def test_salt_as_weighed_decides_whether_it_is_a_salt_bar(dose: str, kind: str) -> None:
    """By share or by the spoon; what is kept of it in a log's header comes back the same."""
    pour = plan(SALT_BAR.format(dose=dose))
    weighed = amounts(pour, tables.oils(), tables.colourants(), tables.additives())
    figures = foreseen_figures(weighed, pour, None)
    assert figures_of(as_table(figures)).salt == figures.salt
    parts = makeup(pour, figures.salt)
    batch = replace(BATCH, salt=parts.salt)
    assert soap(batch, P) == kind
    if "%" in dose:
        assert parts.salt == pytest.approx(float(dose.split()[0]) / 100, abs=1e-3)


def test_a_loaf_that_heats_itself_is_watched() -> None:
    pour = plan(THREE_POTS + '[[additives]]\nname = "raw forest honey"\ndose = "1 tbsp"\n')
    weighed = amounts(pour, tables.oils(), tables.colourants(), tables.additives())
    assert foreseen_figures(weighed, pour, None).heats == ("raw forest honey",)
    lines = gel_lines(replace(BATCH, heats=("raw forest honey",)), P)
    assert any("raw forest honey it heats itself" in line for line in lines)
    assert not any("heats itself" in line for line in gel_lines(BATCH, P))
