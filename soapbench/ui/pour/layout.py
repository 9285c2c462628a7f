"""The pour screen as lines: what is needed always has its rows, the rest what is left of them.

At any size the act, its amount, both times, the last look, what was said and the backup are
there; rows of pots scroll, and the key line shrinks before any of these loses a row.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from soapbench.outlook.chartlines import (
    BESIDE,
    acts_line,
    label_width,
    legend_lines,
    minutes_line,
    name_pieces,
    window_line,
)
from soapbench.ui import letters
from soapbench.ui.pour.facts import ActFact, Facts, gauge
from soapbench.words import pouring as words
from soapbench.words.chances import DAY_S, clock
from soapbench.words.lines import Line, Piece, cells, cut, cut_line, fit, plain, short_names, spread
from soapbench.words.wrapping import wrapped

GAUGE = 8
"""Columns of a pot's gauge beside its row."""
MOULD_FROM, MOULD_WIDE = 112, 36
"""Columns from which the mould stands beside the chart, and what it takes of them."""
LARGE_NEXT_FROM = 150
"""Columns from which the next acts are large too."""
MOST_SAID = 3
GAP = 4
"""Columns kept free between the two times."""
RULE = "─"


@dataclass(frozen=True, slots=True)
class Rooms:
    """Rows each part of the screen has."""

    act: int
    """Half rows a dot of its letters is high; 0: one plain line."""
    digits: int
    """The same for the times."""
    digits_wide: int
    pots: int
    minutes: bool
    you: bool
    nexts: bool
    rules: bool
    legend: int
    large_next: int
    keys: int
    blank: bool
    chart: int = 0
    """Rows of the chart, with all that stands beside and below it."""
    clear: int = 0
    """Rows of the act and of the times, which nothing may cover."""


def rooms(shown: Facts, width: int, height: int, key_lines: int) -> Rooms:
    """Share ``height`` rows out. ``key_lines``: how many all keys would take."""
    box, reply = len(box_lines(shown, width)), len(said_lines(shown, width))
    act_fits = letters.first_fitting(shown.act.saying.large, width) is not None and height >= 15
    digits_wide, digits = (1, 1) if height >= 13 else (0, 0)
    used = (
        (1 if shown.head else 0) + 1 + (3 if act_fits else 1) + 1
        + letters.rows(digits) + 1 + 1 + reply + box + 1
    )  # fmt: skip
    left = height - used
    count = len(shown.pots)

    def take(rows: int) -> bool:
        nonlocal left
        if rows <= left:
            left -= rows
            return True
        return False

    pots = max(0, min(count, 3, left))
    left -= pots
    minutes = take(1)
    act = 1 if act_fits else 0
    if digits and _digits_fit(shown, width, 2) and take(2):
        digits, digits_wide = 2, 2
    more = max(0, min(count - pots, left))
    pots, left = pots + more, left - more
    you, nexts, rules = take(1), bool(shown.ahead) and take(1), take(1)
    keys = 1 + max(0, min(key_lines - 1, left))
    left -= keys - 1
    legend = 2 if take(2) else 0
    blank = take(2)
    wides = [wide for wide in (4, 3) if _digits_fit(shown, width, wide)]
    if digits == 2 and wides and take(5):
        digits, digits_wide = 4, wides[0]
    wide_act = letters.first_fitting(shown.act.saying.large[:2], width, 2)
    if act and wide_act and take(2):
        act = 2
    large = 0
    if width >= LARGE_NEXT_FROM:
        while large < len(shown.ahead) and take(4 if large else 5):
            large += 1
    return Rooms(
        act, digits, digits_wide, pots, minutes, you, nexts and not large, rules, legend, large,
        keys, blank,
    )  # fmt: skip


def pour_lines(shown: Facts, width: int, height: int, key_lines: int) -> tuple[list[Line], Rooms]:
    """The screen above its keys, and the rooms it was drawn in."""
    room = rooms(shown, width, height, key_lines)
    blank: list[Line] = [()] if room.blank else []
    rule: list[Line] = [(Piece(RULE * width, "muted"),)] if room.rules else []
    top = [*head_lines(shown, width), *act_lines(shown.act, width, room.act), *blank]
    middle = [*time_lines(shown, width, room), *blank]
    bottom = [
        *next_lines(shown, width, room),
        look_line(shown, width),
        *said_lines(shown, width),
        *box_lines(shown, width),
    ]
    fixed = len(top) + len(middle) + len(rule) + len(bottom) + room.keys
    chart = chart_part(shown, width, room, height - fixed)
    chart = chart[: max(0, height - fixed)]
    spare: list[Line] = [()] * (height - fixed - len(chart))
    lines = [*top, *middle, *rule, *chart, *spare, *bottom]
    return [cut_line(line, width) for line in lines], replace(
        room, chart=height - fixed, clear=len(top) + len(middle)
    )


def head_lines(shown: Facts, width: int) -> Iterator[Line]:
    if shown.head:
        yield (Piece(fit(f" {shown.head}", width), "strong reverse"),)
    done, total = shown.step
    bar = "▰" * (done - 1) + "▱" * max(0, total - done + 1)
    right: list[Piece] = []
    if shown.running:
        right.append(Piece(words.step_of(done, total), "strong"))
        if width >= 76 and total <= 30:
            right.append(Piece(f"  {bar}", "muted"))
    left = (Piece(shown.title, "strong"), Piece(f"  {shown.since}"))
    yield spread(left, tuple(right), width)


def act_lines(act: ActFact, width: int, halves: int) -> Iterator[Line]:
    """The act as large as it has room for, and below it how much and the key that ends it."""
    large = letters.first_fitting(act.saying.large, width, max(1, halves)) if halves else None
    if large:
        for row in letters.drawn(large, halves, halves):
            yield (Piece(row, "strong"),)
    elif halves:
        yield from ((), (Piece(act.saying.sentence.upper(), "strong reverse"),), ())
    else:
        yield (Piece(f" {act.saying.sentence.upper()} ", "strong reverse"),)
    then = (Piece(act.then, "key"),) if act.then else ()
    yield spread((Piece(act.amount, "accent strong"),), then, width)


def _times(shown: Facts) -> tuple[str, str]:
    spare = words.spare_sign(shown.spare_s) if shown.spare_s is not None else "-"
    if shown.step_s >= DAY_S:  # left alone, as the act says
        return "", ""
    return clock(shown.step_s), spare if shown.running else ""


def _digits_fit(shown: Facts, width: int, wide: int) -> bool:
    return sum(letters.columns(text, wide) for text in _times(shown)) + GAP <= width


def time_lines(shown: Facts, width: int, room: Rooms) -> Iterator[Line]:
    """Time in the step on the left, time to spare on the right, never touching."""
    left, right = _times(shown)
    ink = words.spare_ink(shown.spare_s) if shown.spare_s is not None else "muted"
    if room.digits and _digits_fit(shown, width, room.digits_wide):
        lefts = letters.drawn(left, room.digits_wide, room.digits)
        rights = letters.drawn(right, room.digits_wide, room.digits) if right else [""] * len(lefts)
        wide = letters.columns(right, room.digits_wide)
        at = width // 2 if letters.columns(left, room.digits_wide) + GAP <= width // 2 else 0
        at = min(at, width - wide) if at else width - wide
        for a, b in zip(lefts, rights, strict=True):
            yield (Piece(fit(a, at), "good" if shown.blender else ""), Piece(b, f"{ink} strong"))
    else:
        at = width // 2
        yield (Piece(fit(left, at), "strong"), Piece(right, f"{ink} strong"))
        for _ in range(letters.rows(room.digits) - 1):
            yield ()
    label = shown.blender or (
        words.step_label(shown.usual_s, shown.overdue) if shown.running else ""
    )
    spare = words.spare_label(shown.spare_s, shown.spare_known) if shown.running else ""
    half = width // 2
    yield (
        Piece(fit(label, half - 1) + " ", "good reverse" if shown.blender else "muted"),
        Piece(spare, f"{ink} strong"),
    )


def chart_part(shown: Facts, width: int, room: Rooms, height: int) -> list[Line]:
    """The pots with their windows; the mould beside them where there is room."""
    mould = shown.mould if width >= MOULD_FROM else ()
    wide = width - (MOULD_WIDE + 2 if mould else 0)
    lines = list(pot_lines(shown, wide, room))
    if room.legend and shown.chart:
        lines += legend_lines(shown.chart, wide)[: room.legend]
    if not mould:
        return lines
    lines += [()] * (min(height, len(mould)) - len(lines))
    both = []
    for i, line in enumerate(lines):
        beside = mould[i] if i < len(mould) else ()
        gap = wide + 2 - cells(plain(line))
        both.append((*line, Piece(" " * gap), *beside))
    return both


def pot_lines(shown: Facts, width: int, room: Rooms) -> Iterator[Line]:
    """Rows of pots, as many as there is room for, around the one in hand."""
    words_beside = 16 if width >= 100 else 0
    beside = label_width(width)
    wide = max(8, width - beside - GAUGE - words_beside)
    chart = shown.chart
    if chart and room.minutes:
        yield (Piece(fit(words.MINUTES, beside), "muted"), *minutes_line(chart, wide))
    if chart and room.you:
        yield (Piece(fit(words.YOU, beside), "muted"), *acts_line(chart, wide))
    names = short_names([pot.name for pot in shown.pots], beside - BESIDE - 1)
    first = min(max(0, shown.hand - room.pots // 2), max(0, len(shown.pots) - room.pots))
    from soapbench.outlook.chart import Row

    for i in range(first, min(first + room.pots, len(shown.pots))):
        pot = shown.pots[i]
        row = chart.rows[i] if chart else Row(pot.name, pot.look, 0, 0, 0, None)
        head = name_pieces(row, i, names[i], beside - BESIDE - 1, in_hand=i == shown.hand)
        window = window_line(row, chart, wide) if chart else (Piece(" " * wide),)
        more = "↑" if i == first > 0 else " "
        more = "↓" if i == first + room.pots - 1 < len(shown.pots) - 1 else more
        gauge_words, ink = gauge(pot)
        line = (*head, *window, Piece(more, "muted"), Piece(fit(gauge_words, GAUGE - 1), ink))
        if words_beside:
            where = "" if pot.where == "pot" else f", {pot.where}"
            state = f" {pot.trace.words.removeprefix('stable ').removesuffix(' trace')}{where}"
            line = (*line, Piece(fit(state, words_beside)))
        yield line


def next_lines(shown: Facts, width: int, room: Rooms) -> Iterator[Line]:
    if room.nexts:
        ahead = " · ".join(act.saying.sentence for act in shown.ahead)
        yield (Piece(words.NEXT_LINE, "muted"), Piece(ahead, "muted"))
    for i in range(room.large_next):
        act = shown.ahead[i]
        large = letters.first_fitting(act.saying.large, width - 40)
        if i == 0:
            yield (Piece(words.NEXT, "muted"),)
        drawn = letters.drawn(large) if large else ("", act.saying.sentence, "")
        for j, row in enumerate(drawn):
            ahead = act.amount if j == 1 else ""
            yield (Piece(fit(row, width - 40) + " ", "muted"), Piece(ahead, "accent"))
        yield ()


def look_line(shown: Facts, width: int) -> Line:
    nag = (Piece(f" {shown.nag} ", "amber strong reverse"),) if shown.nag else ()
    return spread((Piece(shown.look, "muted"),), nag, width)


def said_lines(shown: Facts, width: int) -> list[Line]:
    """What was said last; what to do in trouble is said whole."""
    ink = "bad strong reverse" if shown.alarm else "strong"
    rows = wrapped(shown.reply, width)[:MOST_SAID] or [""]
    return [(Piece(fit(line, width), ink),) for line in rows]


def box_lines(shown: Facts, width: int) -> list[Line]:
    """The backup in its box; one line while nothing is in danger. Never cut."""
    if not shown.running and not (shown.chart and shown.ahead):
        return []
    now = words.chance_line(shown.chance)
    backup = shown.backup
    if backup is None:
        tight = words.tightest_line(shown.why) if shown.why else ""
        if cells(now + tight) > width:
            tight = tight.partition(" (")[0]
        return [(Piece(now, "strong"), Piece(tight, "muted"))]
    ink = "bad strong" if backup.warns else "amber"
    title = words.chance_now(shown.chance)
    why = f"{shown.why} " if shown.why else ""
    inner = width - 4
    first = (Piece("┌", ink), Piece(title, f"{ink} reverse"), Piece(RULE, ink))
    room = width - cells(plain(first)) - 1
    if cells(why) > room - 2:
        why = (
            f"{why.partition(' (')[0]} "  # how much faster it thickens is said where there is room
        )
    reason = cut(f" {why}", room - 1).rstrip() + " " if why else ""
    key = (Piece(f" {backup.key} ", "key"), Piece(" ")) if backup.key else ()
    verb = words.SWITCH_TO if backup.key else ""
    body = (*key, Piece(f"{verb}{backup.words}", "strong"))
    decide = words.decide_words(backup.decide_s)
    last = f" {decide} " if decide else ""
    return [
        (*first, Piece(reason, "strong"), Piece(RULE * (room - cells(reason)) + "┐", ink)),
        (Piece("│ ", ink), *_padded(body, inner), Piece(" │", ink)),
        (
            Piece("└" + RULE * (width - 4 - cells(last)), ink),
            Piece(last, f"{ink} reverse" if last else ink),
            Piece(RULE * 2 + "┘", ink),
        ),
    ]  # fmt: skip


def _padded(line: Sequence[Piece], width: int) -> Line:
    kept = cut_line(line, width)
    return (*kept, Piece(" " * (width - cells(plain(kept)))))
