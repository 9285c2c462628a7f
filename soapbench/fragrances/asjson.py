"""The fragrance book as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from soapbench.advice.known import Known
from soapbench.fragrances.book import Entry, FragranceBook
from soapbench.fragrances.score import as_json as score_json
from soapbench.fragrances.score import record_json
from soapbench.fragrances.suited import advice, swirls_for


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
