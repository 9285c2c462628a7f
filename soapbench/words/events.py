"""What happened in a batch, as makers say it. Logs hold the kinds' own names, which stay."""

from __future__ import annotations

from collections.abc import Mapping

from soapbench.log import Kind

SAID: Mapping[Kind, str] = {
    Kind.LYE_MEETS_OILS: "lye into oils",
    Kind.STAGE_DONE: "step done",
    Kind.STAGE_SKIPPED: "step skipped",
    Kind.FRAGRANCE_IN: "fragrance in",
    Kind.BLENDER_ON: "blender on",
    Kind.BLEND_BURST: "blended",
    Kind.TRACE_SEEN: "trace",
    Kind.LOOK: "no change",
    Kind.TROUBLE: "trouble",
    Kind.NOTE: "note",
    Kind.WARNING_SHOWN: "warning",
    Kind.RESCUE_TAKEN: "switched",
    Kind.POUR_ENDED: "pour ended",
    Kind.OUTCOME: "came out",
    Kind.SET_ASIDE: "set aside",
    Kind.WEIGHED_OUT: "ticked",
    Kind.SPRAY: "sprayed",
    Kind.GEL_SEEN: "gel",
    Kind.GEL_CHOSEN: "gel wanted",
    Kind.UNMOULD: "unmoulded",
    Kind.CUT: "cut",
    Kind.WEIGHING: "weighed",
    Kind.CUT_SEEN: "cut review",
    Kind.VERDICT: "pour again?",
    Kind.CURED: "closed",
    Kind.FINISH_WISHED: "planned",
    Kind.FINISH_DONE: "finishing",
    Kind.TAPS_JUDGED: "taps judged",
    Kind.UNDO: "undone",
}
GEL_REACHED: Mapping[str, str] = {
    "none": "no gel",
    "the middle only": "centre only",
    "half way": "halfway",
    "to the edges": "full gel",
}
"""How far gel went, by what a log holds."""
GEL_CHOSEN: Mapping[str, str] = {"force": "forced", "allow": "allowed", "prevent": "prevented"}
FINISHED: Mapping[str, str] = {"plane": "planed", "stamp": "stamped", "wrap": "wrapped"}


def undone(kind: Kind) -> str:
    """ "Undone: cut"."""
    return f"Undone: {SAID[kind]}"
