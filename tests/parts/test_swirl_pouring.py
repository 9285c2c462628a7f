"""The pour as stages, at its bounds: which pots each move takes, what it needs, what it is called.

Moves are made up here, so that each does one thing.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.plan import Embed, Plan
from soapbench.swirls.pouring import (
    EMBED_S,
    SET_IN,
    Lot,
    embeds_in,
    left_unpoured,
    lots,
    pouring_stages,
)
from soapbench.swirls.stage import Need, Stage
from soapbench.swirls.table import Handwork, Move, SwirlKind, SwirlTable, Window
from tests.plans import EVERYTHING, plan

ML = {"base": 600.0, "rope": 200.0, "gull": 100.0, "foam": 200.0, "sand": 200.0}
TABLE = tables.swirls()
WORK = Handwork(30.0, 0.4)
ROLES = {"tool": "tool", "top": "top"}


def kind(name: str, *moves: Move, least: int = 1, cooked: bool = False) -> SwirlKind:
    return SwirlKind(
        name, "", ROLES.get(name, "pour"), ("pots",), moves, least, cooked=cooked  # type: ignore[arg-type]
    )  # fmt: skip


def table_of(*kinds: SwirlKind) -> SwirlTable:
    return replace(TABLE, kinds={**TABLE.kinds, **{one.name: one for one in kinds}})


def poured(
    *kinds: SwirlKind,
    of: Plan | None = None,
    in_mould: tuple[str, ...] = (),
    in_base: tuple[str, ...] = (),
    table: SwirlTable | None = None,
) -> list[Stage]:
    table = table or table_of(*kinds)
    return pouring_stages(kinds, of or plan(), ML, table, in_mould, in_base)


def pots_of(stages: list[Stage]) -> list[tuple[str, ...]]:
    return [stage.pots for stage in stages]


# ---------------------------------------------------------------- which pots a move takes


@pytest.mark.parametrize(
    ("pots", "fresh", "base_is_in", "all_but_gull"),
    [
        ("each pot", [("base",), ("rope",), ("gull",)], [("rope",), ("gull",)], [("gull",)]),
        ("each accent", [("rope",), ("gull",)], [("rope",), ("gull",)], [("gull",)]),
        ("base", [("base",)], [], []),
        ("all", [("base", "rope", "gull")], [("rope", "gull")], [("gull",)]),
        ("mould", [()], [("base",)], [("base", "rope")]),
    ],
)
def test_what_is_in_the_mould_takes_no_part_but_in_what_is_done_to_the_mould(
    pots: str,
    fresh: list[tuple[str, ...]],
    base_is_in: list[tuple[str, ...]],
    all_but_gull: list[tuple[str, ...]],
) -> None:
    one = kind("one", Move("work", pots, WORK))  # type: ignore[arg-type]
    assert pots_of(poured(one)) == fresh
    assert pots_of(poured(one, in_mould=("base",))) == base_is_in
    assert pots_of(poured(one, in_mould=("base", "rope"))) == all_but_gull


def test_nothing_is_left_to_pour_once_all_is_in() -> None:
    for pots in ("each pot", "each accent", "base", "all"):
        one = kind("one", Move("work", pots, WORK, puts="mould"))  # type: ignore[arg-type]
        assert poured(one, in_mould=("base", "rope", "gull")) == []
        assert poured(one, one) == poured(one), "a second move finds nothing"


def test_what_was_turned_into_the_base_goes_with_it_and_makes_more_of_it() -> None:
    one = kind("one", Move("work", "each pot", replace(WORK, volume_power=1.0), puts="mould"))
    base, gull = poured(one, in_base=("rope",))
    assert (base.pots, gull.pots) == (("base",), ("gull",))
    assert (base.litres, gull.litres) == pytest.approx((0.8, 0.1))
    assert base.median_s == pytest.approx(30.0 * 0.8)
    turned = kind("turned", Move("turn in", "each accent", WORK, puts="base"), *one.moves)
    assert [round(s.litres, 3) for s in poured(turned)] == [0.2, 0.1, 0.9]
    other = replace(plan(), pots=plan().pots[:2])
    assert pots_of(poured(one, of=other, in_base=("gull",))) == [("base",), ("rope",)]


# ---------------------------------------------------------------- a stage


def test_a_stage_says_its_pot_where_it_is_one_of_several() -> None:
    each, whole, mould = (
        kind("one", Move("fold", pots, WORK)) for pots in ("each pot", "all", "mould")
    )  # fmt: skip
    alone, two = (replace(plan(), pots=plan().pots[:n]) for n in (1, 2))
    by_pot = [("one/fold/base", "Fold: base"), ("one/fold/rope", "Fold: rope")]
    assert [(s.id, s.words) for s in poured(each)][:2] == by_pot
    assert [(s.id, s.words) for s in poured(each, of=two)] == by_pot
    assert [(s.id, s.words) for s in poured(each, of=alone)] == [("one/fold/base", "Fold")]
    assert [(s.id, s.words) for s in poured(whole)] == [("one/fold", "Fold")]
    assert [(s.id, s.words) for s in poured(mould, in_mould=("base",))] == [("one/fold", "Fold")]


def test_handwork_done_pot_by_pot_takes_each_pots_time() -> None:
    """30 s for a litre, growing with its square root: 900 mL shared by three is 3 x 30 x √.3."""
    by_pot = Handwork(30.0, 0.4, volume_power=0.5, per_pot=True)
    (whole,) = poured(kind("one", Move("fold", "all", by_pot)))
    assert whole.median_s == pytest.approx(3 * 30.0 * 0.3**0.5)
    assert (whole.spread, whole.litres) == (0.4, pytest.approx(0.9))
    (none,) = poured(kind("one", Move("comb", "mould", by_pot)))
    assert none.median_s == pytest.approx(30.0 * 0.02**0.5), "an empty mould is one, not none"


def test_needs_of_hand_base_and_mould_stand_side_by_side() -> None:
    hand = Window(Trace.EMULSION, Trace.MEDIUM, Trace.THICK)
    base = Window(Trace.LIGHT, Trace.THICK, Trace.SET_UP)
    drawn = Window(Trace.EMULSION, Trace.LIGHT, Trace.THICK)
    mould = Window(Trace.LIGHT, Trace.LIGHT, Trace.MEDIUM)
    move = Move("lay", "each accent", WORK, hand, base, mould, mould_drawn=drawn, puts="mould")
    rope, gull = poured(kind("one", move), in_mould=("base",))
    assert rope.needs == (
        Need(("rope",), Trace.EMULSION, Trace.MEDIUM, Trace.THICK),
        Need(("base",), Trace.LIGHT, Trace.THICK, Trace.SET_UP),
        Need(("base",), Trace.LIGHT, Trace.SET_UP, Trace.SET_UP),
        Need(("base",), Trace.EMULSION, Trace.LIGHT, Trace.MEDIUM, (Trace.LIGHT, Trace.THICK)),
    )
    assert gull.needs[3].pots == ("base", "rope"), "all that lies there may be spoilt"
    (comb,) = poured(
        kind("one", replace(move, pots="mould", base=None, puts=None)), in_mould=("base",)
    )
    assert [need.pots for need in comb.needs] == [("base",), ("base",)]


def test_what_is_poured_all_at_once_is_in_the_mould_at_its_end() -> None:
    window = Window(Trace.EMULSION, Trace.LIGHT, Trace.MEDIUM)
    (whole,) = poured(kind("one", Move("pour", "all", WORK, mould=window, puts="mould")))
    assert whole.onto == ()
    assert whole.needs[1] == Need(whole.pots, Trace.EMULSION, Trace.LIGHT, Trace.MEDIUM)
    (rest,) = poured(
        kind("one", Move("pour", "all", WORK, mould=window, puts="mould")), in_mould=("base",)
    )
    assert [need.pots for need in rest.needs] == [("rope", "gull"), ("base",), ("base",)]
    each = poured(kind("one", Move("pour", "each pot", WORK, mould=window, puts="mould")))
    assert [len(stage.needs) for stage in each] == [1, 3, 3], "the first finds nothing there"


def test_a_stage_lies_on_the_base_or_on_the_last_or_on_all_there_is() -> None:
    def onto(move: Move, *there: str) -> tuple[str, ...]:
        return poured(kind("one", move), in_mould=there)[0].onto

    move = Move("pour", "each pot", WORK)
    assert onto(move) == ()
    assert onto(move, "base", "rope") == ("base",)
    assert onto(move, "rope", "gull") == ("rope", "gull")
    last = replace(move, mould_by="last")
    assert onto(last) == ()
    assert onto(last, "base", "rope") == ("rope",)


# ---------------------------------------------------------------- several moulds, embeds

TWO_MOULDS = plan(EVERYTHING)
"""The base and the foam go into mould 1, with a moon laid in; the sand into mould 2."""


def test_moulds_with_pots_of_their_own_are_poured_one_after_the_other() -> None:
    assert lots(plan()) == (Lot(("base", "rope", "gull"), "base", (0,)),)
    assert lots(TWO_MOULDS) == (
        Lot(("base", "foam"), "base", (0,), "mould 1"), Lot(("sand",), "sand", (1,), "mould 2"),
    )  # fmt: skip
    drop, top = TABLE.kinds["drop swirl"], TABLE.kinds["textured top"]
    ids = [stage.id for stage in poured(drop, top, of=TWO_MOULDS)]
    assert ids == [
        "drop swirl/pour into mould/base",
        "drop swirl/drop an accent/foam",
        "set in embeds/mould 1",
        "plain pour/pour into mould/sand",
        "textured top/texture the top/mould 1",
        "textured top/texture the top/mould 2",
    ]
    assert [s.mould for s in poured(drop, of=TWO_MOULDS)] == ["mould 1"] * 3 + ["mould 2"]
    first_is_full = poured(drop, of=TWO_MOULDS, in_mould=("base", "foam"))
    assert [s.action for s in first_is_full] == [SET_IN, "pour into mould"]


def test_pots_too_few_for_a_swirl_are_poured_plainly_and_no_tool_is_drawn_through_one() -> None:
    pour, tool = Move("lay", "each pot", WORK, puts="mould"), Move("comb", "mould", WORK)
    two, one = kind("two", pour, least=2), kind("single", pour, least=1)

    def steps(*kinds: SwirlKind, table: SwirlTable | None = None) -> list[tuple[str, str]]:
        row = poured(*kinds, of=TWO_MOULDS, table=table or table_of(*kinds))
        return [(s.step, s.mould) for s in row if s.action != SET_IN]

    first, second = "mould 1", "mould 2"
    assert steps(two, kind("tool", tool), kind("top", tool)) == [
        ("two", first), ("two", first), ("tool", first), ("plain pour", second),
        ("top", first), ("top", second),
    ]  # fmt: skip
    # One colour takes no tool and no swirl, whatever a swirl says of itself.
    assert steps(one, kind("tool", tool))[-1] == ("plain pour", second)
    assert steps(kind("three", pour, least=3))[:2] == [("plain pour", first)] * 2
    assert steps(kind("cooked", pour, least=2, cooked=True)) == [
        ("cooked", first), ("cooked", first), ("cooked", second),
    ]  # fmt: skip
    no_plain = SwirlTable({"two": two, "top": kind("top", tool)}, {})
    assert steps(two, table=no_plain)[-1] == ("two", second)
    assert steps(kind("top", tool)) == [("top", first), ("top", second)]
    assert steps(kind("tool", tool)) == [("tool", first)]


def embed(name: str = "moon", mould: str | None = None) -> Embed:
    return replace(TWO_MOULDS.embeds[0], name=name, mould=mould)  # type: ignore[arg-type]


def test_embeds_lie_in_the_mould_they_name_or_in_every_lot_that_is_asked() -> None:
    some = (embed("one", "1"), embed("two", "2"), embed("any"))
    of = replace(TWO_MOULDS, embeds=some)
    first, second = lots(of)
    assert [e.name for e in embeds_in(first, of)] == ["one", "any"]
    assert [e.name for e in embeds_in(second, of)] == ["two", "any"]
    assert [e.name for e in embeds_in(replace(first, moulds=(0, 1)), of)] == ["one", "two", "any"]


@pytest.mark.parametrize(
    ("embeds", "words"),
    [
        ((embed(),), "Lay in moon"),
        ((embed(""),), "Lay in the embed"),
        ((embed(""), embed("sun")), "Lay in embed 1 and sun"),
        ((embed("moon"), embed("")), "Lay in moon and embed 2"),
        ((embed("x" * 24),), f"Lay in {'x' * 24}"),
        ((embed("x" * 25),), f"Lay in {'x' * 23}…"),
        ((embed("a"), embed("b"), embed("c")), "Lay in the 3 embeds"),
    ],
)
def test_each_embed_is_laid_in_by_name_and_takes_some_time(
    embeds: tuple[Embed, ...], words: str
) -> None:
    """20 s each, give or take a half (judged)."""
    of = replace(plan(), embeds=embeds)
    pour, tool = Move("pour", "each pot", WORK, puts="mould"), Move("comb", "mould", WORK)
    row = poured(kind("one", pour), kind("tool", tool), of=of)
    assert [stage.action for stage in row] == ["pour"] * 3 + [SET_IN, "comb"]
    laying = row[3]
    assert (laying.id, laying.words, laying.step) == (SET_IN, words, "one")
    assert (laying.median_s, laying.spread) == (20.0 * len(embeds), 0.4)
    assert EMBED_S == 20.0
    assert (laying.onto, laying.mould, laying.puts) == (("base", "rope", "gull"), "", None)


def test_embeds_come_first_where_nothing_is_left_to_pour() -> None:
    of = replace(plan(), embeds=(embed(),))
    tool = kind("tool", Move("comb", "mould", WORK), Move("rake", "mould", WORK))
    row = poured(tool, of=of, in_mould=("base", "rope", "gull"))
    assert [(s.action, s.step) for s in row] == [
        (SET_IN, "drop swirl"), ("comb", "tool"), ("rake", "tool"),
    ]  # fmt: skip
    alone = poured(kind("one", Move("pour", "all", WORK, puts="mould")), tool, of=of)
    assert [(s.action, s.step) for s in alone] == [
        ("pour", "one"), (SET_IN, "one"), ("comb", "tool"), ("rake", "tool"),
    ]  # fmt: skip
    assert [s.action for s in poured(tool)] == ["comb", "rake"], "without embeds none is laid in"


def test_what_went_into_a_base_that_is_never_poured_is_left_too() -> None:
    into_base = Stage("t", "turn in", "Turn in", ("rope",), puts="base")
    base = Stage("b", "pour", "Pour", ("base",), puts="mould")
    assert left_unpoured([into_base, base], plan()) == ("gull",)
    assert left_unpoured([into_base], plan()) == ("base", "rope", "gull")
    # Of two moulds, only what goes where that base goes.
    foam = replace(into_base, pots=("foam",))
    sand = replace(base, pots=("sand",))
    assert left_unpoured([foam, sand], TWO_MOULDS) == ("base", "foam")
    assert left_unpoured([foam, base, sand], TWO_MOULDS) == ()
