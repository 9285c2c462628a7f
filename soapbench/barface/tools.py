"""What is done to the batter once it is in the mould: hanger passes and the textured top.

How the wire is led is common practice, no source; the figures are ours, chosen by eye.
"""

from __future__ import annotations

import numpy as np

from soapbench.barface.box import Profile
from soapbench.barface.design import ToolPass
from soapbench.barface.filling import GRID, Filling
from soapbench.swirls.table import WireLed


def hanger(filling: Filling, tool: ToolPass) -> None:
    """One pass of the wire, which lies along the loaf: the eddies it leaves in the cut face."""
    hand, level = filling.hand, filling.level
    # a thick batter is drawn along less far from the wire, and tears rather than flows
    turn = np.interp(tool.trace, [0, 1, 2, 3, 4], [2.6, 2.5, 2.0, 1.0, 0.3]) * (1 - 0.3 * hand.end)
    reach = np.interp(tool.trace, [0, 2, 4], [1.15, 1.0, 0.6])
    jitter = hand.about(12, 0.12, 0.7)
    if tool.path is WireLed.UP_DOWN:
        n = 5
        for k in range(n):
            x = (k + 0.5 + jitter[k] * 0.6) / n
            spin = turn * (1 if k % 2 else -1) * (1 + jitter[k])
            filling.twist(
                x, level * (0.5 + 0.2 * jitter[k + 5]), reach * 0.82 / n, 0.5 * level, spin
            )
    elif tool.path is WireLed.LOOPS:
        for k, (x, y) in enumerate([(0.3, 0.62), (0.68, 0.6), (0.5, 0.36), (0.2, 0.3), (0.8, 0.3)]):
            size = reach * (0.30 if k < 3 else 0.2)
            spin = turn * (1.3 + jitter[k]) * (1 if k % 2 else -1)
            filling.twist(x + 0.3 * jitter[k], level * (y + 0.3 * jitter[k + 5]), size, size, spin)
    else:
        n = 3
        for k in range(n):
            y = level * (k + 0.5 + jitter[k] * 0.8) / n
            spin = 0.8 * turn * (1 if k % 2 else -1) * (1 + jitter[k])
            filling.twist(0.5 + 0.3 * jitter[k + 5], y, 0.5, reach * 0.8 * level / n, spin)


def crests(filling: Filling, trace: float) -> tuple[Profile, float]:
    """The textured top: a few turns just below it, then crests; and the most they can rise."""
    hand, depth = filling.hand, filling.depth
    high = depth * np.interp(trace, [0, 1, 2, 3, 4], [0.002, 0.01, 0.03, 0.055, 0.045])
    n = 4
    place, size = hand.about(n, 0.3, 0.6), hand.about(n, 0.3, 0.6)
    for k in range(n):
        filling.twist(
            (k + 0.5 + place[k]) / n,
            filling.level - 0.12 * depth,
            0.6 / n,
            0.115 * depth,
            (1.6 + size[k]) * (1 if k % 2 else -1) * min(trace, 3.0) / 3.0,
        )
    phases = hand.about(3, np.pi, 0.35)
    along = sum(
        a * np.cos(2 * np.pi * f * GRID + p)
        for a, f, p in zip((0.55, 0.3, 0.15), (2.3, 3.7, 6.1), phases, strict=True)
    )
    peaked = np.exp(1.4 * np.asarray(along))  # narrow crests, broad troughs
    heights = filling.level + high * (peaked - peaked.mean()) / 1.6
    return Profile.of(heights, filling.level), float(high * (np.exp(1.4) - 1.0) / 1.6)
