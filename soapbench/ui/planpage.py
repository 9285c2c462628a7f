"""The plan sheet's front as lines: the chance large, the chart, other ways, what would help."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.style import Style
from rich.text import Text

from soapbench.outlook.chartlines import chart_lines
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.sheet.screenlines import HEADINGS, Bar, Front
from soapbench.ui import letters
from soapbench.words import plansheet as words
from soapbench.words.chances import percent
from soapbench.words.lines import Line, Piece, cells, cut, cut_line, fit, plain, spread
from soapbench.words.wrapping import wrapped

BESIDE = 4
"""Columns between the large chance and what is said of it."""
BREATHES_FROM = 30
"""Rows from which there are rules between the parts."""
LEAST_BARS = 4
DOTS, PLANNED, IN_PART, LOST = 20, "●", "◐", "○"
FULL, PART, REST = "█", "▒", "·"
RULE = "─"
FACE_FROM, FACE_WIDE = 112, 38
"""Columns from which the cut face stands beside it all, and what it takes of them."""


def page_lines(
    front: Front, width: int, height: int, face: Sequence[Line] = (), chosen: int = -1
) -> list[Line]:
    """All of the front. ``face``: drawn beside it where there is room; ``chosen``: a help."""
    wide = width - (FACE_WIDE + 2 if face and width >= FACE_FROM else 0)
    head = [head_line(front, width)]
    rule: list[Line] = [(Piece(RULE * wide, "muted"),)] if height >= BREATHES_FROM else []
    top = list(stop_lines(front, wide) if front.stops else chance_lines(front, wide))
    body = [*top, *problem_lines(front, wide), *rule]
    if front.chart:
        body += [*chart_lines(front.chart, wide), *rule]
    body += ways_lines(front, wide, chosen, max(LEAST_BARS, height - len(body) - 3))
    body += minded_lines(front, wide, max(0, height - len(body) - 2))
    if wide < width:
        body = beside_face(body, face, wide)
    return [cut_line(line, width) for line in [*head, *body]]


def head_line(front: Front, width: int) -> Line:
    facts = front.facts
    if cells(front.title) + 2 + cells(facts) > width:  # the title is whole; the swirl stands below
        facts = facts.partition(" · ")[2]
    return spread((Piece(front.title, "strong"),), (Piece(facts, "muted"),), width)


def chance_lines(front: Front, width: int) -> Iterator[Line]:
    """The chance in large figures; beside it in dots, and in words what it rests on."""
    ink = "bad" if front.danger else "good" if front.chance else "muted"
    large = letters.drawn(front.chance or "-", 2, 2)
    beside = letters.columns(front.chance or "-", 2) + BESIDE
    side: list[Line] = []
    if front.chance and front.chance != "–":
        side.append((*dots(front), Piece(f"  {words.EACH_DOT}", "muted")))
    for i, sentence in enumerate(front.says):
        loud = "strong" if i == 0 or sentence.startswith(words.BETTER) else ""
        side += [((Piece(line, loud)),) for line in wrapped(sentence, width - beside)]
    for i in range(max(len(large), len(side))):
        left = large[i] if i < len(large) else ""
        yield (
            Piece(fit(left, beside), f"{ink} strong"),
            *(side[i] if i < len(side) else ()),
        )


def dots(front: Front) -> Line:
    """Twenty pours: as planned, in part, lost."""
    planned = round(front.planned * DOTS)
    part = min(DOTS - planned, round((front.planned + front.in_part) * DOTS) - planned)
    lost = DOTS - planned - part
    return (
        Piece(PLANNED * planned, "good"),
        Piece(IN_PART * part, "amber"),
        Piece(LOST * lost, "bad"),
    )


def stop_lines(front: Front, width: int) -> Iterator[Line]:
    """A problem of lye or limit, large, in place of the chance."""
    for row in letters.drawn(words.STOP, 2, 2):
        yield (Piece(row, "bad strong"),)
    for sentence in (*front.says, *front.stops):
        for line in wrapped(sentence, width):
            yield (Piece(line, "bad strong"),)
    impossible = words.STOP_IMPOSSIBLE in front.says
    yield (Piece(words.IMPOSSIBLE if impossible else words.TYPE_YES, "strong"),)


def ways_lines(front: Front, width: int, chosen: int = -1, most: int = 99) -> list[Line]:
    """Other ways as bars, and beside them what would help."""
    if not front.bars:
        return []
    left_wide = width if not front.helps else width * 5 // 9
    bars = front.bars[:most]
    if not any(bar.own for bar in bars):
        bars = (*bars[:-1], *(bar for bar in front.bars if bar.own))
    left = list(_bar_lines(bars, left_wide - 2))
    right = list(_help_lines(front, width - left_wide, chosen)) if front.helps else []
    lines = []
    for i in range(max(len(left), len(right))):
        one = left[i] if i < len(left) else ()
        gap = left_wide - cells(plain(one))
        lines.append((*one, Piece(" " * gap), *(right[i] if i < len(right) else ())))
    return lines


def _bar_lines(bars: Sequence[Bar], width: int) -> Iterator[Line]:
    name_wide = min(30, max(17, width - 26))
    bar_wide = max(6, width - name_wide - 14)
    yield (
        Piece(fit(words.SWIRLS, name_wide + bar_wide + 8), "strong"),
        Piece(words.MINUTES, "muted"),
    )
    for bar in bars:
        full = round(bar.chance * bar_wide)
        part = min(bar_wide - full, round((bar.chance + bar.in_part) * bar_wide) - full)
        ink = "strong" if bar.own else ""
        yield (
            Piece("▸ " if bar.own else "★ " if bar.better else "  ", "accent strong"),
            Piece(fit(words.OWN if bar.own else bar.name, name_wide - 1) + " ", ink),
            Piece(FULL * full, "good"),
            Piece(PART * part, "amber"),
            Piece(REST * (bar_wide - full - part), "muted"),
            Piece(f"{percent(bar.chance):>6}{bar.minutes:>5.0f}", ink),
        )


def _help_lines(front: Front, width: int, chosen: int) -> Iterator[Line]:
    yield (Piece(words.HELPS, "strong"),)
    for i, (change, chance) in enumerate(front.helps):
        ink = "strong reverse" if i == chosen else ""
        number = Piece(f"{i + 1} ", "muted")
        yield (number, Piece(fit(change, width - 9), ink), Piece(f"{percent(chance):>6}", "good"))


def problem_lines(front: Front, width: int) -> Iterator[Line]:
    """What is wrong with the plan, whole: nobody should have to look for it."""
    for sentence in front.problems:
        for line in wrapped(sentence, width - 2):
            yield (Piece("! ", "bad strong"), Piece(line, "bad strong"))


def minded_lines(front: Front, width: int, most: int) -> list[Line]:
    """Cautions, a line each, as many as have room."""
    shown = front.minded[:most]
    lines: list[Line] = [
        (Piece("! ", "amber strong"), Piece(cut(note, width - 2))) for note in shown
    ]
    if left := len(front.minded) - len(shown):
        lines.append((Piece(words.notes_more(left, bool(shown)), "amber"),))
    return lines


def beside_face(lines: Sequence[Line], face: Sequence[Line], wide: int) -> list[Line]:
    """``face`` to the right of ``lines``."""
    both = []
    for i in range(max(len(lines), len(face))):
        one = lines[i] if i < len(lines) else ()
        gap = wide + 2 - cells(plain(one))
        both.append((*one, Piece(" " * gap), *(face[i] if i < len(face) else ())))
    return both


def labelled_face(face: Sequence[Line], about: str) -> tuple[Line, ...]:
    """The cut face beside the front, its label above it and what is said of it below."""
    label: Line = (Piece(words.FACE_LABEL, "muted"),)
    below: list[Line] = [(Piece(row, "muted"),) for row in wrapped(about, FACE_WIDE)]
    return (label, *face, *below)


# ---- its other page, in words


def front_text(front: Front) -> Text:
    """What the command line prints below the verdict, headings told apart."""
    text = Text()
    for line in front.lines:
        text.append(f"{line}\n", Style(bold=True, underline=True) if line in HEADINGS else None)
    return text


def faults_text(refused: FileFaults) -> Text:
    """Why a plan cannot be used, fault by fault."""
    text = Text(f"{words.CANNOT_USE}\n\n", style="bold")
    for fault in refused.faults:
        where = f"line {fault.line}  " if fault.line else ""
        text.append(f"{where}{clean(fault.key)}\n", style="bold")
        text.append(f"  {clean(fault.wrong)}\n  {clean(fault.right)}\n\n")
    if refused.more:
        text.append(f"… and {refused.more:,} more\n")
    return text
