"""Ingredients by what lye made of the oils: worked examples, and nothing gained or lost."""

from __future__ import annotations

import periodictable
import pytest

from soapbench.bench import tables
from soapbench.papers.saponified import GLYCERIN_G_MOL, made_of, soap_line
from soapbench.reading.entries import Labelled
from soapbench.recipe.amounts import amounts
from tests.plans import EVERYTHING, plan

LABELS = {name: facts.inci for name, facts in tables.oils().items()}


def test_a_worked_example() -> None:
    """1 kg of olive oil, value 190 mg KOH/g, superfat 5 %, by hand with IUPAC's atomic weights from
    the periodictable library: 950 g of fat need 3.217 mol, 128.7 g of NaOH, and give up 98.8 g of
    glycerin."""
    naoh, koh = (periodictable.formula(name).mass for name in ("NaOH", "KOH"))
    assert pytest.approx(periodictable.formula("C3H8O3").mass, abs=0.01) == GLYCERIN_G_MOL
    soaps, glycerin = made_of([("olive", 1000.0, 190.0)], 0.95)
    mol = 950 * 0.190 / koh
    assert mol == pytest.approx(3.217, abs=0.001)
    assert glycerin == pytest.approx(98.76, abs=0.05)
    assert soaps == {("Sodium", "olive"): pytest.approx(979.9, abs=0.1)}
    assert sum(soaps.values()) + glycerin == pytest.approx(950 + mol * naoh, abs=0.05)


def test_potassium_soap_weighs_more_and_both_are_named() -> None:
    oil = [("olive", 1000.0, 190.0)]
    sodium, potassium = (made_of(oil, 1.0, part)[0] for part in (0.0, 1.0))
    both, glycerin = made_of(oil, 1.0, 0.25)
    assert potassium["Potassium", "olive"] > sodium["Sodium", "olive"]
    assert set(both) == {("Sodium", "olive"), ("Potassium", "olive")}
    assert both["Potassium", "olive"] == pytest.approx(0.25 * potassium["Potassium", "olive"])
    assert glycerin == pytest.approx(made_of(oil, 1.0)[1]), "glycerin is the fat's own"


def test_the_line_heaviest_first_with_additives_named() -> None:
    """Descending weight (Regulation (EC) 1223/2009, Art. 19(1)(g), from memory); an additive by its
    labelling name, oil that stays oil by its own, an oil that no table knows by what it is."""
    weighed = amounts(plan(EVERYTHING), tables.oils(), tables.colourants(), tables.additives())
    rest = {
        "Aqua": weighed.water_g,
        "Caprae Lac": weighed.additives[0].g,
        "Mel": weighed.additives[1].g,
    }
    line = soap_line(weighed, 0.0, LABELS, rest)
    assert line == (
        "Sodium Olivate, Sodium Cocoate, Aqua, Glycerin, Caprae Lac, Olea Europaea Fruit Oil, Mel, "
        "Cocos Nucifera Oil"
    )
    unknown = {**LABELS, "olive": Labelled("Olea Europaea Fruit Oil")}
    assert "Sodium soap of olive" in soap_line(weighed, 0.0, unknown, rest)
    assert "Sodium Hydroxide" not in line, "it is used up"


def test_every_oil_names_its_soap_and_says_it_is_not_verified() -> None:
    for name, label in LABELS.items():
        assert label.soap, name
        assert label.verified == "from memory, not verified"
