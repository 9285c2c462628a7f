"""The report in a real browser: it lays out within A4 and Letter, prints, and runs nothing."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from aftercare_kit import Finished

from soapbench.bench.batchfile import read_batch
from soapbench.bench.learned import open_bench
from soapbench.cli import main
from soapbench.papers.report import report_html, report_of

CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
PAPER = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""mm: ISO 216, and 8.5 by 11 in."""
MARGIN_MM = 13.0
CSP = re.compile(r"<meta http-equiv=\"Content-Security-Policy\".*?>")
MEASURE = """<script>addEventListener('load', () => {
  const root = document.documentElement;
  const wide = [...document.querySelectorAll('td, th, p, li, svg, h1, h2, h3')]
    .filter(e => e.getBoundingClientRect().right > root.clientWidth + 1).length;
  const flat = [...document.querySelectorAll('svg')]
    .filter(e => e.getBoundingClientRect().height < 40).length;
  root.dataset.measured = [root.scrollWidth, root.clientWidth, wide, flat].join(' ');
});</script>"""


def browse(work: Path, *words: str) -> str:
    assert CHROMIUM is not None
    done = subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
            "--no-first-run", f"--user-data-dir={work / 'profile'}", *words,
        ],
        capture_output=True, text=True, timeout=90, check=True,
    )  # fmt: skip
    return done.stdout


@pytest.fixture(scope="module")
def html(finished: Finished) -> str:
    bench = open_bench(finished.folder)
    return report_html(report_of(bench, read_batch(bench, finished.whole)), finished.now)


def saved(html: str, work: Path) -> str:
    (work / "report.html").write_text(html, "utf-8")
    return (work / "report.html").as_uri()


@pytest.mark.parametrize("paper", PAPER)
def test_prints_on(paper: str, html: str, tmp_path: Path) -> None:
    """As the print dialogue does: the paper chosen, the page's own margins kept."""
    chosen = html.replace("@page {", f"@page {{ size: {paper};", 1)
    pdf = tmp_path / "report.pdf"
    browse(tmp_path, f"--print-to-pdf={pdf}", "--no-pdf-header-footer", saved(chosen, tmp_path))
    data = pdf.read_bytes()
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", data)
    across, up = PAPER[paper]
    assert boxes, "a PDF with pages"
    for box in boxes:
        assert [float(v) * 25.4 / 72 for v in box] == pytest.approx([across, up], abs=0.6)
    assert 2 <= len(boxes) <= 8


@pytest.mark.parametrize("paper", PAPER)
def test_nothing_runs_out_of_the_page(paper: str, html: str, tmp_path: Path) -> None:
    """At the width between the margins, in CSS pixels of 1/96 in."""
    across = round((PAPER[paper][0] - 2 * MARGIN_MM) / 25.4 * 96)
    page = CSP.sub("", html, count=1).replace("</head>", MEASURE + "</head>")
    shown = browse(tmp_path, f"--window-size={across},1000", "--dump-dom", saved(page, tmp_path))
    measured = re.search(r'data-measured="(\d+) (\d+) (\d+) (\d+)"', shown)
    assert measured, "the page was laid out"
    scroll, client, wide, flat = map(int, measured.groups())
    assert scroll <= client
    assert (wide, flat) == (0, 0)


@pytest.mark.parametrize("paper", PAPER)
def test_the_batch_sheet_prints_on_two_pages_at_most(
    paper: str, finished: Finished, tmp_path: Path
) -> None:
    """A4 (ISO 216) and Letter, as the report does."""
    out = tmp_path / "sheet.html"
    asked = ["--bench", str(finished.folder), "batchsheet", finished.whole.stem, "-o", str(out)]
    assert main(asked) == 0
    chosen = out.read_text("utf-8").replace("@page {", f"@page {{ size: {paper};", 1)
    pdf = tmp_path / "sheet.pdf"
    browse(tmp_path, f"--print-to-pdf={pdf}", "--no-pdf-header-footer", saved(chosen, tmp_path))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf.read_bytes())
    across, up = PAPER[paper]
    assert 1 <= len(boxes) <= 2
    assert [float(v) * 25.4 / 72 for v in boxes[0]] == pytest.approx([across, up], abs=0.6)


def test_a_script_put_into_the_page_does_not_run(html: str, tmp_path: Path) -> None:
    """The page's own policy forbids it, even if something got past the escaping."""
    run = "<script>document.documentElement.dataset.ran = 'yes'</script>"
    page = html.replace("</body>", run + "</body>")
    assert 'data-ran="yes"' not in browse(tmp_path, "--dump-dom", saved(page, tmp_path))
    free = CSP.sub("", page, count=1)
    assert 'data-ran="yes"' in browse(tmp_path, "--dump-dom", saved(free, tmp_path)), "it would"


def test_is_not_a_blank_page(html: str, tmp_path: Path) -> None:
    """A screenshot of it has far more in it than one of an empty page."""
    sizes = {}
    for name, page in {"report": html, "empty": "<!DOCTYPE html><title>x</title>"}.items():
        shot = tmp_path / f"{name}.png"
        browse(tmp_path, "--window-size=800,1200", f"--screenshot={shot}", saved(page, tmp_path))
        sizes[name] = shot.stat().st_size
    assert sizes["report"] > 5 * sizes["empty"] > 0
