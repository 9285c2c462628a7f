"""Charts of a report as inline SVG: stage timeline, thickening of a pot, drying of the bars.

Colours are never the only sign: planned is hatched and done is solid, points have outlines.
By hand: a plotting library takes a second for its first figure, with some 70 MB beside numpy, and
its pictures would have to be taught all of this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from html import escape

from soapbench.aftercare.cure import LossCurve, Weighing
from soapbench.batter import TRACE_WORDS, Trace
from soapbench.papers.record import BatchReport, PotChart, StageBar
from soapbench.reading.safetext import clean
from soapbench.words import numbers
from soapbench.words.chances import clock

WIDE = 680
INK, FAINT, BAND = "#222", "#999", "#bcd"


def timeline(stages: Sequence[StageBar]) -> str:
    """Each stage as foreseen (hatched, above) and as done (solid, below)."""
    if not stages:
        return ""
    left, row = 210, 26
    last = max(max(s.done[1], s.planned[1] if s.planned else 0) for s in stages)
    high = row * len(stages) + 26
    scale = _scale(last, WIDE - left - 12)
    parts = [_minutes(last, left, scale, high - 20)]
    for i, stage in enumerate(stages):
        y = i * row + 6
        parts.append(_text(left - 6, y + 13, clean(stage.words, 34), "end"))
        if stage.planned:
            x, width = left + stage.planned[0] * scale, _span(stage.planned, scale)
            parts.append(
                f'<rect x="{x:.1f}" y="{y}" width="{width:.1f}" height="8" fill="url(#hatch)" '
                f'stroke="{FAINT}"><title>planned {_span_words(stage.planned)}</title></rect>'
            )
        x, width = left + stage.done[0] * scale, _span(stage.done, scale)
        fill = "none" if stage.skipped else INK
        done = "skipped" if stage.skipped else f"done {_span_words(stage.done)}"
        parts.append(
            f'<rect x="{x:.1f}" y="{y + 10}" width="{width:.1f}" height="8" fill="{fill}" '
            f'stroke="{INK}"><title>{done}</title></rect>'
        )
    hatch = (
        '<defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V5" stroke="{FAINT}" stroke-width="2"/>'
        "</pattern></defs>"
    )
    return _svg(high, "Steps, planned and actual", hatch + "".join(parts))


def thickening(pot: PotChart, last: float) -> str:
    """A pot's trace states over time up to ``last`` s: band, median, taps, fragrance, blender."""
    left, top, step = 104, 10, 24
    high = top + 4 * step + 26
    floor = top + 4 * step
    scale = _scale(last, WIDE - left - 12)

    def at(t: float, state: float) -> str:
        return f"{left + t * scale:.1f} {floor - state * step:.1f}"

    words = ("emulsion", *TRACE_WORDS[Trace.LIGHT :])
    parts = [_minutes(last, left, scale, floor)]
    for state, word in enumerate(words):
        y = floor - state * step
        parts.append(f'<path d="M{left} {y}H{WIDE - 12}" stroke="#ddd"/>')
        parts.append(_text(left - 6, y + 4, word, "end"))
    early = [at(q.p10, i + 1) for i, (_, q) in enumerate(pot.reached)]
    late = [at(q.p90, i + 1) for i, (_, q) in enumerate(pot.reached)]
    band = "L".join([at(0, 0), *early, *reversed(late), at(0, 0)])
    inside = f'<rect x="{left}" width="{WIDE - left - 12}" height="{high}"/>'
    parts.append(f'<clipPath id="plot">{inside}</clipPath><g clip-path="url(#plot)">')
    parts.append(f'<path d="M{band}Z" fill="{BAND}" fill-opacity=".7" class="band"/>')
    middle = "L".join([at(0, 0), *(at(q.p50, i + 1) for i, (_, q) in enumerate(pot.reached))])
    parts.append(f'<path d="M{middle}" fill="none" stroke="{INK}" class="median"/></g>')
    for blend in pot.blends:
        x = left + blend.t * scale
        width = max(blend.seconds * scale, 1.5)
        parts.append(
            f'<rect x="{x:.1f}" y="{floor + 1}" width="{width:.1f}" height="5" fill="{INK}">'
            f"<title>blender {blend.seconds:.0f} s at {clock(blend.t)}</title></rect>"
        )
    if pot.fragrance_in is not None:
        x = left + pot.fragrance_in * scale
        parts.append(
            f'<path d="M{x:.1f} {top - 6}V{floor}" stroke="{INK}" stroke-dasharray="4 3" '
            f'class="fragrance"><title>fragrance in at {clock(pot.fragrance_in)}</title></path>'
        )
        parts.append(_text(x + 3, top + 2, "fragrance in", "start"))
    for tap in pot.taps:
        across, up = at(tap.t, tap.state).split()
        parts.append(
            f'<circle cx="{across}" cy="{up}" r="4.5" fill="{escape(pot.look)}" stroke="{INK}" '
            f'class="tap"><title>{tap.state.words} at {clock(tap.t)}</title></circle>'
        )
    return _svg(high, f"Thickening of {pot.name}", "".join(parts))


def drying(weighed: Sequence[Weighing], curve: LossCurve | None) -> str:
    """Weighings over days, with the fitted curve and the mass without any water."""
    if len(weighed) < 2:
        return ""
    left, top, floor = 74, 10, 150
    days = max(weighed[-1].day * 1.6, 7.0)
    most = max(w.g for w in weighed)
    least = min(w.g for w in weighed)
    if curve is not None:
        most, least = max(most, curve.start_g), min(least, curve.start_g - curve.loss_g)
    pad = max((most - least) * 0.12, 1.0)
    most, least = most + pad, least - pad

    def at(day: float, g: float) -> str:
        x = left + day / days * (WIDE - left - 12)
        return f"{x:.1f} {floor - (g - least) / (most - least) * (floor - top):.1f}"

    parts = [f'<path d="M{left} {top}V{floor}H{WIDE - 12}" fill="none" stroke="{FAINT}"/>']
    for g in (most - pad, (most + least) / 2, least + pad):
        y = float(at(0, g).split()[1])
        parts.append(_text(left - 6, y + 4, numbers.g(g, 0), "end"))
    weeks = int(days // 7)
    for week in range(0, weeks + 1, max(1, weeks // 8)):
        x = float(at(week * 7, least).split()[0])
        parts.append(_text(x, floor + 15, f"week {week}" if week == 0 else str(week), "middle"))
    if curve is not None:
        line = "L".join(at(days * i / 60, curve.g_at(days * i / 60)) for i in range(61))
        parts.append(f'<path d="M{line}" fill="none" stroke="{INK}" class="curve"/>')
        dry = at(0, curve.start_g - curve.loss_g).split()[1]
        parts.append(
            f'<path d="M{left} {dry}H{WIDE - 12}" stroke="{FAINT}" stroke-dasharray="5 4"/>'
        )
    for one in weighed:
        across, up = at(one.day, one.g).split()
        parts.append(
            f'<circle cx="{across}" cy="{up}" r="4" fill="#fff" stroke="{INK}" stroke-width="1.5" '
            f'class="weighing"><title>{numbers.written_g(one.g)} on day {one.day:.0f}'
            "</title></circle>"
        )
    return _svg(floor + 24, "Weight of the bars while they cure", "".join(parts))


def charts(report: BatchReport, weighed: Sequence[Weighing]) -> dict[str, object]:
    """Every chart of the report: ``timeline``, ``pots`` by name, ``drying``."""
    ends = [stage.done[1] for stage in report.stages]
    ends += [tap.t for pot in report.pots for tap in pot.taps]
    last = max([600.0, *ends]) * 1.25
    return {
        "timeline": timeline(report.stages),
        "pots": {pot.name: thickening(pot, last) for pot in report.pots},
        "drying": drying(weighed, report.curve),
    }


def _scale(last: float, wide: float) -> float:
    return wide / last if last > 0 else 1.0


def _span(span: tuple[float, float], scale: float) -> float:
    return max((span[1] - span[0]) * scale, 1.5)


def _span_words(span: tuple[float, float]) -> str:
    return f"{clock(span[0])} to {clock(span[1])}"


def _minutes(last: float, left: float, scale: float, floor: float) -> str:
    """Upright lines every so many minutes, numbered below."""
    step = next((s for s in (60, 120, 300, 600, 1200, 3600) if last / s <= 10), 0)
    step = step or 3600 * math.ceil(last / 36000)  # however long a log says it went on
    parts = []
    for t in range(0, int(timedelta(seconds=last).total_seconds()) + 1, step):
        x = left + t * scale
        parts.append(f'<path d="M{x:.1f} 4V{floor:.0f}" stroke="#ddd"/>')
        words = f"{t // 60} min" if t == 0 else str(t // 60)
        parts.append(_text(x, floor + 16, words, "middle"))
    return "".join(parts)


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'


def _svg(high: float, title: str, body: str) -> str:
    return (
        f'<svg viewBox="0 0 {WIDE} {high:.0f}" role="img" class="chart">'
        f"<title>{escape(clean(title))}</title>{body}</svg>"
    )
