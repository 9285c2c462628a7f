"""The fragrance book: what each fragrance taught, and what its supplier's word was worth.

Everything is worked out from the fit and the lessons of the logs; nothing is kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf
from statistics import median
from typing import Any

from soapbench.advice.advise import Foreseen, Known
from soapbench.advice.ways import SwirlChoice, choice
from soapbench.batter import FragranceWord, Mix, PotHistory, Reputation
from soapbench.fragrances.score import Record, Score, record, record_json, score
from soapbench.fragrances.score import as_json as score_json
from soapbench.fragrances.shelf import FAST
from soapbench.lessons import Ended, Lesson
from soapbench.outlook.finishing import Quantiles
from soapbench.outlook.worth import WORTH_POURING, Become
from soapbench.plan import Plan
from soapbench.plan.reader import read_tables
from soapbench.reading.safetext import counted
from soapbench.recipe.fragrances import FragranceFacts
from soapbench.thickening import acceleration, live
from soapbench.words.chances import percent, rests_on

SLOW_BELOW, FAST_FROM = 1.5, FAST
"""Median acceleration factors that count as slow and as fast (ours)."""
DRAWS = 400
"""Of a batch, for its dot."""
ENOUGH_BATCHES = 2
"""A fragrance seen less often says more about its reputation than of it (ours)."""
REFERENCE = Mix(batter_c=30.0, concentration=0.33, saturated=0.40)
"""The usual batter where no batch tells of the maker's own (ours)."""


@dataclass(frozen=True, slots=True)
class Tally:
    """One swirl poured with a fragrance: how often, and how often finished as planned."""

    steps: tuple[str, ...]
    poured: int
    as_planned: int

    @property
    def name(self) -> str:
        return " + ".join(self.steps)


@dataclass(frozen=True, slots=True)
class Entry:
    """One fragrance of the book."""

    name: str
    reputation: Reputation
    factor: Quantiles
    """How many times faster a pot thickens with it, in the next batch."""
    batches: int
    swirls: tuple[Tally, ...] = ()
    """Most poured first."""
    verdicts: tuple[tuple[str, int], ...] = ()
    """The maker's words at the cut, each with its count."""
    next_time: str = ""
    """What the maker last said about pouring with it again."""
    facts: FragranceFacts | None = None
    """From the maker's own table."""
    poured: tuple[Lesson, ...] = ()
    """The batches with it, oldest first."""

    @property
    def rests_on(self) -> str:
        return rests_on(self.batches, self.reputation.value, self.told)

    @property
    def told(self) -> int:
        """Batches in which another maker tried it, where one told of it."""
        return self.facts.told.batches if self.facts and self.facts.told else 0


@dataclass(frozen=True, slots=True)
class WordWorth:
    """What one reputation turned out to be worth, over fragrances poured often enough."""

    reputation: Reputation
    fragrances: int
    slow: int
    fast: int
    usual: float
    """Median factor that this bench has come to expect of it."""

    @property
    def between(self) -> int:
        return self.fragrances - self.slow - self.fast


@dataclass(frozen=True, slots=True)
class FragranceBook:
    """Every fragrance poured or in the maker's own table, by name."""

    entries: tuple[Entry, ...]
    words: tuple[WordWorth, ...]
    score: Score
    record: Record
    usual: Mix
    """The batter this maker usually makes: what swirls are foreseen for."""

    def matches(self, part: str) -> tuple[Entry, ...]:
        """The fragrance of that name, else every one with ``part`` in its name."""
        wanted = part.casefold().strip()
        whole = tuple(e for e in self.entries if e.name.casefold() == wanted)
        return whole or tuple(e for e in self.entries if wanted and wanted in e.name.casefold())


def fragrance_book(
    known: Known, lessons: Sequence[Lesson], own: Mapping[str, FragranceFacts]
) -> FragranceBook:
    """The book of a bench. ``lessons``: oldest first; ``own``: the maker's table of fragrances."""
    outcomes = [lesson.ended for lesson in lessons if lesson.ended is not None]
    told: dict[str, list[Ended]] = {}
    for outcome in outcomes:
        for name in outcome.fragrances:
            told.setdefault(name, []).append(outcome)
    names = sorted({*known.fit.fragrances, *told, *own}, key=str.casefold)
    entries = tuple(
        replace(
            _entry(name, known, told.get(name, []), own.get(name)),
            poured=tuple(x for x in lessons if x.ended and name in x.ended.fragrances),
        )
        for name in names
    )
    return FragranceBook(
        entries, _words(entries, known), score(outcomes), record(outcomes), _usual(lessons)
    )


def _entry(
    name: str, known: Known, outcomes: Iterable[Ended], facts: FragranceFacts | None
) -> Entry:
    seen = known.fit.fragrances.get(name)
    told = facts.reputation if facts else seen.reputation if seen else Reputation.UNKNOWN
    believed = acceleration(known.fit, FragranceWord(name, told))
    listed = list(outcomes)
    poured = Counter(o.steps for o in listed)
    right = Counter(o.steps for o in listed if o.as_planned)
    return Entry(
        name=name,
        reputation=told,
        factor=Quantiles(*(believed.quantile(p) for p in (0.1, 0.5, 0.9))),
        batches=believed.batches,
        swirls=tuple(Tally(steps, n, right[steps]) for steps, n in poured.most_common()),
        verdicts=tuple(Counter(o.verdict for o in listed if o.verdict).most_common()),
        next_time=next((o.next_time for o in reversed(listed) if o.next_time), ""),
        facts=facts,
    )


def each_batch(entry: Entry, known: Known) -> tuple[tuple[float, bool], ...]:
    """How many times faster each batch alone says it is, and whether its swirl worked out.

    What other batches said of the fragrance is left out of account; a batch in which nothing was
    tapped after it went in says nothing. Takes some 10 ms a batch.
    """
    others = {name: seen for name, seen in known.fit.fragrances.items() if name != entry.name}
    fit = replace(known.fit, fragrances=others)
    found = []
    for lesson in entry.poured:
        if not any(_tells(pot, entry.name) for pot in lesson.history.pots):
            continue
        drawn = live(fit, lesson.history, inf, n=DRAWS).log_af[entry.name]
        worked_out = lesson.ended is not None and lesson.ended.as_planned
        found.append((exp(median(drawn.tolist())), worked_out))
    return tuple(found)


def _tells(pot: PotHistory, name: str) -> bool:
    since = pot.fragrance_in
    return pot.fragrance == name and since is not None and any(t.t > since for t in pot.taps)


def _words(entries: Iterable[Entry], known: Known) -> tuple[WordWorth, ...]:
    poured = [e for e in entries if e.batches >= ENOUGH_BATCHES]
    found = []
    for word in Reputation:
        middles = [e.factor.p50 for e in poured if e.reputation is word]
        unseen = acceleration(known.fit, FragranceWord("", word))
        found.append(
            WordWorth(
                reputation=word,
                fragrances=len(middles),
                slow=sum(m < SLOW_BELOW for m in middles),
                fast=sum(m >= FAST_FROM for m in middles),
                usual=unseen.quantile(0.5),
            )
        )
    return tuple(found)


def _usual(lessons: Sequence[Lesson]) -> Mix:
    mixes = [lesson.history.mix for lesson in lessons]
    if not mixes:
        return REFERENCE
    return Mix(
        batter_c=median(m.batter_c for m in mixes),
        concentration=median(m.concentration for m in mixes),
        saturated=median(m.saturated for m in mixes),
    )


# ---------------------------------------------------------------- what to pour with it


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
            "mould": {"volume": "1 L", "fill": "92 %"},
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
    said = f"{_speed(entry)}: {_suited(swirls, known)}"
    missed = [t for t in entry.swirls if t.as_planned < t.poured]
    if missed:
        worst = max(missed, key=lambda t: t.poured - t.as_planned)
        said += f"; {worst.as_planned} of {_counted(worst)} worked out"
    return said


def _speed(entry: Entry) -> str:
    factor = entry.factor.p50
    by = "" if entry.batches else "By the supplier's word it "
    if not entry.batches and entry.told:
        by = f"In {counted(entry.told, 'batch', 'batches')} of another maker's it "
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


def as_json(book: FragranceBook, listed: Sequence[Entry], known: Known) -> dict[str, Any]:
    """The book as plain values, fragrances ``listed``; factor 1: as fast as without it."""
    return {
        "fragrances": [_entry_json(entry, book, known) for entry in listed],
        "words": [
            {
                "reputation": w.reputation.value,
                "fragrances": w.fragrances,
                "slow": w.slow,
                "between": w.between,
                "fast": w.fast,
                "usual_factor": round(w.usual, 3),
            }
            for w in book.words
        ],
        "score": score_json(book.score),
        "record": record_json(book.record),
    }


def _entry_json(entry: Entry, book: FragranceBook, known: Known) -> dict[str, Any]:
    swirls = swirls_for(entry, book.usual, known)
    factor, facts = entry.factor, entry.facts
    return {
        "name": entry.name,
        "reputation": entry.reputation.value,
        "batches": entry.batches,
        "rests_on": entry.rests_on,
        "factor": {name: round(getattr(factor, name), 3) for name in ("p10", "p50", "p90")},
        "poured": [
            {"steps": list(t.steps), "poured": t.poured, "as_planned": t.as_planned}
            for t in entry.swirls
        ],
        "verdicts": dict(entry.verdicts),
        "next_time": entry.next_time,
        "swirls": [
            {"name": c.name, "chance": round(c.chance, 4), "minutes": round(c.minutes, 1)}
            for c in swirls
        ],
        "advice": advice(entry, swirls, known),
        "limit": facts.limit if facts else None,
    }
