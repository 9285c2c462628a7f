"""What is said beside the mould while it fills: where the batter in hand goes in, and how."""

from __future__ import annotations

from soapbench.batter import Trace

IN_MOULD, PLANNED = "in the mould", "what is planned"
AIM_AT: dict[str, tuple[float, ...]] = {
    "fill": (0.5,),
    "in the pot": (0.5,),
    "drop": (0.2, 0.5, 0.8),
    "column": (0.5,),
    "layer": (0.1, 0.3, 0.5, 0.7, 0.9),
    "blend": (0.1, 0.3, 0.5, 0.7, 0.9),
    "stripe": (0.1, 0.37, 0.63, 0.9),
    "wall": (0.02,),
    "spoon": (0.2, 0.5, 0.8),
}
"""Where over the mould's width batter goes in, by the manner of pouring (ours)."""
_AIM = {
    "fill": "steadily, at one end",
    "in the pot": "in one go, from low",
    "column": "on top of the column, in turns",
    "layer": "over a spoon, low and even",
    "blend": "over a spoon, low and even",
    "stripe": "in lines, end to end",
    "wall": "down one wall, slowly",
    "spoon": "spoonful beside spoonful",
}
_DROP = (
    "from high up: it sinks deep",
    "from high up: it sinks deep",
    "from high up: it sinks halfway",
    "low and close: it lies on top",
    "low and close: it lies on top",
)
"""By the trace state of what is in the mould: common practice, no source."""


def aim_words(manner: str, below: Trace | None) -> str:
    """How the batter in hand goes in."""
    if manner == "drop":
        return _DROP[int(below or 0)]
    return _AIM.get(manner, "")
