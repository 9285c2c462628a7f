"""What is said around the picture of the cut face."""

from __future__ import annotations

SLICES = ("near end", "", "middle", "", "far end")
KEYS = {
    "cured": "now, after the cure", "along": "slice along the loaf",
    "ink": "colours/patterns/letters", "back": "back",
}  # fmt: skip
DRAWING, NOTHING_POURED = "Drawing …", "Nothing was poured."
NOT_DRAWN = "This face could not be drawn."


def title(plan: str) -> str:
    return f"{plan}: the cut face"


def after_cure(label: str) -> str:
    return f"{label}, after the cure"


def no_face(why: str) -> str:
    return f"The face could not be worked out: {why}"
