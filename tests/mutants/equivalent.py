"""Mutants judged to change nothing that can be noticed, each with its reason.

Named by what stands there, so that lines may be added above; a line that is changed itself is
judged anew.
"""

from __future__ import annotations

from tests.mutants import equivalent_pour, equivalent_thickening
from tests.mutants.drawn import Mutant

Place = tuple[str, str, int, str]
"""Module, the line it stands in, the column, what it becomes."""
NOT_NOTICED: dict[str, tuple[Place, ...]] = {
    "a file read in blocks of another size is the same file": (
        ("logfile/batchlog.py", "while block := os.read(fd, 1 << 20):", 40, "(21)"),
    ),
    "two or three words are never all five": (
        (
            "swirls/table.py",
            "if len(words) not in (2, 3) or not set(words) <= set(TRACE_WORDS):",
            39,
            "(set(words) < set(TRACE_WORDS))",
        ),
    ),
    "a pour is neither a tool nor a top": (
        ("advice/ways.py", "pour, rest = tuple(steps[:1]), steps[1:]", 41, "(0)"),
    ),
    "two moments drawn from what has no steps are never the same": (
        (
            "outlook/finishing.py",
            "chance=(right := share(stage.end < stage.latest)),",
            35,
            "(stage.end <= stage.latest)",
        ),
    ),
    "worths are means over draws and never just the bound": (
        (
            "advice/advise.py",
            "if advice.backup.worth <= same.worth + CLEARLY:",
            7,
            "(advice.backup.worth < same.worth + CLEARLY)",
        ),
    ),
    "the byte locked on Windows only has to lie far behind": (
        (
            "logfile/hold.py",
            "_FAR = 1 << 30  # Windows bars reading the locked byte: lock one far behind the words",
            12,
            "(31)",
        ),
    ),
    "both are always as long": (
        (
            "recipe/amounts.py",
            "for fragrance, g in zip(plan.fragrance, batch.fragrances_g, strict=True)",
            75,
            "(False)",
        ),
    ),
    "a default that nothing in the program leaves to it": (
        ("swirls/stage.py", "spread: float = 0.3", 20, "(0.6)"),
        ("swirls/table.py", "least_pots: int = 1", 22, "(2)"),
    ),
    "worths are means over draws and never just that far apart": (
        (
            "advice/advise.py",
            "better = backup is not None and backup.worth > going_on.worth + NEAR",
            36,
            "(backup.worth >= going_on.worth + NEAR)",
        ),
    ),
}
EQUIVALENT = {
    place: why
    for judged in (NOT_NOTICED, equivalent_pour.NOT_NOTICED, equivalent_thickening.NOT_NOTICED)
    for why, places in judged.items()
    for place in places
}


def reason(mutant: Mutant) -> str | None:
    """Why ``mutant`` cannot be noticed; None if it should be."""
    module = mutant.path.removeprefix("soapbench/")
    return EQUIVALENT.get((module, mutant.source, mutant.column, mutant.becomes))
