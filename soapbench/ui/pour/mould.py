"""The mould as it fills, in the pots' own colours, with where to aim next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.reading.safetext import clean
from soapbench.ui.facecells import face_lines
from soapbench.words.aiming import AIM_AT, IN_MOULD, PLANNED, aim_words
from soapbench.words.lines import Line, Piece, fit

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk
    from soapbench.pour.state import PourState
    from soapbench.swirls.stage import Stage
    from soapbench.ui.barface import Ink

TALLEST, ROUND = 15, 4
"""Rows of a mould filled to its brim, and of the words around it."""


def filled_by(state: PourState) -> tuple[str, ...]:
    """What the picture depends on: stages done in the mould, and the one in hand."""
    poured = [d.stage.id for d in state.done if d.stage.puts == "mould" or d.stage.step]
    return (*poured, state.stage.id if state.stage else "")


def mould_lines(desk: Desk, width: int, height: int, ink: Ink) -> tuple[Line, ...]:
    """The mould's cut face so far; before anything is poured, the one that is planned.
    Nothing where so few rows would show nothing.

    Takes some tens of ms: not for the screen's own thread.
    """
    from soapbench.barface import barplan
    from soapbench.barface.words import foreseen_showing

    if height < ROUND + 4:
        return ()
    state, plan, amounts, known = desk.state, desk.plan, desk.amounts, desk.known
    poured = any(d.stage.puts == "mould" and not d.skipped for d in state.done)
    if poured:
        draws = barplan.likely(desk.batch, plan, amounts, known, state)
        worked = barplan.poured(state, draws)
        number = _in_hand(desk)
        design = barplan.design(plan, amounts, known.swirls, worked, known.sinking, number)
    else:
        number = 0
        foreseen = foreseen_showing(plan, amounts, known, desk.foreseen.face)
        design = foreseen.design if foreseen else None
    if design is None:
        return ()
    seed = barplan.seed(plan)
    mould = plan.mould.all[number]
    brim = (mould.depth or 7.0) / (mould.width or 9.0)
    rows = max(3, min(TALLEST, height - ROUND, round((width - 2) / 2 * brim)))
    inner = min(width - 2, round(2 * rows / brim))
    full = design.mould.depth / design.mould.width / brim
    soap = face_lines(design, seed, inner, max(1, round(rows * min(1.0, full))), ink)
    empty: Line = (Piece("│" + " " * inner + "│"),)
    stage = state.stage
    label = IN_MOULD if poured else PLANNED
    return (
        (Piece(fit(label, width), "muted"),),
        (Piece(" " + _aim(stage, inner), "accent strong"),),
        *[empty] * (rows - len(soap)),
        *((Piece("│"), *line, Piece("│")) for line in soap),
        (Piece("└" + "─" * inner + "┘"),),
        (Piece(fit(_aim_words(state, stage), width), "accent"),),
    )


def _in_hand(desk: Desk) -> int:
    """The mould batter goes into now, of those with pots of their own; else the one last filled."""
    from soapbench.swirls.pouring import lots

    done = [d.stage for d in desk.state.done if d.stage.step and not d.skipped]
    stages = [*done, *([desk.state.stage] if desk.state.stage else [])]
    there = lots(desk.plan)
    for stage in reversed(stages):
        pots = set(stage.pots or stage.onto)
        lot = next((lot for lot in there if stage.step and pots and pots <= set(lot.pots)), None)
        if lot and any(d.puts == "mould" and set(d.pots) <= set(lot.pots) for d in done):
            return lot.moulds[0]
    return 0


def _aim(stage: Stage | None, wide: int) -> str:
    """Marks over the mould where the next batter goes in."""
    shown = [" "] * wide
    if stage is not None and stage.puts == "mould":
        for part in AIM_AT.get(stage.manner, ()):
            shown[min(wide - 1, int(part * wide))] = "▼"
    return "".join(shown)


def _aim_words(state: PourState, stage: Stage | None) -> str:
    if stage is None or stage.puts != "mould":
        return ""
    below = max((state.pots[pot].trace for pot in stage.onto), default=None)
    return clean(aim_words(stage.manner, below))
