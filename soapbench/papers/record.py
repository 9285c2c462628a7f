"""The record of one batch as one value: what was planned, weighed, done and seen of it.

After the idea of good manufacturing practice for cosmetics (ISO 22716): materials traceable by
lot, the process step by step with its times, what was tested. Times are s since lye met oils,
masses g.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from soapbench.advice.known import Known
from soapbench.aftercare.cure import LossCurve, doubts
from soapbench.aftercare.cutreview import Question, Review, questions, reaches, review
from soapbench.aftercare.due import Ready, curve, ready, weighings
from soapbench.aftercare.practice import Practice
from soapbench.aftercare.resting import Resting, after_cautions, resting_of
from soapbench.barface.barplan import likely
from soapbench.barface.words import Beside, Showing, beside, poured_showings
from soapbench.batter import MILESTONES, TRACE_WORDS, Blend, Tap, Trace
from soapbench.figures import Figures
from soapbench.log import Event, Kind, Standing, Value, standing
from soapbench.outlook.chart import PourChart, poured_chart
from soapbench.outlook.finishing import Quantiles
from soapbench.papers.materials import Ingredient, Material, ingredients, materials
from soapbench.plan import Plan
from soapbench.pour.events import state_of
from soapbench.pour.state import PotState, PourState
from soapbench.recipe.amounts import Amounts, FragranceAmount, pot_ml
from soapbench.recipe.cautions import cautions
from soapbench.recipe.pots import shown_splits
from soapbench.recipe.problems import problems
from soapbench.recipe.severity import Caution
from soapbench.words import numbers
from soapbench.words.afterpour import came_out
from soapbench.words.events import FINISHED, GEL_CHOSEN, GEL_REACHED, SAID

if TYPE_CHECKING:
    from soapbench.bench.batchfile import BatchFile


@dataclass(frozen=True, slots=True)
class StageBar:
    """A stage as foreseen before the pour (None: it was not planned) and as done."""

    words: str
    planned: tuple[float, float] | None
    done: tuple[float, float]
    skipped: bool


@dataclass(frozen=True, slots=True)
class PotChart:
    """How one pot thickened: what was done and tapped, and when it reached each state."""

    name: str
    look: str
    fragrance_in: float | None
    blends: tuple[Blend, ...]
    taps: tuple[Tap, ...]
    reached: tuple[tuple[str, Quantiles], ...]
    """Light trace to set up: the model's 10, 50 and 90 % times, by all that was tapped."""


@dataclass(frozen=True, slots=True)
class Happening:
    """Something noted, warned of or decided on the way."""

    t: float
    at: datetime
    pot: str
    what: str
    words: str


@dataclass(frozen=True, slots=True)
class BatchReport:
    """Everything a report shows."""

    batch: str
    title: str
    version: str
    begun: datetime | None
    plan: Plan
    amounts: Amounts
    state: PourState
    chance: float | None
    """Foreseen before the pour."""
    materials: tuple[Material, ...]
    ingredients: tuple[Ingredient, ...]
    fragrances: tuple[FragranceAmount, ...]
    stages: tuple[StageBar, ...]
    pots: tuple[PotChart, ...]
    happenings: tuple[Happening, ...]
    resting: Resting | None
    after: tuple[Happening, ...]
    curve: LossCurve | None
    doubts: tuple[str, ...]
    ready: Ready | None
    questions: tuple[Question, ...]
    review: Review
    loaves: tuple[Showing, ...]
    """The cut face as poured and as foreseen; empty when nothing came into the mould."""
    beside: tuple[Beside, ...]
    """How far each colour came, beside how far it was foreseen to come."""
    cautions: tuple[Caution, ...]
    problems: tuple[Caution, ...]
    damaged: int
    """Parts of the log that could not be read."""
    bars: int | None = None
    """How many bars the loaf was last cut into; None where nobody said."""

    @property
    def splits(self) -> tuple[tuple[int, int], ...]:
        """Whole mL and g of each pot, adding up to the batter's."""
        return shown_splits(self.amounts.pots)

    @property
    def pour_chart(self) -> PourChart | None:
        """The pour as done against the windows its batter left; None when nothing was done."""
        if not self.state.done:
            return None
        reached = {
            pot.name: dict(zip(MILESTONES[Trace.LIGHT :], (q for _, q in pot.reached), strict=True))
            for pot in self.pots
        }
        return poured_chart(self.plan.pots, self.state, reached, self.state.ended)

    @property
    def outcome(self) -> str:
        """How the pour came out, in a few words."""
        return came_out(self.state)


def batch_report(
    batch: BatchFile, known: Known, practice: Practice, texts: Mapping[str, Mapping[str, str]]
) -> BatchReport:
    """The report of one batch. ``texts``: the cautions."""
    plan, amounts, foreseen = batch.plan, batch.amounts, batch.header.foreseen
    id_, facts = batch.header.id, standing(batch.log.events)
    ml = pot_ml(amounts)
    state = state_of(plan, ml, known.swirls, facts)
    lye = facts.first(Kind.LYE_MEETS_OILS)
    rests = resting_of(id_, plan, foreseen, facts, state.steps, known.swirls)
    after = after_cautions(rests, 0.0, texts) if rests else ()
    loaves = poured_showings(id_, plan, amounts, known, state, foreseen.face)
    bars = _bars(facts)
    return BatchReport(
        batch=id_,
        title=plan.title,
        version=batch.header.version,
        begun=lye.at if lye else None,
        plan=plan,
        amounts=amounts,
        state=state,
        chance=foreseen.chance,
        materials=materials(plan, amounts, known, facts),
        ingredients=ingredients(amounts),
        fragrances=amounts.fragrances,
        stages=_stages(state, foreseen),
        pots=_pots(id_, plan, amounts, state, known),
        happenings=_happenings(facts, state),
        resting=rests,
        after=_after(facts, state),
        curve=curve(rests) if rests else None,
        doubts=doubts(weighings(rests), rests.water_share) if rests else (),
        ready=ready(rests, practice) if rests else None,
        questions=questions([pot.name for pot in plan.sunk]),
        review=review(facts),
        loaves=loaves,
        beside=beside(plan, loaves[-1], reaches(facts), bars) if loaves else (),
        cautions=(*cautions(plan, amounts, texts), *after),
        problems=problems(plan, amounts, texts),
        damaged=len(batch.log.damaged),
        bars=bars,
    )


def _bars(facts: Standing) -> int | None:
    cut = facts.last(Kind.CUT)
    bars = cut.values.get("bars") if cut else None
    return bars if isinstance(bars, int) else None


def _stages(state: PourState, foreseen: Figures) -> tuple[StageBar, ...]:
    begins, lasts = foreseen.stage_at_s, foreseen.stage_s
    bars = []
    for done in state.done:
        at, takes = begins.get(done.stage.id), lasts.get(done.stage.id)
        planned = (at, at + takes) if at is not None and takes else None
        bars.append(StageBar(done.stage.words, planned, (done.begun, done.done), done.skipped))
    return tuple(bars)


def _pots(
    batch: str, plan: Plan, amounts: Amounts, state: PourState, known: Known
) -> tuple[PotChart, ...]:
    if not state.begun:
        return ()
    draws = likely(batch, plan, amounts, known, state)
    return tuple(_chart(pot, plan.pot(name).colour, draws) for name, pot in state.pots.items())


def _chart(pot: PotState, look: str, draws: Any) -> PotChart:
    import numpy as np

    from soapbench.thickening.draws import milestone_times

    times = milestone_times(draws, pot.fragrance, pot.fragrance_in, pot.course)
    levels = np.quantile(times, (0.1, 0.5, 0.9), axis=0)
    reached = tuple(
        (TRACE_WORDS[state], Quantiles(*(float(level[state]) for level in levels)))
        for state in MILESTONES[Trace.LIGHT :]
    )
    return PotChart(pot.name, look, pot.fragrance_in, pot.blends, pot.taps, reached)


def _happenings(facts: Iterable[Event], state: PourState) -> tuple[Happening, ...]:
    """Notes, troubles, warnings and switches, in order."""
    happenings = []
    for event in facts:
        values = event.values
        if event.kind is Kind.NOTE and _is_later(event, state):
            continue
        if event.kind in (Kind.NOTE, Kind.WARNING_SHOWN):
            words = str(values.get("text", ""))
        elif event.kind is Kind.RESCUE_TAKEN:
            steps = values.get("steps")
            words = " + ".join(map(str, steps)) if isinstance(steps, list) else ""
        elif event.kind is Kind.STAGE_SKIPPED:
            words = _step_words(str(values.get("stage", "")), state)
        elif event.kind is Kind.TROUBLE:
            words = str(values.get("trouble", ""))
        elif event.kind is Kind.FRAGRANCE_IN and values.get("second") is True:
            words = "a second dose"
        else:
            continue
        happenings.append(_happening(event, words))
    return tuple(happenings)


def _is_later(event: Event, state: PourState) -> bool:
    return state.ended is not None and event.t > state.ended


def _after(facts: Iterable[Event], state: PourState) -> tuple[Happening, ...]:
    """What was done after the pour, answers of the cut review left out."""
    words: dict[Kind, Callable[[Mapping[str, Value]], str]] = {
        Kind.POUR_ENDED: lambda v: "",
        Kind.OUTCOME: lambda v: str(v.get("outcome", "")),
        Kind.SET_ASIDE: lambda v: "teaches nothing" if v.get("aside") else "counts again",
        Kind.SPRAY: lambda v: "alcohol",
        Kind.GEL_CHOSEN: lambda v: GEL_CHOSEN.get(str(v.get("gel")), ""),
        Kind.GEL_SEEN: _gel_words,
        Kind.NOTE: lambda v: str(v.get("text", "")),
        Kind.UNMOULD: lambda v: "",
        Kind.CUT: lambda v: _bars_words(v["bars"]) if "bars" in v else "",
        Kind.WEIGHING: _weighing,
        Kind.CURED: lambda v: "",
        Kind.FINISH_WISHED: lambda v: f"a date to {v.get('act')}",
        Kind.FINISH_DONE: lambda v: FINISHED.get(str(v.get("act")), ""),
    }
    return tuple(
        _happening(e, words[e.kind](e.values))
        for e in facts
        if e.kind in words and (e.kind is not Kind.NOTE or _is_later(e, state))
    )


def _step_words(stage: str, state: PourState) -> str:
    """Which step was skipped; empty for one that this pour does not have."""
    return next((d.stage.words for d in state.done if d.stage.id == stage), "")


def _gel_words(values: Mapping[str, Value]) -> str:
    reach = str(values.get("reach") or "")
    return GEL_REACHED.get(reach, reach) or str(values.get("trouble") or "")


def _bars_words(count: Value) -> str:
    return "1 bar" if count == 1 else f"{count} bars"


def _weighing(values: Mapping[str, Value]) -> str:
    """ "1,219 g, 10 bars"."""
    g, count = values.get("g"), values.get("count")
    words = numbers.written_g(g) if isinstance(g, int | float) else f"{g} g"
    words += f", {_bars_words(count)}" if count else ""
    return f"{words}, other bars" if values.get("other_bars") else words


def _happening(event: Event, words: str) -> Happening:
    return Happening(event.t, event.at, event.pot or "", SAID[event.kind], words)
