"""Whose pours come out best: ``python -m tests.worlds.policy --help``.

The tool's own advice (asked after every act and every twenty seconds, keyed some seconds late), the
first edition's rule by a line of 80 % on the same forecasts, never switching, a rule of thumb (in
the pot for whatever is sold as accelerating), an oracle that goes by the tool's rules but knows
maker, hands and bottle, and one who knows the luck. All meet the same batters and hands.

Worlds from 3000 on are fresh: nothing was tuned to them.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from unittest.mock import patch

import numpy as np

from soapbench.advice import advise as advice
from soapbench.advice.advise import judged
from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.ways import SwirlChoice
from soapbench.batter import BatchHistory
from soapbench.bench import tables
from soapbench.desk.pourdesk import Desk
from soapbench.outlook import batters
from soapbench.outlook.worth import Become, worth
from soapbench.pace import Pace, Timed, learn
from soapbench.pour.history import history
from soapbench.recipe.amounts import pot_ml
from soapbench.settings import Risk
from soapbench.thickening import fit, live
from tests.worlds.knowing import Particles, TrueHands, particles
from tests.worlds.pours import Came, Pour, draw_pour, never, poured
from tests.worlds.world import Made, draw_maker, make_many

FRESH_FROM = 3000
SIZES = (0, 10, 100)
LINE = 0.8


def by_the_tool(desk: Desk) -> SwirlChoice | None:
    """What the app warns of now."""
    desk.heed(desk.advise())
    live_ = desk.live
    return live_.rescue if live_ is not None and live_.warning else None


def by_a_line(desk: Desk) -> SwirlChoice | None:
    """The first edition: below 80 % the first way above it, else the likeliest; cooked last."""
    state, now, known = desk.state, desk.now(), desk.known
    seen = history("b", desk.plan, mix_of(desk.plan, desk.amounts), state, now)
    draws = live(known.fit, seen, now, n=1000)
    ways = judged(Moment(desk.plan, pot_ml(desk.amounts), known, state, draws, now))
    chances = {way.steps: way.chance + way.chance_in_part for way in ways if not way.moves}
    on = chances[state.steps]
    if on >= LINE:
        return None
    others = [w for w in ways if w.steps and w.steps != state.steps and not w.moves]
    raw = [w for w in others if w.become is not Become.SAVED]
    for way in raw:
        if chances[way.steps] >= LINE:
            return way
    likeliest = max(others, key=lambda way: chances[way.steps], default=None)
    return likeliest if likeliest and chances[likeliest.steps] > on + 0.02 else None


Row = tuple[str, str, int, str]
"""Mix of fragrances, risk, batches on the bench (-1: it does not matter), who decides."""


@dataclass
class Tally:
    """Of one decider."""

    worths: list[float]
    ruined: int = 0
    planned: int = 0
    in_part: int = 0
    other: int = 0
    needless: int = 0
    prevented: int = 0
    would_ruin: int = 0


def by_an_oracle(pour: Pour, known: Known, seen: Particles, draws: int) -> Came:
    """The tool's own rules on the forecasts of one who knows maker, hands and bottle."""

    def told(_: object, history: BatchHistory, now: float, thinned: int) -> Particles:
        return seen.seen(history, now, draws)

    def times(particles: Particles, *how: object) -> object:
        return particles.milestone_times(*how)  # type: ignore[arg-type]

    with (
        patch.object(advice, "live", told),
        patch.object(batters, "milestone_times", times),
        patch.object(batters, "seconds_to", lambda particles, *how: particles.seconds_to(*how)),
    ):
        return poured(pour, replace(known, pace=TrueHands(shift=pour.shift)), by_the_tool)


def value(came: Came, risk: Risk) -> float:
    return worth(came.become, float(came.planned), float(came.in_part and not came.planned), risk)


def known_of(past: Sequence[Made], size: int, pour: Pour, risk: Risk, base: Known) -> Known:
    """What a bench of ``size`` batches knows of the maker's batters and pace."""
    rng = np.random.default_rng([5, pour.seed])
    kinds = (*base.swirls.handwork, "pour into mould", "drop an accent", "draw the hanger")
    timed = [
        Timed(kind, 60.0, 60.0 * float(np.exp(pour.shift + 0.3 * rng.standard_normal())), 0.3)
        for _ in range(size)
        for kind in kinds
    ]
    fitted = fit([made.history for made in past[:size]])
    return replace(base, fit=fitted, pace=learn(timed) if timed else Pace(), risk=risk)


def play(args: argparse.Namespace) -> None:
    base = Known(fit([]), Pace(), tables.swirls(), tables.oils(), tables.colourants())
    risks = [Risk(r) for r in args.risks]
    tallies: dict[Row, Tally] = defaultdict(lambda: Tally([]))

    def tell(mix: str, risk: Risk, size: int, who: str, came: Came, plain: Came) -> None:
        t = tallies[mix, risk, size, who]
        t.worths.append(value(came, risk))
        t.ruined += came.ruined
        wish = came.become is Become.WISH
        t.planned += wish and came.planned
        t.in_part += wish and came.in_part and not came.planned
        t.other += came.in_part and not wish
        t.needless += not plain.ruined and not wish
        t.would_ruin += plain.ruined
        t.prevented += plain.ruined and not came.ruined

    began = time.process_time()
    for world in range(args.first, args.first + args.worlds):
        rng = np.random.default_rng([20_270, world])
        maker = draw_maker(rng)
        past = make_many(rng, maker, max(args.sizes))
        for n in range(args.pours):
            strong = n % 2 == 1
            mix = "strong" if strong else "natural"
            pour = draw_pour(rng, maker, world * 100 + n, strong, f"b{max(args.sizes) + n:06d}")
            plain = poured(pour, base, never)
            fixed = [plain] + [
                poured(pour, base, never, (steps,)) for steps in ("in-the-pot swirl", "layers")
            ]
            thumb = plain
            if pour.setup.fragrances[0].reputation in ("accelerates", "notorious"):
                thumb = fixed[1]
            seen = particles(pour)
            for risk in risks:
                saved = Came(Become.SAVED, True, True)
                lucky = max([*fixed, saved], key=lambda c: value(c, risk))
                others = {"never": plain, "thumb": thumb, "knows the luck": lucky}
                if args.oracle:
                    knows = replace(base, risk=risk)
                    others["oracle"] = by_an_oracle(pour, knows, seen, args.draws)
                for who, came in others.items():
                    tell(mix, risk, -1, who, came, plain)
                for size in args.sizes:
                    known = known_of(past, size, pour, risk, base)
                    tell(mix, risk, size, "tool", poured(pour, known, by_the_tool), plain)
                    if risk is Risk.USUAL and args.line:
                        tell(mix, risk, size, "line of 80 %", poured(pour, known, by_a_line), plain)
        print(f"# world {world}: {time.process_time() - began:.0f} s of processor", flush=True)
        last = world + 1 == args.first + args.worlds
        for mix in ("natural", "strong", "both") if last or (world + 1) % 4 == 0 else ():
            show(mix, tallies)


def show(mix: str, tallies: Mapping[Row, Tally]) -> None:
    """The table of one mix of fragrances."""
    print(f"\n{mix}: of 100 pours; ± one standard error")
    print(
        f"{'risk':9}{'batches':>8} {'who':16}{'worth':>14}{'ruined':>8}{'planned':>9}{'in part':>9}"
        f"{'other':>7}{'prevented':>11}{'needless':>10}{'n':>5}"
    )
    for risk, size, who in sorted({key[1:] for key in tallies}):
        parts = [tallies[m, risk, size, who] for m in ("natural", "strong") if mix in (m, "both")]
        worths = np.array([v for t in parts for v in t.worths])
        if not (n := len(worths)):
            continue
        names = ("ruined", "planned", "in_part", "other", "needless", "prevented", "would_ruin")
        of = {name: sum(getattr(t, name) for t in parts) for name in names}
        lost = of["would_ruin"]
        kept = f"{100 * of['prevented'] / lost:.0f} %" if lost else "-"
        shares = [100 * of[name] / n for name in names[:4]]
        print(
            f"{risk:9}{'' if size < 0 else size:>8} {who:16}"
            f"{worths.mean():>7.3f} ±{worths.std() / n**0.5:.3f}"
            f"{shares[0]:>8.1f}{shares[1]:>9.1f}{shares[2]:>9.1f}{shares[3]:>7.1f}"
            f"{kept:>11}{100 * of['needless'] / n:>10.1f}{n:>5}"
        )


def main() -> None:
    """Entry point of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=FRESH_FROM)
    parser.add_argument("--worlds", type=int, default=10)
    parser.add_argument("--pours", type=int, default=8, help="every other one of strong fragrances")
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    parser.add_argument("--risks", nargs="+", default=["usual"], choices=[r.value for r in Risk])
    parser.add_argument("--line", action="store_true", help="the first edition's rule too")
    parser.add_argument("--oracle", action="store_true", help="one that knows all but the luck")
    parser.add_argument("--draws", type=int, default=1000, help="of the batter, each time asked")
    args = parser.parse_args()
    # Fewer draws than the app takes: four times as many pours for the same processor.
    advice.live = partial(live, n=args.draws)  # type: ignore[attr-defined]
    advice.THINNED = 1
    play(args)


if __name__ == "__main__":
    main()
