"""Mutants judged to change nothing that can be noticed, each with its reason."""

from __future__ import annotations

from tests.mutants.drawn import Mutant

EQUIVALENT: dict[tuple[str, str, str], str] = {}
"""(module, the line it stands in, what it becomes): why."""


def reason(mutant: Mutant) -> str | None:
    """Why ``mutant`` cannot be noticed; None if it should be."""
    return EQUIVALENT.get((mutant.path, mutant.source, mutant.becomes))
