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
}
"""(module, the line it stands in, what is changed, into what): why."""


def reason(mutant: Mutant) -> str | None:
    """Why ``mutant`` cannot be noticed; None if it should be."""
    module = mutant.path.removeprefix("soapbench/")
    return EQUIVALENT.get((module, mutant.source, mutant.was, mutant.becomes))
