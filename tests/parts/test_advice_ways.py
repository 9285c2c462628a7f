"""Ways to finish at their bounds: which there are and which can be begun, condition by condition.

What may follow on what is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from ways_kit import ALL_IN, DROP, ML, ONTO, TABLE, TOP, WIRE, WISH, over, stage, state, wishing

from soapbench.advice.ways import (
    SwirlChoice,
    ahead_by,
    becomes,
    can_begin,
    choice,
    lighter,
    moves_from,
    unsunk,
    ways_before,
    ways_from,
)
from soapbench.batter import Tap, Trace
from soapbench.outlook.finishing import Finish
from soapbench.outlook.worth import Become, worth
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.settings import Risk
from soapbench.swirls.stage import Stage
from soapbench.words.acts import COOK
from soapbench.words.ways import HANGER_NOW, LEAVE_IT, LOW_AND_CLOSE

# ---------------------------------------------------------------- a way, and its name


def test_a_way_is_called_by_its_steps_or_by_what_is_left_out() -> None:
    def name(*steps: str, moves: tuple[str, ...] = ()) -> str:
        return SwirlChoice(steps, 0.5, 5.0, moves=moves).name

    assert name("drop swirl", "hanger swirl") == "drop swirl + hanger swirl"
    assert name("layers") == "layers"
    assert name() == LEAVE_IT
    assert name("layers", moves=("low and close", "hanger at once")) == (
        f"{LOW_AND_CLOSE}, {HANGER_NOW}"
    )


def test_a_choice_is_worth_what_its_ending_is_worth() -> None:
    ending = Finish(0.5, 0.2, 9.0)
    chosen = choice(["layers"], ending, Become.ANOTHER, Risk.USUAL, ("x",))
    assert chosen.key == (("layers",), ("x",))
    assert (chosen.chance, chosen.chance_in_part, chosen.minutes) == (0.5, 0.2, 9.0)
    assert chosen.worth == worth(Become.ANOTHER, 0.5, 0.2, Risk.USUAL)
    assert chosen.become is Become.ANOTHER


# ---------------------------------------------------------------- what lies on top


@pytest.mark.parametrize(
    ("tapped", "done", "on_top"),
    [
        (Trace.LIGHT, 100.0, False),
        (Trace.MEDIUM, 100.0, True),
        (Trace.MEDIUM, 60.0, True),
        (Trace.MEDIUM, 59.9, False),
    ],
)
def test_a_drop_lies_on_top_of_what_was_seen_past_its_limit_by_then(
    tapped: Trace, done: float, on_top: bool
) -> None:
    taps = (Tap(60.0, tapped), Tap(20.0, Trace.EMULSION))
    base = PotState("base", taps=taps)
    assert unsunk(state(done=(over(DROP, done),), base=base)) is on_top
    assert unsunk(state(done=(over(TOP), over(DROP, done)), base=base)) is on_top
    assert not unsunk(state(done=(over(DROP, done, skipped=True),), base=base))
    assert not unsunk(state(done=(over(replace(DROP, manner="layer"), done),), base=base))
    plain = replace(DROP, needs=(replace(ONTO, drawn=None),))
    assert not unsunk(state(done=(over(plain, done),), base=base))


def test_a_wish_whose_drops_lie_on_top_is_only_saved_without_its_wire() -> None:
    base = PotState("base", taps=(Tap(0.0, Trace.THICK),))
    on_top, sunk = state(done=(over(DROP),), base=base), state(done=(over(DROP),))

    def becomes_of(*steps: str, of: PourState = on_top, wish: tuple[str, ...] = WISH) -> Become:
        return becomes(steps, wishing(*wish), of, TABLE)

    assert becomes_of("drop swirl") is Become.SAVED
    assert becomes_of("drop swirl", "textured top") is Become.SAVED
    assert becomes_of("drop swirl", "hanger swirl") is Become.LESS
    assert becomes_of("drop swirl", of=sunk) is Become.LESS
    no_wire = ("drop swirl", "textured top")
    assert becomes_of("drop swirl", wish=no_wire) is Become.LESS, "it wished for no wire"
    assert becomes_of("textured top") is Become.SAVED, "what is left of a pour"
    assert becomes_of("hanger swirl", of=sunk) is Become.LESS
    assert becomes_of("layers", of=sunk) is Become.ANOTHER
    assert becomes_of("plain pour", of=sunk) is Become.SAVED


# ---------------------------------------------------------------- which ways there are


def test_a_lighter_way_keeps_the_pour_and_is_never_the_same() -> None:
    assert lighter(("drop swirl", "textured top"), TABLE) == [("drop swirl",)]
    assert lighter(("drop swirl", "hanger swirl"), TABLE) == [("drop swirl",)]
    both = ("drop swirl", "textured top", "hanger swirl")
    assert lighter(both, TABLE) == [
        ("drop swirl", "hanger swirl"), ("drop swirl", "textured top"), ("drop swirl",),
    ]  # fmt: skip


def test_a_swirl_wished_for_is_weighed_whatever_its_pots_but_no_tool_is_a_pour() -> None:
    ways = ways_before(wishing(fall_back=("plain pour", "hanger swirl", "layers")), TABLE)
    assert ways[0] == WISH
    assert ways[4:6] == [("plain pour",), ("layers",)]
    assert ("hanger swirl",) not in ways
    alone = ways_before(wishing("plain pour", pots=1), TABLE)
    assert alone == [("plain pour",), ("hot process",)]
    two = ways_before(wishing(pots=2), TABLE)
    assert ("layers",) in two
    assert ("plain pour",) not in two


def test_while_a_pot_is_unpoured_its_own_swirl_comes_first_then_what_was_wished() -> None:
    before = state(DROP, WIRE, TOP)
    ways = ways_from(wishing(fall_back=("ombré", "hanger swirl")), before, TABLE)
    assert ways[:3] == [("drop swirl", "textured top"), ("drop swirl",), ("ombré",)]
    assert WISH not in ways
    no_top = ways_from(wishing(), state(DROP, WIRE), TABLE)
    assert no_top[0] == ("drop swirl", "hanger swirl"), "it is not the way it is on"
    on = state(DROP, WIRE, steps=("drop swirl", "hanger swirl"))
    assert ways_from(wishing(), on, TABLE)[0] == ("drop swirl",)
    assert ("plain pour",) in ways[-2:], "made for one pot, it stands behind"
    bare = ways_from(wishing(), state(DROP, steps=()), TABLE)
    assert ("drop swirl",) in bare
    assert all(way[:1] != ("",) for way in bare)


def test_a_swirl_that_cannot_go_on_from_a_mould_is_no_way_on() -> None:
    for steps in (("ombré",), ("ombré", "textured top")):
        on = state(DROP, TOP, where={"base": "mould"}, steps=steps)
        assert not [way for way in ways_from(wishing(), on, TABLE) if "ombré" in way]


def test_what_suits_the_pots_still_unpoured_stands_first() -> None:
    where = {"base": "mould", "rope": "mould"}
    one_left = ways_from(wishing(), state(DROP, where=where), TABLE)
    assert one_left.index(("plain pour",)) < one_left.index(("spoon swirl",))
    two_left = ways_from(wishing(), state(DROP, where={"base": "mould"}), TABLE)
    assert two_left.index(("plain pour",)) > two_left.index(("spoon swirl",))


def test_when_all_is_poured_only_what_is_ahead_is_left_or_a_cook() -> None:
    def ways(*ahead: Stage, done: tuple[DoneStage, ...] = ()) -> list[tuple[str, ...]]:
        return ways_from(wishing(), state(*ahead, done=done, where=ALL_IN), TABLE)

    cooked = over(Stage(COOK, COOK, COOK))
    assert ways(WIRE, TOP) == [("textured top",), (), ("hanger swirl",), ("hot process",)]
    assert ways(WIRE) == [(), ("hot process",)]
    assert ways(TOP) == [(), ("hot process",)]
    assert ways(WIRE, done=(cooked,)) == [()]
    assert ways() == [("hot process",)]
    # A stage before the pour belongs to no step.
    assert ways(stage("colour", "rope"), WIRE) == [(), ("hot process",)]


# ---------------------------------------------------------------- what can be begun


def begun(*steps: str, of: PourState, moves: tuple[str, ...] = ()) -> bool:
    return can_begin(steps, of, TABLE, moves)


def test_with_all_in_the_mould_only_its_own_pour_goes_on_or_a_cook() -> None:
    full = state(WIRE, TOP, where=ALL_IN)
    assert begun(of=full)
    assert begun("hanger swirl", of=full)
    assert begun("drop swirl", "textured top", of=full)
    assert not begun("layers", of=full)
    assert begun("hot process", of=full)
    done = (over(Stage(COOK, COOK, COOK)),)
    assert not begun("hot process", of=replace(full, done=done))
    some = state(DROP, where={"base": "mould", "rope": "mould"})
    assert begun("layers", of=some)
    assert not begun("hanger swirl", of=some), "a pot is still unpoured"
    assert not begun(of=some)


def test_a_swirl_begins_with_as_many_pots_as_it_needs() -> None:
    two = replace(state(), pots={name: PotState(name) for name in ("base", "rope")})
    assert begun("layers", of=two)
    one = replace(state(), pots={"base": PotState("base")})
    assert not begun("layers", of=one)
    assert begun("plain pour", of=one)


def test_what_cannot_go_on_from_a_mould_begins_before_anything_is_in_it() -> None:
    assert begun("ombré", of=state())
    assert not begun("ombré", of=state(where={"base": "mould"}))
    assert begun("layers", of=state(where={"base": "mould"}))
    in_base = state(where={"rope": "base"})
    assert not begun("ombré", of=in_base)
    assert begun("ombré", of=replace(in_base, steps=("ombré",)))
    assert begun("layers", of=in_base)
    both = state(where={"rope": "base", "base": "mould"}, steps=("ombré",))
    assert not begun("ombré", of=both)


def test_moves_are_begun_on_the_way_the_pour_is_on() -> None:
    on = state(DROP, DROP, WIRE)
    assert begun(*WISH, of=on, moves=("low and close",))
    assert not begun("drop swirl", of=on, moves=("low and close",))
    assert not begun(*WISH, of=on, moves=("uncoloured/rope",))
    assert not begun(*WISH, of=on, moves=("uncoloured/rope", "low and close"))
    assert not begun(*WISH, of=on, moves=("low and close", "uncoloured/rope"))


def test_what_is_ahead_by_the_way_the_pour_is_on_is_what_it_has() -> None:
    on = state(DROP, WIRE)
    assert ahead_by(WISH, wishing(), ML, on, TABLE) == (DROP, WIRE)
    low = ahead_by(WISH, wishing(), ML, on, TABLE, ("low and close",))
    assert [s.words for s in low] == ["drop, low and close", "wire"]
    assert ahead_by(WISH, wishing(), ML, on, TABLE, ("uncoloured/rope",)) == (DROP, WIRE)
    other = ahead_by(("layers",), wishing(), ML, on, TABLE)
    assert {s.step for s in other if s.step} == {"layers"}


def test_moves_are_open_by_what_is_scented_and_dropped() -> None:
    scent = stage("scent", "gull", fragrance_into=("gull",))

    def moves(of: PourState) -> set[str]:
        assert all(steps == of.steps for steps, _ in moves_from(of))
        return {move for _, (move,) in moves_from(of)}

    ahead = (TOP, scent)
    assert "rest unscented" not in moves(state(*ahead))
    assert "rest unscented" in moves(state(*ahead, rope=PotState("rope", fragrance_in=5.0)))
    drops = (TOP, DROP, WIRE)
    assert "hanger at once" not in moves(state(*drops))
    assert "hanger at once" in moves(state(*drops, done=(over(TOP), over(DROP))))
    assert "hanger at once" not in moves(state(*drops, done=(over(DROP, skipped=True),)))
    assert "hanger at once" not in moves(state(*drops, done=(over(TOP),)))
