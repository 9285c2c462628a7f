"""The one place where the workshop shows the cut face of the plan in hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import Static

if TYPE_CHECKING:
    from soapbench.plan import Plan
    from soapbench.plansheet import PlanSheet


class FaceView(Static):
    """Shown on wide screens only; empty while there is nothing to draw."""

    def show(self, plan: Plan | None, sheet: PlanSheet | None) -> None:
        self.display = False
