"""A wish of three steps, single stages, and states of a pour, written down by hand."""

from __future__ import annotations

from dataclasses import replace

from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.plan import Plan
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.swirls.stage import Need, Stage
from tests.plans import plan

TABLE = tables.swirls()
ML = {"base": 600.0, "rope": 200.0, "gull": 200.0}
WISH = ("drop swirl", "hanger swirl", "textured top")


def wishing(*steps: str, fall_back: tuple[str, ...] = (), pots: int = 3) -> Plan:
    of = replace(plan(), pots=plan().pots[:pots])
    return replace(of, swirl=replace(of.swirl, steps=steps or WISH, fall_back=fall_back))


def stage(name: str, *pots: str, needs: tuple[Need, ...] = (), **more: object) -> Stage:
    return Stage(name, name, name, pots, needs=needs, **more)  # type: ignore[arg-type]


ONTO = Need(("base",), Trace.EMULSION, Trace.EMULSION, Trace.LIGHT, (Trace.LIGHT, Trace.THICK))
DROP = stage("drop", "rope", needs=(ONTO,), manner="drop", puts="mould", step="drop swirl")
WIRE = stage("wire", draws_down=True, step="hanger swirl")
TOP = stage("top", step="textured top")


def state(
    *ahead: Stage,
    done: tuple[DoneStage, ...] = (),
    where: dict[str, str] | None = None,
    steps: tuple[str, ...] = WISH,
    **pots: PotState,
) -> PourState:
    by_name = {
        name: replace(pots.get(name, PotState(name)), where=(where or {}).get(name, "pot"))
        for name in ML
    }
    return PourState(steps, done, ahead, by_name, begun=True, base="base")


ALL_IN = dict.fromkeys(ML, "mould")


def over(of: Stage, done: float = 100.0, skipped: bool = False) -> DoneStage:
    return DoneStage(of, done - 50.0, done, skipped)
