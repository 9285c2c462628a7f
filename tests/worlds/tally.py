"""What became of simulated pours, a row of each by who decided; and the table of them, with its
errors."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from tests.worlds.pours import Came

NEVER, THUMB = "never", "thumb"
Met = tuple[int, int, str]
"""World, pour and risk: who has them in common has met the same luck."""


@dataclass(frozen=True)
class Row:
    """One pour by one decider. Of the same world, pour and risk all meet the same luck."""

    world: int
    pour: int
    mix: str
    """Of fragrances: "natural" or "strong"."""
    risk: str
    size: int
    """Batches on the bench; -1: it does not matter."""
    who: str
    worth: float
    became: str
    planned: bool
    in_part: bool
    """At least."""
    would_ruin: bool
    """Whether never switching ruined it."""
    switched_s: float | None = None

    @property
    def wish(self) -> bool:
        return self.became == "as wished"

    @property
    def prevented(self) -> bool:
        return self.would_ruin and self.in_part

    @property
    def needless(self) -> bool:
        """A wish given up that never switching would not have ruined."""
        return not self.would_ruin and not self.wish

    @property
    def met(self) -> Met:
        return self.world, self.pour, self.risk


def row(met: Met, mix: str, size: int, who: str, worth: float, came: Came, plain: Came) -> Row:
    """``plain``: what came of never switching."""
    world, pour, risk = met
    return Row(
        world, pour, mix, risk, size, who, worth,
        came.become.value, came.planned, came.in_part, plain.ruined, came.switched_s,
    )  # fmt: skip


def share(count: int, of: int) -> tuple[float, float]:
    """``count`` of ``of`` in percent, and its standard error; by one more of each kind, so that
    none of few is not told as certain (Agresti and Coull's, from memory)."""
    if not of:
        return float("nan"), float("nan")
    near = (count + 1.0) / (of + 2.0)
    return 100.0 * count / of, 100.0 * float(np.sqrt(near * (1.0 - near) / (of + 2.0)))


def over(rows: Iterable[Row], others: Iterable[Row]) -> tuple[float, float, int]:
    """How much more ``rows`` are worth than ``others`` where both met the same luck: mean, its
    standard error, and how many pairs."""
    of = {other.met: other.worth for other in others}
    apart = np.array([one.worth - of[one.met] for one in rows if one.met in of])
    if len(apart) < 2:
        return float("nan"), float("nan"), len(apart)
    return float(apart.mean()), float(apart.std(ddof=1) / len(apart) ** 0.5), len(apart)


def table(rows: Sequence[Row], mix: str, before: Sequence[Row] = ()) -> str:
    """Of one mix of fragrances, or of "both". ``before``: of another run in the same worlds; how
    much more ours is worth than there stands last then."""
    rows = [one for one in rows if mix in (one.mix, "both")]
    lines = [
        f"{mix}: of 100 pours; ± one standard error, of differences by pairs",
        f"{'risk':9}{'batches':>8} {'who':16}{'worth':>14}{'over never':>15}{'over thumb':>15}"
        f"{'ruined':>7}{'planned':>8}{'in part':>8}{'other':>6}{'prevented':>14}{'needless':>12}"
        f"{'n':>6}" + ("    over before" if before else ""),
    ]
    for risk, size, who in sorted({(one.risk, one.size, one.who) for one in rows}):
        of_risk = [one for one in rows if one.risk == risk]
        ours = [one for one in of_risk if (one.size, one.who) == (size, who)]
        n = len(ours)
        worths = np.array([one.worth for one in ours])
        more = [
            over(ours, [one for one in of_risk if one.who == other])[:2] for other in (NEVER, THUMB)
        ]
        kept = share(sum(one.prevented for one in ours), sum(one.would_ruin for one in ours))
        needless = share(sum(one.needless for one in ours), n)
        shares = [
            100.0 * sum(flags) / n
            for flags in (
                [not one.in_part for one in ours],
                [one.wish and one.planned for one in ours],
                [one.wish and one.in_part and not one.planned for one in ours],
                [one.in_part and not one.wish for one in ours],
            )
        ]
        line = (
            f"{risk:9}{'' if size < 0 else size:>8} {who:16}"
            f"{worths.mean():>7.3f} ±{worths.std() / n**0.5:.3f}"
            + "".join(f"{mean:>+8.3f} ±{error:.3f}" for mean, error in more)
            + f"{shares[0]:>7.1f}{shares[1]:>8.1f}{shares[2]:>8.1f}{shares[3]:>6.1f}"
            f"{kept[0]:>6.1f} % ±{kept[1]:.1f}{needless[0]:>7.1f} ±{needless[1]:.1f}{n:>6}"
        )
        was = [one for one in before if (one.risk, one.size, one.who) == (risk, size, who)]
        if before:
            mean, error, _ = over(ours, was)
            line += f"{mean:>+8.3f} ±{error:.3f}"
        lines.append(line)
    return "\n".join(lines)


def kept(path: Path, rows: Iterable[Row]) -> None:
    """``rows`` at the end of a file, a line of JSON each."""
    with path.open("a", encoding="utf-8") as file:
        file.writelines(json.dumps(asdict(one)) + "\n" for one in rows)


def read(path: Path) -> list[Row]:
    with path.open(encoding="utf-8") as file:
        return [Row(**json.loads(line)) for line in file]
