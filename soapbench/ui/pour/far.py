"""The pour from across the room: act, amount, time to spare and warning over the whole screen.

Amount, time to spare and warning each get their share of the rows; the act gets all that is left,
in words as long as can be read from there. What comes next is left out first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from soapbench.ui import letters
from soapbench.ui.pour.facts import Facts
from soapbench.words import pouring as words
from soapbench.words.lines import Line, Piece, cells, cut_line, fit, plain

LARGEST = 8
"""Columns of the widest dot."""
SHARES = {"amount": 0.22, "spare": 0.25, "warning": 0.23, "next": 0.14}
"""Of the rows there are."""
LEAST = 3
EDGE = "▒▒"
"""Down the right of a screen that only shows."""
READ_FROM = 0.17
"""Of the rows, what letters should take that are read from four metres: on a laptop's full screen
of 19 cm 3 cm, a hundred and thirtieth of the way; signs are drawn for a two hundredth (common
practice, no source)."""


def far_lines(shown: Facts, width: int, height: int) -> list[Line]:
    """The whole screen in ``height`` lines; no keys, since nobody reads them from there.

    Where another window writes it has an edge, so that the two are told apart from there, too.
    """
    if not shown.watching:
        return _lines(shown, width, height)
    wide = cells(EDGE)
    lines = _lines(replace(shown, head=""), width - wide - 1, height - 1)
    edge = Piece(EDGE, "muted")
    head = (Piece(fit(f" {shown.head}", width), "strong reverse"),)
    return [
        head,
        *((*line, Piece(" " * (width - cells(plain(line)) - wide)), edge) for line in lines),
    ]


def _lines(shown: Facts, width: int, height: int) -> list[Line]:
    head: list[Line] = [(Piece(fit(f" {shown.head}", width), "strong reverse"),)]
    ink = "bad strong reverse" if shown.alarm else "strong reverse"
    reply: list[Line] = [(Piece(fit(f" {shown.reply}", width), ink),)]
    fixed = [*(head if shown.head else []), *(reply if shown.reply else [])]
    rows = height - len(fixed)
    others = [_amount(shown, width, rows), _spare(shown, width, rows)]
    warning, ahead = _warning(shown, width, rows), _next(shown, width, rows)
    act = _act(shown, width, rows, [*others, warning or ahead])
    if not act and not warning:
        ahead = []
        act = _act(shown, width, rows, others)
    act = act or _act(shown, width, rows, [*others, warning or ahead], whole=False)
    drawn = [part for part in (act, *others, warning or ahead) if part]
    left = rows - sum(map(len, drawn))
    below_a_line = bool(fixed) or shown.watching
    gaps = len(drawn) if below_a_line and left >= len(drawn) else max(1, len(drawn) - 1)
    lines = list(fixed)
    for i, part in enumerate(drawn):
        lines += [*[()] * (max(0, left // gaps) if i or gaps == len(drawn) else 0), *part]
    lines = [cut_line(line, width) for line in lines][:height]
    return [*lines, *[()] * (height - len(lines))]


def amounts(amount: str) -> tuple[str, ...]:
    """An amount, shorter and shorter: all of it, up to how it is done, the figure alone."""
    what = amount.split(" · ")[0].split(" (")[0]
    short = re.split(r"[,;:] | in ", what)[0]
    figures = [" ".join(part.split()[:2]) for part in what.split(" + ")]
    figure = " + ".join(figures) if re.match(r"\d|press ", what) else ""
    return tuple(dict.fromkeys(part.upper() for part in (what, short, figure) if part))


def _act(
    shown: Facts, width: int, height: int, others: Sequence[list[Line]], whole: bool = True
) -> list[Line]:
    """The act in the rows that ``others`` leave, a row between each; empty where its ``whole``
    words would be too small there."""
    drawn = [part for part in others if part]
    most = max(LEAST, height - sum(map(len, drawn)) - len(drawn))
    saying = shown.act.saying
    full = [f for f in saying.large if not any(_begins(other, f) for other in saying.large)]
    least = _least(height)
    if whole:
        return _first(full, width, most, range(LARGEST, least - 1, -1), "strong")
    small = range(least - 1, 0, -1)
    return _first(full, width, most, small, "strong") or _large(
        saying.large, saying.sentence, "strong", width, most
    )


def _begins(longer: str, words: str) -> bool:
    """Whether ``longer`` goes on after ``words``: which pot it is would be left out."""
    first, whole = words.split(), longer.split()
    return len(first) < len(whole) and whole[: len(first)] == first


def _least(height: int) -> int:
    """The least dot that is read from four metres on a screen of so many rows."""
    return next((dot for dot in range(1, LARGEST) if letters.rows(dot) >= height * READ_FROM), 1)


def _amount(shown: Facts, width: int, height: int) -> list[Line]:
    most, wanted = _share(height, "amount"), shown.act.far or amounts(shown.act.amount)
    if "\n" in "".join(wanted):  # a choice: a line for each answer, in what the others leave
        most = height // 2
    lines = _first(wanted, width, most, range(LARGEST, _least(height) - 1, -1), "accent strong")
    return lines or _large(wanted, shown.act.amount, "accent strong", width, most)


def _share(height: int, part: str) -> int:
    return max(LEAST, int(height * SHARES[part]))


def _large(wanted: Sequence[str], else_: str, ink: str, width: int, most: int) -> list[Line]:
    """The first of these words that fit ``most`` rows, as large as they can be there; plain where
    no letters spell them."""
    if not wanted:
        return []
    plain: list[Line] = [(Piece(fit(f" {else_.upper()}", width), f"{ink} reverse"),)]
    return _first(wanted, width, most, range(LARGEST, 0, -1), ink) or plain


def _first(wanted: Sequence[str], width: int, most: int, dots: range, ink: str) -> list[Line]:
    for text in wanted:
        for dot in dots:
            lines = _broken(text, width, dot)
            if lines and len(lines) * (letters.rows(dot) + 1) - 1 <= most:
                return list(_drawn(lines, dot, ink))
    return []


def _drawn(lines: Sequence[str], dot: int, ink: str) -> Iterator[Line]:
    for i, line in enumerate(lines):
        if i:
            yield ()
        for row in letters.drawn(line, dot, dot):
            yield (Piece(row, ink),)


def _broken(line: str, width: int, dot: int) -> list[str] | None:
    """Words in lines that fit; None where a word is too long or cannot be spelt."""
    lines: list[str] = []
    for part in line.split("\n"):
        flat = letters.plain_letters(part)
        if flat is None:
            return None
        begun = len(lines)
        for word in flat.split():
            if letters.columns(word, dot) > width:
                return None
            longer = f"{lines[-1]} {word}" if len(lines) > begun else word
            if len(lines) > begun and letters.columns(longer, dot) <= width:
                lines[-1] = longer
            else:
                lines.append(word)
    return lines


def _spare(shown: Facts, width: int, height: int) -> list[Line]:
    """Time to spare with its sign, and beside it the word that says the same."""
    if not shown.running or shown.spare_s is None:
        return []
    figures, ink = words.spare_sign(shown.spare_s), words.spare_ink(shown.spare_s)
    word = words.SPARE_WORDS[ink]
    most = _share(height, "spare")
    beside = letters.columns(word) + 4
    for dot in range(LARGEST, 0, -1):
        wide = letters.columns(figures, dot)
        if letters.rows(dot) <= most and wide + beside <= width:
            drawn = letters.drawn(figures, dot, dot)
            small = letters.drawn(word)
            at = (len(drawn) - len(small)) // 2
            return [
                (
                    Piece(fit(row, wide + 4), f"{ink} strong"),
                    Piece(small[i - at] if 0 <= i - at < len(small) else "", f"{ink} strong"),
                )
                for i, row in enumerate(drawn)
            ]
    return [(Piece(f"{figures} {word}", f"{ink} strong reverse"),)]


def _warning(shown: Facts, width: int, height: int) -> list[Line]:
    """The warning and its key; else a look that is wanted."""
    most, least, backup = _share(height, "warning"), _least(height), shown.backup
    if backup and backup.warns and backup.key:
        name = backup.words.split(":")[0]
        short = name.removesuffix(" SWIRL")
        wanted = (f"{backup.key}: {name}", f"{backup.key}: {short}", words.press(backup.key))
        dots = range(LARGEST, least - 1, -1)
        ink = "bad strong"
        return _first(wanted, width, most, dots, ink) or _large(wanted, name, ink, width, most)
    if shown.nag:
        pot = shown.nag.split(":")[0]
        return _large((pot.upper(), "LOOK"), pot, "amber strong", width, _share(height, "next"))
    return []


def _next(shown: Facts, width: int, height: int) -> list[Line]:
    if not shown.ahead:
        return []
    wanted = [words.THEN_LARGE.format(act=text) for text in shown.ahead[0].saying.large]
    most = _share(height, "next")
    return _large(wanted, shown.ahead[0].saying.sentence, "muted", width, most)
