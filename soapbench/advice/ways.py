"""Every way to finish a pour from where it stands, and what each is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from soapbench.batter import Trace
from soapbench.outlook.finishing import Finish
from soapbench.outlook.worth import Become, worth
from soapbench.plan import Plan
from soapbench.pour.events import ahead_with
from soapbench.pour.state import PourState
from soapbench.settings import Risk
from soapbench.swirls.moves import moved, moves_open, words
from soapbench.swirls.stage import Stage
from soapbench.swirls.table import SwirlKind, SwirlTable
from soapbench.troubles import Trouble
from soapbench.words.acts import SCRAPE
from soapbench.words.ways import LEAVE_IT

NEAR = 0.03
"""Worths closer than this are told apart by other things (ours)."""


Way = tuple[tuple[str, ...], tuple[str, ...]]
"""A way to finish: swirl steps, and moves that change what lies ahead by them."""


@dataclass(frozen=True, slots=True)
class SwirlChoice:
    """One way to finish: how it comes out, how long it takes, what it is worth."""

    steps: tuple[str, ...]
    chance: float
    """P(as planned)."""
    minutes: float
    """Median."""
    chance_in_part: float = 0.0
    worth: float = 0.0
    become: Become = Become.WISH
    moves: tuple[str, ...] = ()
    """What is left out or put together to keep the swirl."""

    @property
    def name(self) -> str:
        if self.moves:
            return ", ".join(map(words, self.moves))
        return " + ".join(self.steps) if self.steps else LEAVE_IT

    @property
    def key(self) -> Way:
        return self.steps, self.moves


def choice(
    steps: Sequence[str],
    ending: Finish,
    become: Become,
    risk: Risk = Risk.USUAL,
    moves: tuple[str, ...] = (),
) -> SwirlChoice:
    """The way ``steps`` as it was foreseen."""
    mean = worth(become, ending.chance, ending.chance_in_part, risk)
    return SwirlChoice(
        tuple(steps), ending.chance, ending.minutes, ending.chance_in_part, mean, become, moves
    )


def becomes(
    steps: Sequence[str],
    plan: Plan,
    state: PourState,
    table: SwirlTable,
    moves: tuple[str, ...] = (),
) -> Become:
    """What the pour becomes when it is finished by ``steps``, measured by the plan's own swirl."""
    wish = tuple(plan.swirl.steps)
    if tuple(steps) == wish:
        return Become.LESS if moves or state.moves else Become.WISH
    pours = [name for name in steps if table.kinds[name].role == "pour"]
    if not pours or pours == list(wish[:1]):
        kept = {name for name in steps if table.kinds[name].role != "pour"}
        left_out = [table.kinds[name] for name in wish if name not in kept]
        if unsunk(state) and any(kind.draws_down for kind in left_out):
            return Become.SAVED
        return Become.LESS
    if table.kinds[pours[0]].saves:
        return Become.SAVED
    return Become.ANOTHER


def unsunk(state: PourState) -> bool:
    """Whether something was dropped that lies on top, by the trace states tapped before."""

    def tapped(pot: str, until: float) -> Trace:
        return max(
            (tap.state for tap in state.pots[pot].taps if tap.t <= until), default=Trace.EMULSION
        )

    return any(
        tapped(pot, done.done) > need.limits()[1]
        for done in state.done
        if done.stage.drops and not done.skipped
        for need in done.stage.needs
        if need.drawn
        for pot in need.pots
    )


def lighter(steps: Sequence[str], table: SwirlTable) -> list[tuple[str, ...]]:
    """``steps`` with tools or tops left out, most kept first."""
    pour, rest = tuple(steps[:1]), steps[1:]
    tools = [name for name in rest if table.kinds[name].role == "tool"]
    tops = [name for name in rest if table.kinds[name].role == "top"]
    ways = [(*pour, *tools), (*pour, *tops), pour]
    return [way for way in dict.fromkeys(ways) if way != tuple(steps)]


def ways_before(plan: Plan, table: SwirlTable) -> list[tuple[str, ...]]:
    """Every way to pour a plan of which nothing has been poured, its own first."""
    own = tuple(plan.swirl.steps)
    wished = [(name,) for name in plan.swirl.fall_back if table.kinds[name].role == "pour"]
    pours = [
        (kind.name,) for kind in table.pours if kind.least_pots <= len(plan.pots) <= kind.most_pots
    ]
    return list(dict.fromkeys([own, *lighter(own, table), *wished, *pours]))


def ways_from(plan: Plan, state: PourState, table: SwirlTable) -> list[tuple[str, ...]]:
    """Every other way to finish from the state the pour is really in.

    What is in the mould stays there, and what is in the base's pot cannot be taken out again.
    """
    unpoured = [pot for pot in state.pots.values() if pot.where == "pot"]
    extras = [s.step for s in state.ahead if s.step and table.kinds[s.step].role != "pour"]
    extras = list(dict.fromkeys(extras))
    tops = [name for name in extras if table.kinds[name].role == "top"]
    if not unpoured:
        cooked = [(kind.name,) for kind in table.pours if kind.cooked and not state.cooked]
        ways = [tuple(tops), (), *((name,) for name in extras), *cooked]
        return [way for way in dict.fromkeys(ways) if list(way) != extras]

    pours = [kind for kind in table.pours if _can_start(kind, state)]
    pours.sort(key=lambda kind: len(unpoured) > kind.most_pots)  # what suits so many pots first
    wished = [name for name in plan.swirl.fall_back if table.kinds[name] in pours]
    names = list(dict.fromkeys([state.steps[0] if state.steps else "", *wished]))
    names += [kind.name for kind in pours if kind.name not in names]
    names = [name for name in names if name and table.kinds[name] in pours]
    own = [(name, *kept) for name in names[:1] for kept in (extras, tops)]
    # On another swirl the wish's tools gain nothing and cost time.
    ways = [*own, *((name,) for name in names)]
    return [way for way in dict.fromkeys(ways) if way != state.steps]


def can_begin(
    steps: Sequence[str], state: PourState, table: SwirlTable, moves: Sequence[str] = ()
) -> bool:
    """Whether the way ``steps`` can still be begun from ``state``."""
    if moves:
        return steps == state.steps and all(moved(state.ahead, move) for move in moves)
    unpoured = any(pot.where == "pot" for pot in state.pots.values())
    pours = [table.kinds[name] for name in steps if table.kinds[name].role == "pour"]
    if not unpoured and not any(kind.cooked for kind in pours):
        return not pours or tuple(pours[:1]) == tuple(table.kinds[name] for name in state.steps[:1])
    return bool(pours) and _can_start(pours[0], state)


def _can_start(kind: SwirlKind, state: PourState) -> bool:
    if len(state.pots) < kind.least_pots:
        return False
    if kind.cooked:
        return not state.cooked  # what is in the mould is scraped back into the cooker
    if state.in_base and not state.in_mould:
        return kind.name in state.steps or kind.from_mould
    return kind.from_mould or not state.in_mould


SIMPLY = ("", "fill", "in the pot", "spoon")
"""Manners of pouring that rice does not spoil."""


def by_trouble(ending: Finish, ahead: Sequence[Stage], state: PourState) -> Finish:
    """``ending`` by what went wrong: what has separated in the mould is lost unless it is scraped
    out and cooked; rice leaves nothing as planned but what is poured simply."""
    pots = state.pots.values()
    split = any(p.trouble is Trouble.SEPARATING and p.where == "mould" for p in pots)
    if split and not any(stage.action == SCRAPE for stage in ahead):
        return replace(ending, chance=0.0, chance_in_part=0.0)
    riced = any(p.trouble is Trouble.RICING and p.where == "pot" for p in pots)
    if riced and any(stage.manner not in SIMPLY for stage in ahead if stage.puts):
        least = ending.chance + ending.chance_in_part
        return replace(ending, chance=0.0, chance_in_part=least)
    return ending


def still_open(ahead: Sequence[Stage], state: PourState) -> bool:
    """Whether no stage ahead needs a batter thinner than somebody has seen it.

    A tool or a top does not count: it is left out.
    """
    wire = any(stage.draws_down for stage in ahead)
    return all(
        state.pots[pot].trace <= need.limits(drawn=wire)[1]
        for stage in ahead
        if not stage.can_be_left_out
        for need in stage.needs
        for pot in need.pots
    )


def ahead_by(
    steps: Sequence[str],
    plan: Plan,
    ml: Mapping[str, float],
    state: PourState,
    table: SwirlTable,
    moves: Sequence[str] = (),
) -> tuple[Stage, ...]:
    """The stages ahead by ``steps``; by the way the pour is on already, those it has."""
    if tuple(steps) != state.steps:
        return ahead_with(state, steps, plan, ml, table)
    ahead = state.ahead
    for move in moves:
        ahead = moved(ahead, move) or ahead
    return ahead


def moves_from(state: PourState) -> list[Way]:
    """Ways that keep the swirl the pour is on and leave something out or put it together."""
    scented = any(pot.fragrance_in is not None for pot in state.pots.values())
    dropped = any(done.stage.drops and not done.skipped for done in state.done)
    return [(state.steps, (move,)) for move in moves_open(state.ahead, scented, dropped)]


def best_first(choices: Sequence[SwirlChoice], plan: Plan, table: SwirlTable) -> list[SwirlChoice]:
    """``choices`` from the most worth down; of near equals the plan's own comes first, then what
    the maker wished, then what keeps most of it, then what is quickest; what is cooked is last."""
    wishes = [(name,) for name in plan.swirl.fall_back]
    left, ranked = list(choices), []

    def likes(way: SwirlChoice) -> tuple[object, ...]:
        pour = way.steps[:1] or plan.swirl.steps[:1]
        return (
            any(table.kinds[name].cooked for name in way.steps),
            way.become is not Become.WISH,
            wishes.index(pour) if pour in wishes else len(wishes),
            way.become is Become.SAVED,
            way.become is Become.SAVED and len(plan.pots) > table.kinds[pour[0]].most_pots,
            -len(way.steps) if way.become is Become.LESS else 0,  # what is another keeps none of it
            len(way.moves),
            way.minutes,
        )

    while left:
        most = max(way.worth for way in left)
        first = min((way for way in left if way.worth >= most - NEAR), key=likes)
        ranked.append(first)
        left.remove(first)
    return ranked
