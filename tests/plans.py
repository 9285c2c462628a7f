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

EVERYTHING = """
title = "Lantern Row"
[[mould]]
length = "25 cm"
width = "9 cm"
depth = "7 cm"
pots = ["base", "foam"]
[[mould]]
volume = "400 mL"
fill = "90 %"
pots = ["sand"]
[[oils]]
name = "olive"
share = "70 %"
[[oils]]
name = "coconut"
share = "30 %"
[lye]
stock = "50 %"
superfat = "5 %"
concentration = "30 %"
[conditions]
oils = "32 degC"
lye = "24 degC"
room = "20 degC"
blend = "to stable emulsion"
[fragrance]
name = "Kelp & Fig"
load = "3 %"
limit = "9.5 %"
reputation = "well behaved"
vanillin = "1 %"
[[additives]]
name = "goat milk"
dose = "80 mL"
goes_in = "lye water"
[[additives]]
name = "honey"
dose = "1 tbsp"
goes_in = "emulsion"
[[additives]]
name = "salt"
dose = "5 g"
goes_in = ["foam", "sand"]
[[embeds]]
name = "moon"
volume = "60 mL"
look = "#f7f0d8"
mould = "1"
[[pots]]
name = "base"
share = "60 %"
[[pots.colourants]]
name = "slate mica"
dose = "1 tsp"
disperse_in = "oil"
look = "#4a5a6a"
[[pots]]
name = "foam"
share = "20 %"
[[pots]]
name = "sand"
share = "20 %"
look = "#c98a4b"
[hot_process]
kept_back = "4 %"
oil = "olive"
[swirl]
steps = ["drop swirl", "hanger swirl", "textured top"]
fall_back = ["in-the-pot swirl"]
"""
"""A plan with all a plan may have."""


def plan(text: str = THREE_POTS) -> Plan:
    return plan_from_text(text, "a test", tables.oils(), tables.swirls().kinds)


def sold_as(word: str) -> Plan:
    """Three pots, of a fragrance that its supplier calls so."""
    return plan(THREE_POTS.replace('"accelerates"', f'"{word}"'))


def sample(path: Path) -> Plan:
    return read_plan(path, tables.oils(), tables.swirls().kinds)
