"""The batch report: what it holds, in what order, and that nothing in a log can break it."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from aftercare_kit import EVIL, Finished

from soapbench.bench.batchfile import read_batch
from soapbench.bench.learned import open_bench
from soapbench.papers.materials import ingredients
from soapbench.papers.record import BatchReport
from soapbench.papers.report import report_html, report_of

VOID = {"meta", "img", "br", "hr", "input", "link"}


class Parts(HTMLParser):
    """Tags left open, text by section, and what the page would fetch or run."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.tags: list[str] = []
        self.fetched: list[str] = []
        self.section = ""
        self.text: dict[str, str] = {}
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        given = dict(attrs)
        self.fetched += [v for k in ("src", "href", "xlink:href", "data") if (v := given.get(k))]
        if tag == "section":
            self.section = given.get("id") or ""
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        self.text[self.section] = self.text.get(self.section, "") + " " + " ".join(data.split())


@pytest.fixture(scope="module")
def report(finished: Finished) -> BatchReport:
    bench = open_bench(finished.folder)
    return report_of(bench, read_batch(bench, finished.whole))


@pytest.fixture(scope="module")
def html(report: BatchReport, finished: Finished) -> str:
    return report_html(report, finished.now)


def test_every_section_says_what_happened(report: BatchReport, html: str) -> None:
    page = Parts(html)
    assert page.wrong == []
    assert page.open == []
    for section, words in {
        "plan": ["layers + textured top", "NaOH", "sand clay"],
        "weighed": ["410 g olive", "L-001", "Ingredients by weight"],
        "stages": ["Pour sand as a layer", "smooth and pourable", "note"],
        "thickening": ["light trace tapped at", "Fragrance in at"],
        "aftercare": ["sprayed", "1,200 g", "Ready around", "expect", "all its water is"],
        "review": ["sand: how deep?", "near end", "glycerin rivers", "drop swirl", "foam lighter"],
        "cautions": ["ISO 456", "Lye on skin", "Local rules", "made by"],
    }.items():
        for word in words:
            assert word in page.text[section], (section, word)
    assert html.count('class="chart"') == 2 + len(report.amounts.pots)


def test_nothing_is_fetched_or_run(html: str) -> None:
    page = Parts(html)
    assert not {"script", "iframe", "object", "link", "form"} & set(page.tags)
    assert page.fetched == []
    assert "@import" not in html
    assert not re.search(r"url\((?!#)", html), "only patterns and clips of the page itself"
    assert "default-src 'none'" in html


def test_a_note_of_mark_up_is_shown_as_text(html: str) -> None:
    page = Parts(html)
    assert "alert(1)" in page.text["aftercare"]
    assert "{{ 7*7 }}" in page.text["aftercare"]
    assert "49" not in page.text["aftercare"].split("alert")[1][:30]
    assert "\x1b" not in html
    assert "\x07" not in html
    assert EVIL not in html


def test_ingredients_in_descending_mass_and_none_missing(report: BatchReport) -> None:
    """Order of Regulation (EC) 1223/2009, Art. 19(1)(g): descending weight at time of adding
    (from memory). That all of it is there: the masses add up to the batter (mass balance)."""
    listed = ingredients(report.amounts)
    grams = [i.g for i in listed if i.g is not None]
    assert grams == sorted(grams, reverse=True)
    assert sum(grams) == pytest.approx(report.amounts.batter_g, rel=1e-9)
    assert sum(i.share for i in listed if i.share is not None) == pytest.approx(1)
    assert {"olive", "water", "sodium hydroxide", "Warm Thrift"} <= {i.name for i in listed}


def test_fragrance_against_its_limit_fresh_and_cured_stated_which(
    report: BatchReport, html: str
) -> None:
    """Worked again by hand: the limit is on the finished product (IFRA guidance, 2020)."""
    fragrance = report.fragrances[0]
    amounts = report.amounts
    assert fragrance.share_fresh == pytest.approx(fragrance.g / amounts.batter_g)
    assert fragrance.share_cured == pytest.approx(
        fragrance.g / (amounts.batter_g - amounts.water_g)
    )
    text = Parts(html).text["plan"]
    fresh, cured = f"{fragrance.share_fresh * 100:.2f} %", f"{fragrance.share_cured * 100:.2f} %"
    assert f"{fresh} of the soap as poured, {cured} of the cured bar" in text
    assert "within its certificate's limit of 12 %" in text
    assert fragrance.share_fresh < fragrance.share_cured < 0.12


def test_charts_stand_where_the_figures_are(report: BatchReport, html: str) -> None:
    """A tap's circle lies at its time on the axis: 0 at x = 104, 12 units of margin."""
    base = html.split("Thickening of base")[1].split("</svg>")[0]
    pot = report.pots[0]
    xs = [float(x) for x in re.findall(r'<circle cx="([\d.]+)"', base)]
    assert len(xs) == len(pot.taps) == 3
    scales = [(x - 104) / tap.t for x, tap in zip(xs, pot.taps, strict=True)]
    assert scales == pytest.approx([scales[0]] * 3, rel=0.01)
    assert re.findall(r"light trace at (\d+:\d\d)", base) == [
        f"{int(pot.taps[1].t // 60)}:{round(pot.taps[1].t % 60):02}"
    ]
    for chart in report.pots:
        medians = [q.p50 for _, q in chart.reached]
        assert medians == sorted(medians)
        assert all(q.p10 <= q.p50 <= q.p90 for _, q in chart.reached), "what was tapped is known"
        assert any(q.p10 < q.p90 for _, q in chart.reached)


def test_planned_and_done_stand_beside_each_other(report: BatchReport) -> None:
    assert all(stage.planned for stage in report.stages)
    first = report.stages[0]
    assert first.planned
    assert first.planned[0] == pytest.approx(0, abs=1)
    assert [s.done[0] for s in report.stages] == sorted(s.done[0] for s in report.stages)


def test_a_photo_is_put_in_when_it_is_one(finished: Finished, tmp_path: Path) -> None:
    """Small, without the camera's words; anything else, or from elsewhere, is only named."""
    from dataclasses import replace

    from PIL import Image

    bench = open_bench(finished.folder)
    report = report_of(bench, read_batch(bench, finished.whole))
    bench_folder = tmp_path / "bench"
    bench_folder.mkdir()
    for folder in (bench_folder, tmp_path):
        Image.new("RGB", (40, 30), "teal").save(folder / "cut.png")
        (folder / "key.txt").write_text("a secret")
    paths = {
        "middle": ("cut.png", "key.txt", "gone.jpg", "bad\0name", "~nobody-here/x.png",
                   "../cut.png", str(tmp_path / "cut.png")),
    }  # fmt: skip
    shown = replace(report, review=replace(report.review, photos=paths))
    page = Parts(report_html(shown, finished.now, bench_folder))
    assert len(page.fetched) == 1
    assert page.fetched[0].startswith("data:image/jpeg;base64,")
    assert "key.txt" in page.text["review"]
    assert "c2VjcmV0" not in page.fetched[0]


def test_the_cut_face_is_drawn(report: BatchReport, html: str) -> None:
    page = Parts(html)
    assert report.loaves
    for loaf in report.loaves:
        assert loaf.label in page.text["face"]
    assert html.split('id="face"')[1].split("</section>")[0].count("<svg") == len(report.loaves)


def test_a_batch_just_poured_has_a_report_too(finished: Finished) -> None:
    bench = open_bench(finished.folder)
    report = report_of(bench, read_batch(bench, finished.fresh))
    page = Parts(report_html(report, finished.now))
    assert report.outcome == "Came out in part"  # dropped into a base tapped medium
    assert "Not reviewed yet" in page.text["review"]
    assert page.wrong == []
    assert page.open == []
