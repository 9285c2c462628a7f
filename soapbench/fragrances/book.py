"""The fragrance book: what each fragrance taught, and what its supplier's word was worth.

Everything is worked out from the fit and the lessons of the logs; nothing is kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf
from statistics import median

from soapbench.advice.known import Known
from soapbench.batter import FragranceWord, Mix, PotHistory, Reputation
from soapbench.fragrances.score import Record, Score, record, score
from soapbench.fragrances.shelf import FAST
from soapbench.lessons import Ended, Lesson
from soapbench.outlook.finishing import Quantiles
from soapbench.recipe.fragrances import FragranceFacts
from soapbench.thickening import acceleration, live
from soapbench.thickening.evidence import REFERENCE
from soapbench.words.chances import rests_on

SLOW_BELOW, FAST_FROM = 1.5, FAST
"""Median acceleration factors that count as slow and as fast (ours)."""
DRAWS = 400
"""Of a batch, for its dot."""
ENOUGH_BATCHES = 2
"""A fragrance seen less often says more about its reputation than of it (ours)."""


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
        return rests_on(self.batches, self.reputation.value, self.others_batches)

    @property
    def others_batches(self) -> int:
        """Batches in which another maker tried it, where one told of it."""
        return self.facts.by_others.batches if self.facts and self.facts.by_others else 0


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
    ended: dict[str, list[Ended]] = {}
    for outcome in outcomes:
        for name in outcome.fragrances:
            ended.setdefault(name, []).append(outcome)
    names = sorted({*known.fit.fragrances, *ended, *own}, key=str.casefold)
    entries = tuple(
        replace(
            _entry(name, known, ended.get(name, []), own.get(name)),
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
    learnt = known.fit.fragrances.get(name)
    reputation = facts.reputation if facts else learnt.reputation if learnt else Reputation.UNKNOWN
    believed = acceleration(known.fit, FragranceWord(name, reputation))
    listed = list(outcomes)
    poured = Counter(o.steps for o in listed)
    right = Counter(o.steps for o in listed if o.as_planned)
    return Entry(
        name=name,
        reputation=reputation,
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
    others = {name: learnt for name, learnt in known.fit.fragrances.items() if name != entry.name}
    fit = replace(known.fit, fragrances=others)
    batches = []
    for lesson in entry.poured:
        if not any(_tells(pot, entry.name) for pot in lesson.history.pots):
            continue
        drawn = live(fit, lesson.history, inf, n=DRAWS).log_af[entry.name]
        worked_out = lesson.ended is not None and lesson.ended.as_planned
        batches.append((exp(median(drawn.tolist())), worked_out))
    return tuple(batches)


def _tells(pot: PotHistory, name: str) -> bool:
    since = pot.fragrance_in
    return pot.fragrance == name and since is not None and any(t.t > since for t in pot.taps)


def _words(entries: Iterable[Entry], known: Known) -> tuple[WordWorth, ...]:
    poured = [e for e in entries if e.batches >= ENOUGH_BATCHES]
    worths = []
    for word in Reputation:
        middles = [e.factor.p50 for e in poured if e.reputation is word]
        unseen = acceleration(known.fit, FragranceWord("", word))
        worths.append(
            WordWorth(
                reputation=word,
                fragrances=len(middles),
                slow=sum(m < SLOW_BELOW for m in middles),
                fast=sum(m >= FAST_FROM for m in middles),
                usual=unseen.quantile(0.5),
            )
        )
    return tuple(worths)


def _usual(lessons: Sequence[Lesson]) -> Mix:
    mixes = [lesson.history.mix for lesson in lessons]
    if not mixes:
        return REFERENCE
    return Mix(
        batter_c=median(m.batter_c for m in mixes),
        concentration=median(m.concentration for m in mixes),
        saturated=median(m.saturated for m in mixes),
    )
