"""Text made fit for a terminal."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapbench.reading.safetext import clean


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Kelp & Fig", "Kelp & Fig"),
        ("temp [/] high [@click=app.quit]", "temp [/] high [@click=app.quit]"),
        ("\x1b]0;owned\x07title", "]0;ownedtitle"),
        ("\x1b[31mred\x9b0m", "[31mred0m"),
        ("two\nlines\tand\r\nmore", "two lines and  more"),
        ("safe\u202etxt.exe\u2066x\u2069", "safetxt.exex"),
        ("zero\u200bwidth\ufeff\u2060\u00ad", "zerowidth"),
        ("tags\U000e0041\U000e007f", "tags"),
        ("lone \ud800 half", "lone \ufffd half"),
        ("\x00\x7f\x85", " "),
        ("石鹸 Žluť 🧼 عطر", "石鹸 Žluť 🧼 عطر"),
        ("", ""),
    ],
)
def test_named_cases(text: str, shown: str) -> None:
    assert clean(text) == shown


def test_long_text_ends_in_an_ellipsis() -> None:
    assert clean("x" * 11, 10) == "x" * 9 + "…"
    assert clean("x" * 10, 10) == "x" * 10
    assert clean("\u200b" * 10**6 + "x", 10) == "…"
    assert clean("x", 0) == ""


@given(st.text(alphabet=st.characters(), max_size=80), st.integers(1, 40))
def test_never_a_control_and_never_too_long(text: str, limit: int) -> None:
    """Categories by the Unicode database."""
    shown = clean(text, limit)
    assert len(shown) <= limit
    assert shown.isprintable()
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert clean(shown, limit) == shown
