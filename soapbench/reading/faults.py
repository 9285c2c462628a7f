"""What can be wrong with a file a maker wrote, said so that it can be put right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from soapbench.reading.safetext import clean


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: where it stands, what is wrong, what would be right."""

    key: str
    """Dotted key as the maker wrote it, ``pots[2].share``; empty for the file as a whole."""
    wrong: str
    right: str
    line: int | None = None
    """Line in the file, from 1; None when the fault is of the whole file."""

    def words(self, file: str = "") -> str:
        """All of it on one line: where it is, what is wrong, what would be right."""
        where = self.place(file)
        what = f"{self.key} {self.wrong}".strip()
        return (f"{where}: " if where else "") + what + (f"; {self.right}" if self.right else "")

    def place(self, file: str) -> str:
        """ "sage.toml, line 12"; the file alone where no line can be named."""
        return ", ".join(p for p in (file, f"line {self.line}" if self.line else "") if p)


class Wrong(ValueError):
    """A value that cannot stand: what is wrong with it, what would be right."""

    def __init__(self, wrong: str, right: str, key: str = "") -> None:
        self.wrong, self.right, self.key = wrong, right, key
        """``key``: dotted, below the value that was looked at."""
        super().__init__(f"{wrong}; {right}")


MOST_FAULTS = 20
"""So many faults of a file are told; of the rest only how many they are."""


class FileFaults(Exception):
    """Every fault found in one file, all at once; of very many the first."""

    def __init__(self, file: str, faults: Iterable[Fault], more: int = 0) -> None:
        self.file = file
        listed = tuple(faults)
        self.faults = listed[:MOST_FAULTS]
        self.more = more + len(listed) - len(self.faults)
        """How many more there are than are told."""
        rest = len(self.faults) - 1 + self.more
        others = f" (and {rest} more)" if rest > 0 else ""
        super().__init__(self.faults[0].words(file) + others if self.faults else file)

    def text(self) -> str:
        """All of them, two lines each, safe to print."""
        file = clean(self.file)
        lines = []
        for fault in self.faults:
            key = f" {clean(fault.key)}:" if fault.key else ""
            lines.append(f"{fault.place(file)}:{key} {clean(fault.wrong)}")
            lines.append(f"    {clean(fault.right)}")
        if self.more:
            lines.append(f"{file}: … and {self.more:,} more")
        return "\n".join(lines)


def nearest(word: str, known: Iterable[str]) -> str:
    """What would be right in place of ``word``: the nearest known name, else all of them."""
    names = sorted(set(known))
    folded = {name.casefold(): name for name in names}
    close = get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    if close:
        return f'did you mean "{folded[close[0]]}"?'
    shown = ", ".join(f'"{name}"' for name in names[:24])
    return f"one of {shown}" + (", …" if len(names) > 24 else "")
