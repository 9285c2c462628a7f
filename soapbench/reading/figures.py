"""The figures a log's header keeps of what was foreseen, as far as they can be true."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from soapbench.reading.entries import between

LONGEST_POUR_S = 86400.0
"""A log that says a pour went on for longer says nothing about its batter (ours)."""
MIX = {"batter_c": (0.0, 110.0), "concentration": (0.1, 0.6), "saturated": (0.0, 1.0)}
"""Least and most a recipe can have."""


def sound_figures(foreseen: Mapping[str, Any]) -> dict[str, Any]:
    """The figures of a header that can be true; one hostile log must not spoil the fit of all."""
    kept: dict[str, Any] = {
        name: float(foreseen[name])
        for name in ("chance", "water_share")
        if between(foreseen.get(name), 0.0, 1.0)
    }
    mix, ml = foreseen.get("mix"), foreseen.get("pot_ml")
    if isinstance(mix, Mapping) and all(between(mix.get(k), *ends) for k, ends in MIX.items()):
        kept["mix"] = {name: float(mix[name]) for name in MIX}
    if isinstance(ml, Mapping) and all(between(v, 1e-3, 1e6) for v in ml.values()):
        kept["pot_ml"] = {name: float(v) for name, v in ml.items()}
    for name in ("stage_at_s", "stage_s"):
        if isinstance(times := foreseen.get(name), Mapping):
            kept[name] = {k: float(v) for k, v in times.items() if between(v, 0.0, LONGEST_POUR_S)}
    return kept
