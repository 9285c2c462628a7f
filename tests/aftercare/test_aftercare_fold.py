"""A batch after its pour, folded from its events, kept in the index and read back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from aftercare_kit import DAY, EVENING, Finished, after, poured, water_share

from soapbench.aftercare.resting import (
    CAUTIONS,
    Resting,
    after_cautions,
    after_pour,
    as_data,
    from_data,
    resting_of,
)
from soapbench.bench.batchfile import read_batch, resting_in
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions, swirls
from soapbench.desk.benchlist import curing
from soapbench.figures import Figures
from soapbench.log import Event, Kind, Value, standing
from tests.fakes import FakeClock
from tests.plans import plan

BATCH = Resting("b1", "Harbour (invented)", EVENING, "allow", 0.4, 0.33, 0.2)


def fold(*facts: tuple[Kind, dict[str, Value]], gel: str = "allow") -> Resting:
    listed = [(Kind.POUR_ENDED, {}), *facts]
    events = [
        Event(EVENING + timedelta(hours=i), 600 + 3600 * i, kind, None, values, id=f"e{i}")
        for i, (kind, values) in enumerate(listed)
    ]
    return after_pour(replace(BATCH, title="Harbour", gel=gel), standing(events))


def hours(count: int) -> timedelta:
    return timedelta(hours=count)


def test_every_fact_of_an_aftercare_is_kept() -> None:
    rests = fold(
        (Kind.SPRAY, {}),
        (Kind.GEL_CHOSEN, {"gel": "force"}),
        (Kind.GEL_SEEN, {"reach": "half way"}),
        (Kind.GEL_SEEN, {"reach": "the middle only"}),
        (Kind.GEL_SEEN, {"trouble": "cracking"}),
        (Kind.UNMOULD, {}),
        (Kind.CUT, {"bars": 10}),
        (Kind.WEIGHING, {"g": 1000}),
        (Kind.VERDICT, {"verdict": "again"}),
        (Kind.CURED, {}),
    )
    assert rests.gel == "force"
    assert rests.gel_reached == "half way", "the furthest seen, not the last"
    assert rests.gel_trouble == "cracking"
    assert rests.sprayed == (EVENING + hours(1),)
    assert (rests.unmoulded, rests.cut) == (EVENING + hours(6), EVENING + hours(7))
    assert rests.weighed == ((EVENING + hours(8), 1000.0),)
    assert (rests.verdict, rests.cured) == ("again", EVENING + hours(10))


def test_what_was_taken_back_does_not_count_and_nonsense_changes_nothing() -> None:
    rests = fold(
        (Kind.CUT, {}),
        (Kind.UNDO, {"of": "e1"}),
        (Kind.GEL_CHOSEN, {"gel": "boil it"}),
        (Kind.GEL_SEEN, {"reach": "the moon"}),
        (Kind.WEIGHING, {"g": "heavy"}),
        (Kind.WEIGHING, {"g": -3}),
    )
    assert rests == replace(BATCH, title="Harbour")


def test_other_bars_begin_a_new_row_of_weighings() -> None:
    rests = fold(
        (Kind.WEIGHING, {"g": 1000}), (Kind.WEIGHING, {"g": 400, "other_bars": True}),
        (Kind.WEIGHING, {"g": 390}),
    )  # fmt: skip
    assert [g for _, g in rests.weighed] == [400, 390]


def test_no_aftercare_before_the_pour_has_ended() -> None:
    facts = standing([Event(EVENING, 0, Kind.LYE_MEETS_OILS)])
    assert resting_of("b", plan(), Figures(), facts, ("drop swirl",), swirls()) is None


def test_plain_data_and_back(folder: Path) -> None:
    clock = FakeClock(EVENING)
    bench, desk = poured(folder, clock)
    after(desk, clock)
    desk.close()
    rests = resting_in(bench, read_batch(bench, desk.log.path))
    assert rests is not None
    assert from_data(as_data(rests)) == rests
    assert rests.water_share == pytest.approx(water_share(desk), abs=1e-5)


def test_the_index_knows_resting_batches_and_forgets_those_put_away(folder: Path) -> None:
    clock = FakeClock(EVENING)
    bench, first = poured(folder, clock)
    _, second = poured(folder, clock, "dune_layers")
    first.close()
    assert set(curing(bench, remember(bench), clock.wall)) == {first.batch, second.batch}
    second.record(Kind.CURED)
    second.close()
    assert set(curing(bench, remember(bench), clock.wall)) == {first.batch}
    clock.passes(40 * 7 * DAY)  # nobody put the other away for most of a year
    assert not curing(bench, remember(bench), clock.wall)


def test_lessons_carry_verdict_and_next_time_and_aftercare_is_not_watching(
    finished: Finished,
) -> None:
    lessons = remember(open_bench(finished.folder)).lessons
    whole = next(x for x in lessons if x.ended and x.ended.verdict)
    assert whole.ended is not None
    assert whole.ended.verdict == "again"
    assert whole.ended.next_time == "a little more water, foam lighter"
    assert whole.ended.next_swirl == ("drop swirl",)
    # Weeks of weighings: nobody watched the pots that long.
    assert max(pot.until for pot in whole.history.pots) < 3600


def test_a_note_weeks_later_is_of_the_bars_and_ends_no_watch(folder: Path) -> None:
    """Nor does it stretch one: what the pour taught stays as it was."""
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    ended = desk.state.ended
    before = remember(open_bench(folder)).lessons[0]
    clock.passes(21 * DAY)
    desk.note(None, "a little ash on the top")
    desk.close()
    after_weeks = remember(open_bench(folder)).lessons[0]
    assert len(desk.state.notes) == 2
    assert after_weeks.history == before.history
    assert after_weeks.timed == before.timed != ()
    assert after_weeks.history.pots
    assert all(pot.until <= ended for pot in after_weeks.history.pots)


CASES = {
    "in the mould": (BATCH, 0.0, ["spray-fire", "fresh-soap-gloves"]),
    "gel to be forced, alcohol about": (
        replace(BATCH, gel="force"), 600.0, ["spray-then-heat", "spray-fire", "fresh-soap-gloves"],
    ),
    "gel to be forced, alcohol gone": (
        replace(BATCH, gel="force"), -1.0, ["spray-fire", "gel-heat", "fresh-soap-gloves"],
    ),
    "it cracks": (
        replace(BATCH, gel_trouble="cracking"), 0.0,
        ["spray-fire", "gel-heat", "fresh-soap-gloves"],
    ),
    "out of the mould": (replace(BATCH, unmoulded=EVENING), 0.0, ["fresh-soap-gloves"]),
    "cut": (
        replace(BATCH, cut=EVENING), 0.0, ["fresh-soap-gloves", "zap-no-proof", "dry-is-not-safe"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_cautions_where_they_apply(case: str) -> None:
    batch, wait, expected = CASES[case]
    shown = after_cautions(batch, wait, cautions())
    assert [c.id for c in shown] == [*expected, "after-local-rules"]
    assert all(c.source and c.verified and "{" not in c.text for c in shown)


def test_every_caution_after_the_pour_is_said_somewhere() -> None:
    shown = {c.id for b, wait, _ in CASES.values() for c in after_cautions(b, wait, cautions())}
    assert shown == set(CAUTIONS)


def test_flash_point_told_is_the_reference_value() -> None:
    """Against the chemicals library (IEC 60079-20-1): 2-propanol, CAS 67-63-0."""
    from chemicals import T_flash

    celsius = T_flash("67-63-0") - 273.15
    assert f"about {celsius:.0f} °C" in cautions()["spray-fire"]["text"]
    assert celsius < 20, "a room is warmer than that"
