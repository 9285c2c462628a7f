"""Values the pour screen shows that the trade does not give yet, derived in this one place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soapbench.advice import Live
    from soapbench.pour import PourState


def to_spare_s(live: Live) -> float | None:
    """Time left less time needed, at ``live.now``; None: nothing can run late."""
    spare = [
        stage.room_s - (stage.ends_s.p50 - live.now)
        for stage in live.outlook.stages
        if math.isfinite(stage.room_s)
    ]
    return min(spare) if spare else None


def backup(live: Live) -> tuple[str, float, float, float | None] | None:
    """Name, chance, minutes it saves, until when it can be begun (clock of the pour)."""
    if live.rescue is None:
        return None
    return live.rescue.name, live.rescue.chance, live.outlook.minutes - live.rescue.minutes, None


def last_looks(state: PourState) -> Mapping[str, float]:
    return {name: pot.taps[-1].t for name, pot in state.pots.items() if pot.taps}


def blender_on(state: PourState) -> float | None:
    return state.blending_since
