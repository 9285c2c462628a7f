"""Plans nobody would write: read, or refused with words; never anything else."""

from __future__ import annotations

import json
import warnings
from typing import Any

import pytest
from fuzz_kit import MANY, NASTY, TEXT, as_toml, plans
from hypothesis import given
from hypothesis import strategies as st

from soapbench.advice.known import Known
from soapbench.bench.planfile import plan_from_text
from soapbench.bench.tables import additives, cautions, colourants, oils, swirls
from soapbench.pace import Pace
from soapbench.plan import Plan
from soapbench.plan.reader import read_tables
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.reading.units import Measure, QuantityError, read, read_amount
from soapbench.sheet.asjson import as_json
from soapbench.sheet.plansheet import plan_sheet
from soapbench.sheet.setout import items
from soapbench.sheet.text import as_text
from soapbench.thickening.fitted import no_batches
from tests.plans import THREE_POTS

KNOWN = Known(no_batches(), Pace(), swirls(), oils(), colourants(), additives=additives())


def read_text(text: str) -> Plan | None:
    """The plan in ``text``; None when it was refused, in words that can be shown."""
    plan, faults = None, ()
    try:
        plan = plan_from_text(text, "a plan", KNOWN.oils, KNOWN.swirls.kinds)
    except FileFaults as refused:
        faults = refused.faults
    assert (plan is None) == bool(faults)
    for fault in faults:
        assert fault.wrong.strip()
        assert fault.right.strip()
        assert len(fault.key) <= 500
    return plan


def show(plan: Plan) -> None:
    """The whole sheet, as text, JSON and checklist: no control character, no infinity."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        sheet = plan_sheet(plan, KNOWN, cautions(), levers=False)
    for width in (40, 80, 120):
        for line in as_text(sheet, width).splitlines():
            assert line.isprintable(), line
    json.dumps(as_json(sheet), allow_nan=False)
    for item in items(plan, sheet.amounts, KNOWN.swirls):
        assert clean(item.words).isprintable()
    again = read_tables(plan.as_written())
    assert again.pots == plan.pots


@MANY
@given(plans())
def test_any_tables(tables: dict[str, Any]) -> None:
    plan = read_text(as_toml(tables))
    if plan is not None:
        show(plan)


@MANY
@given(st.integers(0, len(THREE_POTS)), st.integers(0, 60), TEXT)
def test_any_cut_and_paste(at: int, cut: int, put: str) -> None:
    plan = read_text(THREE_POTS[:at] + put + THREE_POTS[at + cut :])
    if plan is not None:
        show(plan)


@MANY
@given(st.text(max_size=300))
def test_any_text(text: str) -> None:
    assert read_text(text) is None


@MANY
@given(
    st.one_of(TEXT, st.from_regex(r"[-+]?[0-9.eE/¼½ ]{0,12} ?[a-zA-Z%°/_]{0,12}", fullmatch=True)),
    st.sampled_from(list(Measure)),
)
def test_any_quantity(written: str, measure: Measure) -> None:
    for reader in (lambda: read(written, measure), lambda: read_amount(written)):
        refusal = None
        try:
            reader()
        except QuantityError as refused:
            refusal = refused
        assert refusal is None or (refusal.wrong and refusal.right)


@pytest.mark.parametrize("nasty", NASTY, ids=lambda text: ascii(text)[:24])
@pytest.mark.parametrize(
    "old", ["Quay Wall", "rope", "ochre", "Tar & Thyme", "olive", "drop swirl"]
)
def test_every_name_as_each_nasty_text(old: str, nasty: str) -> None:
    quoted = json.dumps(nasty).replace("\\ud800", "\\ufffd")
    plan = read_text(THREE_POTS.replace(f'"{old}"', quoted))
    if plan is not None:
        show(plan)
