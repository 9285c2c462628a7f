"""A small label of a batch as SVG, in millimetres: to be cut out, or taken on into a nicer one."""

from __future__ import annotations

import textwrap
from html import escape

from soapbench.papers.batchsheet import BatchSheet
from soapbench.reading.safetext import clean

WIDE_MM, EDGE_MM = 70.0, 3.0
BODY_MM, TITLE_MM = 2.3, 3.6
"""Heights of letters' boxes; small, and still read at arm's length (ours)."""
LETTER = 0.56
"""Mean width of a letter as a part of its height, taken a little wide."""
NEEDED = "Made by: ______________________________"


def label_svg(sheet: BatchSheet) -> str:
    """The label: as wide as ``WIDE_MM``, as high as its words need."""
    y = EDGE_MM
    parts = []
    for words, size, bold in _lines(sheet):
        y += size * 1.25
        weight = ' font-weight="bold"' if bold else ""
        parts.append(
            f'<text x="{EDGE_MM}" y="{y:.2f}" font-size="{size}"{weight}>{escape(words)}</text>'
        )
    high = y + EDGE_MM
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE_MM:g}mm" height="{high:.2f}mm" '
        f'viewBox="0 0 {WIDE_MM:g} {high:.2f}" role="img" '
        'font-family="system-ui, DejaVu Sans, sans-serif" fill="#111">'
        f"<title>{escape(clean(sheet.title, 60))}: label</title>"
        f'<rect x=".2" y=".2" width="{WIDE_MM - 0.4:g}" height="{high - 0.4:.2f}" fill="#fff" '
        f'stroke="#111" stroke-width=".2"/>{"".join(parts)}</svg>'
    )


def _lines(sheet: BatchSheet) -> list[tuple[str, float, bool]]:
    """Each line with its height and whether it is bold."""
    lines = [(line, TITLE_MM, True) for line in _wrapped(sheet.title, TITLE_MM)]
    if sheet.stops:
        lines.append(("NOT FOR SALE: see the batch sheet", BODY_MM, True))
    weight = "Soap"
    if sheet.net is not None:
        weight += (
            f", net weight {sheet.net.words}{f' ({sheet.net.doubt})' if sheet.net.doubt else ''}"
        )
    lines.append((weight, BODY_MM, False))
    body = [
        f"Ingredients: {sheet.ingredient_line}",
        f"Batch {sheet.code}. {_dates(sheet)}",
        "Avoid the eyes; rinse them with water.",
        NEEDED,
    ]
    lines += [(line, BODY_MM, False) for words in body for line in _wrapped(words, BODY_MM)]
    return lines


def _dates(sheet: BatchSheet) -> str:
    """Dates as ISO 8601 writes them."""
    dates = [
        f"{word} {day.isoformat()}."
        for word, day in (
            ("Made", sheet.made), ("Ready from", sheet.ready), ("Use by", sheet.use_by)
        )
        if day is not None
    ]  # fmt: skip
    return " ".join(dates)


def _wrapped(words: str, size: float) -> list[str]:
    letters = int((WIDE_MM - 2 * EDGE_MM) / (size * LETTER))
    return textwrap.wrap(clean(words, 2000), letters) or [""]
