"""No paper, page or message about a batch holds a word that was given up, or a program's sign."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from aftercare_kit import EVENING, SAMPLES, Finished

from soapbench.advice.known import Known
from soapbench.bench import tables
from soapbench.bench.planfile import read_plan
from soapbench.papers import commands
from soapbench.settings import Settings
from soapbench.sheet.plansheet import plan_sheet
from soapbench.sheet.text import as_text
from tests.said import FAULTS, JARGON, RETIRED, stumbles

READ_IN_A_CALENDAR = ("SUMMARY", "DESCRIPTION", "CATEGORIES", "NAME")


def visible(page: bytes) -> str:
    """What of a page or a drawing is read: no signs of the language it is written in."""
    text = re.sub(r"(?s)<(style|script).*?</\1>|<!--.*?-->", " ", page.decode())
    return html.unescape(re.sub(r"<[^>]*>", " ", text))


@pytest.mark.parametrize("make", [commands.report, commands.batch_sheet, commands.label])
def test_a_paper_is_said_as_makers_say_it(
    finished: Finished, make: Callable[..., tuple[str, bytes]]
) -> None:
    _, page = make(finished.folder, finished.whole.stem, EVENING + timedelta(days=40))
    lines = [("paper", line) for line in visible(page).splitlines() if line.strip()]
    assert len(lines) > 3 or make is commands.label
    assert not stumbles(lines, RETIRED, JARGON, FAULTS)


def test_a_spreadsheet_is_said_so_too(finished: Finished) -> None:
    now = EVENING + timedelta(days=40)
    for _, data in (
        commands.events(finished.folder, finished.whole.stem, now),
        commands.fragrances(finished.folder, "", now),
    ):
        rows = data.decode("utf-8-sig").splitlines()
        assert len(rows) > 2
        assert not stumbles([("heading", rows[0])], RETIRED, JARGON, FAULTS)
        assert not stumbles([("row", row) for row in rows[1:]], RETIRED, JARGON, FAULTS)


def test_a_calendar_is_said_so_too(finished: Finished) -> None:
    _, data = commands.calendar(finished.folder, finished.whole.stem, EVENING)
    lines = data.decode().replace("\r\n ", "").splitlines()
    texts = [
        (k, v) for k, _, v in (line.partition(":") for line in lines) if k in READ_IN_A_CALENDAR
    ]
    assert len(texts) > 4
    assert not stumbles(texts, RETIRED, JARGON, FAULTS)


@pytest.mark.parametrize(
    ("file", "units"),
    [
        *((path.name, "metric") for path in sorted(SAMPLES.glob("*.toml"))),
        ("harbour_at_dusk.toml", "US"),
    ],
)
def test_the_check_of_a_sample_plan(known: Known, file: str, units: str) -> None:
    mine = Settings(units="US", temperature="°F", kitchen="US") if units == "US" else Settings()
    plan = read_plan(SAMPLES / file, known.oils, known.swirls.kinds)
    text = as_text(plan_sheet(plan, known, tables.cautions(), levers=False), settings=mine)
    lines = [(file, line) for line in text.splitlines()]
    assert not stumbles(lines, RETIRED, JARGON, FAULTS)
    assert "°C" not in text or units == "metric"
