"""From a plan or a pour to the design of its cut face: who goes in when, and how thick it all is.

Before the pour the trace states are the medians foreseen for each stage; afterwards those that
the maker's taps leave likely. A face is drawn by ``soapbench.barface`` and knows nothing of these.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapbench import barface
from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known, mix_of
from soapbench.barface import (
    Colour,
    Design,
    Pouring,
    SinkDepth,
    ToolPass,
    Top,
)
from soapbench.batter import Trace
from soapbench.figures import MOST_TRACE, FaceFigures
from soapbench.outlook.batters import trace_at
from soapbench.outlook.finishing import traces
from soapbench.plan import Plan
from soapbench.pour.history import history
from soapbench.pour.state import PotState, PourState, opening
from soapbench.reading.safetext import clean
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.recipe.batch import embeds_of_moulds
from soapbench.sinking import Sinking
from soapbench.swirls.pouring import SET_IN, Lot, lots
from soapbench.swirls.stage import Stage
from soapbench.swirls.stages import stages
from soapbench.swirls.table import Manner, SwirlTable, WireLed
from soapbench.thickening.draws import Draws, milestone_times
from soapbench.thickening.in_hand import live
from soapbench.words.acts import SCRAPE


@dataclass(frozen=True, slots=True)
class Worked:
    """A stage of the swirl as it is or was worked."""

    stage: Stage
    traces: Mapping[str, float]
    """Trace state of every pot halfway through it, 0 (emulsion) to 4 (set up)."""


def foreseen(pour: Foreseen) -> tuple[Worked, ...]:
    """The swirl of a plan not yet poured, as its median batter and hands would work it."""
    steps = stages(pour.plan, pour.ml, pour.known.swirls)
    pots = opening(pour.plan, pour.ml, pour.known.swirls).pots
    states = traces(steps, pots, pour.draws, pour.known.pace)
    return tuple(
        Worked(stage, state) for stage, state in zip(steps, states, strict=True) if stage.step
    )


def likely(batch: str, plan: Plan, amounts: Amounts, known: Known, state: PourState) -> Draws:
    """How a batch may have behaved, by all that was tapped in it."""
    last = state.last_s
    return live(known.fit, history(batch, plan, mix_of(plan, amounts), state, last), last)


def poured(state: PourState, draws: Draws) -> tuple[Worked, ...]:
    """What was really poured, by the log; what was left out is not in it."""
    # What was scraped back into the cooker is no picture any more.
    since = max((i for i, d in enumerate(state.done) if d.stage.action == SCRAPE), default=-1)
    done = [d for d in state.done[since + 1 :] if d.stage.step and not d.skipped]
    times = {
        name: milestone_times(draws, pot.fragrance, pot.fragrance_in, pot.course)
        for name, pot in state.pots.items()
    }
    worked = []
    for d in done:
        t = 0.5 * (d.begun + d.done)
        likely_at = {n: float(np.median(trace_at(m, t))) for n, m in times.items()}
        worked.append(
            Worked(d.stage, {n: _as_tapped(state.pots[n], t, s) for n, s in likely_at.items()})
        )
    return tuple(worked)


def _as_tapped(pot: PotState, t: float, likely: float) -> float:
    """What is likely of a pot at ``t``, as far as the maker's taps leave it open: no thinner than
    the last of them by then said, and no thicker than the next one did."""
    before = [tap.state for tap in pot.taps if tap.t <= t]
    after = next((tap.state for tap in pot.taps if tap.t > t), Trace.SET_UP)
    least = before[-1] if before else pot.together
    return min(max(likely, float(least)), float(max(after, least)))


def kept(worked: Sequence[Worked], sinking: Sinking) -> FaceFigures:
    """What a log's header keeps of a face foreseen, so that it can be drawn again as it was."""
    traces = {w.stage.id: {pot: round(t, 3) for pot, t in w.traces.items()} for w in worked}
    return FaceFigures(traces, round(sinking.thinner, 3))


def from_kept(
    plan: Plan, amounts: Amounts, table: SwirlTable, figures: FaceFigures | None
) -> tuple[tuple[Worked, ...], Sinking] | None:
    """The stages and sinking of ``figures``; None where they are missing or of other pots."""
    if figures is None:
        return None
    names = {pot.name for pot in plan.pots}
    worked = []
    for stage in stages(plan, pot_ml(amounts), table):
        states = figures.traces.get(stage.id, {}) if stage.step else None
        if states is not None and set(states) != names:
            return None
        if states is not None:
            worked.append(Worked(stage, states))
    return tuple(worked), Sinking(figures.thinner)


def later(worked: Sequence[Worked], states: float) -> tuple[Worked, ...]:
    """The same pour done when every batter is ``states`` trace states thicker."""
    return tuple(
        replace(w, traces={n: min(t + states, MOST_TRACE) for n, t in w.traces.items()})
        for w in worked
    )


def too_thick(worked: Sequence[Worked]) -> tuple[str, ...]:
    """Steps of the swirl that some batter would have been past by then."""
    wire = any(w.stage.draws_down for w in worked)
    past = (
        w.stage.step
        for w in worked
        if any(
            w.traces[pot] >= need.limits(wire)[1] + 1 for need in w.stage.needs for pot in need.pots
        )
    )
    return tuple(dict.fromkeys(past))


def design(
    plan: Plan,
    amounts: Amounts,
    table: SwirlTable,
    worked: Sequence[Worked],
    sinking: Sinking | None = None,
    mould: int = 0,
) -> Design | None:
    """The cut face in one mould of what was ``worked``; None when nothing came into it.

    ``mould`` is its place in the plan. An embed is drawn as a rod along the loaf: nothing in a
    plan tells of its shape, and so it covers the share of the face that it is of the mould.
    """
    lot = _lot(plan, mould)
    worked = of_mould(plan, worked, mould)
    ml = pot_ml(amounts)
    whole = sum(ml.values())
    index = {pot.name: i for i, pot in enumerate(plan.pots)}
    steps: list[Pouring | ToolPass] = []
    top: Top | None = None
    in_base: list[str] = []
    for w in worked:
        stage = w.stage
        role = table.kinds[stage.step].role
        if stage.action == SET_IN:
            steps += _embeds(plan, amounts, mould)
        elif stage.puts == "base":
            in_base += stage.pots
        elif stage.puts == "mould":
            stirred = [*in_base] if lot.base in stage.pots else []
            manner = Manner.IN_THE_POT if stirred else Manner(stage.manner)
            own = _mean(stage.pots, w.traces, ml)
            below = _mean(stage.onto, w.traces, ml) if stage.onto else own
            steps += [
                Pouring(index[pot], ml[pot] / whole, manner, below, _own(pot, w, stirred, lot.base))
                for pot in (*stage.pots, *stirred)
            ]
            in_base = [] if stirred else in_base
        elif role == "tool" and steps:
            steps.append(ToolPass(WireLed(stage.manner), _mean(stage.pots, w.traces, ml)))
        elif role == "top":
            top = Top(_mean(stage.pots, w.traces, ml))
    if not steps:
        return None
    pours = [step for step in steps if isinstance(step, Pouring)]
    return Design(
        colours=_colours(plan, any(pour.manner is Manner.EMBED for pour in pours)),
        steps=tuple(steps),
        mould=_mould(plan, amounts, mould, pours),
        top=top,
        sink=sink_depth(sinking or Sinking()),
    )


def _lot(plan: Plan, mould: int) -> Lot:
    return next(lot for lot in lots(plan) if mould in lot.moulds)


def of_mould(plan: Plan, worked: Sequence[Worked], mould: int) -> tuple[Worked, ...]:
    """What of it was worked with the pots that go into ``mould``."""
    pots = set(_lot(plan, mould).pots)
    return tuple(w for w in worked if pots.issuperset(w.stage.pots or w.stage.onto))


def _own(pot: str, w: Worked, stirred: Sequence[str], base: str) -> float:
    """Trace state of what is poured: an accent in the base's pot is as thick as that."""
    return w.traces[base if pot in stirred else pot]


def _embeds(plan: Plan, amounts: Amounts, mould: int) -> list[Pouring]:
    """Embeds in ``mould``, each by what it is of all the batter there is."""
    there = amounts.moulds[mould]
    whole = sum(plan.mould.wanted_ml)
    batter_ml = there.ml - embeds_of_moulds(plan)[mould]
    pots = [pot.share for pot in amounts.pots if pot.name in (there.pots or [pot.name])]
    per_ml = sum(pots) / max(batter_ml, 1.0)
    embeds = []
    for i, embed in enumerate(plan.embeds, len(plan.pots)):
        part = plan.mould.wanted_ml[mould] / whole if embed.mould is None else 1.0
        if embed.mould in (None, str(mould + 1)):
            embeds.append(Pouring(i, embed.volume * part * per_ml, Manner.EMBED))
    return embeds


def _mean(pots: Sequence[str], states: Mapping[str, float], ml: Mapping[str, float]) -> float:
    return sum(states[pot] * ml[pot] for pot in pots) / sum(ml[pot] for pot in pots)


def _colours(plan: Plan, embeds: bool) -> tuple[Colour, ...]:
    """The pots', and after them the embeds' where they are laid in."""
    named = [(pot.name, pot.colour) for pot in plan.pots]
    if embeds:
        named += [(e.name or f"embed {i}", e.colour) for i, e in enumerate(plan.embeds, 1)]
    return tuple(Colour(clean(name), look, i) for i, (name, look) in enumerate(named))


def _mould(plan: Plan, amounts: Amounts, number: int, pours: Sequence[Pouring]) -> barface.Mould:
    """The mould as filled with what is poured; given by volume, of usual proportions."""
    usual = barface.Mould()
    one, there = plan.mould.all[number], amounts.moulds[number]
    width = one.width or usual.width
    length = one.length or usual.length
    brim = one.depth or usual.depth
    full = min(there.ml / there.brim_ml, 1.0)
    chosen = sum(pot.share for pot in amounts.pots if pot.name in (there.pots or [pot.name]))
    laid = sum(p.share for p in _embeds(plan, amounts, number))
    part = sum(pour.share for pour in pours) / (chosen + laid)
    return barface.Mould(width, brim * full * min(part, 1.0), length)


def sink_depth(sinking: Sinking) -> SinkDepth:
    """Our sink depths, moved by what this maker's cuts taught."""
    usual = SinkDepth()
    moved = (usual.at(min(max(state - sinking.thinner, 0.0), MOST_TRACE)) for state in range(5))
    return SinkDepth(*moved)


def seed(plan: Plan) -> int:
    """The hand that draws this plan's faces: the same for the plan, its late pours and its pour."""
    return zlib.crc32(plan.title.encode())
