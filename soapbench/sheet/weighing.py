"""What the scales and the tables tell of a plan, before anything is foreseen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from soapbench.plan import Plan
from soapbench.reading.safetext import clean
from soapbench.recipe.amounts import Amounts, amounts, pot_ml
from soapbench.recipe.cautions import Caution, cautions, problems
from soapbench.recipe.colourants import ColourantFacts
from soapbench.recipe.oils import OilFacts
from soapbench.stages import left_unpoured, stages, step_problems
from soapbench.swirls import SwirlTable


@dataclass(frozen=True, slots=True)
class Weighed:
    """A plan with its amounts, what to mind and what is wrong with it: there at once."""

    plan: Plan
    amounts: Amounts
    cautions: tuple[Caution, ...]
    problems: tuple[Caution, ...]
    pourable: bool
    """Its steps can be poured as written; else ``problems`` says why not."""


def weighed(
    plan: Plan,
    oils: Mapping[str, OilFacts],
    colourants: Mapping[str, ColourantFacts],
    swirls: SwirlTable,
    texts: Mapping[str, Mapping[str, str]],
) -> Weighed:
    """``plan`` weighed out; ``texts`` is the table of cautions."""
    made = amounts(plan, oils, colourants)
    steps_wrong = step_problems(plan, swirls)
    if not steps_wrong:
        unpoured = left_unpoured(stages(plan, pot_ml(made), swirls), plan)
        steps_wrong = tuple(f"The steps never pour {pot}." for pot in unpoured)
    of_steps = (
        Caution("swirl-steps", clean(words), "the plan's own steps", "ours")
        for words in steps_wrong
    )
    return Weighed(
        plan=plan,
        amounts=made,
        cautions=cautions(plan, made, texts),
        problems=(*problems(plan, made, texts), *of_steps),
        pourable=not steps_wrong,
    )
