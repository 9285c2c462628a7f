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
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np

from soapbench.advice import advise as advice
from soapbench.advice.advise import judged
from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.ways import SwirlChoice
from soapbench.batter import BatchHistory, Reputation
from soapbench.bench import tables
from soapbench.desk.pourdesk import Desk
from soapbench.outlook import batters
from soapbench.outlook.worth import Become, worth
from soapbench.pace import Pace, Timed, learn
from soapbench.pour.history import history
from soapbench.recipe.amounts import pot_ml
from soapbench.settings import Risk
from soapbench.thickening import fit, live
from tests.worlds.knowing import KNOWS, Particles, TrueHands, particles
from tests.worlds.making import make_many
from tests.worlds.pours import Came, Pour, draw_pour, never, poured
from tests.worlds.tally import NEVER, THUMB, Row, kept, read, row, table
from tests.worlds.world import draw_maker

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
    course = history("b", desk.plan, mix_of(desk.plan, desk.amounts), state, now)
    draws = live(known.fit, course, now, n=1000)
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


def by_an_oracle(pour: Pour, known: Known, belief: Particles, draws: int) -> Came:
    """The tool's own rules on the forecasts of one who knows maker, hands and bottle."""

    def particles_of(_: object, history: BatchHistory, now: float, thinned: int) -> Particles:
        return belief.after(history, now, draws)

    def times(particles: Particles, *how: object) -> object:
        return particles.milestone_times(*how)  # type: ignore[arg-type]

    with (
        patch.object(advice, "live", particles_of),
        patch.object(batters, "milestone_times", times),
        patch.object(batters, "seconds_to", lambda particles, *how: particles.seconds_to(*how)),
    ):
        return poured(pour, replace(known, pace=TrueHands(shift=pour.shift)), by_the_tool)


def value(came: Came, risk: Risk) -> float:
    return worth(came.become, float(came.planned), float(came.in_part and not came.planned), risk)


def pace_of(size: int, pour: Pour, base: Known) -> Pace:
    """What a bench of ``size`` batches knows of the hands that make ``pour``."""
    rng = np.random.default_rng([5, pour.seed])
    kinds = (*base.swirls.handwork, "pour into mould", "drop an accent", "draw the hanger")
    timed = [
        Timed(kind, 60.0, 60.0 * float(np.exp(pour.shift + 0.3 * rng.standard_normal())), 0.3)
        for _ in range(size)
        for kind in kinds
    ]
    return learn(timed) if timed else Pace()


def world_rows(world: int, args: argparse.Namespace) -> list[Row]:
    """Everybody's pours in one world."""
    # Fewer draws than the app takes: four times as many pours for the same processor.
    advice.live = partial(live, n=args.draws)  # type: ignore[attr-defined]
    advice.THINNED = 1
    base = Known(fit([]), Pace(), tables.swirls(), tables.oils(), tables.colourants())
    rng = np.random.default_rng([20_270, world])
    maker, rows = draw_maker(rng), list[Row]()
    past = make_many(rng, maker, max(args.sizes))
    fits = {size: fit([made.history for made in past[:size]]) for size in args.sizes}
    for n in range(args.pours):
        strong = n % 2 == 1
        mix = "strong" if strong else "natural"
        pour = draw_pour(rng, maker, world * 100 + n, strong, f"b{max(args.sizes) + n:06d}")
        at = world, n
        benches = {
            size: replace(base, fit=fits[size], pace=pace_of(size, pour, base))
            for size in args.sizes
        }
        rows += pour_rows(pour, at, mix, base, benches, args)
    return rows


def pour_rows(
    pour: Pour,
    at: tuple[int, int],
    mix: str,
    base: Known,
    benches: Mapping[int, Known],
    args: argparse.Namespace,
) -> list[Row]:
    """One pour by everybody."""
    plain, in_the_pot, layers = (
        poured(pour, base, never, steps) for steps in ((), ("in-the-pot swirl",), ("layers",))
    )
    sold = pour.setup.fragrances[0].reputation
    thumb = in_the_pot if sold in (Reputation.ACCELERATES, Reputation.NOTORIOUS) else plain
    saved = Came(Become.SAVED, True, True)
    knowing = {who: particles(pour, knows=who) for who in args.oracle}
    rows = []
    for risk in map(Risk, args.risks):
        lucky = max((plain, in_the_pot, layers, saved), key=lambda came: value(came, risk))
        came = {(-1, NEVER): plain, (-1, THUMB): thumb, (-1, "knows the luck"): lucky}
        for who, belief in knowing.items():
            came[-1, f"knows {who}"] = by_an_oracle(
                pour, replace(base, risk=risk), belief, args.draws
            )
        for size, known in benches.items():
            known = replace(known, risk=risk)
            came[size, "tool"] = poured(pour, known, by_the_tool)
            if risk is Risk.USUAL and args.line:
                came[size, "line of 80 %"] = poured(pour, known, by_a_line)
        for (size, who), one in came.items():
            met = (*at, risk.value)
            rows.append(row(met, mix, size, who, value(one, risk), one, plain))
    return rows


def play(args: argparse.Namespace) -> None:
    """World by world, ``args.jobs`` at a time; the tables of all so far with every eighth."""
    before = read(args.against) if args.against else []
    worlds, rows = range(args.first, args.first + args.worlds), list[Row]()
    began = time.monotonic()
    with ProcessPoolExecutor(args.jobs) as pool:
        for done, of_world in enumerate(pool.map(partial(world_rows, args=args), worlds), 1):
            rows += of_world
            if args.rows:
                kept(args.rows, of_world)
            print(f"# {done} worlds: {time.monotonic() - began:.0f} s by the clock", flush=True)
            if done % 8 == 0 or done == args.worlds:
                for mix in ("natural", "strong", "both"):
                    print(f"\n{table(rows, mix, before)}", flush=True)


def main() -> None:
    """Entry point of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=FRESH_FROM)
    parser.add_argument("--worlds", type=int, default=10)
    parser.add_argument("--pours", type=int, default=8, help="every other one of strong fragrances")
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    parser.add_argument("--risks", nargs="+", default=["usual"], choices=[r.value for r in Risk])
    parser.add_argument("--line", action="store_true", help="the first edition's rule too")
    parser.add_argument(
        "--oracle", nargs="*", default=[], choices=KNOWS, help="who knows the maker, and what else"
    )
    parser.add_argument("--draws", type=int, default=1000, help="of the batter, each time asked")
    parser.add_argument("--jobs", type=int, default=1, help="worlds at a time")
    parser.add_argument("--rows", type=Path, help="file that every pour is added to")
    parser.add_argument("--against", type=Path, help="such a file of another run in these worlds")
    play(parser.parse_args())


if __name__ == "__main__":
    main()
