"""How near the oracle anybody could come who has not seen the fragrances and bottles either.

The oracle knows the deviation of a bottle never opened. Three forecasters lie between it and an
empty bench: who knows all but that; who knows the maker but must learn the fragrances from the
batches (``learner``); and the model, which must learn the maker too.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np

from soapbench.thickening import Priors, fit
from tests.worlds.cases import DRAWS, THICK, model_times, world_batches
from tests.worlds.kettle import HORIZON
from tests.worlds.learner import learn, log_af
from tests.worlds.scores import Tally, ratio, score
from tests.worlds.world import chance

ALL = "all pots"
WHO = {
    "ours": "the model",
    "learner": "knows the maker, learns fragrances and bottles",
    "lot-blind": "knows maker and fragrances, not the bottle",
    "oracle": "knows the bottle too",
}
Tallies = dict[tuple[str, str], Tally]
"""By (forecaster, situation)."""


def situation(batches: int | None) -> str:
    """Of a pot, by how many past batches held its fragrance; None: unscented."""
    if batches is None:
        return "without fragrance"
    if batches == 0:
        return "fragrance never met"
    return "met 1-2 times" if batches < 3 else "met 3-5 times" if batches < 6 else "met 6 or more"


def bound_world(seed: int, size: int, tests: int, priors: Priors) -> Tallies:
    """Everybody's scores before any tap in one world."""
    tallies: Tallies = defaultdict(Tally)
    maker, past, future = world_batches(seed, size, tests)
    rng = np.random.default_rng([101, seed])
    fitted = fit([m.history for m in past], priors)
    learned = learn(rng, maker, past, DRAWS)
    met = Counter(
        name for m in past for name in {p.fragrance for p in m.history.pots if p.fragrance}
    )
    for made in future:
        unsure = [log_af(rng, maker, made.setup, knows, DRAWS) for knows in (learned, None)]
        times = {
            "ours": model_times(made, fitted, 0.0),
            "learner": chance(rng, maker, made.setup, DRAWS, unsure[0]),
            "lot-blind": chance(rng, maker, made.setup, DRAWS, unsure[1]),
            "oracle": chance(rng, maker, made.setup, DRAWS),
        }
        for i, pot in enumerate(made.history.pots):
            truth = float(made.truth[i, THICK])
            if truth >= HORIZON:
                continue
            for who, forecast in times.items():
                for when in (ALL, situation(met[pot.fragrance] if pot.fragrance else None)):
                    tally = tallies[who, when]
                    score(tally, forecast[:, i, THICK], truth)
                    tally.worlds.append(seed)
    return dict(tallies)


def report(seeds: Sequence[int], size: int, tests: int, priors: Priors, jobs: int) -> None:
    """Print the table of ratios."""
    tallies: Tallies = defaultdict(Tally)
    with ProcessPoolExecutor(jobs) as pool:
        world = partial(bound_world, size=size, tests=tests, priors=priors)
        for found in pool.map(world, seeds):
            for key, scores in found.items():
                tallies[key].crps.extend(scores.crps)
                tallies[key].covered.extend(scores.covered)
                tallies[key].worlds.extend(scores.worlds)
    print(f"worlds {seeds[0]}-{seeds[-1]}, {size} batches before, {tests} foreseen in each:")
    print("CRPS of log time to thick trace before any tap, as ratios; ± is one standard error;")
    print("80 % intervals of ours and of the learner hold")
    for who, knows in WHO.items():
        print(f"  {who}: {knows}")
    pairs = [("ours", "oracle"), ("learner", "oracle"), ("lot-blind", "oracle")]
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
