"""What the aftercare shows, in lines with a hanging indent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text

from soapbench.reading.safetext import clean
from soapbench.words.wrapping import wrapped

if TYPE_CHECKING:
    from soapbench.aftercare import page as view


def hung(words: str, width: int, first: str = "  ", rest: str = "    ") -> str:
    """``words`` wrapped to ``width``, later lines further in."""
    lines = wrapped(words, max(width, 20), rest, first)
    return "\n".join(lines)


def body_text(lines: list[view.Section], plot: list[str], minded: list[str], width: int) -> Text:
    """Sections, the cure's curve, and what to mind."""
    text = Text()
    for heading, rows in lines:
        text.append(f"{heading}\n", Style(bold=True, underline=True))
        for line in rows:
            text.append(f"{hung(clean(line, 300), width)}\n")
    for line in plot:
        text.append(f"  {line}\n")
    text.append("Safety\n", Style(bold=True, underline=True))
    for line in minded:
        text.append(f"{hung(clean(line, 300), width, '  ! ')}\n")
    return text
