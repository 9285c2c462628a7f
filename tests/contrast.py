"""Contrasts of the themes, worked out by coloraide: ``python -m tests.contrast`` prints the table.

Text by its theme, every ink on every ground, and as drawn: what the README's scenes really put on
the screen, mixed and dimmed colours too. Ratios as WCAG 2.2 defines them.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from rich.color import Color as RichColor
from textual.theme import Theme

from soapbench.ui.themes import ALL
from tests.fakes import SAMPLES
from tests.plans import sample
from tests.screenshots import staged

TEXT_NEEDS = 4.5
"""WCAG 2.2, 1.4.3 Contrast (Minimum), level AA, for text that is not large."""
SIGNS_NEED = 3.0
"""WCAG 2.2, 1.4.11 Non-text Contrast, level AA."""
GROUNDS = ("background", "surface", "panel")
DICHROMACIES = ("protan", "deutan", "tritan")
INKS = ("foreground", "primary", "accent", "warning", "error")


@dataclass(frozen=True)
class Contrasts:
    """The worst contrast of each kind in one theme, as a ratio to 1."""

    text: float
    drawn: float
    """Text as it came onto the screen in the README's scenes."""
    signs: float
    """Large digits, frames and rules, in the theme's own inks."""
    scroll: float
    """The scroll bar's thumb on its track."""
    pots: float
    """Pots' own colours in the sample plans: the maker's choice, never the only sign of a pot."""


def ratio(ink: str, ground: str) -> float:
    from coloraide import Color

    return float(Color(ink).contrast(ground, method="wcag21"))


def text_by_theme(theme: Theme) -> float:
    named = vars(theme)
    inks = [named[ink] for ink in INKS] + [theme.variables["text-muted"]]
    return min(ratio(ink, named[ground]) for ink in inks for ground in GROUNDS)


def signs_by_theme(theme: Theme) -> float:
    named = vars(theme)
    inks = ("foreground", "primary", "accent")
    return min(ratio(named[ink], named[ground]) for ink in inks for ground in GROUNDS)


def scroll_by_theme(theme: Theme) -> float:
    colours = theme.to_color_system().generate()
    return ratio(colours["scrollbar"], colours["scrollbar-background"])


def pots_by_theme(theme: Theme) -> float:
    looks = [pot.colour for path in SAMPLES.glob("*.toml") for pot in sample(path).pots]
    assert looks
    return min(ratio(look, str(theme.background)) for look in looks)


def _hex(colour: RichColor | None) -> str:
    assert colour is not None
    return colour.get_truecolor().hex


async def drawn_text(scene: str, theme: str) -> list[tuple[float, str]]:
    """Contrast and words of every run of text in a scene."""
    contrasts = []
    async with staged(scene, theme) as pilot:
        for strip in pilot.app.screen._compositor.render_strips():
            for segment in strip:
                style = segment.style
                if style is None or not any(sign.isalnum() for sign in segment.text):
                    continue
                contrasts.append(
                    (ratio(_hex(style.color), _hex(style.bgcolor)), segment.text.strip())
                )
    return contrasts


def drawn_by_theme(theme: Theme) -> float:
    scenes = ("plan", "set-out", "pour", "aftercare")
    return min(min(asyncio.run(drawn_text(scene, theme.name)))[0] for scene in scenes)


def measure(theme: Theme) -> Contrasts:
    return Contrasts(
        text=text_by_theme(theme),
        drawn=drawn_by_theme(theme),
        signs=signs_by_theme(theme),
        scroll=scroll_by_theme(theme),
        pots=pots_by_theme(theme),
    )


def measured() -> dict[str, Contrasts]:
    return {theme.name: measure(theme) for theme in ALL}


def rounded_down(figure: float) -> str:
    """Never more than was measured."""
    return f"{math.floor(figure * 10) / 10:.1f}"


def closest_pots(seen_by: str) -> tuple[float, str]:
    """The least CIEDE2000 between two pots of one sample plan, and which plan.

    ``seen_by``: one of DICHROMACIES, as coloraide simulates it in full; empty for all three cones.
    """
    from coloraide import Color

    apart = []
    for path in sorted(SAMPLES.glob("*.toml")):
        colours = [Color(pot.colour) for pot in sample(path).pots]
        looks = [colour.filter(seen_by) if seen_by else colour for colour in colours]
        apart += [(a.delta_e(b, method="2000"), path.stem) for a, b in combinations(looks, 2)]
    return min(apart)


def rows(measured: Mapping[str, Contrasts]) -> Iterator[str]:
    """The table as it stands in DEVELOPERS.md, from contrasts by the theme's name."""
    yield (
        "| theme | text, by theme | text, as drawn | digits and frames | scroll bar "
        "| a pot's own colour |"
    )
    yield "|---|---|---|---|---|---|"
    for theme, figures in measured.items():
        yield f"| {theme} | {' | '.join(map(rounded_down, vars(figures).values()))} |"
    needs = (TEXT_NEEDS, TEXT_NEEDS, SIGNS_NEED, SIGNS_NEED, "–")
    yield f"| WCAG 2.2 AA needs | {' | '.join(map(str, needs))} |"


if __name__ == "__main__":
    print(*rows(measured()), sep="\n")
    for cones in ("", *DICHROMACIES):
        apart, where = closest_pots(cones)
        print(f"closest two pots, {cones or 'all cones'}: CIEDE2000 {apart:.1f} ({where})")
