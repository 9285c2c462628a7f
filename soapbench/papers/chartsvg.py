"""The pour chart as SVG, and as a figure of a page with its legend in words."""

from __future__ import annotations

import math
from html import escape
from typing import TYPE_CHECKING

from soapbench.outlook.chartlines import LEGEND, TICKS_MIN
from soapbench.reading.safetext import clean
from soapbench.words.chances import clock
from soapbench.words.signs import LETTERS

if TYPE_CHECKING:
    from soapbench.outlook.chart import Act, PourChart, Row

WIDE, LEFT, RIGHT = 680.0, 132.0, 12.0
TOP, ROW = 24.0, 26.0
INK, RULE = "#222", "#ddd"
SURE, LIKELY, MAY = "#2f7d4f", "#c58a1c", "#b9483c"
"""Dark enough on white; hatching tells the three apart without colour."""
_HATCHES = (
    '<defs><pattern id="pc-likely" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<rect width="6" height="6" fill="{LIKELY}" fill-opacity=".45"/>'
    f'<path d="M0 6L6 0" stroke="{LIKELY}" stroke-width="1.5"/></pattern>'
    '<pattern id="pc-may" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<circle cx="3" cy="3" r="1.2" fill="{MAY}"/></pattern></defs>'
)


def chart_svg(chart: PourChart, title: str = "Pour chart") -> str:
    """The chart, ``WIDE`` units wide; every mark has its time as a tooltip."""
    high = TOP + ROW * (len(chart.rows) + 1) + 24
    parts = [_HATCHES, *_minutes(chart, high - 20), *_acts(chart)]
    for i, row in enumerate(chart.rows):
        parts += _row(row, i, chart, TOP + ROW * (i + 1))
    if chart.now is not None:
        x = _x(chart.now, chart)
        parts.append(
            f'<path d="M{x:.1f} {TOP - 6}V{high - 20}" stroke="{INK}" stroke-width="2" '
            f'class="now"><title>now, {clock(chart.now)}</title></path>'
        )
    return (
        f'<svg viewBox="0 0 {WIDE:.0f} {high:.0f}" role="img" class="chart pour-chart">'
        f"<title>{escape(clean(title))}</title>{''.join(parts)}</svg>"
    )


def chart_figure(chart: PourChart, title: str = "Pour chart") -> str:
    """A figure of a page: the chart, and below it what its letters and signs stand for."""
    letters = ", ".join(f"<b>{escape(c)}</b> {escape(clean(words))}" for c, words in chart.legend)
    signs = ", ".join(f"<b>{sign}</b> {words}" for sign, words in LEGEND)
    taps = "" if not any(row.taps for row in chart.rows) else ", dots: your taps"
    return (
        f"<figure>{chart_svg(chart, title)}"
        f"<figcaption>{letters}<br>{signs}{taps}</figcaption></figure>"
    )


def _x(t: float, chart: PourChart) -> float:
    """Place of a moment, kept within the chart."""
    part = (t - chart.begins) / (chart.ends - chart.begins)
    return LEFT + min(max(part, 0.0), 1.0) * (WIDE - LEFT - RIGHT)


def _inside(t: float, chart: PourChart) -> bool:
    return chart.begins <= t <= chart.ends


def _minutes(chart: PourChart, floor: float) -> list[str]:
    span_min = (chart.ends - chart.begins) / 60
    step = next((s for s in TICKS_MIN if span_min / s <= 12), 0) or math.ceil(span_min / 12)
    parts: list[str] = []
    minute = math.ceil(chart.begins / 60 / step) * step
    while minute * 60 <= chart.ends:
        x = _x(minute * 60, chart)
        words = f"{minute} min" if not parts else str(minute)
        parts.append(f'<path d="M{x:.1f} {TOP - 6}V{floor:.1f}" stroke="{RULE}"/>')
        parts.append(_text(x, floor + 15, words, "middle"))
        minute += step
    return parts


def _acts(chart: PourChart) -> list[str]:
    parts = [_text(LEFT - 8, TOP + 9, "you", "end")]
    for act in chart.acts:
        if act.ends < chart.begins or act.begins > chart.ends:
            continue
        x, end = _x(act.begins, chart), _x(act.ends, chart)
        parts.append(
            f'<rect x="{x:.1f}" y="{TOP - 4}" width="{max(end - x, 1.5):.1f}" height="17" '
            f'fill="{_act_fill(act)}" stroke="#fff"><title>{_act_words(act)}</title></rect>'
        )
        if end - x >= 9:
            ink = "#fff" if act.done else INK
            parts.append(_text((x + end) / 2, TOP + 9, act.letter, "middle", ink))
    return parts


def _act_fill(act: Act) -> str:
    return "#555" if act.done else "#f3e3bf" if act.waits else "#d5dde3"


def _act_words(act: Act) -> str:
    return f"{escape(clean(act.words))} {clock(act.begins)} to {clock(act.ends)}"


def _row(row: Row, index: int, chart: PourChart, y: float) -> list[str]:
    letter = LETTERS[index % len(LETTERS)]
    parts = [
        f'<rect x="4" y="{y}" width="14" height="14" fill="{escape(row.look)}" stroke="{INK}"/>',
        _text(24, y + 11, f"{letter} {clean(row.pot, 15)}", "start"),
    ]
    if math.isfinite(row.sure):
        spans = (
            (chart.begins, row.sure, SURE, "sure"),
            (row.sure, row.likely, "url(#pc-likely)", "likely"),
            (row.likely, row.may, "url(#pc-may)", "may have gone"),
        )
        for begins, ends, fill, words in spans:
            x, end = _x(begins, chart), _x(ends, chart)
            if end > x:
                parts.append(
                    f'<rect x="{x:.1f}" y="{y + 3}" width="{end - x:.1f}" height="9" '
                    f'fill="{fill}" class="{words.split()[0]}"><title>{words} until '
                    f"{clock(ends)}</title></rect>"
                )
    for tap in row.taps:
        if _inside(tap.t, chart):
            parts.append(
                f'<circle cx="{_x(tap.t, chart):.1f}" cy="{y + 7.5}" r="4.5" '
                f'fill="{escape(row.look)}" stroke="{INK}" class="tap">'
                f"<title>{escape(tap.state.words)} at {clock(tap.t)}</title></circle>"
            )
    if row.last_look is not None and _inside(row.last_look, chart):
        parts.append(
            f'<circle cx="{_x(row.last_look, chart):.1f}" cy="{y + 7.5}" r="3" fill="none" '
            f'stroke="{INK}" class="look"><title>last look {clock(row.last_look)}</title></circle>'
        )
    if row.needed is not None and _inside(row.needed, chart):
        x = _x(row.needed, chart)
        parts.append(
            f'<path d="M{x:.1f} {y}l6 7.5l-6 7.5l-6 -7.5Z" fill="{INK}" stroke="#fff" '
            f'class="needed"><title>needed until {clock(row.needed)}</title></path>'
        )
    return parts


def _text(x: float, y: float, words: str, anchor: str, ink: str = INK) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}">{escape(words)}</text>'
    )
