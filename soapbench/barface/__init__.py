"""Bar face: the cut face of a multi-coloured loaf, drawn before it is poured.

Read it in this order: ``design``, ``maps``, ``box``, ``potswirl``, ``inclusion``, ``filling``,
``pouring``, ``tools``, ``maplist``, ``draw``, ``cells``, ``picture``, ``reach``, ``barplan`` and
``words``.
"""

from soapbench.barface.cells import PotRun, Run, half_blocks, pattern_cells
from soapbench.barface.design import (
    Colour,
    Design,
    Mould,
    Pouring,
    SinkDepth,
    ToolPass,
    Top,
)
from soapbench.barface.draw import AIR, Face, face, loaf
from soapbench.barface.picture import png, svg
from soapbench.swirls.table import Manner, WireLed
from soapbench.words.signs import pattern

__all__ = [
    "AIR",
    "Colour",
    "Design",
    "Face",
    "Manner",
    "Mould",
    "PotRun",
    "Pouring",
    "Run",
    "SinkDepth",
    "ToolPass",
    "Top",
    "WireLed",
    "face",
    "half_blocks",
    "loaf",
    "pattern",
    "pattern_cells",
    "png",
    "svg",
]
