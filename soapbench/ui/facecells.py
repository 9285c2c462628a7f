"""A cut face as lines of pieces, to stand beside other lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.words.lines import Line, Piece

if TYPE_CHECKING:
    from soapbench.barface import Design, Run
    from soapbench.ui.barface import Ink


def face_lines(design: Design, seed: int, wide: int, rows: int, ink: Ink) -> list[Line]:
    """The middle of the loaf, ``wide`` columns by ``rows``; takes some ms."""
    from soapbench.barface import face, half_blocks, pattern_cells

    drawn = face(design, 0.5, wide, 2 * rows, seed, polish=False)
    if ink == "colour":
        return [tuple(_piece(run) for run in line) for line in half_blocks(drawn.rgb, drawn.cover)]
    signs = [colour.pattern for colour in design.colours]
    cells = pattern_cells(drawn.pots, signs, letters=ink == "letters")
    return [tuple(Piece(run.text) for run in line) for line in cells]


def _piece(run: Run) -> Piece:
    inks = [run.fg or "", f"on{run.bg}" if run.bg else ""]
    return Piece(run.text, " ".join(ink for ink in inks if ink))
