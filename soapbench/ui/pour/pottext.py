"""The pots of a pour, drawn."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style
from rich.text import Text

from soapbench.ui.pour.view import PotLine
from soapbench.ui.themes import swatch


def pot_text(lines: Sequence[PotLine], wide: bool) -> Text:
    """One line a pot, in 76 columns or, where there is room, 86."""
    text = Text(no_wrap=True, overflow="crop")
    fill, name, words = (6, 18, 28) if wide else (4, 12, 24)
    for i, line in enumerate(lines):
        text.append("\n" if i else "")
        text.append("▸ " if line.in_hand else "  ", Style(bold=True))
        text.append(f"{line.letter} ")
        text.append_text(swatch(line.look, fill, line.pattern))
        text.append(f" {line.name[:name]:<{name}}", Style(bold=True, reverse=line.in_hand))
        text.append(f" {line.words[:words]:<{words}}{line.faster:>6}")
        text.append(f"{line.room:>8}", Style(bold=True))
        text.append("!" if line.urgent else " ", Style(bold=True))
        text.append(f"{line.spread[:13]:>13}")
    return text
