"""The pour from across the room: act, amount, time to spare and warning over the whole screen.

Every part gets its share of the rows and the largest letters that fit it there.
"""

from __future__ import annotations

from collections.abc import Sequence

from soapbench.ui import letters
from soapbench.ui.pour.facts import Facts
from soapbench.words import pouring as words
from soapbench.words.lines import Line, Piece, cut_line, fit

LARGEST = 8
"""Columns of the widest dot."""
SHARES = {"act": 0.46, "amount": 0.14, "spare": 0.25, "last": 0.14}
"""Of the rows there are."""
LEAST = 3


def far_lines(shown: Facts, width: int, height: int) -> list[Line]:
    """The whole screen in ``height`` lines; no keys, since nobody reads them from there."""
    head: list[Line] = [(Piece(fit(f" {shown.head}", width), "strong reverse"),)]
    reply: list[Line] = [(Piece(fit(shown.reply, width), "bad strong reverse"),)]
    fixed = [*(head if shown.head else []), *(reply if shown.alarm else [])]
    rows = height - len(fixed)
    parts = [
        _large(shown.act.saying.large, shown.act.saying.sentence, "strong", width, rows, "act"),
        _large(amounts(shown.act.amount), shown.act.amount, "accent strong", width, rows, "amount"),
        _spare(shown, width, rows),
        _last(shown, width, rows),
    ]
    drawn = [part for part in parts if part]
    left = rows - sum(map(len, drawn))
    gap = max(0, left // max(1, len(drawn)))
    lines = list(fixed)
    for part in drawn:
        lines += [*part, *[()] * gap]
    lines = [cut_line(line, width) for line in lines][:height]
    return [*lines, *[()] * (height - len(lines))]


def amounts(amount: str) -> tuple[str, ...]:
    """An amount, shorter and shorter: all of it, up to how it is done, the figure alone."""
    what = amount.split(" · ")[0].split(" (")[0]
    figure = " ".join(what.split()[:2])
    return tuple(dict.fromkeys(part.upper() for part in (what, figure) if part))


def _large(
    wanted: Sequence[str], else_: str, ink: str, width: int, height: int, part: str
) -> list[Line]:
    """Words as large as their share of the rows allows; plain where no letters spell them."""
    if not wanted:
        return []
    most = max(LEAST, int(height * SHARES[part]))
    for dot in range(LARGEST, 0, -1):
        for text in wanted[:1] if dot > 1 else wanted:
            lines = _broken(text, width, dot)
            if lines and len(lines) * (letters.rows(dot) + 1) - 1 <= most:
                drawn: list[Line] = []
                for i, line in enumerate(lines):
                    drawn += [()] if i else []
                    drawn += [(Piece(row, ink),) for row in letters.drawn(line, dot, dot)]
                return drawn
    return [(Piece(fit(f" {else_.upper()}", width), f"{ink} reverse"),)]


def _broken(line: str, width: int, dot: int) -> list[str] | None:
    """Words in lines that fit; None where a word is too long or cannot be spelt."""
    flat = letters.plain_letters(line)
    if flat is None:
        return None
    lines: list[str] = []
    for word in flat.split():
        if letters.columns(word, dot) > width:
            return None
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and letters.columns(longer, dot) <= width:
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
    most = max(LEAST, int(height * SHARES["spare"]))
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


def _last(shown: Facts, width: int, height: int) -> list[Line]:
    """The warning and its key; else a look that is wanted; else what comes next."""
    backup = shown.backup
    if backup and backup.warns and backup.key:
        name = backup.words.split(":")[0]
        wanted: tuple[str, ...] = (f"{backup.key}: {name}", words.press(backup.key))
        return _large(wanted, wanted[0], "bad strong", width, height, "last")
    if shown.nag:
        pot = shown.nag.split(":")[0]
        return _large((pot.upper(), "LOOK"), pot, "amber strong", width, height, "last")
    if shown.ahead:
        large = shown.ahead[0].saying.large
        wanted = tuple(words.THEN_LARGE.format(act=act) for act in large)
        return _large(wanted, shown.ahead[0].saying.sentence, "muted", width, height, "last")
    return []
