"""The pour chart in characters: the same picture on a screen, in a report and on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from soapbench.words.lines import Line, Piece, cells, cut_line, fit, short_names
from soapbench.words.signs import LETTERS, pattern

if TYPE_CHECKING:
    from soapbench.outlook.chart import Act, PourChart, Row

SURE, LIKELY, MAY, GONE = "━", "▒", "░", " "
NEEDED, NOW, LOOKED = "◆", "│", "○"
INKS = {SURE: "good", LIKELY: "amber", MAY: "bad", NEEDED: "strong", NOW: "now", LOOKED: "strong"}
LEGEND = (
    (NEEDED, "needed until here"),
    (SURE, "sure"),
    (LIKELY, "likely"),
    (MAY, "may have gone"),
)
RUNNING = ((NOW, "now"), (LOOKED, "last look"), ("1-5", "as tapped"))
NAME, NAMES = 10, 16
"""Columns of a pot's name, where there is little room and where there is more."""
BESIDE = 7
"""Columns of a row before the name: hand, letter, swatch."""
TICKS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480)
LABEL = 5
"""Columns a number of minutes takes at least."""


def label_width(width: int) -> int:
    """Columns before the chart proper in a chart so wide."""
    return BESIDE + (NAMES if width >= 100 else NAME if width >= 66 else 6) + 1


def place(t: float, chart: PourChart, width: int) -> int | None:
    """The column of a moment; None where it lies outside of what is drawn."""
    if not chart.begins <= t <= chart.ends:
        return None
    part = (t - chart.begins) / (chart.ends - chart.begins)
    return min(width - 1, int(part * width))


def minutes_line(chart: PourChart, width: int) -> Line:
    """Numbers of minutes over their places."""
    span_min = (chart.ends - chart.begins) / 60
    most = max(1, width // LABEL)
    step = next((s for s in TICKS_MIN if span_min / s <= most), TICKS_MIN[-1])
    shown = [" "] * width
    minute = math.ceil(chart.begins / 60 / step) * step
    while minute * 60 <= chart.ends:
        at, label = place(minute * 60, chart, width), str(minute)
        if at is not None and at + len(label) <= width:
            shown[at : at + len(label)] = label
        minute += step
    return (Piece("".join(shown), "muted"),)


def acts_line(chart: PourChart, width: int) -> Line:
    """A letter for each stretch of handwork; what is done is faint."""
    shown: list[tuple[str, str]] = [(" ", "")] * width
    for act in chart.acts:
        for x in _columns(act, chart, width):
            shown[x] = (act.letter, "muted" if act.done else "amber" if act.waits else "strong")
    now = None if chart.now is None else place(chart.now, chart, width)
    if now is not None:
        shown[now] = (shown[now][0], "now reverse")
    return _joined(shown)


def _columns(act: Act, chart: PourChart, width: int) -> range:
    """Every act has a column at least."""
    if act.ends < chart.begins or act.begins > chart.ends:
        return range(0)
    first = place(max(act.begins, chart.begins), chart, width) or 0
    last = place(min(act.ends, chart.ends), chart, width) or 0
    return range(first, max(first + 1, last))


def window_line(row: Row, chart: PourChart, width: int) -> Line:
    """One pot's window, with what is needed, now, taps and the last look set into it."""
    now = None if chart.now is None else place(chart.now, chart, width)
    ends = [(0, SURE), (0, LIKELY), (0, MAY)]
    if math.isfinite(row.sure) and (row.needed is not None or row.taps):
        until = (row.sure, row.likely, row.may)
        signs = (SURE, LIKELY, MAY)
        ends = [(_until(t, chart, width), c) for t, c in zip(until, signs, strict=True)]
    looked = [(row.last_look, LOOKED)] if row.last_look is not None else []
    taps = [(tap.t, str(int(tap.state) + 1)) for tap in row.taps]
    marks: dict[int, str] = {}
    for moment, sign in [*looked, *taps, (chart.now, NOW), (row.needed, NEEDED)]:
        at = None if moment is None else place(moment, chart, width)
        if at is not None:
            marks[at] = sign
    cuts = {0, width, *(end for end, _ in ends), *marks, *(x + 1 for x in marks)}
    cuts |= {now} if now is not None else set()
    pieces: list[Piece] = []
    for x, after in pairwise(sorted(cuts)):
        if x in marks:
            pieces.append(Piece(marks[x], INKS.get(marks[x], "strong")))
            continue
        sign = next((sign for end, sign in ends if x < end), GONE)
        ink = "muted" if now is not None and x < now else INKS.get(sign, "")
        pieces.append(Piece(sign * (after - x), ink))
    return tuple(pieces)


def _until(t: float, chart: PourChart, width: int) -> int:
    """How many columns have their middle before ``t``."""
    columns = (t - chart.begins) / (chart.ends - chart.begins) * width - 0.5
    return 0 if columns <= 0 else width if columns >= width else math.ceil(columns)


def _joined(shown: Sequence[tuple[str, str]]) -> Line:
    pieces: list[Piece] = []
    for sign, ink in shown:
        if pieces and pieces[-1].ink == ink:
            pieces[-1] = Piece(pieces[-1].text + sign, ink)
        else:
            pieces.append(Piece(sign, ink))
    return tuple(pieces)


def name_pieces(row: Row, index: int, name: str, width: int, in_hand: bool = False) -> Line:
    """Letter, swatch and name before a row; edges show a swatch that is like the ground."""
    mark = "▸" if in_hand else " "
    return (
        Piece(mark, "strong"),
        Piece(LETTERS[index % len(LETTERS)] + " ", "strong" if in_hand else ""),
        Piece("▐"),
        Piece(pattern(index), row.look),
        Piece("▌ "),
        Piece(fit(name, width), "strong reverse" if in_hand else ""),
        Piece(" "),
    )


def chart_lines(chart: PourChart, width: int, legend: bool = True) -> list[Line]:
    """The whole chart in lines of at most ``width`` columns."""
    beside = label_width(width)
    wide = max(8, width - beside)
    names = short_names([row.pot for row in chart.rows], beside - BESIDE - 1)
    lines: list[Line] = [
        (Piece(fit(" minutes", beside), "muted"), *minutes_line(chart, wide)),
        (Piece(fit(" you", beside), "muted"), *acts_line(chart, wide)),
    ]
    for i, (row, name) in enumerate(zip(chart.rows, names, strict=True)):
        head = name_pieces(row, i, name, beside - BESIDE - 1)
        lines.append((*head, *window_line(row, chart, wide)))
    if legend:
        lines += legend_lines(chart, width)
    return [cut_line(line, width) for line in lines]


def legend_lines(chart: PourChart, width: int) -> list[Line]:
    """What the letters and signs stand for, in as few lines as will do."""
    signs = LEGEND + (RUNNING if chart.now is not None else ())
    if chart.now is None and any(row.taps for row in chart.rows):
        signs = (*LEGEND, ("1-5", "as tapped"))
    return [*_flowed(chart.legend, width), *_flowed(signs, width)]


def _flowed(pairs: Sequence[tuple[str, str]], width: int) -> list[Line]:
    lines: list[list[Piece]] = []
    left = 0
    for sign, words in pairs:
        needs = cells(sign) + 1 + cells(words) + 2
        if needs - 2 > left:
            lines.append([Piece(" ")])
            left = width - 1
        lines[-1] += [Piece(sign, INKS.get(sign, "strong")), Piece(f" {words}  ", "muted")]
        left -= needs
    for line in lines:
        line[-1] = Piece(line[-1].text.rstrip(), line[-1].ink)
    return [tuple(line) for line in lines]
