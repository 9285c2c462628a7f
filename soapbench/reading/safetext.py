"""Text from files and other people, made fit to be shown in a terminal."""

from __future__ import annotations

ELLIPSIS = "…"
UNSHOWABLE = "\ufffd"


def clean(text: str, limit: int = 500) -> str:
    """One line of ``text`` that cannot steer a terminal, at most ``limit`` characters long.

    Line breaks, tabs and odd spaces become a space. Control characters (C0, C1, ESC) and
    invisible format characters (bidi marks, overrides and isolates, zero-width ones, tags)
    are left out; lone surrogates, private-use and unassigned characters become U+FFFD.
    What counts as printable is the Unicode database's word (``str.isprintable``). Characters
    with a meaning in a mark-up language are left alone: show the result without mark-up.
    """
    if limit < 1:
        return ""
    shown = text[: 4 * limit]  # enough even if most of it is invisible; bounds the work
    if not shown.isprintable():
        shown = "".join(_fit(c) for c in shown)
    if len(shown) > limit or len(text) > 4 * limit:
        return shown[: limit - 1] + ELLIPSIS
    return shown


def _fit(c: str) -> str:
    from unicodedata import category

    if c.isprintable():
        return c
    if c.isspace() and c not in "\x1c\x1d\x1e\x1f":
        return " "
    return "" if category(c) in ("Cc", "Cf") else UNSHOWABLE


def counted(n: int, one: str, many: str = "") -> str:
    """A number of things: "1 plan", "1,200 batches"; ``many`` where it is not ``one`` and an s."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"
