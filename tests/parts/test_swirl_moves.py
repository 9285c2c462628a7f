"""Moves and cooks at their bounds: which are open, and what exactly lies ahead after each.

What may be left out or put together while pouring is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.swirls.cooking import LEAST_COOK_S, WATER, cook_first, too_soon, water_wanted_g
from soapbench.swirls.moves import (
    LOW,
    TOGETHER,
    UNCOLOURED,
    UNSCENTED,
    UNSCENTED_AT_ONCE,
    WIRE_NOW,
    moved,
    moves_open,
    words,
)
from soapbench.swirls.stage import Need, Stage
from soapbench.words import ways as said
from soapbench.words.acts import COOK
from tests.plans import plan

DRAWN = (Trace.LIGHT, Trace.THICK)
WIRE = Stage("wire", "draw the hanger", "Pull", (), 30.0, step="hanger swirl", draws_down=True)
LYE = Stage("lye", "lye into oils", "Pour the lye in", ("gull", "rope", "buoy"), 15.0)


def colour(pot: str) -> Stage:
    return Stage(f"colour/{pot}", "colour", f"Colour {pot}", (pot,), 40.0)


def fragrance(pot: str) -> Stage:
    return Stage(f"f/{pot}", "stir in fragrance", "Stir", (pot,), 10.0, fragrance_into=(pot,))


def drop(pot: str) -> Stage:
    onto = Need(("base",), Trace.EMULSION, Trace.EMULSION, Trace.LIGHT, DRAWN)
    return Stage(
        f"drop/{pot}", "drop an accent", f"Drop in {pot}", (pot,), 20.0, needs=(onto,),
        puts="mould", step="drop swirl", manner="drop",
    )  # fmt: skip


LAYER = Stage("layer", "pour a layer", "Pour", ("gull",), 40.0, puts="mould", manner="layer")


# ---------------------------------------------------------------- fragrance


@pytest.mark.parametrize(
    ("ahead", "scented", "offered"),
    [
        ((colour("gull"), fragrance("rope")), True, True),
        ((colour("gull"), fragrance("rope")), False, False),
        ((fragrance("gull"), fragrance("rope")), False, True),
        ((fragrance("gull"), colour("rope")), True, False),
        ((fragrance("gull"),), False, False),
        ((colour("gull"), colour("rope")), True, False),
        ((), True, False),
    ],
    ids=[
        "some has it and some has not",
        "none has it: that would be another soap",
        "one gets it just now",
        "what is in hand stays",
        "the last of it is in hand",
        "none is to come",
        "all is done",
    ],
)
def test_the_rest_can_be_left_without_fragrance(
    ahead: tuple[Stage, ...], scented: bool, offered: bool
) -> None:
    assert (UNSCENTED in moves_open(ahead, scented, dropped=False)) is offered


def test_without_fragrance_all_else_stays_and_in_its_order() -> None:
    ahead = (colour("gull"), fragrance("gull"), colour("rope"), fragrance("rope"), LAYER)
    without = (colour("gull"), colour("rope"), LAYER)
    assert moved(ahead, UNSCENTED) == without
    assert moved(ahead[1:], UNSCENTED) == ahead[1:2] + without[1:], "in hand: in its pot already"
    assert moved(ahead[1:], UNSCENTED_AT_ONCE) == without[1:]
    assert moved(without, UNSCENTED) is None


# ---------------------------------------------------------------- colour


def test_the_next_colour_is_the_one_offered_to_be_left_out_not_the_one_in_hand() -> None:
    def offered(*ahead: Stage) -> list[str]:
        open_ = moves_open(ahead, scented=False, dropped=False)
        return [move for move in open_ if move.startswith(UNCOLOURED)]

    assert offered(LYE, colour("gull"), colour("rope")) == ["uncoloured/gull"]
    assert offered(colour("gull"), colour("rope")) == ["uncoloured/rope"]
    assert offered(colour("gull")) == []
    assert offered(LYE, fragrance("gull"), drop("gull")) == []


# ---------------------------------------------------------------- two in one cup


def pairs(*ahead: Stage) -> list[str]:
    open_ = moves_open(ahead, scented=False, dropped=False)
    return [move for move in open_ if move.startswith(TOGETHER)]


def test_of_those_to_be_coloured_and_dropped_the_last_two_go_together() -> None:
    drops = (drop("gull"), drop("rope"), drop("buoy"))
    three = (colour("gull"), colour("rope"), colour("buoy"))
    assert pairs(LYE, *three, *drops) == ["together/rope/buoy"]
    assert pairs(*three, *drops) == ["together/rope/buoy"]
    assert pairs(*three[1:], *drops) == [], "one is being coloured already"
    assert pairs(LYE, *three[:2], *drops) == ["together/gull/rope"]
    assert pairs(LYE, three[0], *drops) == []
    assert pairs(LYE, *three, *drops[:2]) == ["together/gull/rope"], "the third is not dropped"
    assert pairs(LYE, *three, drops[0]) == []
    both = replace(drops[1], pots=("rope", "buoy"))
    assert pairs(LYE, *three, drops[0], both) == [], "two that are dropped as one already"


def test_only_two_pots_go_into_one_cup_and_the_second_has_to_be_dropped() -> None:
    ahead = (LYE, colour("gull"), colour("rope"), drop("gull"), drop("rope"))
    assert moved(ahead, "together/gull/rope") is not None
    for pots in ("gull", "gull/rope/buoy", "gull/buoy"):
        assert moved(ahead, f"together/{pots}") is None
    layered = (LYE, colour("gull"), colour("rope"), drop("gull"), replace(LAYER, pots=("rope",)))
    assert moved(layered, "together/gull/rope") is None


def test_the_first_pots_handwork_grows_by_a_tenth_of_the_seconds_and_its_drop_by_three() -> None:
    """Colours of 40 s and 60 s make 46 s, drops of 20 s and 30 s make 29 s (ours, judged)."""
    ahead = (
        LYE, colour("gull"), replace(colour("rope"), median_s=60.0), fragrance("gull"),
        drop("gull"), replace(drop("rope"), median_s=30.0),
    )  # fmt: skip
    after = moved(ahead, "together/gull/rope")
    assert after is not None
    assert [stage.median_s for stage in after] == pytest.approx([15.0, 46.0, 10.0, 29.0])
    assert [stage.fragrance_into for stage in after] == [(), (), ("gull", "rope"), ()]
    assert after[0] == LYE, "what is done with all pots stays"
    assert after[3].needs == ahead[4].needs, "what it falls onto is as it was"


# ---------------------------------------------------------------- low and close, hanger


def test_low_and_close_is_offered_where_something_still_falls_onto_a_base() -> None:
    assert LOW in moves_open((drop("gull"),), scented=False, dropped=False)
    assert LOW not in moves_open((LAYER, WIRE), scented=False, dropped=False)


@pytest.mark.parametrize(
    ("in_part", "lower"),
    [
        (None, Trace.MEDIUM),
        (Trace.LIGHT, Trace.MEDIUM),
        (Trace.MEDIUM, Trace.MEDIUM),
        (Trace.THICK, Trace.THICK),
    ],
)
def test_low_and_close_comes_out_in_part_up_to_medium_trace_or_as_late_as_before(
    in_part: Trace | None, lower: Trace
) -> None:
    own = Need(("gull",), Trace.EMULSION, Trace.MEDIUM)
    onto = Need(("base",), Trace.EMULSION, Trace.LIGHT, in_part, DRAWN)
    after = moved((replace(drop("gull"), needs=(own, onto)), LAYER), LOW)
    assert after is not None
    assert after[0].needs == (own, replace(onto, in_part=lower))
    assert after[0].words == "Drop in gull, low and close"
    assert after[1] == LAYER


def test_the_hanger_at_once_is_offered_while_drops_stand_between_it_and_what_is_in_hand() -> None:
    def offered(*ahead: Stage, dropped: bool = True) -> bool:
        return WIRE_NOW in moves_open(ahead, scented=False, dropped=dropped)

    assert offered(colour("gull"), drop("gull"), WIRE)
    assert offered(drop("gull"), drop("rope"), WIRE)
    assert not offered(drop("gull"), drop("rope"), WIRE, dropped=False)
    assert not offered(drop("gull"), WIRE), "it is next anyhow"
    assert not offered(drop("gull"), WIRE, drop("rope"))
    assert not offered(colour("gull"), drop("gull")), "there is no hanger"
    assert not offered(colour("gull"), LAYER, WIRE)


def test_the_hanger_at_once_keeps_the_order_of_all_the_rest() -> None:
    second = replace(WIRE, id="second wire")
    ahead = (drop("gull"), drop("rope"), WIRE, LAYER, second)
    assert moved(ahead, WIRE_NOW) == (ahead[0], WIRE, second, ahead[1], LAYER)
    assert moved((WIRE, drop("rope")), WIRE_NOW) is None


def test_each_move_is_offered_in_words_of_its_own() -> None:
    assert words(UNSCENTED) == words(UNSCENTED_AT_ONCE) == said.REST_UNSCENTED
    assert words("uncoloured/rust") == said.no_colour(["rust"])
    assert words("together/rust/night") == said.in_one_cup(["rust", "night"])
    assert (words(LOW), words(WIRE_NOW)) == (said.LOW_AND_CLOSE, said.HANGER_NOW)
    assert words("of another day/rust") == "of another day/rust"


# ---------------------------------------------------------------- cooks

ML = {"base": 600.0, "rope": 200.0, "gull": 200.0}


def test_a_cook_of_a_quarter_of_an_hour_is_long_enough_not_to_be_asked_about() -> None:
    """Fifteen minutes: common practice, no source."""
    cook = Stage(COOK, COOK, "Cook")
    assert LEAST_COOK_S == 900.0
    assert too_soon(cook, 899.0)
    assert too_soon(cook, 900.0) == ""
    assert too_soon(Stage("colour", "colour", "Colour"), 899.0) == ""


def test_a_cook_wants_lye_of_25_to_28_percent() -> None:
    """28 g of alkali in lye of 28 % is with 72 g of water (TRADE.md, hot process)."""
    assert WATER == (0.25, 0.28)
    assert water_wanted_g(28.0, 50.0) == pytest.approx(22.0)
    assert water_wanted_g(28.0, 72.0) == pytest.approx(0.0)
    assert water_wanted_g(28.0, 73.0) == 0.0


def test_nothing_is_scraped_back_where_nothing_is_in_the_mould() -> None:
    table, pour = tables.swirls(), plan()
    before = [colour("gull"), fragrance("gull")]
    assert [s.action for s in cook_first(before, (), pour, ML, table)] == [
        COOK, "colour", "stir in fragrance",
    ]  # fmt: skip
    scrape, cook, *rest = cook_first(before, ("base", "rope"), pour, ML, table)
    assert (scrape.id, scrape.action, scrape.puts) == ("scrape back", "scrape back", "pot")
    assert (scrape.pots, scrape.litres) == (("base", "rope"), pytest.approx(0.8))
    assert (cook.action, cook.pots) == (COOK, ("base", "rope", "gull"))
    assert rest == before
