"""The set-out's checklist: every heading once, lye water made early enough to cool."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import pytest

from soapbench.bench.planfile import read_plan
from soapbench.bench.tables import colourants, oils, swirls
from soapbench.recipe.amounts import amounts
from soapbench.setout import GROUPS, items

PLANS = sorted((Path(__file__).parents[1] / "sample_plans").glob("*.toml"))


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_heading_comes_once_and_nothing_is_set_out_twice(path: Path) -> None:
    plan = read_plan(path, oils(None), swirls(None).kinds)
    listed = items(plan, amounts(plan, oils(None), colourants(None)), swirls(None))
    headings = [group for group, _ in groupby(item.group for item in listed)]
    assert headings == [group for group in GROUPS if group in headings]
    assert headings[:4] == ["Protect", "Mould", "Weigh", "Lye"]
    assert len({item.id for item in listed}) == len(listed)
