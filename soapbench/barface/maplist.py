"""From a design to the list of maps that make one cut face."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

from soapbench.barface.box import Profile
from soapbench.barface.design import Design, Pouring, ToolPass
from soapbench.barface.filling import Filling, Hand, Mix, Op
from soapbench.barface.potswirl import PotSwirl
from soapbench.barface.pouring import POUR, layers
from soapbench.barface.tools import crests, hanger
from soapbench.swirls.table import Manner


@dataclass(frozen=True, slots=True)
class Recipe:
    """All that is needed to colour a point of one face; the width of the mould is 1."""

    ops: tuple[Op, ...]
    """First poured first."""
    mixes: tuple[Mix, ...]
    """What the entries of ``ops`` stand for."""
    swirls: dict[int, PotSwirl]
    """Entries whose points are coloured by a field rather than evenly."""
    depth: float
    top: Profile | None
    headroom: float
    """Height of the picture above ``depth``, the same for every face of a loaf."""


def recipe(design: Design, where: float, seed: int) -> Recipe:
    """The maps of the face cut at ``where`` (0 to 1) along the loaf.

    Every number that is only the maker's hand (where a stream lands, how a crest curls) is
    drawn from ``seed`` and drifts smoothly along the loaf.
    """
    if not 0.0 <= where <= 1.0:
        raise ValueError(f"where {where} is not between 0 and 1, the ends of the loaf")
    filling = Filling(design, Hand(seed, where))
    whole = sum(pour.share for pour in design.pours)
    # No wire goes through an embed: it is put into the batter as the tools left it.
    for manner, group in groupby(sorted(design.steps, key=_laid), _manner):
        steps = list(group)
        pours = [replace(p, share=p.share / whole) for p in steps if isinstance(p, Pouring)]
        for tool in steps:
            if isinstance(tool, ToolPass) and filling.level > 0.0:
                hanger(filling, tool)
        if manner is not None:
            if manner is Manner.DROP and filling.level == 0.0:
                layers(filling, pours[:1])  # there is nothing to drop into yet
                pours = pours[1:]
            POUR[manner](filling, pours)
    top, headroom = crests(filling, design.top.trace) if design.top else (None, 0.0)
    return Recipe(
        tuple(filling.ops),
        tuple(filling.mixes),
        filling.swirls,
        filling.depth,
        top,
        headroom,
    )


def _laid(step: Pouring | ToolPass) -> bool:
    return _manner(step) is Manner.EMBED


def _manner(step: Pouring | ToolPass) -> Manner | None:
    """What neighbouring steps are grouped by; None for a tool pass."""
    return step.manner if isinstance(step, Pouring) else None
