"""The batch sheet and label: code, dates, net weight, ingredients, allergens, lots, and what is not
known; nothing in a log or a table can break them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pint
import pytest
from aftercare_kit import EVENING, EVIL, Finished, after, poured

from soapbench.bench.batchfile import read_batch
from soapbench.bench.learned import open_bench
from soapbench.bench.tables import colourants, fragrances, oils, practice
from soapbench.cli import main
from soapbench.log import Kind
from soapbench.papers.batchsheet import (
    EARLY,
    BatchSheet,
    NetWeight,
    batch_code,
    batch_sheet,
    months_after,
)
from soapbench.papers.label import label_svg
from soapbench.papers.report import report_of, sheet_html
from tests.fakes import FakeClock

OWN_FRAGRANCES = """
["Warm Thrift"]
limit_percent = 12
allergens_percent = { Linalool = 2.1, Limonene = 0.5, "Benzyl Salicylate" = 0.3 }
"""


def sheet_of(folder: Path, log: Path) -> BatchSheet:
    bench = open_bench(folder)
    tables = folder / "tables"
    report = report_of(bench, read_batch(bench, log))
    return batch_sheet(
        report, practice(tables), oils(tables), colourants(tables), fragrances(tables)
    )


@pytest.fixture(scope="module")
def sheet(finished: Finished) -> BatchSheet:
    tables = finished.folder / "tables"
    tables.mkdir(exist_ok=True)
    (tables / "fragrances.toml").write_text(OWN_FRAGRANCES)
    try:
        return sheet_of(finished.folder, finished.whole)
    finally:
        (tables / "fragrances.toml").unlink()


def test_dates_are_those_of_iso_8601(sheet: BatchSheet, finished: Finished) -> None:
    """Calendar dates, extended format (ISO 8601; as Python's own isoformat writes them)."""
    assert sheet.made == date(2024, 5, 1)
    assert sheet.use_by == date(2025, 5, 1)
    assert sheet.ready is not None
    assert sheet.ready > sheet.made + timedelta(weeks=4)
    page = sheet_html(sheet, "a source", finished.now)
    for day in (sheet.made, sheet.ready, sheet.use_by):
        assert day.isoformat() in page
        assert day.isoformat() in label_svg(sheet).replace("\n", " ")


MONTHS = {
    (date(2024, 1, 31), 1): date(2024, 2, 29),
    (date(2023, 1, 31), 1): date(2023, 2, 28),
    (date(2024, 5, 1), 12): date(2025, 5, 1),
    (date(2024, 11, 30), 3): date(2025, 2, 28),
    (date(9999, 6, 1), 12): None,
}


@pytest.mark.parametrize("given", MONTHS)
def test_months_later(given: tuple[date, int]) -> None:
    assert months_after(*given) == MONTHS[given]


def test_ingredients_in_descending_mass_colours_last(sheet: BatchSheet) -> None:
    """Regulation (EC) 1223/2009, Art. 19(1)(g), and 21 CFR 701.3(f): descending; colours may come
    last in any order (both from memory)."""
    plain = [i.share for i in sheet.ingredients if not i.colour]
    assert plain == sorted(plain, reverse=True)
    assert [i.colour for i in sheet.ingredients] == sorted(i.colour for i in sheet.ingredients)
    assert sum(i.share or 0 for i in sheet.ingredients) == pytest.approx(1)
    assert sheet.ingredient_line.startswith("Olea Europaea Fruit Oil, Aqua, ")
    for name in ("Sodium Hydroxide", "Parfum", "sand clay"):
        assert name in sheet.ingredient_line
    clay = next(i for i in sheet.ingredients if i.name == "sand clay")
    assert not clay.known
    assert "Labelling name of sand clay" in sheet.missing
    assert all(i.verified for i in sheet.ingredients if i.known), "verified or not: said of each"


def test_allergens_from_a_hundredth_of_a_percent_on(sheet: BatchSheet, finished: Finished) -> None:
    """0.01 % for what is rinsed off (Regulation (EC) 1223/2009, annex III, read in a copy of the
    Official Journal), of the dried soap. Worked by hand."""
    bench = open_bench(finished.folder)
    report = report_of(bench, read_batch(bench, finished.whole))
    share = report.fragrances[0].share_cured
    assert 0.02 < share < 0.035
    assert [a.name for a in sheet.allergens] == ["Linalool", "Limonene"]
    assert sheet.allergens[0].share == pytest.approx(0.021 * share)
    assert 0.003 * share < 1e-4, "the third stays below"
    assert sheet.ingredient_line.endswith("Linalool, Limonene")
    assert sheet_of(finished.folder, finished.whole).no_certificate == ("Warm Thrift",)


def test_ounces_are_avoirdupois_and_rounded_down() -> None:
    units = pint.UnitRegistry()
    for g in (99.4, 104.99, 120.0, 28.349523125):
        grams, ounces = NetWeight(g).words.split(" g (")
        exact = (g * units.gram).to("oz").magnitude
        shown = float(ounces.removesuffix(" oz)"))
        assert int(grams) <= g < int(grams) + 1
        assert shown <= exact + 1e-9 < shown + 0.01


def test_net_weight_by_counted_bars_else_estimated(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock, "dune_layers")
    after(desk, clock, weeks=(0, 1, 2), verdict="")
    path = desk.log.path  # type: ignore[attr-defined]
    estimated = sheet_of(folder, path)
    assert estimated.net is not None
    assert estimated.net.doubt == "estimated"
    assert any("Net weight is estimated" in words for words in estimated.missing)
    desk.record(Kind.WEIGHING, g=1110.0, count=10)
    weighed = sheet_of(folder, path)
    assert weighed.net == NetWeight(111.0, EARLY), "two weeks: it still loses water"
    assert any("weigh counted bars once it is ready" in words for words in weighed.missing)
    clock.passes(12 * 7 * 86_400)
    desk.record(Kind.WEIGHING, g=1100.0)
    assert sheet_of(folder, path).net == NetWeight(110.0), "the same ten bars, dry"
    desk.record(Kind.WEIGHING, g=500.0, other_bars=True)
    again = sheet_of(folder, path).net
    assert again is not None
    assert again.doubt == "estimated"
    desk.close()


def test_a_batch_with_a_problem_is_not_for_sale(sheet: BatchSheet, finished: Finished) -> None:
    bad = replace(sheet, stops=("Over its certificate's limit",))
    assert "NOT FOR SALE" in label_svg(bad)
    assert "Not for sale as it is" in sheet_html(bad, "a source", finished.now)
    assert "NOT FOR SALE" not in label_svg(sheet)


def test_a_batch_just_poured_has_a_sheet_too(finished: Finished) -> None:
    fresh = sheet_of(finished.folder, finished.fresh)
    assert (fresh.ready, fresh.net) == (None, None)
    assert fresh.made == date(2024, 5, 23) or fresh.made is not None
    assert any(words.startswith("Net weight") for words in fresh.missing)


def test_batch_code_is_short_and_found_again(sheet: BatchSheet, finished: Finished) -> None:
    assert sheet.code.startswith("240501-")
    assert sheet.batch.casefold().endswith(sheet.code.partition("-")[2].casefold())
    assert batch_code("…", None) == "000000-0"


class Tags(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)


def test_text_is_only_text(sheet: BatchSheet, finished: Finished) -> None:
    evil = replace(sheet, title=EVIL, stops=(EVIL,), missing=(EVIL,))
    page, label = sheet_html(evil, EVIL, finished.now), label_svg(evil)
    assert "script" not in Tags(page).tags
    assert "\x1b" not in page + label
    drawn = ElementTree.fromstring(label)
    assert "alert(1)" in "".join(drawn.itertext())
    assert {e.tag.rpartition("}")[2] for e in drawn.iter()} == {"svg", "title", "rect", "text"}


def test_no_line_of_the_label_is_wider_than_it(sheet: BatchSheet) -> None:
    """By the mean width of letters taken; a longer list makes it higher, not wider."""
    long = replace(sheet, ingredients=sheet.ingredients * 4, title="A title of many words " * 4)
    one, other = (ElementTree.fromstring(label_svg(s)) for s in (sheet, long))
    heights = [float(svg.attrib["height"].removesuffix("mm")) for svg in (one, other)]
    assert heights[0] < heights[1]
    for svg in (one, other):
        for text in svg.iter("{http://www.w3.org/2000/svg}text"):
            size = float(text.attrib["font-size"])
            assert len(text.text or "") * size * 0.56 <= 64.0
            assert float(text.attrib["y"]) < float(svg.attrib["height"].removesuffix("mm"))


@pytest.mark.parametrize(("command", "ending"), [("batchsheet", ".html"), ("label", ".svg")])
def test_commands_write_them(
    finished: Finished,
    tmp_path: Path,
    command: str,
    ending: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = tmp_path / f"made{ending}"
    asked = ["--bench", str(finished.folder), command, finished.whole.stem, "-o", str(out)]
    assert main(asked) == 0
    assert "Dune Layers" in out.read_text("utf-8")
    assert "Written:" in capsys.readouterr().out
    assert main(["--bench", str(finished.folder), command, "no such batch"]) == 2
