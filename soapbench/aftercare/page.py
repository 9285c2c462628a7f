"""What the aftercare screen says, worked out as plain text; no widget in here."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from soapbench.aftercare.cure import doubts
from soapbench.aftercare.cutreview import ASH, MOST_BARS
from soapbench.aftercare.due import (
    Due,
    curve,
    due,
    due_words,
    forced_words,
    ready,
    weighings,
)
from soapbench.aftercare.practice import Practice
from soapbench.aftercare.resting import Resting
from soapbench.reading.safetext import clean
from soapbench.words import numbers
from soapbench.words.curing import heats_itself, sprayed
from soapbench.words.days import day_words, when_words
from soapbench.words.events import FINISHED, GEL_CHOSEN, GEL_REACHED
from soapbench.words.review import shown

ASH_OFF = "harmless. Steam it, wipe it with a damp cloth, or plane it off."
"""How soda ash is taken off: common practice, no source."""
Section = tuple[str, list[str]]
"""A heading and its lines."""


def sections(batch: Resting, practice: Practice, now: datetime) -> list[Section]:
    """What is due and what was done, for the screen's body; the drying curve comes apart."""
    todo = due_lines(due(batch, practice), now)
    source = f"Times: {practice.rule}; i says where they come from."
    body: list[Section] = [("Due", [*todo, source])]
    if batch.cut is None:
        body.append(("Gel", gel_lines(batch, practice)))
    body.append(("Done", done_lines(batch, now)))
    if batch.cut is not None:
        body.append(("Cure", cure_lines(batch, practice, now)))
    return body


def due_lines(items: Sequence[Due], now: datetime) -> list[str]:
    live = [d for d in items if not (d.lapses and d.closes is not None and d.closes < now)]
    return [due_words(d, now) + (f" ({d.why})" if d.why else "") for d in live] or ["Nothing more."]


def gel_lines(batch: Resting, practice: Practice) -> list[str]:
    """Gel as chosen and as seen, how a forced one is kept warm, what one half way leaves."""
    if batch.cooked:
        return ["Cooked: it has gelled."]
    reached = GEL_REACHED.get(batch.gel_reached, "not checked yet")
    trouble = f"; {batch.gel_trouble}" if batch.gel_trouble else ""
    lines = [f"Gel {GEL_CHOSEN[batch.gel]}, {reached}{trouble}."]
    if batch.gel == "force" and batch.gel_reached not in ("", "to the edges"):
        lines.append(f"Keep it warm: {forced_words(batch, practice)}.")
    if batch.heats and batch.unmoulded is None:
        lines.append(heats_itself(batch.heats))
    if batch.gel_reached in ("the middle only", "half way"):
        lines.append("If it stops here it leaves a darker oval inside; the soap is sound.")
    return lines


def done_lines(batch: Resting, now: datetime) -> list[str]:
    """What was done so far, one line."""
    done = [f"poured {when_words(batch.poured, now)}"]
    if batch.sprayed:
        done.append(sprayed(len(batch.sprayed), when_words(batch.sprayed[-1], now)))
    finished = [(FINISHED[act], at) for act, at in batch.finished]
    steps = [("unmoulded", batch.unmoulded), ("cut", batch.cut), *finished, ("closed", batch.cured)]
    for word, at in steps:
        if at is not None:
            done.append(f"{word} {when_words(at, now)}")
    if batch.verdict:
        done.append(f"your verdict: {shown(clean(batch.verdict, 40))}")
    if batch.set_aside:
        done.append("set aside, teaches nothing")
    return ["; ".join(done) + "."]


def cure_lines(batch: Resting, practice: Practice, now: datetime) -> list[str]:
    """Weighings, the fit and when it is about ready, in words."""
    lines = []
    if batch.weighed:
        first, last = batch.weighed[0][1], batch.weighed[-1][1]
        if len(batch.weighed) == 1:
            lines.append(f"1 weighing: {numbers.written_g(first)}.")
        else:
            lost = f"{(last - first) / first * 100:+.1f} %"
            lines.append(
                f"{len(batch.weighed)} weighings: {first:,g} → {numbers.written_g(last)} ({lost})."
            )
    drying = curve(batch)
    if drying is not None:
        lines.append(
            f"Expect it to end {numbers.g(drying.loss_g, 0)} lighter "
            f"({numbers.share(drying.share, 1)}; all its water is "
            f"{numbers.share(drying.water_share, 1)})."
        )
    if (ends := ready(batch, practice)) is not None:
        span = ""
        if ends.latest > ends.earliest:
            span = f" ({day_words(ends.earliest, now)} to {day_words(ends.latest, now)})"
        lines.append(f"Ready around {day_words(ends.about, now)}{span}: {ends.rests_on}.")
    if batch.ash in ASH[1:]:
        lines.append(f"Soda ash, {batch.ash}: {ASH_OFF}")
    return [*lines, *(f"! {doubt}" for doubt in doubts(weighings(batch), batch.water_share))]


def bars_weighed(written: str) -> tuple[str, int]:
    """The weight of "1219/10", and of how many bars it is; 0: not said."""
    weight, _, count = written.partition("/")
    count = count.strip().removesuffix("bars").strip()
    if count.isascii() and count.isdigit() and 1 <= int(count) <= MOST_BARS:
        return weight, int(count)
    return written, 0


def grams(written: str, most: float) -> tuple[float, str]:
    """A weighing as typed: g, and why it cannot be one (empty when it can).

    A bare number is g; other units are read too. ``most``: what all the batter weighed.
    """
    from soapbench.reading.units import Measure, QuantityError, read

    text = written.strip()
    if re.fullmatch(r"\d+(?:[.,]\d+)?", text):
        text = f"{text.replace(',', '.')} g"
    try:
        g = read(text, Measure.MASS)
    except QuantityError as error:
        return 0.0, str(error)
    if not 0 < g <= most:
        return 0.0, f"{numbers.written_g(g)} cannot be: all the batter weighed {numbers.g(most, 0)}"
    return g, ""


SOURCE_HEADS = {
    "spray": "Alcohol against soda ash",
    "gel": "Gel",
    "unmould": "Unmoulding",
    "cut": "Cutting",
    "cure": "Cure",
    "weigh": "Weighing",
    "finish": "Finishing touches",
    "recipe": "Brittle, salty, soft soap",
    "keeps": "How long bars keep",
    "heat": "when heat is safe again",
    "forced": "how warm, when forced",
    "forgotten": "when it leaves the list",
    "dry": "when bars are dry",
}
"""What the tables of times are about, and the tables inside them."""


def sources_page(tables: Mapping[str, Any]) -> str:
    """Where the times on this screen come from, once, as the table marks them."""
    lines = ["WHERE THESE TIMES COME FROM"]
    for name, entry in tables.items():
        if not isinstance(entry, Mapping):
            continue
        source = entry.get("source", tables.get("source", ""))
        verified = entry.get("verified", tables.get("verified", ""))
        lines.append(f"  {_head(name):<27}{_marks(source, verified)}")
        for inner, part in entry.items():
            if isinstance(part, Mapping) and "source" in part:
                marks = _marks(part["source"], part.get("verified", verified))
                lines.append(f"    {_head(inner):<25}{marks}")
    lines += ["", "Your own times override ours: tables/aftercare.toml in your bench folder."]
    return "\n".join(lines)


def _head(name: str) -> str:
    return SOURCE_HEADS.get(name, name.replace("_", " "))


def _marks(source: str, verified: str) -> str:
    """Where a time is from and how far that was looked up; once, where both say the same."""
    return source if verified in source else f"{source}; {verified}"
