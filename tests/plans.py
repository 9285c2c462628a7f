"""Plans for tests, invented; each stands in full so that a test can be read on its own."""

from __future__ import annotations

from pathlib import Path

from soapbench.bench import tables
from soapbench.bench.planfile import plan_from_text, read_plan
from soapbench.plan import Plan

THREE_POTS = """
title = "Quay Wall"
[mould]
volume = "1 L"
fill = "90 %"
[[oils]]
name = "olive"
share = "70 %"
[[oils]]
name = "coconut"
share = "30 %"
[lye]
superfat = "5 %"
concentration = "33 %"
[conditions]
batter = "30 degC"
[fragrance]
name = "Tar & Thyme"
load = "3 %"
limit = "9 %"
reputation = "accelerates"
[[pots]]
name = "base"
share = "60 %"
look = "#202020"
[[pots.colourants]]
name = "charcoal"
dose = "1 tsp"
disperse_in = "oil"
look = "#202020"
[[pots]]
name = "rope"
share = "20 %"
[[pots.colourants]]
name = "ochre"
dose = "1 tsp"
disperse_in = "oil"
look = "#c8a050"
[[pots]]
name = "gull"
share = "20 %"
[[pots.colourants]]
name = "kaolin clay"
dose = "1 tsp"
disperse_in = "oil"
look = "#f4f4f0"
[swirl]
steps = ["drop swirl", "hanger swirl"]
"""


def plan(text: str = THREE_POTS) -> Plan:
    return plan_from_text(text, "a test", tables.oils(), tables.swirls().kinds)


def sample(path: Path) -> Plan:
    return read_plan(path, tables.oils(), tables.swirls().kinds)
