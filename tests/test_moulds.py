"""Moulds with pots of their own, and embeds: amounts, stages, faces, and what is wrong."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.barface import face
from soapbench.barface.barplan import design, foreseen
from soapbench.barface.words import showings
from soapbench.bench import tables
from soapbench.bench.planfile import plan_from_text
from soapbench.log import Event, Kind
from soapbench.logfile.tomlfile import parse_text
from soapbench.plan import Plan
from soapbench.plan.reader import read_tables
from soapbench.pour.events import after, state_of
from soapbench.pour.state import PourState
from soapbench.reading.faults import FileFaults
from soapbench.recipe.amounts import Amounts, amounts, pot_ml
from soapbench.sheet.actwords import act_amount
from soapbench.sheet.setout import items
from soapbench.sheet.weighing import weighed
from soapbench.swirls.stages import stages
from soapbench.words.pouring import saying
from tests.plans import THREE_POTS, plan

OWN_POTS = THREE_POTS.replace(
    '[mould]\nvolume = "1 L"\nfill = "90 %"',
    '[[mould]]\nvolume = "800 mL"\nfill = "90 %"\npots = ["base", "rope"]\n'
    '[[mould]]\nvolume = "250 mL"\nfill = "90 %"\npots = ["gull"]',
)
EMBEDDED = OWN_POTS + '[[embeds]]\nname = "moon"\nvolume = "70 mL"\nlook = "#f0e060"\nmould = "1"\n'
SWIRLS = tables.swirls()


def worked(of: Plan) -> Amounts:
    return amounts(of, tables.oils(), tables.colourants(), tables.additives())


def faults(text: str) -> list[tuple[str, str, str]]:
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "a plan", tables.oils(), SWIRLS.kinds)
    lines = text.splitlines()
    return [(f.key, f.wrong, lines[(f.line or 1) - 1]) for f in refused.value.faults]


def test_each_mould_gets_its_pots_and_none_runs_over() -> None:
    """Arithmetic by hand: the pots take 80 and 20 %, the moulds ask for 720 and 225 mL."""
    got = worked(plan(OWN_POTS))
    assert got.batter_ml == pytest.approx(720 / 0.8), "the loaf is full first: it decides"
    assert [m.ml for m in got.moulds] == pytest.approx([720, 180])
    assert [m.pots for m in got.moulds] == [("base", "rope"), ("gull",)]
    assert sum(pot.ml for pot in got.pots) == pytest.approx(got.batter_ml)


def test_an_embed_takes_the_room_of_its_own_mould() -> None:
    got = worked(plan(EMBEDDED))
    assert got.batter_ml == pytest.approx((720 - 70) / 0.8)
    assert [m.ml for m in got.moulds] == pytest.approx([720, 0.2 * 650 / 0.8])


def test_a_mould_that_names_no_pots_takes_those_that_are_left() -> None:
    text = OWN_POTS.replace('\npots = ["gull"]', "")
    pour = plan(text)
    assert [(f.moulds, f.pots) for f in pour.filled] == [
        ((0,), ("base", "rope")),
        ((1,), ("gull",)),
    ]
    assert worked(pour).moulds == worked(plan(OWN_POTS)).moulds


def test_plans_without_chosen_pots_are_as_they_were() -> None:
    several = OWN_POTS.replace('\npots = ["base", "rope"]', "").replace('\npots = ["gull"]', "")
    pour = plan(several)
    got = worked(pour)
    assert got.batter_ml == pytest.approx(720 + 225)
    assert [m.pots for m in got.moulds] == [(), ()]
    one = [s.id for s in stages(plan(), pot_ml(got), SWIRLS)]
    assert [s.id for s in stages(pour, pot_ml(got), SWIRLS)] == one
    assert not any("mould 1" in s.words for s in stages(pour, pot_ml(got), SWIRLS))


def test_it_comes_back_from_its_own_tables() -> None:
    pour = plan(EMBEDDED)
    assert read_tables(pour.as_written()) == pour


def test_stages_say_which_mould() -> None:
    """Pots too few for the swirl are poured plainly; embeds before the tool (common practice, no
    source)."""
    pour = plan(EMBEDDED)
    listed = [s for s in stages(pour, pot_ml(worked(pour)), SWIRLS) if s.step]
    assert [s.words for s in listed] == [
        "Pour base into mould 1",
        "Drop in rope, mould 1",
        "Lay in moon, mould 1",
        "Pull the hanger through, mould 1",
        "Pour gull into mould 2",
    ]
    assert len({s.id for s in listed}) == len(listed)
    assert listed[-1].step == "plain pour"
    topped = plan(EMBEDDED.replace('"hanger swirl"]', '"hanger swirl", "textured top"]'))
    last = [s.words for s in stages(topped, pot_ml(worked(topped)), SWIRLS)][-3:]
    assert last == [
        "Pour gull into mould 2", "Texture the top, mould 1", "Texture the top, mould 2",
    ]  # fmt: skip


def test_the_set_out_marks_each_mould_for_its_pots() -> None:
    pour = plan(EMBEDDED)
    words = {item.id: item.words for item in items(pour, worked(pour), SWIRLS)}
    assert words["mould 1"].endswith("marked at 720 mL, for base and rope")
    assert words["mould 2"].endswith("for gull")
    assert words["embed 1"].endswith("at room temperature, for mould 1")


def test_only_what_is_poured_into_other_batter_sinks() -> None:
    assert [pot.name for pot in plan(OWN_POTS).sunk] == ["rope"], "gull is alone in its mould"
    assert plan().sunk == plan().accents


WRONG = {
    "no such pot": (
        OWN_POTS.replace('pots = ["gull"]', 'pots = ["gul"]'),
        ("mould[2].pots[1]", 'no pot is called "gul"', 'pots = ["gul"]'),
    ),
    "in two moulds": (
        OWN_POTS.replace('pots = ["gull"]', 'pots = ["gull", "rope"]'),
        ("mould[2].pots[2]", 'pot "rope" goes into mould 1 already', 'pots = ["gull", "rope"]'),
    ),
    "in none": (
        OWN_POTS.replace('["base", "rope"]', '["base"]'),
        ("mould[1].pots", '"rope" goes into no mould', 'pots = ["base"]'),
    ),
    "nothing left": (
        OWN_POTS.replace('"rope"]', '"rope", "gull"]').replace('\npots = ["gull"]', ""),
        ("mould[2]", "no pot is left for it", "[[mould]]"),
    ),
    "one mould": (
        THREE_POTS.replace('fill = "90 %"', 'fill = "90 %"\npots = ["base", "roe", "gull"]'),
        ("mould.pots[2]", 'no pot is called "roe"', 'pots = ["base", "roe", "gull"]'),
    ),
    "embed in no mould": (
        EMBEDDED.replace('mould = "1"', 'mould = "3"'),
        ("embeds[1].mould", "there are 2 moulds", 'mould = "3"'),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_stands_at_its_line(case: str) -> None:
    text, wanted = WRONG[case]
    assert faults(text) == [wanted]


def test_a_mould_that_runs_over_or_stays_low_is_told() -> None:
    by_mass = EMBEDDED.replace('share = "70 %"', 'mass = "630 g"', 1)
    by_mass = by_mass.replace('share = "30 %"', 'mass = "270 g"', 1)
    by_mass = by_mass.replace('volume = "250 mL"', 'volume = "900 mL"')
    checked = weighed(
        plan(by_mass), tables.oils(), tables.colourants(), SWIRLS, tables.cautions(),
        tables.additives(),
    )  # fmt: skip
    assert "mould-of-pots-overfull" in {p.id for p in checked.problems}
    assert "mould-of-pots-under" in {c.id for c in checked.cautions}
    assert not any(p.id == "mould-overfull" for p in checked.problems)


def test_each_face_shows_the_pots_of_its_mould(known: Known) -> None:
    """Each colour's share of the face is its share of that mould's volume."""
    text = EMBEDDED.replace('share = "60 %"', 'share = "40 %"', 1)
    text += '[[pots]]\nname = "sail"\nshare = "20 %"\nlook = "#903030"\n'
    text = text.replace('pots = ["gull"]', 'pots = ["gull", "sail"]')
    pour = plan(text)
    got = worked(pour)
    forecast = foreseen(Foreseen(pour, known, got))
    first = design(pour, got, SWIRLS, forecast)
    second = design(pour, got, SWIRLS, forecast, mould=1)
    assert first
    assert second
    for one, mould, names in ((first, 0, ("base", "rope")), (second, 1, ("gull", "sail"))):
        drawn = face(one, 0.4, 150, 110, 5, polish=False)
        there = {c.name: drawn.shares.get(i, 0.0) for i, c in enumerate(one.colours)}
        for pot in got.pots:
            wanted = pot.ml / got.moulds[mould].ml if pot.name in names else 0.0
            assert there[pot.name] == pytest.approx(wanted, abs=0.01)
    drawn = face(first, 0.4, 150, 110, 5, polish=False)
    assert drawn.shares[4] == pytest.approx(70 / got.moulds[0].ml, abs=0.005)
    assert [s.label for s in showings(pour, known, got, late=1)] == [
        "as planned", "as planned, mould 2", "one step thicker",
    ]  # fmt: skip


def done_until(state: PourState, pour: Plan, got: Amounts, stop: str) -> PourState:
    at, ml = datetime(2026, 3, 1, tzinfo=UTC), pot_ml(got)
    while state.ahead and state.ahead[0].id != stop:
        t = 60.0 * (len(state.done) + 1)
        event = Event(
            at + timedelta(seconds=t), t, Kind.STAGE_DONE, None, {"stage": state.ahead[0].id}
        )
        state = after(state, event, pour, ml, SWIRLS)
    return state


def begun(pour: Plan, got: Amounts) -> PourState:
    lye = Event(datetime(2026, 3, 1, tzinfo=UTC), 0.0, Kind.LYE_MEETS_OILS)
    return after(state_of(pour, pot_ml(got), SWIRLS, ()), lye, pour, pot_ml(got), SWIRLS)


def switched(state: PourState, pour: Plan, got: Amounts, *steps: str) -> PourState:
    at = datetime(2026, 3, 1, 1, tzinfo=UTC)
    taken = Event(at, 3000.0, Kind.RESCUE_TAKEN, None, {"steps": list(steps)})
    return after(state, taken, pour, pot_ml(got), SWIRLS)


def test_embeds_are_laid_in_where_the_swirl_became_another() -> None:
    pour = plan(EMBEDDED)
    got = worked(pour)
    early = done_until(begun(pour, got), pour, got, "drop swirl/pour into mould/base")
    backup = switched(early, pour, got, "in-the-pot swirl")
    assert [s.words for s in backup.ahead] == [
        "Pour rope into the base pot, mould 1",
        "One stir through the pot, mould 1",
        "Pour base into mould 1",
        "Lay in moon, mould 1",
        "Pour gull into mould 2",
    ]
    ended = done_until(backup, pour, got, "")
    assert not ended.ahead
    assert set(ended.in_mould) == {"base", "rope", "gull"}


def test_a_mould_that_is_done_is_not_worked_again() -> None:
    pour = plan(EMBEDDED)
    got = worked(pour)
    late = done_until(begun(pour, got), pour, got, "plain pour/pour into mould/gull")
    backup = switched(late, pour, got, "spoon swirl", "hanger swirl")
    assert [s.words for s in backup.ahead] == ["Pour gull into mould 2"]


def test_an_older_log_knows_no_embeds_on_a_backup() -> None:
    """It went from the last pour straight on to the tool: that still counts as done."""
    text = THREE_POTS + '[[embeds]]\nvolume = "70 mL"\n'
    pour = plan(text)
    got = worked(pour)
    early = done_until(begun(pour, got), pour, got, "drop swirl/pour into mould/base")
    backup = switched(early, pour, got, "in-the-pot swirl", "hanger swirl")
    at_embed = done_until(backup, pour, got, "set in embeds")
    assert [s.id for s in at_embed.ahead] == ["set in embeds", "hanger swirl/draw the hanger"]
    drawn = Event(
        datetime(2026, 3, 1, 2, tzinfo=UTC), 4000.0, Kind.STAGE_DONE, None,
        {"stage": "hanger swirl/draw the hanger"},
    )  # fmt: skip
    assert not after(at_embed, drawn, pour, pot_ml(got), SWIRLS).ahead
    assert parse_text(text, "a plan")["embeds"] == [{"volume": "70 mL"}]


def test_large_letters_say_which_mould() -> None:
    pour = plan(EMBEDDED)
    listed = [s for s in stages(pour, pot_ml(worked(pour)), SWIRLS) if s.step]
    large = [saying(s).large[0] for s in listed]
    assert large == [
        "POUR BASE, MOULD 1", "DROP ROPE, MOULD 1", "EMBEDS, MOULD 1", "HANGER, MOULD 1",
        "POUR GULL, MOULD 2",
    ]  # fmt: skip
    assert act_amount(listed[-1], pour, worked(pour)).endswith("· mould 2")
