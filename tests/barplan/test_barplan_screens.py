"""The face on screen: what is in the cells, the keys, every terminal, the command line."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from rich.color import Color
from textual.widgets import Static

from soapbench.advice.known import Known
from soapbench.barface import Colour, Design, Manner, Pouring, face
from soapbench.bench.learned import open_bench
from soapbench.cli import main
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.barface import BarFace, Wanted, legend, lines_of, usual_ink
from soapbench.ui.face import FaceScreen
from soapbench.ui.loaf import Loaf
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.summary import SummaryScreen
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan
from tests.waiting import until

HARBOUR = SAMPLES / "harbour_at_dusk.toml"
TWO = Design(
    (Colour("dark", "#203040", 0), Colour("light", "#f0e0d0", 1)),
    (Pouring(0, 0.5, Manner.LAYER, 4.0, 4.0), Pouring(1, 0.5, Manner.LAYER, 4.0, 4.0)),
)


def an_app(bench: Path, clock: FakeClock, path: Path | None = None) -> SoapbenchApp:
    return SoapbenchApp(open_bench(bench), clock, path)


def shown(app: SoapbenchApp, id: str) -> str:
    return str(app.screen.query_one(f"#{id}", Static).content)


def drawn(app: SoapbenchApp) -> bool:
    faces = [f for f in app.screen.query(BarFace) if f.display and f.size.width and f.size.height]
    return bool(faces) and all(f.lines for f in faces if f.parent and f.parent.display)


# ---------------------------------------------------------------- cells


def test_colour_cells_hold_the_pixels_of_the_face() -> None:
    wanted = Wanted(TWO, 0.5, 3, "colour", 30, 20)
    pixels: list[list[tuple[int, ...] | None]] = []
    for line in lines_of(wanted):
        top: list[tuple[int, ...] | None] = []
        bottom: list[tuple[int, ...] | None] = []
        for segment in line:
            assert segment.style is not None
            fore, back = segment.style.color, segment.style.bgcolor
            assert isinstance(fore, Color)
            assert fore.triplet is not None
            under = tuple(back.triplet) if back and back.triplet else None
            top += [tuple(fore.triplet)] * len(segment.text)
            bottom += [under] * len(segment.text)
        pixels += [top, bottom]
    if not any(pixels[-1]):  # an odd row of pixels leaves half a cell empty
        pixels.pop()
    high = len(pixels)
    assert {len(row) for row in pixels} == {30}
    assert high / 30 == pytest.approx(7 / 9, abs=0.06)  # the mould's own proportions
    assert np.array_equal(np.array(pixels), face(TWO, 0.5, 30, high, 3, polish=False).rgb)


@pytest.mark.parametrize(("ink", "signs"), [("signs", "█░"), ("letters", "AB")])
def test_without_colour_signs_tell_the_pots_apart(ink: Any, signs: str) -> None:
    lines = lines_of(Wanted(TWO, 0.5, 3, ink, 30, 20))
    rows = ["".join(segment.text for segment in line) for line in lines]
    assert all(segment.style is None for line in lines for segment in line)
    assert rows[0] == signs[1] * 30
    assert rows[-1] == signs[0] * 30
    assert "".join(rows).count(signs[0]) == pytest.approx(15 * len(rows), rel=0.1)


@pytest.mark.parametrize(("width", "height"), [(1, 1), (3, 40), (200, 2)])
def test_any_room_holds_a_face(width: int, height: int) -> None:
    lines = lines_of(Wanted(TWO, 0.5, 3, "colour", width, height))
    assert 1 <= len(lines) <= height
    assert all(sum(len(segment.text) for segment in line) <= width for line in lines)


@pytest.mark.parametrize(
    ("system", "no_color", "ink"),
    [
        ("truecolor", False, "colour"),
        ("256", False, "colour"),
        ("standard", False, "signs"),
        (None, False, "signs"),
        ("truecolor", True, "signs"),
    ],
)
def test_ink_by_terminal(system: str | None, no_color: bool, ink: str) -> None:
    app: Any = SimpleNamespace(console=SimpleNamespace(color_system=system), no_color=no_color)
    assert usual_ink(app) == ink


def test_the_legend_has_letter_sign_and_name() -> None:
    assert legend(TWO.colours, "signs").plain.replace("\u00a0", " ") == "A ██ dark  B ░░ light"
    coloured = legend(TWO.colours, "colour")
    assert {str(span.style) for span in coloured.spans} >= {"#203040", "#f0e0d0"}


# ---------------------------------------------------------------- screens


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_cut_face_of_a_plan(
    size: tuple[int, int], tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")
    app = an_app(tmp_path, clock, HARBOUR)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: getattr(app.screen, "sheet", None) is not None)
        await pilot.press("v")
        assert isinstance(app.screen, FaceScreen)
        await until(pilot, lambda: drawn(app))
        assert [shown(app, f"label{i}") for i in range(3)] == [
            "as planned",
            "one step thicker",
            "two steps thicker",
        ]
        assert "batter at stable emulsion" in shown(app, "words0")
        assert "batter at medium trace" in shown(app, "words2")
        for name in ("base", "foam", "ember"):
            assert name in shown(app, "legend")
        for widget in app.screen.query("BarFace, Static"):
            assert widget.region.right <= size[0], widget
            assert widget.region.bottom <= size[1], widget
            if widget.id != "keys":
                assert widget.region.height, widget
        assert all(len(f.lines) >= 3 for f in app.screen.query(BarFace))

        middle = app.screen.query_one("#face0", BarFace).lines
        await pilot.press("right", "right", "right")
        await until(pilot, lambda: app.screen.query_one("#face0", BarFace).lines != middle)
        assert shown(app, "place4") == "▲ far end"
        last = app.screen.query_one("#slice4", BarFace)
        assert last._wanted is not None
        assert last._wanted.where == 0.9
        await pilot.press("p")
        await until(pilot, lambda: "░" in "".join(s.text for line in last.lines for s in line))
        await pilot.press("escape")
        assert isinstance(app.screen, PlanScreen)
        assert not app.faults


async def test_a_face_that_fails_is_said_and_kept(tmp_path: Path, clock: FakeClock) -> None:
    def broken() -> tuple[()]:
        raise ValueError("no [bold] batter")

    app = an_app(tmp_path, clock)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(FaceScreen("Broken", broken))
        await until(pilot, lambda: bool(app.faults))
        await pilot.pause()
        assert "no [bold] batter" in shown(app, "said")


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_summary_shows_the_face_as_poured(
    size: tuple[int, int], tmp_path: Path, clock: FakeClock, known: Known
) -> None:
    at = desk(plan(), known, clock)
    work(at, clock, "end")
    app = an_app(tmp_path, clock)
    async with app.run_test(size=size) as pilot:
        app.push_screen(SummaryScreen(at))
        await until(pilot, lambda: drawn(app))
        loaf = app.screen.query_one(Loaf)
        assert shown(app, "loaf_label") == "as poured"
        assert loaf.region.right <= size[0]
        assert len(loaf.query_one(BarFace).lines) >= 6
        await pilot.press("v")
        await until(pilot, lambda: isinstance(app.screen, FaceScreen) and drawn(app))
        assert [shown(app, f"label{i}") for i in range(2)] == ["as poured", "as predicted"]
        assert not app.screen.query_one("#loaf2").display


# ---------------------------------------------------------------- command line


def test_check_draws_the_face_into_a_file(tmp_path: Path) -> None:
    svg, png = tmp_path / "face.svg", tmp_path / "face.png"
    assert main(["check", str(HARBOUR), "--face", str(svg)]) in (0, 1)
    root = ElementTree.fromstring(svg.read_text("utf-8"))
    assert root.tag.endswith("svg")
    fills = {p.get("stroke") for p in root.iter() if p.tag.endswith("path")}
    assert fills >= {"#4a5a6a", "#e9e6dc", "#c2693a"}
    assert main(["check", str(HARBOUR), "--face", str(png)]) in (0, 1)
    assert png.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


@pytest.mark.parametrize("name", ["face.gif", "no/such/folder/face.svg"])
def test_a_face_that_cannot_be_written_is_told(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(HARBOUR), "--face", str(tmp_path / name)]) == 2
    assert "was not drawn" in capsys.readouterr().err
    assert not (tmp_path / name).exists()
