"""Cells, PNG and SVG show the face that was drawn.

PNG is read back by hand as ISO/IEC 15948 lays it out; SVG with the XML parser of the library.
"""

from __future__ import annotations

import re
import struct
import unicodedata
import zlib
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from soapbench.barface import (
    AIR,
    Colour,
    Design,
    Manner,
    Pouring,
    Top,
    face,
    half_blocks,
    pattern,
    pattern_cells,
    png,
    svg,
)
from soapbench.barface.words import printed_px

DESIGN = Design(
    (Colour("slate", "#4a5a6a"), Colour("foam", "#e9e4d6", 1), Colour("teal", "#2f8f8b", 2)),
    (
        Pouring(0, 0.6),
        Pouring(1, 0.2, Manner.DROP),
        Pouring(0, 0.1, Manner.BLEND),
        Pouring(2, 0.1, Manner.BLEND),
    ),
    top=Top(3.0),
)
FACE = face(DESIGN, 0.5, 60, 41, 2, polish=False)


def test_half_blocks_paint_every_pixel() -> None:
    painted = np.full((42, 60), "", dtype=object)
    for row, line in enumerate(half_blocks(FACE.rgb, FACE.cover)):
        column = 0
        for run in line:
            for sign in run.text:
                both = {"▀": (run.fg, run.bg), "▄": (run.bg, run.fg), " ": (None, None)}[sign]
                painted[2 * row : 2 * row + 2, column] = [c or "" for c in both]
                column += 1
        assert column == 60
    wanted = np.full((42, 60), "", dtype=object)
    for row, column in zip(*np.nonzero(FACE.cover >= 128), strict=True):
        wanted[row, column] = f"#{bytes(FACE.rgb[row, column]).hex()}"
    assert (painted == wanted).all()


def test_half_blocks_merge_equal_neighbours() -> None:
    line = half_blocks(np.full((2, 30, 3), 7, np.uint8))[0]
    assert [(run.text, run.fg, run.bg) for run in line] == [("▀" * 30, "#070707", "#070707")]


@pytest.mark.parametrize("letters", [False, True])
def test_pattern_cells_show_the_upper_pixel_of_the_cell(letters: bool) -> None:
    signs = {0: "A" if letters else "█", 1: "B" if letters else "░", 2: "C" if letters else "▓"}
    lines = pattern_cells(FACE.pots, letters=letters)
    assert len(lines) == 21
    for row, line in enumerate(lines):
        column = 0
        for run in line:
            for sign in run.text:
                assert (AIR if run.pot is None else run.pot) == FACE.pots[2 * row, column]
                assert sign == (" " if run.pot is None else signs[run.pot])
                column += 1
        assert column == 60


def test_patterns_differ_and_take_one_cell() -> None:
    signs = [pattern(i) for i in range(12)]
    assert len(set(signs)) == 12
    assert all(unicodedata.east_asian_width(sign) not in "WF" for sign in signs)


@pytest.mark.parametrize("see_through", [False, True])
def test_png_reads_back(see_through: bool) -> None:
    data = png(FACE.rgb, FACE.cover if see_through else None)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, at = {}, 8
    while at < len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        body = data[at + 8 : at + 8 + size]
        assert struct.unpack_from(">I", data, at + 8 + size)[0] == zlib.crc32(kind + body)
        chunks[kind] = body
        at += 12 + size
    assert list(chunks) == [b"IHDR", b"IDAT", b"IEND"]
    wide, high, bits, kind_of, *rest = struct.unpack(">IIBBBBB", chunks[b"IHDR"])
    assert (wide, high, bits, kind_of, rest) == (60, 41, 8, 6 if see_through else 2, [0, 0, 0])
    deep = 4 if see_through else 3
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(41, 1 + 60 * deep)
    assert (rows[:, 0] == 0).all()
    pixels = rows[:, 1:].reshape(41, 60, deep)
    assert np.array_equal(pixels[..., :3], FACE.rgb)
    assert not see_through or np.array_equal(pixels[..., 3], FACE.cover)


def test_svg_is_small_escaped_and_paints_every_pixel() -> None:
    text = svg(FACE, 'Harbour <at> "Dusk" & more')
    root = ET.fromstring(text)
    space = "{http://www.w3.org/2000/svg}"
    assert root.findtext(f"{space}title") == 'Harbour <at> "Dusk" & more'
    assert "href" not in text
    painted = np.full(FACE.tints.shape, "", dtype=object)
    for path in root.iter(f"{space}path"):
        for x, y, n in re.findall(r"M(\d+) (\d+)h(\d+)", path.get("d", "")):
            painted[int(y), int(x) : int(x) + int(n)] = path.get("stroke")
    colours = [f"#{bytes(c).hex()}" for c in FACE.palette] + [""]
    assert (painted == np.array(colours, dtype=object)[FACE.tints]).all()
    assert len(text) < 40_000


@pytest.mark.parametrize("aspect", [300.0, 9 / 7, 1 / 3, 1 / 300])
def test_no_mould_is_too_flat_or_too_tall_to_be_drawn(aspect: float) -> None:
    """A tower 3 m high and 1 cm thick was 15 GB of work; a sheet had no pixel at all."""
    wide, tall = printed_px(720, aspect)
    assert min(wide, tall) >= 4
    assert wide * tall <= 3 * 720**2
    if 1 / 3 <= aspect < 100:
        assert wide / tall == pytest.approx(aspect, rel=0.01)
