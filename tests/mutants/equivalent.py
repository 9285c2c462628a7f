"""Mutants judged to change nothing that can be noticed, each with its reason."""

from __future__ import annotations

from tests.mutants.drawn import Mutant

EQUIVALENT: dict[tuple[str, str, str, str], str] = {
    (
        "logfile/batchlog.py",
        "while block := os.read(fd, 1 << 20):",
        "20",
        "(21)",
    ): "a file read in blocks of another size is the same file",
    (
        "thickening/fragrance.py",
        "low, high = (low, middle) if 1.0 - self.above(np.exp(middle)) >= p else (middle, high)",
        "1.0 - self.above(np.exp(middle)) >= p",
        "(1.0 - self.above(np.exp(middle)) > p)",
    ): "halving comes to the same number whichever half its own end belongs to",
    ("thickening/evidence.py", "NOT_KEYED_UP = -1", "1", "(2)"): (
        "any number below 0 tells it; what it picks counts 0 times"
    ),
    ("thickening/evidence.py", "lot, t_f, w = NO_LOT, inf, 1.0", "1.0", "(0.0)"): (
        "without fragrance AF is 1, and A is 1 whatever w is"
    ),
    (
        "swirls/table.py",
        "if len(words) not in (2, 3) or not set(words) <= set(TRACE_WORDS):",
        "set(words) <= set(TRACE_WORDS)",
        "(set(words) < set(TRACE_WORDS))",
    ): "two or three words are never all five",
}
"""(module, the line it stands in, what is changed, into what): why."""


def reason(mutant: Mutant) -> str | None:
    """Why ``mutant`` cannot be noticed; None if it should be."""
    module = mutant.path.removeprefix("soapbench/")
    return EQUIVALENT.get((module, mutant.source, mutant.was, mutant.becomes))
