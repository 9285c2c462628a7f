"""Ways between screens: a screen asks for one, the app takes it and alone knows every screen.

NamedTuples and plain classes: every start makes them all, in an eighth of the time of dataclasses.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, Protocol

from textual.message import Message

if TYPE_CHECKING:
    from soapbench.desk.draft import Draft
    from soapbench.desk.pourdesk import Desk
    from soapbench.desk.rehearsing import Wanted
    from soapbench.sheet.plansheet import PlanSheet


class ToBench:
    """Back to the bench; nothing is held that would have to be let go."""


class ToPlan(NamedTuple):
    """The plan sheet of ``path``; ``rehearse``: how fast is asked once it is worked out."""

    path: Path
    rehearse: bool = False


class ToWorkshop(NamedTuple):
    draft: Draft


class ToFragrances(NamedTuple):
    """The fragrance book, open at ``name`` where that is in it."""

    name: str = ""


class ToMaterials:
    """The maker's own fragrances and other materials."""


class ToSettings:
    pass


class ToRehearsal(NamedTuple):
    """A rehearsal from its beginning."""

    wanted: Wanted


class ToSetOut(NamedTuple):
    """From the plan sheet to the set-out: here the batch's log begins.

    ``typed``: what was typed in full to pour it in spite of a stop.
    """

    sheet: PlanSheet
    typed: str = ""


class LeaveSetOut(NamedTuple):
    """Back to the bench; what was ticked stays in the log of a batch never begun."""

    desk: Desk


class ToPour(NamedTuple):
    desk: Desk


class CarryOn(NamedTuple):
    """The pour in ``path``, where it was left."""

    path: Path


class PourOver(NamedTuple):
    """The pour is done with: to its aftercare; a rehearsal has none."""

    desk: Desk


class ToAftercare(NamedTuple):
    """The aftercare of the batch in ``path``."""

    path: Path


class LeaveAftercare(NamedTuple):
    """Back to the bench: let go of the log, learn from it."""

    desk: Desk


class Leave:
    """Out of the program."""


Way = (
    ToBench | ToPlan | ToWorkshop | ToFragrances | ToMaterials | ToSettings | ToRehearsal | ToSetOut
    | LeaveSetOut | ToPour | CarryOn | PourOver | ToAftercare | LeaveAftercare | Leave
)  # fmt: skip


class Asker(Protocol):
    """The screen a way was asked for on."""

    def stay(self, why: str = "") -> None: ...

    def left(self) -> None: ...

    def met(self, error: BaseException) -> None: ...


class Go(Message):
    """A screen wants to be left by ``way``."""

    def __init__(self, way: Way, asked_by: Asker) -> None:
        self.way, self.asked_by = way, asked_by
        super().__init__()
