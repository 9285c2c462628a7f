"""What troubles leave of a way, when a way is shut, and which of several comes first."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ways_kit import ALL_IN, DROP, ONTO, TABLE, TOP, WIRE, WISH, stage, state, wishing

from soapbench.advice import ways
from soapbench.advice.ways import NEAR, SwirlChoice, best_first, by_trouble, still_open
from soapbench.batter import Trace
from soapbench.outlook.finishing import Finish
from soapbench.outlook.worth import Become
from soapbench.pour.state import PotState, PourState
from soapbench.swirls.stage import Need
from soapbench.troubles import Trouble
from soapbench.words.acts import SCRAPE

SEEN = Finish(0.5, 0.25, 10.0)
LOST, IN_PART = (
    replace(SEEN, chance=0.0, chance_in_part=0.0),
    replace(SEEN, chance=0.0, chance_in_part=0.75),
)


def trouble(kind: Trouble, where: str = "pot") -> PourState:
    return state(where={"rope": where}, rope=PotState("rope", trouble=kind))


def test_what_separates_in_the_mould_is_lost_and_elsewhere_it_is_not() -> None:
    scrape = stage(SCRAPE)
    split = trouble(Trouble.SEPARATING, "mould")
    assert by_trouble(SEEN, (DROP,), split) == LOST
    assert by_trouble(SEEN, (), split) == LOST
    assert by_trouble(SEEN, (DROP, scrape), split) == SEEN
    assert by_trouble(SEEN, (DROP,), trouble(Trouble.SEPARATING)) == SEEN
    assert by_trouble(SEEN, (DROP,), state(where=ALL_IN)) == SEEN
    assert by_trouble(SEEN, (DROP,), trouble(Trouble.RICING, "mould")) == SEEN


def test_rice_still_in_its_pot_leaves_only_simple_pours_as_planned() -> None:
    riced = trouble(Trouble.RICING)
    assert by_trouble(SEEN, (DROP,), riced) == IN_PART
    for manner in ("", "fill", "in the pot", "spoon"):
        assert by_trouble(SEEN, (replace(DROP, manner=manner),), riced) == SEEN
    simple = replace(DROP, manner="spoon")
    assert by_trouble(SEEN, (simple, DROP), riced) == IN_PART
    assert by_trouble(SEEN, (simple, replace(TOP, manner="loops")), riced) == SEEN
    assert by_trouble(SEEN, (DROP,), trouble(Trouble.SEIZING)) == SEEN
    assert by_trouble(SEEN, (DROP,), state()) == SEEN


@pytest.mark.parametrize(
    ("tapped", "alone", "with_wire"),
    [(Trace.LIGHT, True, True), (Trace.MEDIUM, False, True), (Trace.THICK, False, True),
     (Trace.SET_UP, False, False)],
)  # fmt: skip
def test_a_way_is_open_up_to_the_last_state_it_comes_out_in(
    tapped: Trace, alone: bool, with_wire: bool
) -> None:
    of = state(base=PotState("base", trace=tapped))
    assert still_open((DROP,), of) is alone
    assert still_open((DROP, TOP), of) is alone
    assert still_open((DROP, WIRE, TOP), of) is with_wire
    own = Need(("rope",), Trace.EMULSION, Trace.SET_UP)
    assert still_open((replace(DROP, needs=(own, ONTO)),), of) is alone
    assert still_open((replace(DROP, needs=(ONTO, own)),), of) is alone
    tool = replace(TOP, needs=(ONTO,))
    assert still_open((tool,), of)


# ---------------------------------------------------------------- the order of ways


def way(
    *steps: str, worth: float = 0.5, minutes: float = 5.0,
    become: Become = Become.ANOTHER, moves: tuple[str, ...] = (),
) -> SwirlChoice:  # fmt: skip
    return SwirlChoice(steps, 0.5, minutes, 0.0, worth, become, moves)


LAYERS = way("layers")
OWN = way(*WISH, become=Become.WISH, minutes=9.0)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (LAYERS, way("ombré", minutes=5.1)),
        (OWN, LAYERS),
        (way("ombré", minutes=9.0), LAYERS),
        (LAYERS, way("spoon swirl", minutes=1.0, become=Become.SAVED)),
        (way("spoon swirl", minutes=9.0, become=Become.SAVED),
         way("plain pour", minutes=1.0, become=Become.SAVED)),
        (way("drop swirl", "hanger swirl", minutes=9.0, become=Become.LESS),
         way("drop swirl", minutes=1.0, become=Become.LESS)),
        (LAYERS, way("wall pour", "textured top", minutes=6.0)),
        (way("drop swirl", "hanger swirl", become=Become.LESS, minutes=9.0),
         way("drop swirl", "hanger swirl", become=Become.LESS, moves=("x",))),
        (way("spoon swirl", minutes=9.0, become=Become.SAVED),
         way("hot process", minutes=1.0, become=Become.WISH)),
        (LAYERS, way("hot process", "textured top", minutes=1.0)),
        (way("textured top", minutes=1.0, become=Become.LESS),
         way(minutes=1.0, become=Become.LESS)),
    ],
    ids=["quicker", "the plan's own", "wished for", "not only saved", "suits so many pots",
         "keeps more of the wish", "another's tools are none of the wish", "fewer moves",
         "not cooked", "not cooked in part", "keeps its top"],
)  # fmt: skip
def test_of_equals_the_one_that_is_liked_more_comes_first(
    first: SwirlChoice, second: SwirlChoice
) -> None:
    of = wishing(fall_back=("ombré",)) if first.steps == ("ombré",) else wishing()
    for given in ([first, second], [second, first]):
        assert best_first(given, of, TABLE) == [first, second]


def test_a_way_made_for_as_many_pots_as_there_are_suits_them() -> None:
    """A plain pour is made for one."""
    spoon = way("spoon swirl", become=Become.SAVED)
    plain = way("plain pour", minutes=1.0, become=Become.SAVED)
    assert best_first([spoon, plain], wishing(pots=1), TABLE) == [plain, spoon]
    assert best_first([plain, spoon], wishing(pots=2), TABLE) == [spoon, plain]


def test_what_was_wished_for_keeps_the_order_of_the_wishes() -> None:
    given = [way("layers"), way("ombré", minutes=9.0), way("wall pour", minutes=8.0)]
    of = wishing(fall_back=("ombré", "wall pour"))
    assert [w.steps[0] for w in best_first(given, of, TABLE)] == ["ombré", "wall pour", "layers"]


def test_a_wish_with_a_tool_is_one_too() -> None:
    combed = way("ombré", "textured top", minutes=9.0)
    assert best_first([LAYERS, combed], wishing(fall_back=("ombré",)), TABLE) == [combed, LAYERS]


def test_left_as_it_is_counts_as_the_plans_own_pour() -> None:
    """With nothing more to do it is still a drop swirl, which is wished for as such."""
    leave = way(become=Become.ANOTHER, minutes=9.0)
    of = wishing(fall_back=("drop swirl",))
    assert best_first([LAYERS, leave], of, TABLE) == [leave, LAYERS]


def test_worths_within_three_hundredths_are_told_apart_by_what_is_liked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ours. Here a sixteenth, so that nothing is rounded at the bound."""
    assert NEAR == 0.03
    monkeypatch.setattr(ways, "NEAR", 0.0625)
    wish = replace(OWN, worth=0.5)
    for better, order in ((0.5625, [wish, 1]), (0.5626, [1, wish])):
        other = replace(LAYERS, worth=better)
        first = best_first([other, wish], wishing(), TABLE)
        assert first == [other if one == 1 else one for one in order]
