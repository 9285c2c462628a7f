"""What to pour with a fragrance: every swirl in a usual batch, and one sentence of advice."""

from __future__ import annotations

from collections.abc import Sequence

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice, choice
from soapbench.batter import Mix
from soapbench.fragrances.book import Entry, Tally
from soapbench.outlook.worth import WORTH_POURING, Become
from soapbench.plan import Plan
from soapbench.plan.reader import read_tables
from soapbench.reading.safetext import counted
from soapbench.words.chances import percent


def swirls_for(entry: Entry, usual: Mix, known: Known) -> tuple[SwirlChoice, ...]:
    """Every way to pour three pots with this fragrance in a usual batch, most worth first.

    Takes some 50 ms: each is run through draws of the batter, as for a plan.
    """
    plan = _usual_plan(entry, usual)
    foreseen = Foreseen(plan, known)
    pours = [
        kind for kind in known.swirls.pours if kind.least_pots <= len(plan.pots) <= kind.most_pots
    ]
    ways = [
        choice(
            (kind.name,),
            foreseen.finish((kind.name,)),
            Become.SAVED if kind.saves else Become.WISH,
            known.risk,
        )
        for kind in pours
    ]
    return tuple(sorted(ways, key=lambda way: (-round(way.worth, 2), way.minutes)))


def _usual_plan(entry: Entry, usual: Mix) -> Plan:
    """A litre of the usual batter in three pots, each with the fragrance."""
    oils = {"name": "usual oils", "share": "100 %", "saponification": "190 mg/g"}
    return read_tables(
        {
            "title": "usual batch",
            "mould": {"volume": "1 L"},
            "oils": [{**oils, "saturated": f"{usual.saturated * 100:.6g} %"}],
            "lye": {"concentration": f"{usual.concentration * 100:.6g} %"},
            "conditions": {"batter": f"{usual.batter_c:.6g} degC"},
            "pots": [
                {"name": "base", "share": "60 %", "colourants": [{"name": "colour"}]},
                {"name": "accent", "share": "20 %", "colourants": [{"name": "colour"}]},
                {"name": "second accent", "share": "20 %", "colourants": [{"name": "colour"}]},
            ],
            "fragrance": {
                "name": entry.name,
                "load": "3 %",
                "reputation": entry.reputation.value,
            },
        }
    )


def advice(entry: Entry, swirls: Sequence[SwirlChoice], known: Known) -> str:
    """One plain sentence: how fast, what to pour with it, what came of it so far."""
    sentence = f"{_speed(entry)}: {_suited(swirls, known)}"
    missed = [t for t in entry.swirls if t.as_planned < t.poured]
    if missed:
        worst = max(missed, key=lambda t: t.poured - t.as_planned)
        sentence += f"; {worst.as_planned} of {_counted(worst)} worked out"
    return sentence


def _speed(entry: Entry) -> str:
    factor = entry.factor.p50
    by = "" if entry.batches else "By the supplier's word it "
    if not entry.batches and entry.others_batches:
        by = f"In {counted(entry.others_batches, 'batch', 'batches')} of another maker's it "
    if factor >= 1.25:
        shown = f"{factor:.0f}" if factor >= 2.95 else f"{factor:.1f}"
        words = f"thickens about {shown}x faster"
    elif factor < 0.8:
        words = "slows the batter down"
    else:
        words = "doesn't speed the batter up"
    return by + words if by else words[0].upper() + words[1:]


THERE_IS_TIME = 0.8
"""From this chance on nobody would say that there is no time for a swirl (ours)."""


def _suited(swirls: Sequence[SwirlChoice], known: Known) -> str:
    cooked = [c.name for c in swirls if known.swirls.kinds[c.steps[0]].cooked]
    raw = [c for c in swirls if not known.swirls.kinds[c.steps[0]].cooked]
    tight = [c.name for c in raw if c.worth < WORTH_POURING and c.chance < THERE_IS_TIME]
    fine = [c.name for c in raw if c.name not in tight]
    if not tight:
        return "time for any swirl"
    if not fine:
        best = [f"{c.name} ({percent(c.chance)})" for c in raw[:1]]
        return f"best bets: {', '.join([*best, *cooked])}"
    if len(tight) <= len(fine):
        return f"time for most swirls, not for {_or(tight[-2:])}"
    return _or([*fine[:3], *cooked])


def _or(names: Sequence[str]) -> str:
    return " or ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def _counted(tally: Tally) -> str:
    """ "3 drop swirls": the pour named, its tools left out."""
    name = tally.steps[0] if tally.steps else "pour"
    return counted(tally.poured, name, name if name.endswith("s") else "")
