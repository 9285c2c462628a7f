"""How a rehearsal went, in words, in lines of at most ``width``."""

from __future__ import annotations

from soapbench.reading.safetext import clean
from soapbench.rehearsal.rehearsal import Fault
from soapbench.rehearsal.report import Judged, Played, Report, Switch
from soapbench.words.chances import clock, percent
from soapbench.words.charts import chart_lines
from soapbench.words.lines import plain
from soapbench.words.wrapping import wrapped

SOON_S = 5.0
"""A tap this near to the truth is as good as right (ours)."""


def report_text(found: Report, title: str, seed: int, width: int = 80) -> str:
    """The whole report; its first line names the rehearsal."""
    lines = wrapped(f"Rehearsal of {clean(title)}, seed {seed}", width)
    lines += ["", *wrapped(outcome_words(found), width)]
    lines += ["", "POUR CHART", *map(plain, chart_lines(found.chart, width))]
    lines += ["", "STEPS", *(_stage_line(stage, width) for stage in found.stages)]
    lines += ["", "TRACE", *wrapped(trace_words(found), width)]
    lines += ["", "THE MOMENT TO SWITCH", *wrapped(switch_words(found), width)]
    return "\n".join(lines) + "\n"


def outcome_words(found: Report) -> str:
    """Whether it was finished, as what, and how long it took."""
    after = f"in {clock(found.ended_s)}"
    way = " + ".join(found.steps)
    faults = [s for s in found.stages if s.fault is not None]
    if found.finished:
        part = " in part" if found.in_part else ""
        if found.switch.taken_s is not None:
            return f"Switched to {way} and finished{part} {after}."
        return f"Finished{part or ' as planned'} {after}."
    if faults:
        worst = faults[0]
        counted = "1 step was" if len(faults) == 1 else f"{len(faults)} steps were"
        return (
            f"Not finished: {counted} not right, first {clean(worst.stage.words).lower()} "
            f"({_fault_words(worst.fault)}). Stopped after {clock(found.ended_s)}."
        )
    return f"Ended early, after {clock(found.ended_s)}."


def _stage_line(stage: Played, width: int) -> str:
    took = "skipped" if stage.skipped else clock(stage.took_s)
    told = "" if stage.skipped else _fault_words(stage.fault)
    return f"  {clean(stage.stage.words, 30):<30}{took:>9}  {told}"[:width].rstrip()


def _fault_words(fault: Fault | None) -> str:
    if fault is None:
        return "in time"
    when = "too soon" if fault.early else "late, in part" if fault.in_part else "too late"
    return f"{when}: {clean(fault.pot, 16)} was at {fault.trace.words}"


def trace_words(found: Report) -> str:
    """How well trace was judged."""
    went_by = "" if not found.untapped else f" You missed {found.untapped}."
    worst, typical = found.worst, found.typical_late_s
    if worst is None or typical is None:
        return f"You tapped no trace changes.{went_by}"
    counted = "1 trace change" if len(found.taps) == 1 else f"{len(found.taps)} trace changes"
    said = f"You tapped {counted}, usually {_late(typical)}."
    if len(found.taps) > 1:
        said += f" Worst: {_tap_words(worst)}."
    return said + went_by


def _tap_words(tap: Judged) -> str:
    return f"{clean(tap.pot)}, {tap.state.words}, {_late(tap.late_s)}"


def _late(seconds: float) -> str:
    if abs(seconds) <= SOON_S:
        return "just in time"
    return f"{clock(abs(seconds))} {'late' if seconds > 0 else 'too early'}"


def switch_words(found: Report) -> str:
    """When the right moment to go over to a quicker way was, and when the maker did."""
    switch = found.switch
    return f"{_right_moment(switch)} {_maker(switch)}".strip()


def _right_moment(switch: Switch) -> str:
    if switch.below_s is None:
        return "Not needed: with this batter your swirl stayed the best way."
    since = f"from {clock(switch.below_s)} on" if switch.below_s > 0 else "from the start"
    said = f"With this batter another way was worth more {since}"
    if switch.last_s is None:
        return f"{said}, but no other swirl could have been finished."
    return f"{said}; {switch.last_way} could still have been finished until {clock(switch.last_s)}."


def _maker(switch: Switch) -> str:
    warned = "" if switch.warned_s is None else f"The warning came at {clock(switch.warned_s)}"
    if switch.taken_s is None:
        return f"{warned}." if warned else ""
    said = f"you switched to {clean(switch.taken_way)} at {clock(switch.taken_s)}"
    left = switch.chance_when_taken
    if left is not None:
        said += f"; the old plan then had {percent(left)}"
    return f"{warned}; {said}." if warned else f"{said[0].upper()}{said[1:]}."
