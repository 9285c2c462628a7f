"""How each manner of pouring fills the mould.

How many streams, how a wall pour leans and the like are common practice, no source; their
figures are ours, chosen by eye.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from soapbench.barface.design import Pouring
from soapbench.barface.filling import GRID, Filling
from soapbench.barface.inclusion import FROM_UP
from soapbench.barface.maps import Floats
from soapbench.barface.potswirl import PotSwirl
from soapbench.swirls.table import Manner

BLEND_STEPS = 24
"""Steps of an ombré pour from one pot to the next."""
ROUGHNESS = (0.11, 0.05, 0.022, 0.01, 0.005)
"""Waves under a layer, as a share of the mould's depth, from emulsion to set up."""


def _oval(wide: float, tilt: float = 0.0) -> Floats:
    """Radii of an ellipse of unit area scale, ``wide`` times as wide as high."""
    angle = FROM_UP - tilt
    return np.asarray(
        1.0 / np.sqrt(np.sin(angle) ** 2 / wide + np.cos(angle) ** 2 * wide), dtype=np.float64
    )


def _stream(wide: float, tail: float, lean: float, wobble: Floats) -> Floats:
    """A fallen stream: an oval with a tail pointing up where it came in."""
    bumps = sum(w * np.cos((k + 2) * FROM_UP + 9.0 * w) for k, w in enumerate(wobble))
    thin = np.exp(-(((FROM_UP - lean) / 0.3) ** 2))
    return np.asarray(_oval(wide) * (1.0 + bumps) + tail * thin, dtype=np.float64)


def _turns(pours: Sequence[Pouring], counts: Sequence[int]) -> Iterator[tuple[int, int]]:
    """(pour, how many of it before) in the order of pouring: pots take turns."""
    listed = [((j + 0.5) / n, i, j) for i, n in enumerate(counts) for j in range(n)]
    if len({pour.pot for pour in pours}) < len(pours):  # the turns are already spelt out
        listed = [(float(i), i, j) for _, i, j in listed]
    return iter([(i, j) for _, i, j in sorted(listed)])


def _portions(filling: Filling, pour: Pouring, n: int, uneven: float) -> Floats:
    """The pour's area in ``n`` portions."""
    sizes = 1.0 + filling.hand.about(n, uneven)
    return np.asarray(sizes / sizes.sum() * pour.share * filling.depth, dtype=np.float64)


def layers(filling: Filling, pours: Sequence[Pouring]) -> None:
    """One pot over the other, the thinner the batter the less level."""
    for pour in pours:
        area = pour.share * filling.depth
        # a thin batter gives way under the next layer
        rough = filling.depth * float(np.interp(pour.trace, range(5), ROUGHNESS))
        sizes = filling.hand.about(6, rough, 0.6) / np.arange(1, 7) ** 0.5
        phases = filling.hand.about(6, np.pi, 0.25)
        waves = sum(
            a * np.cos((k + 1.5) * np.pi * GRID + p)
            for k, (a, p) in enumerate(zip(sizes, phases, strict=True))
        )
        filling.cover(filling.entry((pour.pot, 1.0)), area, np.maximum(area + waves, 0.05 * area))


def _drops(filling: Filling, pours: Sequence[Pouring]) -> None:
    for pour in pours:
        hand = filling.hand
        usual = round(3 + 14 * pour.share + 1.2 * (2.0 - min(pour.own_trace, 3.0)))
        n = pour.spots or int(np.clip(usual, 2, 7))
        depth = filling.design.sink.at(pour.trace)
        thin = max(0.0, 1.0 - pour.trace / 2.5)
        late = max(0.0, pour.trace - 1.8)
        places = (hand.order(n) + 0.5 + hand.about(n, 0.42, 0.6)) / n
        sinks = np.clip(depth + hand.about(n, 0.03 + 0.5 * min(depth, 1.0 - depth), 0.6), 0, 1)
        leans = hand.about(n, 0.5, 0.7)
        areas = _portions(filling, pour, n, 0.45)
        wobbles = hand.about(3 * n, 0.03 + 0.03 * min(pour.own_trace, 3.0), 0.5).reshape(n, 3)
        entry = filling.entry((pour.pot, 1.0))
        for x, sink, lean, area, wobble in zip(places, sinks, leans, areas, wobbles, strict=True):
            shape = _stream(1.0 + 2.2 * late**1.5 - 0.25 * thin, 1.5 * thin, lean, wobble)
            filling.part(entry, float(area), (float(x), float(sink)), shape)
        _stir(filling, 1 + n // 3, 1.5 * thin * (1.0 - 0.3 * hand.end))


def _stir(filling: Filling, n: int, turn: float) -> None:
    """The eddies that falling streams leave in a thin batter."""
    x, y = 0.5 + filling.hand.about(n, 0.36, 0.5), 0.5 + filling.hand.about(n, 0.3, 0.5)
    size, sign = 0.22 + filling.hand.about(n, 0.07), filling.hand.about(n, 1.0, 0.0)
    for i in range(n):
        if turn > 0.05:
            spin = turn * float(np.copysign(0.5 + abs(sign[i]) * 0.5, sign[i]))
            filling.twist(
                float(x[i]), float(y[i]) * filling.level, float(size[i]), float(size[i]) * 1.1, spin
            )


def _columns(filling: Filling, pours: Sequence[Pouring]) -> None:
    hand = filling.hand
    rounds = [max(3, min(6, round(40 * p.share / len(pours)))) for p in pours]
    portions = [_portions(filling, p, n, 0.25) for p, n in zip(pours, rounds, strict=True)]
    # all pours of one column spread from its foot; the cut meets the columns near or far
    columns = max(1, max(p.spots for p in pours))
    near = abs(np.cos(np.pi * columns * (hand.where - 0.5)))
    middle = 0.5 + float(hand.about(1, 0.05, 0.8)[0])
    wander = hand.about(sum(rounds), 0.02, 0.5)
    wobbles = hand.about(3 * sum(rounds), 0.045, 0.6).reshape(-1, 3)
    for k, (i, j) in enumerate(_turns(pours, rounds)):
        entry, area = filling.entry((pours[i].pot, 1.0)), float(portions[i][j])
        if filling.level == 0.0:
            filling.cover(entry, area, np.ones_like(GRID))
            continue
        # a thin batter pushes the rings before it outward; a late one heaps up and slides aside
        sink = 0.76 * filling.design.sink.at(pours[i].trace)
        thin, late = max(0.0, 1.0 - pours[i].trace), max(0.0, pours[i].trace - 1.8)
        tall = (0.55 + 0.5 * near) * (filling.level + area)
        wide = 0.62 / max(tall, 0.2) + 1.6 * late**1.5
        shape = _stream(wide, 0.0, 0.0, wobbles[k] * (1.0 + 1.6 * thin))
        place = middle + float(wander[k]) * (1.0 + 5.0 * late)
        filling.part(entry, area, (place, sink), shape)


def _stripes(filling: Filling, pours: Sequence[Pouring]) -> None:
    hand = filling.hand
    rounds = [max(3, min(7, round(28 * p.share / len(pours) + 2))) for p in pours]
    portions = [_portions(filling, p, n, 0.3) for p, n in zip(pours, rounds, strict=True)]
    middle = 0.5 + hand.about(sum(rounds), 0.05, 0.7)
    droops = 0.7 + hand.about(sum(rounds), 0.15, 0.6)
    for k, (i, j) in enumerate(_turns(pours, rounds)):
        pour = pours[i]
        # a thin stripe runs out level, a thick one stays where it lands
        narrow = 0.16 + 0.05 * (2.0 - min(pour.own_trace, 2.5))
        heap = np.exp(-(((GRID - middle[k]) / narrow) ** 2))
        thickness = 1.0 + 2.2 * droops[k] * heap
        filling.cover(filling.entry((pour.pot, 1.0)), float(portions[i][j]), thickness)


def _walls(filling: Filling, pours: Sequence[Pouring]) -> None:
    hand = filling.hand
    rounds = [max(2, min(5, round(24 * p.share / len(pours) + 1))) for p in pours]
    portions = [_portions(filling, p, n, 0.35) for p, n in zip(pours, rounds, strict=True)]
    steep = hand.about(sum(rounds), 0.5, 0.6)
    waves = hand.about(2 * sum(rounds), 0.10, 0.7).reshape(-1, 2)
    for k, (i, j) in enumerate(_turns(pours, rounds)):
        pour = pours[i]
        lean = 1.0 + 1.3 * max(0.0, 2.2 - pour.trace) + steep[k]
        leaf = (1.0 - GRID) ** lean + 0.06
        wavy = 1.0 + waves[k, 0] * np.sin(7.0 * GRID + 40.0 * waves[k, 1])
        filling.cover(filling.entry((pour.pot, 1.0)), float(portions[i][j]), leaf * wavy)


def _spoons(filling: Filling, pours: Sequence[Pouring]) -> None:
    hand = filling.hand
    counts = [p.spots or max(2, min(7, round(32 * p.share))) for p in pours]
    portions = [_portions(filling, p, n, 0.4) for p, n in zip(pours, counts, strict=True)]
    total = sum(counts)
    places = (hand.order(total) + 0.5 + hand.about(total, 0.4, 0.4)) / total
    depths = hand.about(total, 0.16, 0.5)
    wobbles = hand.about(4 * total, 0.075, 0.5).reshape(total, 4)
    for k, (i, j) in enumerate(_turns(pours, counts)):
        pour = pours[i]
        entry, area = filling.entry((pour.pot, 1.0)), float(portions[i][j])
        if filling.level == 0.0:
            filling.cover(entry, area, np.ones_like(GRID))
            continue
        sink = 0.14 + 0.6 * filling.design.sink.at(pour.trace) + float(depths[k])
        filling.part(entry, area, (float(places[k]), sink), _stream(1.5, 0.0, 0.0, wobbles[k]))


def _embeds(filling: Filling, pours: Sequence[Pouring]) -> None:
    """Rods along the loaf, side by side at half its height."""
    if filling.level == 0.0:
        layers(filling, pours)  # nothing to lie in
        return
    for i, pour in enumerate(pours):
        place = (i + 0.5) / len(pours)
        area = pour.share * filling.depth
        filling.part(filling.entry((pour.pot, 1.0)), area, (place, 0.5), np.ones_like(FROM_UP))


def _blend(filling: Filling, pours: Sequence[Pouring]) -> None:
    """Ombré: from each pot to the next in even steps, every pot's amount used up."""
    if len(pours) == 1:
        layers(filling, pours)
        return
    shares = np.array([p.share for p in pours])
    # each pot is split between the gradients it takes part in
    halves = shares * np.where((np.arange(len(pours)) % (len(pours) - 1)) == 0, 1.0, 0.5)
    for low in range(len(pours) - 1):
        a, b = float(halves[low]), float(halves[low + 1])
        edges = np.linspace(0.0, 1.0, BLEND_STEPS + 1)
        # share of the upper pot up to a height v is v^(1/m) with mean b / (a + b)
        m = b / (a + b)
        up_to = edges ** (1.0 / m) * m
        parts = np.diff(up_to) * BLEND_STEPS
        waves = filling.hand.about(BLEND_STEPS, 0.25, 0.6)
        for k, part in enumerate(np.clip(parts, 0.0, 1.0)):
            mix = ((pours[low].pot, 1.0 - float(part)), (pours[low + 1].pot, float(part)))
            thickness = 1.0 + 0.3 * np.cos(np.pi * (1.5 * GRID + waves[k // 4]))
            filling.cover(filling.entry(*mix), (a + b) * filling.depth / BLEND_STEPS, thickness)


def _in_the_pot(filling: Filling, pours: Sequence[Pouring]) -> None:
    """All pots poured together as one flow."""
    share = sum(p.share for p in pours)
    area = share * filling.depth
    entry = len(filling.mixes)
    filling.mixes.append(())  # its pots come from the swirl
    hand = filling.hand.about(24, 1.0, 0.3)
    slope = 1.0 + 0.3 * np.cos(np.pi * (GRID + filling.hand.about(1, 1.0)[0]))
    layer = filling.cover(entry, area, slope)
    x, y = (a.ravel() for a in np.meshgrid(*(np.linspace(0.0, 1.0, n + 1) for n in (110, 80))))
    y = y * filling.level
    poured = layer.back(x, y)[2]
    filling.swirls[entry] = PotSwirl.make(
        tuple(p.pot for p in pours),
        tuple(p.share / share for p in pours),
        max(p.own_trace for p in pours),
        hand,
        (x[poured], y[poured]),
    )


POUR: dict[Manner, Callable[[Filling, Sequence[Pouring]], None]] = {
    Manner.FILL: layers,
    Manner.LAYER: layers,
    Manner.DROP: _drops,
    Manner.COLUMN: _columns,
    Manner.STRIPE: _stripes,
    Manner.WALL: _walls,
    Manner.SPOON: _spoons,
    Manner.BLEND: _blend,
    Manner.IN_THE_POT: _in_the_pot,
    Manner.EMBED: _embeds,
}
