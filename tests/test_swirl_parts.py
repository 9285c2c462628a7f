"""Swirls in parts: handwork, table, moves and needs, each with values worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.swirls.cooking import cook_first, too_soon
from soapbench.swirls.moves import LOW, WIRE_NOW, moved, moves_open
from soapbench.swirls.pouring import left_unpoured, pouring_stages
from soapbench.swirls.stage import Need, Stage
from soapbench.swirls.stages import luminance, stages
from soapbench.swirls.table import Handwork, Move, SwirlKind, SwirlTable, Window, swirl_table
from soapbench.words.acts import COOK
from tests.plans import THREE_POTS, plan

ML = {"base": 600.0, "rope": 200.0, "gull": 200.0}
TABLE = tables.swirls()
MARKS = {"source": "a test", "verified": "no"}

# ---------------------------------------------------------------- the table


def test_handwork_grows_with_the_litres_in_hand_and_with_the_pots_that_share_it() -> None:
    work = Handwork(30.0, 0.3, volume_power=0.5)
    assert work.seconds(250.0) == pytest.approx(15.0)
    assert work.seconds(1000.0, 3) == pytest.approx(30.0)
    each = replace(work, per_pot=True)
    assert each.seconds(1000.0, 4) == pytest.approx(4 * 15.0)
    assert work.seconds(0.0) == work.seconds(20.0) == pytest.approx(30.0 * 0.02**0.5)


def read(**swirl: object) -> tuple[SwirlTable, list[str]]:
    move = {"do": "ladle", "pots": "each pot", "median_s": 30, **swirl.pop("move", {})}  # type: ignore[dict-item]
    written = {"ladles": {"says": "Ladle by ladle.", "moves": [move], **swirl}}
    table, faults = swirl_table({**MARKS, "swirl": written})
    return table, [fault.key for fault in faults]


def test_what_a_swirl_leaves_out_is_what_most_of_them_are() -> None:
    table, faults = read()
    assert not faults
    kind = table.kinds["ladles"]
    assert (kind.role, kind.starts_from, kind.from_mould) == ("pour", ("pots",), False)
    assert len(kind.moves) == 1
    (move,) = kind.moves
    assert (move.hand, move.base, move.mould, move.puts) == (Window(), None, None, None)
    alone = replace(plan(), pots=plan().pots[:1])
    (stage,) = pouring_stages([kind], alone, ML, table)
    assert stage.median_s == 30 * (600 / 1000) ** 0
    assert kind.least_pots == 1, "one pot is enough where nothing is said"


@pytest.mark.parametrize(
    ("window", "read_as"),
    [
        (["light trace"], None),
        (["light trace", "thin"], None),
        (["medium trace", "light trace"], None),
        (["light trace", "thick trace", "medium trace"], None),
        (["light trace", "light trace", "light trace", "light trace"], None),
        (["light trace", "medium trace"], Window(Trace.LIGHT, Trace.MEDIUM, Trace.MEDIUM)),
        (["light trace", "light trace"], Window(Trace.LIGHT, Trace.LIGHT, Trace.LIGHT)),
        (
            ["light trace", "medium trace", "set up"],
            Window(Trace.LIGHT, Trace.MEDIUM, Trace.SET_UP),
        ),
    ],
)
def test_a_window_is_two_states_in_order_and_perhaps_a_third(
    window: list[str], read_as: Window | None
) -> None:
    table, faults = read(move={"hand": window})
    if read_as is None:
        assert faults == ["swirl.ladles.moves[1].hand"]
    else:
        assert table.kinds["ladles"].moves[0].hand == read_as


@pytest.mark.parametrize(
    ("swirl", "key"),
    [
        ({"starts_from": ["cup"]}, "swirl.ladles.starts_from"),
        ({"moves": []}, "swirl.ladles.moves"),
        ({"moves": ["ladle"]}, "swirl.ladles.moves[1]"),
        ({"least_pots": 3, "most_pots": 2}, "swirl.ladles.most_pots"),
        ({"move": {"median_s": 0.5}}, "swirl.ladles.moves[1].median_s"),
        ({"move": {"do": ""}}, "swirl.ladles.moves[1].do"),
    ],
)
def test_what_cannot_be_read_is_named_and_left_out(swirl: dict[str, object], key: str) -> None:
    table, faults = read(**swirl)
    assert key in faults
    assert not table.kinds


def test_a_swirl_from_the_mould_can_go_on_from_there() -> None:
    table, _ = read(starts_from=["pots", "mould"])
    assert table.kinds["ladles"].from_mould


# ---------------------------------------------------------------- moves


DRAWN = (Trace.LIGHT, Trace.THICK)


def drop(*pots: str, median_s: float = 20.0) -> Stage:
    return Stage(
        f"drop/{pots[0]}", "drop an accent", f"Drop in {pots[0]}", pots, median_s,
        needs=(
            Need(pots, Trace.EMULSION, Trace.MEDIUM),
            Need(("base",), Trace.EMULSION, Trace.EMULSION, Trace.LIGHT, DRAWN),
        ),
        puts="mould", step="drop swirl", manner="drop",
    )  # fmt: skip


def colour(pot: str, median_s: float) -> Stage:
    return Stage(f"colour/{pot}", "colour", f"Colour {pot}", (pot,), median_s)


def scent(pot: str) -> Stage:
    words = f"Stir fragrance into {pot}"
    return Stage(f"f/{pot}", "stir in fragrance", words, (pot,), 10.0, fragrance_into=(pot,))


OFF = Stage("off/buoy", "pour off", "Pour off buoy", ("buoy",), 15.0)
WIRE = Stage("wire", "draw the hanger", "Pull", (), 30.0, step="hanger swirl", draws_down=True)
AHEAD = (
    colour("gull", 30.0), OFF, colour("rope", 40.0), colour("buoy", 50.0),
    scent("rope"), scent("buoy"), drop("gull"), drop("rope"), drop("buoy", median_s=10.0), WIRE,
)  # fmt: skip


def test_two_accents_in_one_cup_take_a_little_longer_than_one() -> None:
    after = moved(AHEAD, "together/rope/buoy")
    assert after is not None
    by_act = {(stage.action, stage.pots): stage for stage in after}
    both = ("rope", "buoy")
    assert list(by_act) == [
        ("colour", ("gull",)), ("pour off", ("buoy",)), ("colour", both),
        ("stir in fragrance", both), ("drop an accent", ("gull",)), ("drop an accent", both),
        ("draw the hanger", ()),
    ]  # fmt: skip
    # A tenth of the other's handwork on top, of its drop three tenths.
    assert by_act["colour", both].median_s == pytest.approx(40.0 + 5.0)
    assert by_act["drop an accent", both].median_s == pytest.approx(20.0 + 3.0)
    assert by_act["stir in fragrance", both].fragrance_into == both
    assert by_act["colour", both].fragrance_into == ()
    assert [need.pots for need in by_act["drop an accent", both].needs] == [both, ("base",)]
    assert by_act["colour", both].words == "Colour rope and buoy"
    assert by_act["colour", ("gull",)] == AHEAD[0]


@pytest.mark.parametrize("move", ["together/rope", "together/rope/base", "together/rope/nobody"])
def test_nothing_is_put_together_that_is_not_dropped(move: str) -> None:
    assert moved(AHEAD, move) is None


def test_the_last_two_to_be_coloured_and_dropped_are_put_together() -> None:
    assert "together/rope/buoy" in moves_open(AHEAD, scented=True, dropped=False)
    assert moved(AHEAD[2:], "together/rope/buoy") is not None
    # In hand it is being coloured already; what is not dropped, or with another, goes elsewhere.
    in_hand = moves_open(AHEAD[2:], scented=True, dropped=False)
    assert not any(move.startswith("together") for move in in_hand)
    layered = tuple(replace(s, manner="layer") if s.pots == ("buoy",) else s for s in AHEAD)
    assert "together/rope/buoy" not in moves_open(layered, scented=True, dropped=False)
    shared = tuple(replace(s, pots=("buoy", "gull")) if s.id == "drop/buoy" else s for s in AHEAD)
    assert "together/gull/rope" not in moves_open(shared, scented=True, dropped=False)


def test_only_the_colour_of_the_pot_meant_is_left_out() -> None:
    after = moved(AHEAD, "uncoloured/rope")
    assert after is not None
    assert [s for s in AHEAD if s not in after] == [AHEAD[2]]
    assert moved(AHEAD, "uncoloured/base") is None


def test_the_hanger_comes_after_what_is_in_hand_and_nothing_is_lost() -> None:
    ahead = AHEAD[-4:]
    after = moved(ahead, WIRE_NOW)
    assert after == (ahead[0], WIRE, *ahead[1:3])
    assert moved(ahead[2:], WIRE_NOW) is None, "it is next already"


def test_low_and_close_is_told_of_drops_alone() -> None:
    after = moved(AHEAD, LOW)
    assert after is not None
    changed = [new for old, new in zip(AHEAD, after, strict=True) if new != old]
    assert {stage.action for stage in changed} == {"drop an accent"}
    own, onto = changed[0].needs
    assert own == AHEAD[6].needs[0]
    assert onto.limits() == (Trace.EMULSION, Trace.MEDIUM)
    assert onto.limits(drawn=True) == (Trace.LIGHT, Trace.THICK)


# ---------------------------------------------------------------- the pour as stages


def test_where_each_stage_of_a_pour_goes_and_what_it_lies_on() -> None:
    poured = pouring_stages([tables.swirls().kinds[n] for n in ("drop swirl", "hanger swirl")],
                          plan(), ML, TABLE)  # fmt: skip
    base, rope, gull, wire = poured
    assert [stage.onto for stage in poured] == [(), ("base",), ("base",), wire.onto]
    assert (base.id, wire.id) == (
        "drop swirl/pour into mould/base", "hanger swirl/draw the hanger"
    )  # fmt: skip
    assert (rope.pots, gull.litres) == (("rope",), 0.2)
    assert set(wire.pots) == {"base", "rope", "gull"}
    assert all(need.pots for stage in poured for need in stage.needs)
    layers = pouring_stages([tables.swirls().kinds["layers"]], plan(), ML, TABLE)
    assert [stage.onto for stage in layers] == [
        (), ("base",), ("rope",),
    ], "a layer lies on the one before"  # fmt: skip


def test_what_a_stage_needs_of_what_is_in_the_mould() -> None:
    window = Window(Trace.LIGHT, Trace.MEDIUM, Trace.THICK)
    move = Move("lay", "each pot", Handwork(30, 0.3), mould=window, mould_by="base", puts="mould")
    kind = SwirlKind("lay", "", "pour", ("pots",), (move,))
    table = replace(TABLE, kinds={"lay": kind})
    first, second, third = pouring_stages([kind], plan(), ML, table)
    assert [need.pots for need in first.needs] == [("base",)], "nothing is in the mould yet"
    assert [(n.pots, n.earliest, n.limits()) for n in second.needs[1:]] == [
        (("base",), Trace.LIGHT, (Trace.SET_UP, Trace.SET_UP)),
        (("base",), Trace.EMULSION, (Trace.MEDIUM, Trace.THICK)),
    ]
    assert third.onto == ("base",), "the base bears it, whatever lies on that"
    last = replace(move, mould_by="last")
    third = pouring_stages([replace(kind, moves=(last,))], plan(), ML, table)[2]
    assert third.onto == ("rope",)
    # Without its base in the mould, all that is in there bears it.
    (only,) = pouring_stages([kind], plan(), ML, table, in_mould=("rope", "gull"))
    assert only.onto == ("rope", "gull")


def test_a_pour_leaves_out_what_no_stage_brings_into_the_mould() -> None:
    poured = pouring_stages([tables.swirls().kinds["in-the-pot swirl"]], plan(), ML, TABLE)
    assert left_unpoured(poured, plan()) == ()
    assert left_unpoured([s for s in poured if s.puts == "base"], plan()) == (
        "base",
        "rope",
        "gull",
    )
    assert left_unpoured([s for s in poured if s.puts != "base"], plan()) == ("rope", "gull")
    tool = Stage("t", "draw", "Draw", ("rope",))
    assert left_unpoured([tool], plan()) == ("base", "rope", "gull")


def test_fragrance_goes_in_by_its_own_stage_and_into_that_pot_alone() -> None:
    row = stages(plan(), ML, tables.swirls())
    into = {stage.id: stage.fragrance_into for stage in row if stage.fragrance_into}
    assert into == {f"stir in fragrance/{pot}": (pot,) for pot in ("rope", "gull", "base")}
    emulsify = next(stage for stage in row if stage.action == "emulsify")
    assert emulsify.pots == ("base", "rope", "gull")
    assert emulsify.litres == pytest.approx(1.0)


def test_embeds_are_set_in_once_all_is_poured_and_nothing_else_is_lost() -> None:
    embedded = THREE_POTS + '[[embeds]]\nname = "moon"\nvolume = "20 mL"\nlook = "#f0e060"\n'
    with_them, without = (
        [stage.id for stage in stages(plan(text), ML, tables.swirls())]
        for text in (embedded, THREE_POTS)
    )
    (setting,) = set(with_them) - set(without)
    assert [one for one in with_them if one != setting] == without
    at = with_them.index(setting)
    assert with_them[at - 1] == "drop swirl/drop an accent/gull"
    assert with_them[at + 1] == "hanger swirl/draw the hanger"


def test_a_cook_comes_once_the_lye_is_in_and_before_all_the_rest() -> None:
    before = [stage for stage in stages(plan(), ML, TABLE) if not stage.step]
    cooked = [stage.id for stage in cook_first(before, (), plan(), ML, TABLE)]
    assert cooked == ["lye into oils", "emulsify", "cook", *(s.id for s in before[2:])]
    scraped = [s.action for s in cook_first(before[4:], ("base", "rope"), plan(), ML, TABLE)]
    assert scraped[:2] == ["scrape back", "cook"]
    assert scraped[2:] == [stage.action for stage in before[4:]]


def test_a_cook_is_asked_about_only_where_it_is_one_and_short() -> None:
    cook, other = Stage(COOK, COOK, "Cook"), Stage("colour", "colour", "Colour")
    assert too_soon(cook, 60.0)
    assert too_soon(cook, 7200.0) == ""
    assert too_soon(other, 60.0) == ""


@pytest.mark.parametrize(
    ("look", "expected"),
    [
        ("#0a0000", 0.2126 * 0.0030353),
        ("#00ff00", 0.7152),
        ("#0000ff", 0.0722),
        ("#ff0000", 0.2126),
    ],
)
def test_luminance_of_each_channel_and_of_the_dark(look: str, expected: float) -> None:
    """WCAG 2.2, by hand: 10/255 lies below the knee, 0.0392157 / 12.92 = 0.0030353."""
    assert luminance(look) == pytest.approx(expected, rel=1e-4)
