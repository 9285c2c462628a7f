"""The plan sheet: a plan with its amounts, its outlook and what to mind, as one value.

The app's sheet, ``soapbench check`` and its JSON are three ways of showing this value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from soapbench.outlook.worth import WORTH_POURING
from soapbench.plan import Plan
from soapbench.reading.safetext import counted
from soapbench.sheet.weighing import Weighed, weighed
from soapbench.words import chances as words

if TYPE_CHECKING:
    from soapbench.advice.advise import Advice
    from soapbench.advice.changes import Together
    from soapbench.advice.known import Known
    from soapbench.advice.ways import SwirlChoice
    from soapbench.outlook.finishing import Outlook


SEIZES_FROM = 0.08
"""Chance that a fragrance seizes from which it is said (ours)."""


@dataclass(frozen=True, slots=True)
class Bottle:
    """What one fragrance of a plan may do besides hurrying the batter."""

    fragrance: str
    lot: str | None
    new: bool
    """Its fragrance was used before, this bottle never was."""
    unnamed: bool
    """Its fragrance was used before from named bottles; which this one is, the plan does not say.
    It is foreseen as a new one is."""
    seizes: float
    """Chance that it seizes."""
    seized: int
    batches: int
    """In how many of the maker's batches with it."""

    @property
    def says(self) -> tuple[str, ...]:
        """What is worth a word before the pour."""
        sentences = []
        if self.new and self.lot:
            sentences.append(words.new_bottle(self.fragrance, self.lot))
        if self.unnamed:
            sentences.append(words.which_bottle(self.fragrance))
        if self.seizes >= SEIZES_FROM:
            sentences.append(
                words.may_seize(self.fragrance, self.seizes, self.seized, self.batches)
            )
        return tuple(sentences)


@dataclass(frozen=True, slots=True)
class PlanSheet(Weighed):
    """Everything known of a plan before it is poured."""

    outlook: Outlook | None
    """None: its steps cannot be poured as written."""
    choices: tuple[SwirlChoice, ...]
    levers: tuple[Together, ...]
    """Changes that alone give the plan's own swirl a better chance, best first."""
    advice: Advice | None
    """None: its steps cannot be poured as written."""
    rests_on: str
    bottles: tuple[Bottle, ...] = ()
    together: tuple[Together, ...] | None = None
    """The smallest sets of changes that make the wish worth pouring, or the best there is; empty:
    it is worth pouring, or nothing helps. None: not worked out, see ``with_together``."""

    @property
    def helps(self) -> tuple[Together, ...]:
        """What would help: sets that make the wish worth pouring first, then what helps alone."""
        sets = self.together or ()
        listed = {one.changes for one in sets}
        return (*sets, *(one for one in self.levers if one.changes not in listed))

    @property
    def in_danger(self) -> bool:
        """There is something better to pour, or the wish is not worth pouring as it is."""
        return self.advice is not None and (
            self.advice.warns or self.advice.going_on.worth < WORTH_POURING
        )

    @property
    def fine(self) -> bool:
        return not self.problems and not self.in_danger


def plan_sheet(
    plan: Plan, known: Known, texts: Mapping[str, Mapping[str, str]], levers: bool = True
) -> PlanSheet:
    """The sheet of ``plan``; ``texts`` is the table of cautions."""
    return foreseen_sheet(
        weighed(plan, known.oils, known.colourants, known.swirls, texts, known.additives),
        known,
        levers,
    )


def foreseen_sheet(ready: Weighed, known: Known, levers: bool = True) -> PlanSheet:
    """The sheet of a plan that has been weighed out from the tables of ``known``."""
    from soapbench.advice.changes import levers as levers_of
    from soapbench.advice.foreseen import Foreseen

    foreseen = Foreseen(ready.plan, known, ready.amounts)
    choices = foreseen.choices() if ready.pourable else []
    outlook = foreseen.outlook() if ready.pourable else None
    return PlanSheet(
        plan=ready.plan,
        amounts=ready.amounts,
        cautions=ready.cautions,
        problems=ready.problems,
        pourable=ready.pourable,
        outlook=outlook,
        choices=tuple(choices),
        levers=tuple(levers_of(ready.plan, known, outlook.chance)) if levers and outlook else (),
        advice=foreseen.advice(choices, outlook) if outlook else None,
        rests_on=_rests(ready.plan, known),
        bottles=_bottles(ready.plan, known),
    )


def with_together(sheet: PlanSheet, known: Known) -> PlanSheet:
    """The sheet with the changes that help together; some tenths of a second where they do."""
    from soapbench.advice.changes import changes_together

    if sheet.outlook is None:
        return replace(sheet, together=())
    sets = changes_together(sheet.plan, known, sheet.outlook.worth)
    return replace(sheet, together=sets)


NONE_YET = "a rule of thumb, for there is no batch of yours yet"


def _rests(plan: Plan, known: Known) -> str:
    if not plan.fragrance:
        count = known.fit.batches
        return f"{counted(count, 'batch', 'batches')} of yours" if count else NONE_YET
    parts = []
    for fragrance in plan.fragrance:
        learnt = known.fit.fragrances.get(fragrance.name)
        word = known.fit.by_others.get(fragrance.name)
        batches, others = learnt.batches if learnt else 0, word.batches if word else 0
        parts.append(words.rests_on(batches, fragrance.reputation.value, others))
    return "; ".join(dict.fromkeys(parts))


def _bottles(plan: Plan, known: Known) -> tuple[Bottle, ...]:
    from soapbench.thickening.fragrance import new_bottle, seizes

    bottles = []
    for word in (fragrance.word for fragrance in plan.fragrance):
        before = known.fit.fragrances.get(word.name)
        named = before is not None and any(lot.name for lot in before.lots)
        bottles.append(
            Bottle(
                word.name,
                word.lot,
                new=bool(word.lot) and named and new_bottle(known.fit, word),
                unnamed=not word.lot and named,
                seizes=seizes(known.fit, word),
                seized=before.seized if before else 0,
                batches=before.batches if before else 0,
            )
        )
    return tuple(bottles)
