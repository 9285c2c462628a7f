"""What it would have cost in a real pour that a trace state was tapped late.

At the moment the batter came to it, the model is asked what it would have advised had the tap been
there at once; and what is left of that at the moment it was keyed. Both by the same draws, those
that the tap at once leaves, so that they differ by the lateness and not by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from soapbench.advice.advise import THINNED, judged
from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.ways import NEAR, SwirlChoice
from soapbench.batter import Trace
from soapbench.log import Event, Kind, standing
from soapbench.plan import Plan
from soapbench.pour.events import state_of
from soapbench.pour.history import history
from soapbench.pour.state import PourState
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.thickening.in_hand import live

LEAST = 0.01
"""A smaller share of pours is not told (ours)."""


@dataclass(frozen=True, slots=True)
class Cost:
    """A switch that came late. Times in s since lye met oils."""

    way: str
    at_once_s: float
    late_s: float
    lost: float
    """Share of such pours in which it comes out, in part at least, only if begun at once."""
    worth: float
    """What the pour is worth less by it."""
    left: str
    """The best way that is left by then; the same one where it still is."""


def cost_of_late(
    plan: Plan,
    amounts: Amounts,
    known: Known,
    events: Sequence[Event],
    pot: str,
    state: Trace,
    really_s: float,
) -> Cost | None:
    """What it cost that ``pot`` coming to ``state`` at ``really_s`` was tapped later.

    None: nothing better was to be done at once, or nothing was lost by it.
    """
    facts = standing(events)
    tap = next((e for e in facts if _is_of(e, pot, state)), None)
    if tap is None or tap.t <= really_s:
        return None
    at_once = replace(tap, t=really_s)
    before = [e for e in facts if e.t <= really_s and e is not tap]
    between = [e for e in facts if really_s < e.t < tap.t]

    def stood(known_facts: Sequence[Event]) -> PourState:
        return state_of(plan, pot_ml(amounts), known.swirls, standing(known_facts))

    then, later = stood([*before, at_once]), stood([*before, at_once, *between])
    if then.stage is None or later.stage is None:
        return None
    watched = history("", plan, mix_of(plan, amounts), then, really_s)
    draws = live(known.fit, watched, really_s).picked(slice(None, None, THINNED))
    ways = judged(Moment(plan, pot_ml(amounts), known, then, draws, really_s))
    going_on = next((way for way in ways if way.key == (then.steps, ())), None)
    best = ways[0]
    if best.key == (then.steps, ()) or (going_on and best.worth <= going_on.worth + NEAR):
        return None
    left = judged(Moment(plan, pot_ml(amounts), known, later, draws, tap.t))
    same = next((way for way in left if way.key == best.key), None)
    lost = _comes(best) - (_comes(same) if same else 0.0)
    worth = best.worth - left[0].worth
    if lost < LEAST or worth < NEAR:
        return None  # what is left is about as good
    return Cost(best.name, really_s, tap.t, lost, worth, left[0].name)


def _is_of(event: Event, pot: str, state: Trace) -> bool:
    return (
        event.kind is Kind.TRACE_SEEN
        and event.pot == pot
        and event.values.get("state") == int(state)
    )


def _comes(way: SwirlChoice) -> float:
    return way.chance + way.chance_in_part
