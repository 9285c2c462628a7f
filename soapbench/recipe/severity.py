"""What is said about a plan, how grave it is, and what may be begun in spite of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from soapbench.reading.safetext import clean

LONGEST_NAME = 24
Findings = Iterator[tuple[str, dict[str, str]]]
"""The id of what is to be said and the words that go into its text."""
Texts = Mapping[str, Mapping[str, str]]
"""The table of cautions."""


class Severity(StrEnum):
    """How grave it is; each entry of the table of cautions has one."""

    CAUTION = "caution"
    """To be minded."""
    ATTENTION = "attention"
    """A problem: the plan stands, but needs attention."""
    STOP = "stop"
    """A problem of lye or limit: not poured without a typed yes."""
    IMPOSSIBLE = "impossible"
    """A problem no yes helps: it cannot be made as written."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to mind, what it rests on, and how far that was verified."""

    id: str
    text: str
    source: str
    verified: str
    severity: Severity = Severity.CAUTION


YES = "yes"
"""What has to be typed, in full, before a plan with a stop is poured."""


def stops(problems: Iterable[Caution]) -> tuple[Caution, ...]:
    """Those that stand in place of a plan's chance, the gravest first."""
    grave = [p for p in problems if p.severity in (Severity.IMPOSSIBLE, Severity.STOP)]
    return tuple(sorted(grave, key=lambda p: p.severity is not Severity.IMPOSSIBLE))


def may_be_poured(problems: Iterable[Caution], typed: str = "") -> bool:
    """Whether a plan with these problems may be begun by somebody who typed this."""
    grave = stops(problems)
    if any(p.severity is Severity.IMPOSSIBLE for p in grave):
        return False
    return not grave or typed.strip().casefold() == YES


def texts_of(findings: Findings, table: Texts) -> tuple[Caution, ...]:
    """The texts of what was found, filled in."""
    return tuple(
        Caution(
            id_,
            table[id_]["text"].format(**words),
            table[id_]["source"],
            table[id_]["verified"],
            Severity(table[id_].get("severity", Severity.CAUTION)),
        )
        for id_, words in findings
    )


def name(written: str) -> str:
    """A name short enough for a text of two lines."""
    return clean(written, LONGEST_NAME)
