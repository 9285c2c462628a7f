"""How near the oracle anybody could come who has not seen the fragrances and bottles either,
before any tap of the batch and after its first.

The oracle knows the deviation of a bottle never opened. Three forecasters lie between it and an
empty bench: who knows all but that; who knows the maker but must learn the fragrances from the
batches (``learner``); and the model, which must learn the maker too.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np

from soapbench.thickening import Priors, fit
from tests.worlds.cases import BASE, DRAWS, THICK, first_tap, model_times, world_batches
from tests.worlds.kettle import HORIZON
from tests.worlds.learner import learn, log_af
from tests.worlds.oracle import particles, posterior
from tests.worlds.scores import Tally, ratio, score

ALL = "all pots"
WHO = {
    "ours": "the model",
    "learner": "knows the maker, learns fragrances and bottles",
    "lot-blind": "knows maker and fragrances, not the bottle",
    "oracle": "knows the bottle too",
    "all-seeing": "knows, too, how far the thermometer was off and what was blended and not keyed",
}
PARTICLES = 4000
"""Of what each forecaster but ours believes before a tap, to be weighted by it."""
WHEN = ("before", "after")
Tallies = dict[tuple[str, str, str], Tally]
"""By (forecaster, when, situation)."""


def situation(batches: int | None) -> str:
    """Of a pot, by how many past batches held its fragrance; None: unscented."""
    if batches is None:
        return "without fragrance"
    if batches == 0:
        return "fragrance never met"
    return "met 1-2 times" if batches < 3 else "met 3-5 times" if batches < 6 else "met 6 or more"


def bound_world(
    seed: int, size: int, tests: int, priors: Priors, twist: str = BASE, n: int = PARTICLES
) -> Tallies:
    """Everybody's scores in one world: before any tap, and after the first of each batch. ``n``: of
    particles."""
    tallies: Tallies = defaultdict(Tally)
    maker, past, future = world_batches(seed, size, tests, twist)
    rng = np.random.default_rng([101, seed])
    fitted = fit([m.history for m in past], priors)
    learned = learn(rng, maker, past, DRAWS)
    met = Counter(
        name for m in past for name in {p.fragrance for p in m.history.pots if p.fragrance}
    )
    for made in future:
        unsure = [log_af(rng, maker, made.setup, knows, n) for knows in (learned, None)]
        believed = {
            "learner": particles(rng, maker, made, n, unsure[0]),
            "lot-blind": particles(rng, maker, made, n, unsure[1]),
            "oracle": particles(rng, maker, made, n),
            "all-seeing": particles(rng, maker, made, n, all_seeing=True),
        }
        for when, now in zip(WHEN, (0.0, first_tap(made)), strict=True):
            if now is None:
                continue
            times = {"ours": model_times(made, fitted, now)}
            for who, before in believed.items():
                times[who] = (
                    posterior(rng, maker, made, before, now, DRAWS) if now else before[:DRAWS]
                )
            for i, pot in enumerate(made.history.pots):
                truth = float(made.truth[i, THICK])
                if truth <= now or truth >= HORIZON:
                    continue
                place = situation(met[pot.fragrance] if pot.fragrance else None)
                for who, forecast in times.items():
                    for where in (ALL, place):
                        tally = tallies[who, when, where]
                        score(tally, forecast[:, i, THICK], truth)
                        tally.worlds.append(seed)
    return dict(tallies)


def report(
    seeds: Sequence[int], size: int, tests: int, priors: Priors, jobs: int, twist: str = BASE
) -> None:
    """Print the tables of ratios."""
    tallies: Tallies = defaultdict(Tally)
    with ProcessPoolExecutor(jobs) as pool:
        world = partial(bound_world, size=size, tests=tests, priors=priors, twist=twist)
        for scores_of in pool.map(world, seeds):
            for key, scores in scores_of.items():
                tallies[key].crps.extend(scores.crps)
                tallies[key].covered.extend(scores.covered)
                tallies[key].worlds.extend(scores.worlds)
    print(
        f"{twist}: worlds {seeds[0]}-{seeds[-1]}, {size} batches before, {tests} foreseen in each:"
    )
    print("CRPS of log time to thick trace as ratios; ± is one standard error;")
    print("80 % intervals of ours and of the learner hold")
    for who, knows in WHO.items():
        print(f"  {who}: {knows}")
    for when, heading in zip(WHEN, ("before any tap", "after the first tap"), strict=True):
        print(f"\n{heading}")
        table({(who, where): t for (who, at, where), t in tallies.items() if at == when})


def table(tallies: Mapping[tuple[str, str], Tally]) -> None:
    """Print ratios by (forecaster, situation)."""
    pairs = [("ours", "oracle"), ("learner", "oracle"), ("lot-blind", "oracle")]
    pairs += [("ours", "all-seeing"), ("learner", "all-seeing")]
    pairs += [("ours", "learner"), ("ours", "lot-blind")]
    print(f"{'':16s}  pots" + "".join(f"{a + '/' + b:>18s}" for a, b in pairs) + "   80 % cover")
    order = [ALL, *(situation(n) for n in (None, 0, 1, 3, 6))]
    for when in (w for w in order if ("ours", w) in tallies):
        line = f"{when:16s} {len(tallies['ours', when].crps):5d}"
        for a, b in pairs:
            value, error = ratio(tallies[a, when], tallies[b, when])
            line += f"{value:12.3f}±{error:.3f}"
        covers = [np.mean(tallies[who, when].covered) for who in ("ours", "learner")]
        print(line + "   " + " / ".join(f"{c:.2f}" for c in covers))
