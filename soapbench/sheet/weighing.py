"""What the scales and the tables tell of a plan, before anything is foreseen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from soapbench.plan import Plan
from soapbench.reading.safetext import clean
from soapbench.recipe.additives import AdditiveFacts, placed
from soapbench.recipe.amounts import Amounts, amounts, pot_ml
from soapbench.recipe.cautions import cautions
from soapbench.recipe.colourants import ColourantFacts
from soapbench.recipe.oils import OilFacts
from soapbench.recipe.problems import problems
from soapbench.recipe.severity import Caution, Severity, may_be_poured, stops, texts_of
from soapbench.swirls.cooking import water_wanted_g
from soapbench.swirls.pouring import left_unpoured
from soapbench.swirls.stages import stages, step_problems
from soapbench.swirls.table import SwirlTable
from soapbench.words.acts import cook_water, never_poured


@dataclass(frozen=True, slots=True)
class Weighed:
    """A plan with its amounts, what to mind and what is wrong with it: there at once."""

    plan: Plan
    amounts: Amounts
    cautions: tuple[Caution, ...]
    problems: tuple[Caution, ...]
    pourable: bool
    """Its steps can be poured as written; else ``problems`` says why not."""

    @property
    def stops(self) -> tuple[Caution, ...]:
        """What stands in place of the chance, the gravest first; empty where nothing does."""
        return stops(self.problems)

    @property
    def impossible(self) -> bool:
        """It cannot be made as written, whatever is typed."""
        return any(p.severity is Severity.IMPOSSIBLE for p in self.problems)

    def may_be_poured(self, typed: str = "") -> bool:
        """Whether it may be begun by somebody who typed this in full; see ``severity.YES``."""
        return may_be_poured(self.problems, typed)


def weighed(
    plan: Plan,
    oils: Mapping[str, OilFacts],
    colourants: Mapping[str, ColourantFacts],
    swirls: SwirlTable,
    texts: Mapping[str, Mapping[str, str]],
    additives: Mapping[str, AdditiveFacts] | None = None,
) -> Weighed:
    """``plan`` weighed out; ``texts`` is the table of cautions."""
    plan = placed(plan, additives or {})
    to_weigh = amounts(plan, oils, colourants, additives)
    steps_wrong = step_problems(plan, swirls)
    if not steps_wrong:
        unpoured = left_unpoured(stages(plan, pot_ml(to_weigh), swirls), plan)
        steps_wrong = tuple(never_poured(pot) for pot in unpoured)
    of_steps = texts_of((("swirl-steps", {"words": clean(words)}) for words in steps_wrong), texts)
    return Weighed(
        plan=plan,
        amounts=to_weigh,
        cautions=(*cautions(plan, to_weigh, texts), *_of_swirls(plan, to_weigh, swirls)),
        problems=(*problems(plan, to_weigh, texts), *of_steps),
        pourable=not steps_wrong,
    )


def _of_swirls(plan: Plan, amounts: Amounts, swirls: SwirlTable) -> Iterator[Caution]:
    """What to mind with the swirls planned and wished for."""
    for name in dict.fromkeys((*plan.swirl.steps, *plan.swirl.fall_back)):
        kind = swirls.kinds[name]
        if kind.mind:
            yield Caution("swirl-" + name.replace(" ", "-"), kind.mind, kind.source, kind.verified)
        if kind.cooked and name in plan.swirl.steps:
            alkali_g = amounts.water_g * amounts.concentration / (1 - amounts.concentration)
            if (water_g := water_wanted_g(alkali_g, amounts.water_g)) > 1.0:
                text = cook_water(water_g, amounts.concentration)
                yield Caution("cook-water", text, kind.source, kind.verified)
