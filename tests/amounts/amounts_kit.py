"""Plans for the tests of amounts: an invented recipe with one thing changed."""

from __future__ import annotations

from typing import Any

from soapbench.plan import Plan
from soapbench.plan.reader import read_tables

PLAIN: dict[str, Any] = {
    "title": "Invented",
    "mould": {"volume": "1.5 L", "fill": "90 %"},
    "oils": [{"name": "olive", "mass": "1000 g"}],
    "lye": {"purity": "98 %", "superfat": "5 %", "concentration": "33 %"},
    "conditions": {"batter": "30 degC", "room": "20 degC", "gel": "prevent"},
    "pots": [{"name": "base", "share": "80 %"}, {"name": "foam", "share": "20 %"}],
    "fragrance": {"name": "Kelp & Fig", "load": "4 %", "limit": "9.5 %"},
}


def plan(**changed: Any) -> Plan:
    """The plain plan with whole tables changed; None leaves one out."""
    tables = {**PLAIN, **changed}
    return read_tables({key: value for key, value in tables.items() if value is not None})


def pot(name: str, share: float, *colourants: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "share": f"{share:.10g} %", "colourants": list(colourants)}
