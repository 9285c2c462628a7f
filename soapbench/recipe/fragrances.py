"""What a maker knows of a fragrance before it goes in, from its own certificate and label.

There is no table of fragrances to start from: limits differ from one certificate to the next.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soapbench.batter import ByOthers, Reputation
from soapbench.plan.values import DENSITIES
from soapbench.reading.entries import MARKS, Entry, table_of
from soapbench.reading.faults import Fault
from soapbench.reading.safetext import clean

FASTER = (0.05, 200.0)
"""Times faster than without it that can be believed of any fragrance."""
MOST_ALLERGENS = 120
"""More than any list of them has."""


@dataclass(frozen=True, slots=True)
class FragranceFacts:
    """A fragrance of the maker's own table."""

    name: str
    limit: float | None = None
    """Most it may be of the finished product, 0 to 1; None: not known, and none is assumed."""
    reputation: Reputation = Reputation.UNKNOWN
    density: float | None = None
    """g/mL; None: not known."""
    lot: str = ""
    """Of the bottle in use."""
    note: str = ""
    vanillin: float | None = None
    """Share of the fragrance, 0 to 1: it browns soap; None: not known."""
    allergens: tuple[tuple[str, float], ...] = ()
    """Names to be listed on a label, and their shares of the fragrance, 0 to 1, as its certificate
    has them."""
    by_others: ByOthers | None = None
    """What another maker found of it; None: nothing."""
    source: str = ""
    verified: str = ""


def fragrance_table(
    tables: Mapping[str, Any],
) -> tuple[dict[str, FragranceFacts], tuple[Fault, ...]]:
    """Fragrances by name from their tables, and what was wrong with the entries left out."""
    return table_of(tables, _fragrance)


def _fragrance(name: str, entry: Entry) -> FragranceFacts:
    entry.keys(
        "limit_percent", "reputation", "density_g_ml", "lot", "note",
        "vanillin_percent", "allergens_percent", "told",
    )  # fmt: skip
    entry.marked()
    limit = _given(entry, "limit_percent", 0.01, 100)
    vanillin = _given(entry, "vanillin_percent", 0, 100)
    return FragranceFacts(
        name=name,
        limit=None if limit is None else limit / 100,
        reputation=Reputation(entry.word("reputation", list(Reputation), Reputation.UNKNOWN)),
        density=_given(entry, "density_g_ml", *DENSITIES),
        lot=entry.text("lot"),
        note=entry.text("note"),
        vanillin=None if vanillin is None else vanillin / 100,
        allergens=_allergens(entry),
        by_others=_by_others(entry),
        **entry.marks,
    )


def _by_others(entry: Entry) -> ByOthers | None:
    """As ``fragrances.handon`` writes it."""
    group = entry.group("told")
    if group is None:
        return None
    group.keys("times_faster", "four_in_five", "batches")
    group.marked()
    return others_of(group)


def others_of(entry: Entry) -> ByOthers | None:
    """What another maker found, in a table of its own; None and its faults where it cannot be."""
    before = len(entry.faults)
    for key in ("times_faster", "batches"):
        if key not in entry.table:
            entry.fault(key, "missing", f"{key} = {'3.2' if key != 'batches' else '5'}")
    middle = entry.number("times_faster", *FASTER, 1)
    low, high = entry.ends("four_in_five", *FASTER)
    batches = entry.count("batches", 1, 10_000, 1)
    if len(entry.faults) == before and not low <= middle <= high:
        entry.fault("four_in_five", "times_faster does not lie in it", f"around {middle:g}")
    return ByOthers(middle, low, high, batches) if len(entry.faults) == before else None


def _allergens(entry: Entry) -> tuple[tuple[str, float], ...]:
    group = entry.group("allergens_percent")
    if group is None:
        return ()
    listed = [name for name in group.table if name not in MARKS]
    if len(listed) > MOST_ALLERGENS:
        group.fault("", f"{len(listed)} allergens", f"at most {MOST_ALLERGENS}")
    return tuple(
        (clean(name, 60), group.number(name, 0, 100, 0) / 100) for name in listed[:MOST_ALLERGENS]
    )


def _given(entry: Entry, name: str, least: float, most: float) -> float | None:
    return entry.number(name, least, most, least) if name in entry.table else None
