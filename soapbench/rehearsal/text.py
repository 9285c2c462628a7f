"""How a rehearsal went, in words, in lines of at most ``width``."""

from __future__ import annotations

from soapbench.outlook.chartlines import chart_lines
from soapbench.reading.safetext import clean
from soapbench.rehearsal.lateness import Cost
from soapbench.rehearsal.rehearsal import Fault
from soapbench.rehearsal.report import SOON_S, Judged, Played, Report, Switch
from soapbench.words.afterpour import MOMENT, POUR_CHART, STEPS, TRACE, took_words
from soapbench.words.chances import about_words, clock, percent
from soapbench.words.lines import fit, plain
from soapbench.words.pouring import saying
from soapbench.words.wrapping import wrapped


def report_text(report: Report, title: str, seed: int, width: int = 80) -> str:
    """The whole report; its first line names the rehearsal."""
    lines = wrapped(f"Practice: {clean(title)}, batter {seed}", width)
    lines += ["", *wrapped(outcome_words(report), width)]
    lines += ["", POUR_CHART, *map(plain, chart_lines(report.chart, width))]
    lines += ["", STEPS, *(_stage_line(stage, width) for stage in report.stages)]
    lines += ["", TRACE, *wrapped(trace_words(report), width)]
    for line in cost_lines(report):
        lines += wrapped(line, width)
    lines += ["", MOMENT, *wrapped(switch_words(report), width)]
    return "\n".join(lines) + "\n"


def outcome_words(report: Report) -> str:
    """Whether it was finished, as what, and how long it took."""
    took, way = took_words(report.ended_s), " + ".join(report.steps)
    faults = [s for s in report.stages if s.fault is not None]
    if report.finished:
        how = f"Switched to {way} and finished" if _switched(report) else f"Finished as {way}"
        return f"{how}{', in part,' if report.in_part else ''} in {took}."
    if faults:
        worst = faults[0]
        count = "1 step" if len(faults) == 1 else f"{len(faults)} steps"
        return (
            f"Not finished after {took}: {count} went wrong, first "
            f"“{saying(worst.stage).sentence}” ({_fault_words(worst.fault)})."
        )
    return f"Stopped after {took}; the swirl was not finished."


def _switched(report: Report) -> bool:
    return report.switch.taken_s is not None


def _stage_line(stage: Played, width: int) -> str:
    took = "skipped" if stage.skipped else clock(stage.took_s)
    fault = "" if stage.skipped else _fault_words(stage.fault)
    return f"  {fit(saying(stage.stage).sentence, 34)}{took:>8}  {fault}"[:width].rstrip()


def _fault_words(fault: Fault | None) -> str:
    if fault is None:
        return "in time"
    when = "too soon" if fault.early else "late, in part" if fault.in_part else "too late"
    already = "only at" if fault.early else "already at"
    return f"{when}: {clean(fault.pot, 16)} was {already} {fault.trace.words}"


def trace_words(report: Report) -> str:
    """How well trace was judged."""
    missed = f" You missed {report.untapped}." if report.untapped else ""
    worst, typical = report.worst, report.typical_late_s
    if worst is None or typical is None:
        return f"You tapped no trace changes.{missed}"
    count = "1 trace change" if len(report.taps) == 1 else f"{len(report.taps)} trace changes"
    sentence = f"You tapped {count}, usually {_late(typical)}"
    if len(report.taps) > 1:
        sentence += f" (worst: {_tap_words(worst)})"
    return f"{sentence}.{missed}"


def cost_lines(report: Report) -> list[str]:
    """What looking late would have cost, tap by tap; one line where it would have cost nothing."""
    late = [tap for tap in report.taps if tap.late_s > SOON_S]
    lines = [_cost_words(tap, tap.cost) for tap in late if tap.cost]
    if late and not lines:
        return ["Looking late cost nothing this time."]
    return lines


def _cost_words(tap: Judged, cost: Cost) -> str:
    many = max(1, round(100 * cost.lost))
    left = "" if cost.left == cost.way else f"; best left then: {clean(cost.left)}"
    return (
        f"{_tap_words(tap)}: the switch to {clean(cost.way)} would have come at "
        f"{clock(cost.late_s)} instead of {clock(cost.at_once_s)}. "
        f"In {many} of 100 such pours that is too late for it{left}."
    )


def _tap_words(tap: Judged) -> str:
    return f"{clean(tap.pot)}, {tap.state.words}, {_late(tap.late_s)}"


def _late(seconds: float) -> str:
    if abs(seconds) <= SOON_S:
        return "just in time"
    return f"{about_words(abs(seconds))} {'late' if seconds > 0 else 'too soon'}"


def switch_words(report: Report) -> str:
    """When the right moment to go over to a quicker way was, and when the maker did."""
    switch = report.switch
    return f"{_right_moment(switch)} {_maker(switch)}".strip()


def _right_moment(switch: Switch) -> str:
    if switch.below_s is None:
        return "Not needed: with this batter your swirl stayed the best way."
    since = f"from {clock(switch.below_s)} on" if switch.below_s > 0 else "from the start"
    worth = f"With this batter another way was the better bet {since}"
    if switch.last_s is None:
        return f"{worth}, but no faster swirl would have saved it."
    return (
        f"{worth}; {switch.last_way} could still have been finished until {clock(switch.last_s)}."
    )


def _maker(switch: Switch) -> str:
    warned = "" if switch.warned_s is None else f"The warning came at {clock(switch.warned_s)}."
    if switch.taken_s is None:
        return warned
    sentence = f"You switched to {clean(switch.taken_way)} at {clock(switch.taken_s)}"
    left = switch.chance_when_taken
    if left is not None:
        sentence += f"; the old plan then had {percent(left)}"
    return f"{warned} {sentence}.".strip()
