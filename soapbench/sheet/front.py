"""The plan sheet's front: what a screen shows of it, chance and picture first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soapbench.advice.reasons import tightest_of
from soapbench.outlook.chart import PourChart, chart
from soapbench.reading.safetext import clean, counted
from soapbench.settings import Settings
from soapbench.sheet.plansheet import PlanSheet
from soapbench.sheet.screenlines import Bar, Front
from soapbench.sheet.text import STOP_WORDS, bottles_words, details, outlook_of
from soapbench.sheet.weighing import Weighed
from soapbench.words import numbers
from soapbench.words.chances import about_words, chances_words, percent
from soapbench.words.plansheet import AMOUNTS_READY, BETTER, NOT_POURABLE
from soapbench.words.quantities import degrees

if TYPE_CHECKING:
    from soapbench.advice.changes import Together
    from soapbench.outlook.finishing import Outlook, StageOutlook

MOST_BARS, MOST_HELPS = 8, 6


def front(sheet: Weighed, width: int, settings: Settings) -> Front:
    """What a screen of ``width`` columns shows of ``sheet``; of a plan weighed out only, that."""
    outlook = outlook_of(sheet)
    whole = sheet if isinstance(sheet, PlanSheet) else None
    drawn = chart(sheet.plan.pots, outlook) if outlook else None
    others = [p for p in sheet.problems if p not in sheet.stops]
    return Front(
        title=clean(sheet.plan.title),
        facts=degrees(_facts(sheet), settings),
        chance=_large(sheet, outlook),
        planned=outlook.chance if outlook else 0.0,
        in_part=outlook.chance_in_part if outlook else 0.0,
        says=tuple(clean(sentence, 600) for sentence in _says(sheet, whole, outlook, drawn)),
        stops=tuple(degrees(clean(p.text, 600), settings) for p in sheet.stops),
        danger=bool(sheet.stops) or bool(whole and whole.in_danger),
        chart=drawn,
        bars=tuple(_bars(whole)) if whole else (),
        helps=tuple(
            (degrees(clean(help.change, 120), settings), help.chance)
            for help in (helps(whole) if whole else ())
        ),
        problems=tuple(degrees(clean(p.text, 1000), settings) for p in others),
        minded=tuple(degrees(clean(c.text, 1000), settings) for c in sheet.cautions),
        lines=tuple(details(sheet, width, settings)[1:]),
    )


def helps(sheet: PlanSheet) -> tuple[Together, ...]:
    """Changes that would help, as they are numbered."""
    return sheet.helps[:MOST_HELPS]


def _facts(sheet: Weighed) -> str:
    plan = sheet.plan
    pots = counted(len(plan.pots), "pot")
    swirl = clean(" + ".join(plan.swirl.steps), 60)
    batter = numbers.ml(sheet.amounts.batter_ml)
    return f"{swirl} · {pots} · {batter} · {numbers.celsius(plan.conditions.batter)}"


def _large(sheet: Weighed, outlook: Outlook | None) -> str:
    if sheet.stops:
        return "STOP"
    return percent(outlook.chance).replace(" ", "") if outlook else "" if sheet.pourable else "–"


def _says(
    sheet: Weighed, whole: PlanSheet | None, outlook: Outlook | None, drawn: PourChart | None
) -> list[str]:
    if sheet.stops:
        return [STOP_WORDS[sheet.impossible]]
    if not sheet.pourable:
        return [NOT_POURABLE]
    if whole is None or outlook is None:
        return [AMOUNTS_READY]
    part = f", {percent(outlook.chance_in_part)} in part" if outlook.chance_in_part >= 0.015 else ""
    sentences = [f"of such pours come out as planned{part}.", f"Going by {whole.rests_on}."]
    if whole.advice and whole.advice.warns:
        way = whole.advice.way
        sentences.append(f"{BETTER}: {way.name}, {chances_words(way)}.")
    if tight := tightest_of(outlook):
        sentences.append(tight_words(tight, outlook))
    return sentences + bottles_words(whole)


def tight_words(tight: StageOutlook, outlook: Outlook) -> str:
    """What is tightest: until when it is done, and until when its batter is safe and likely."""
    name = clean(tight.stage.step or tight.stage.words).lower()
    done = f"Tightest: {name}, done by about {about_words(tight.ends_s.p50)}"
    pots = [pot for need in tight.stage.needs for pot in need.pots if pot in outlook.window_s]
    if not pots:
        return f"{done}."
    pot = min(pots, key=lambda p: outlook.window_s[p].p50)
    window = outlook.window_s[pot]
    if not math.isfinite(window.p50):
        return f"{done}."
    safe, likely = about_words(window.p10), about_words(window.p50)
    return f"{done}; {clean(pot, 20)} is safe until {safe}, likely until {likely}."


def _bars(sheet: PlanSheet) -> list[Bar]:
    """The best ways, the plan's own always among them."""
    own = tuple(sheet.plan.swirl.steps)
    advised = sheet.advice.way.steps if sheet.advice and sheet.advice.warns else None
    bars = [
        Bar(
            clean(way.name, 60),
            way.chance,
            way.chance_in_part,
            way.minutes,
            way.steps == own,
            way.steps == advised,
        )
        for way in sheet.choices
    ]
    kept = bars[:MOST_BARS]
    if not any(bar.own for bar in kept):
        kept = [*kept[:-1], *(bar for bar in bars if bar.own)]
    return kept
