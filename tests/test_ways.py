"""Ways to finish, from states of a pour written down by hand. What may follow on what is common
practice, no source: what is in the mould stays there, a cook takes back whatever there is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.advice.ways import (
    SwirlChoice,
    ahead_by,
    becomes,
    best_first,
    by_trouble,
    can_begin,
    lighter,
    moves_from,
    still_open,
    unsunk,
    ways_before,
    ways_from,
)
from soapbench.batter import Tap, Trace
from soapbench.bench import tables
from soapbench.outlook.finishing import Finish
from soapbench.outlook.worth import Become
from soapbench.plan import Plan
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.swirls.moves import UNSCENTED
from soapbench.swirls.stage import Stage
from soapbench.swirls.stages import stages
from soapbench.troubles import Trouble
from soapbench.words.acts import COOK, SCRAPE
from tests.plans import plan

ML = {"base": 600.0, "rope": 200.0, "gull": 200.0}
TABLE = tables.swirls()
WISH = ("drop swirl", "hanger swirl", "textured top")


def wished(*fall_back: str) -> Plan:
    of = plan()
    return replace(of, swirl=replace(of.swirl, steps=list(WISH), fall_back=fall_back))


PLAN = wished()


def pouring(
    *done: str,
    taps: dict[str, tuple[Tap, ...]] | None = None,
    troubles: dict[str, Trouble] | None = None,
    in_base: tuple[str, ...] = (),
    cooked: bool = False,
) -> PourState:
    """After the stages of ``done``, each begun and ended a minute after the one before."""
    all_of = stages(PLAN, ML, TABLE)
    finished = [s for s in all_of if not s.step or s.id in done]
    over = [DoneStage(s, 60.0 * i, 60.0 * (i + 1)) for i, s in enumerate(finished)]
    if cooked:
        over.append(DoneStage(Stage(COOK, COOK, COOK), 0.0, 10.0))
    moulded = {pot for s in finished if s.puts == "mould" for pot in s.pots}
    pots = {
        name: PotState(
            name,
            trace=max((t.state for t in (taps or {}).get(name, ())), default=Trace.EMULSION),
            taps=(taps or {}).get(name, ()),
            where="mould" if name in moulded else "base" if name in in_base else "pot",
            trouble=(troubles or {}).get(name),
        )
        for name in ML
    }
    ahead = tuple(s for s in all_of if s not in finished)
    return PourState(WISH, tuple(over), ahead, pots, begun=True, base="base")


BASE = "drop swirl/pour into mould/base"
ROPE, GULL = "drop swirl/drop an accent/rope", "drop swirl/drop an accent/gull"
HANGER, TOP = "hanger swirl/draw the hanger", "textured top/texture the top"


def test_tools_are_left_out_before_tops_and_all_of_it_last() -> None:
    assert lighter(WISH, TABLE) == [
        ("drop swirl", "hanger swirl"),
        ("drop swirl", "textured top"),
        ("drop swirl",),
    ]
    assert lighter(("layers",), TABLE) == []


def test_every_pour_a_plan_has_the_pots_for_is_weighed_and_what_is_wished_first() -> None:
    ways = ways_before(wished("layers", "plain pour"), TABLE)
    assert ways[0] == WISH
    assert ways[4:6] == [("layers",), ("plain pour",)]
    assert len(ways) == len(set(ways))
    assert ("hanger swirl",) not in ways
    assert ("plain pour",) not in ways_before(PLAN, TABLE), "three pots are no plain pour"
    one = replace(PLAN, pots=PLAN.pots[:1])
    assert ("layers",) not in ways_before(one, TABLE), "one pot makes no layers"


def test_what_can_follow_once_the_base_is_in_the_mould() -> None:
    state = pouring(BASE)
    ways = ways_from(PLAN, state, TABLE)
    assert ways[:2] == [("drop swirl", "textured top"), ("drop swirl",)]
    assert {("layers",), ("spoon swirl",), ("hot process",)} <= set(ways)
    assert not {("in-the-pot swirl",), ("ombré",), WISH} & set(ways)
    assert ways_from(wished("spoon swirl"), state, TABLE)[2] == ("spoon swirl",)
    # Made for one pot, it stands behind what suits two.
    assert ways.index(("plain pour",)) > ways.index(("hot process",))


def test_once_all_is_poured_tools_and_tops_are_all_there_is_to_leave_out_or_a_cook() -> None:
    state = pouring(BASE, ROPE, GULL)
    assert ways_from(PLAN, state, TABLE) == [
        ("textured top",),
        (),
        ("hanger swirl",),
        ("hot process",),
    ]
    assert ways_from(PLAN, pouring(BASE, ROPE, GULL, cooked=True), TABLE) == [
        ("textured top",),
        (),
        ("hanger swirl",),
    ]


@pytest.mark.parametrize(
    ("steps", "done", "open_"),
    [
        (("layers",), (BASE,), True),
        (("in-the-pot swirl",), (), True),
        (("in-the-pot swirl",), (BASE,), False),
        (("textured top",), (BASE,), False),
        (("textured top",), (BASE, ROPE, GULL), True),
        ((), (BASE, ROPE, GULL), True),
        (("drop swirl", "textured top"), (BASE, ROPE, GULL), True),
        (("layers", "textured top"), (BASE, ROPE, GULL), False),
        (("hot process",), (BASE, ROPE, GULL), True),
    ],
)
def test_what_can_still_be_begun(
    steps: tuple[str, ...], done: tuple[str, ...], open_: bool
) -> None:
    assert can_begin(steps, pouring(*done), TABLE) is open_


def test_a_cook_is_begun_once_and_a_swirl_needs_its_pots() -> None:
    assert not can_begin(("hot process",), pouring(cooked=True), TABLE)
    alone = replace(pouring(), pots={"base": PotState("base")})
    assert not can_begin(("layers",), alone, TABLE)
    assert can_begin(("plain pour",), alone, TABLE)


def test_what_was_turned_into_the_bases_pot_goes_where_it_goes() -> None:
    state = pouring(in_base=("rope",))
    assert can_begin(("layers",), state, TABLE), "it can go on from a mould, and from a base too"
    assert not can_begin(("ombré",), state, TABLE)
    turned = replace(state, steps=("in-the-pot swirl",))
    assert can_begin(("in-the-pot swirl",), turned, TABLE)
    assert not can_begin(("in-the-pot swirl",), state, TABLE)
    moulded = {**state.pots, "base": replace(state.pots["base"], where="mould")}
    assert not can_begin(("in-the-pot swirl",), replace(turned, pots=moulded), TABLE)


def test_a_move_is_begun_only_while_all_of_it_changes_something() -> None:
    state = pouring()
    assert can_begin(WISH, state, TABLE, ("low and close",))
    assert not can_begin(("layers",), state, TABLE, ("low and close",))
    assert not can_begin(WISH, state, TABLE, ("low and close", "uncoloured/nobody"))


def test_a_move_that_changes_nothing_any_more_leaves_what_is_ahead() -> None:
    state = pouring()
    for moves in (("uncoloured/nobody",), ("stand on your head",), ()):
        assert ahead_by(WISH, PLAN, ML, state, TABLE, moves) == state.ahead
    assert ahead_by(WISH, PLAN, ML, state, TABLE, ("low and close",)) != state.ahead


DEEP = {"base": (Tap(0.0, Trace.LIGHT), Tap(650.0, Trace.MEDIUM))}


def test_what_was_dropped_on_a_base_seen_thick_by_then_lies_on_top() -> None:
    """It sinks half way up to light trace: medium seen before the first drop, it does not."""
    dropped = pouring(BASE, ROPE, taps=DEEP)
    last = dropped.done[-1]
    assert not unsunk(pouring(BASE, taps=DEEP))
    assert not unsunk(pouring(BASE, ROPE))
    for ended, on_top in ((649.0, False), (650.0, True), (700.0, True)):
        ends = (*dropped.done[:-1], replace(last, done=ended))
        assert unsunk(replace(dropped, done=ends)) is on_top
    skipped = (*dropped.done[:-1], replace(last, done=700.0, skipped=True))
    assert not unsunk(replace(dropped, done=skipped))


def test_what_a_pour_becomes_is_measured_by_the_wish() -> None:
    state = pouring()

    def becomes_of(*steps: str, of: PourState = state, moves: tuple[str, ...] = ()) -> Become:
        return becomes(steps, PLAN, of, TABLE, moves)

    assert becomes_of(*WISH) is Become.WISH
    assert becomes_of(*WISH, moves=(UNSCENTED,)) is Become.LESS
    assert becomes_of(*WISH, of=replace(state, moves=(UNSCENTED,))) is Become.LESS
    assert becomes_of("drop swirl") is Become.LESS
    assert becomes_of() is Become.LESS
    assert becomes_of("layers") is Become.ANOTHER
    assert becomes_of("spoon swirl") is Become.SAVED
    on_top = pouring(BASE, ROPE, taps={"base": (Tap(0.0, Trace.THICK),)})
    assert unsunk(on_top)
    assert becomes_of("drop swirl", of=on_top) is Become.SAVED, "nothing draws it down"
    assert becomes_of("drop swirl", "hanger swirl", of=on_top) is Become.LESS


SEEN = Finish(0.5, 0.2, 10.0)


def test_what_has_separated_in_the_mould_is_lost_unless_it_is_scraped_out() -> None:
    state = pouring(BASE, troubles={"base": Trouble.SEPARATING})
    lost = replace(SEEN, chance=0.0, chance_in_part=0.0)
    scrape = Stage(SCRAPE, SCRAPE, SCRAPE)
    assert by_trouble(SEEN, state.ahead, state) == lost
    assert by_trouble(SEEN, (scrape, *state.ahead), state) == SEEN
    in_pot = pouring(troubles={"base": Trouble.SEPARATING})
    assert by_trouble(SEEN, in_pot.ahead, in_pot) == SEEN


def test_one_pot_of_rice_leaves_nothing_as_planned_but_what_is_poured_simply() -> None:
    state = pouring(BASE, troubles={"rope": Trouble.RICING})
    in_part = replace(SEEN, chance=0.0, chance_in_part=0.7)
    spoon = Stage("s", "spoon in", "Spoon", puts="mould", manner="spoon")
    tool = Stage("t", "draw", "Draw", manner="loops")
    assert by_trouble(SEEN, state.ahead, state) == in_part
    assert by_trouble(SEEN, (spoon, tool), state) == SEEN
    poured = pouring(BASE, ROPE, troubles={"rope": Trouble.RICING})
    assert by_trouble(SEEN, poured.ahead, poured) == SEEN


def test_a_way_is_shut_once_somebody_has_seen_its_batter_too_thick() -> None:
    state = pouring(BASE, taps={"base": (Tap(0.0, Trace.MEDIUM),)})
    drops = tuple(s for s in state.ahead if s.step == "drop swirl")
    assert not still_open(drops, state)
    assert still_open(state.ahead, state), "the hanger draws down what did not sink"
    tools = tuple(s for s in state.ahead if s.step != "drop swirl")
    set_up = pouring(BASE, taps={"base": (Tap(0.0, Trace.SET_UP),)})
    assert still_open(tools, set_up), "a tool or a top is left out"


def test_once_something_was_dropped_the_hanger_may_come_before_the_drops_still_ahead() -> None:
    def moves(of: PourState) -> set[str]:
        drop = next(stage for stage in of.ahead if stage.manner == "drop")
        one_more = replace(of, ahead=(drop, *of.ahead))
        return {move for _, (move,) in moves_from(one_more)}

    state = pouring(BASE, ROPE)
    assert "hanger at once" in moves(state)
    assert "hanger at once" not in moves(pouring(BASE))
    skipped = tuple(replace(d, skipped=d.stage.manner == "drop") for d in state.done)
    assert "hanger at once" not in moves(replace(state, done=skipped))


def way(*steps: str, worth: float, minutes: float = 5.0, **more: object) -> SwirlChoice:
    return SwirlChoice(steps, 0.5, minutes, 0.0, worth, **more)  # type: ignore[arg-type]


def test_of_near_equals_the_wish_then_what_was_wished_then_the_quickest() -> None:
    wish = way(*WISH, worth=0.50)
    layers = way("layers", worth=0.52, become=Become.ANOTHER)
    quick = way("ombré", worth=0.51, minutes=3.0, become=Become.ANOTHER)
    cook = way("hot process", worth=0.52, minutes=1.0, become=Become.SAVED)
    far = way("wall pour", worth=0.60, become=Become.ANOTHER)
    least = way("drop swirl", worth=0.50, become=Become.LESS)
    more = way("drop swirl", "hanger swirl", worth=0.50, minutes=9.0, become=Become.LESS)
    given = [cook, layers, least, quick, wish, more, far]
    names = [one.steps[0] if one.become is not Become.LESS else len(one.steps)
             for one in best_first(given, PLAN, TABLE)]  # fmt: skip
    assert names == ["wall pour", "drop swirl", 2, 1, "ombré", "layers", "hot process"]
    names = [one.steps[0] for one in best_first([quick, layers, wish], wished("layers"), TABLE)]
    assert names == ["drop swirl", "layers", "ombré"]
