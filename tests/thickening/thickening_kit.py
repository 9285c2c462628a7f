"""A small invented bench for the inner parts of the fit: three batches, two fragrances in three
bottles, bursts by seconds and up to a state, taps, silence and a pot nobody tapped."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from soapbench.batter import BatchHistory, Blend, FragranceWord, Mix, PotHistory, Tap, Trace
from soapbench.thickening.evidence import Rows, rows_of
from soapbench.thickening.priors import Priors
from soapbench.thickening.sightings import Spreads, Unknowns
from soapbench.thickening.signs import seen_at, signs_of

EMULSION, LIGHT, MEDIUM, THICK, SET_UP = Trace
LOTS = {("Kelp", "A17"): 0, ("Kelp", "B2"): 1, ("Fig", ""): 2}
FRAGRANCE_OF = np.array([0, 0, 1])
SD = Spreads(batch=0.2, spread=0.15, lot=0.1, noise=0.09)
PRIORS = Priors(delay=10.0)


def batch(name: str, c: float, lot: str | None, *pots: PotHistory) -> BatchHistory:
    words = (FragranceWord("Kelp", lot=lot, load=0.02), FragranceWord("Fig", load=0.04))
    return BatchHistory(name, Mix(c, 0.30, 0.5), pots, words)


def taps(*of: tuple[float, Trace]) -> tuple[Tap, ...]:
    return tuple(Tap(*one) for one in of)


KEYED = (Blend(20.0, 8.0), Blend(60.0, 5.0, 2.0), Blend(400.0, 6.0))
UP = (Blend(20.0, 60.0, 1.0, EMULSION),)
BENCH = (
    batch(
        "one", 27.0, "A17",
        PotHistory("a", 900.0, "Kelp", 300.0, KEYED, taps((410.0, LIGHT), (520.0, MEDIUM))),
        PotHistory("b", 1500.0, None, None, KEYED, taps((95.0, EMULSION), (900.0, LIGHT))),
        PotHistory("c", 800.0, "Kelp", 500.0, UP, taps((640.0, LIGHT), (700.0, THICK))),
    ),
    batch(
        "two", 33.0, "B2",
        PotHistory("a", 700.0, "Kelp", 250.0, UP, taps((420.0, MEDIUM))),
        PotHistory("b", 1200.0, None, None, KEYED, taps((700.0, LIGHT), (1000.0, SET_UP))),
    ),
    batch(
        "three", 24.0, None,
        PotHistory("a", 1400.0, "Fig", 350.0, KEYED,
                   taps((75.0, EMULSION), (800.0, LIGHT), (1200.0, MEDIUM))),
        PotHistory("b", 1300.0, "Fig", 350.0, UP),
    ),
)  # fmt: skip


class Sighting(NamedTuple):
    """What a pot showed, at its time; the fields as in ``Rows``."""

    milestone: int
    t: float
    tapped: bool
    floor: float
    unsure: float


def sightings_of(pot: PotHistory, priors: Priors, skipped: float) -> list[Sighting]:
    """Of a maker who taps as late as ``priors`` have it."""
    signs = signs_of(pot, priors, skipped)
    kept, t, unsure = seen_at(np.array(signs, dtype=np.float64).reshape(-1, 8).T, priors.delay)
    return [
        Sighting(one.milestone, float(t[i]), one.tapped, one.floor, float(unsure[i]))
        for i, one in enumerate(signs)
        if kept[i]
    ]


def bench_rows(priors: Priors = PRIORS) -> Rows:
    return rows_of(BENCH, LOTS, priors, 0.2)


def unknowns() -> Unknowns:
    """Somewhere, near nothing in particular."""
    rng = np.random.default_rng(7)
    theta = np.array([1.1, 0.2, 0.4, 2.9, 6.9, -0.1, -1.4, -1.5, -1.6])
    lots, fragrances = np.array([1.4, 1.9, 0.3]), np.array([1.6, 0.4])
    batches = len(BENCH)
    return Unknowns(
        theta, lots, fragrances,
        0.15 * rng.standard_normal(batches), 0.1 * rng.standard_normal(batches),
    )  # fmt: skip


def of_rows(rows: Rows, kept: np.ndarray) -> Rows:
    dose = type(rows.dose)(*(getattr(rows.dose, name)[kept] for name in rows.dose.__slots__))
    columns = {name: getattr(rows, name)[kept] for name in rows.__slots__ if name != "dose"}
    return Rows(dose=dose, **columns)


def by_differences(of: Callable[[np.ndarray], np.ndarray], x: np.ndarray) -> np.ndarray:
    """(…, len(x)): central differences, step 1e-5."""
    steps = 1e-5 * np.eye(len(x))
    return np.stack([(of(x + h) - of(x - h)) / 2e-5 for h in steps], axis=-1)
