"""Additives, ready-made lye, several moulds and embeds: what they change and what adds up."""

from __future__ import annotations

import textwrap
from typing import Any

import periodictable
import pytest
from amounts_kit import plan, pot
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.bench import tables
from soapbench.bench.planfile import plan_from_text
from soapbench.plan.reader import read_tables
from soapbench.reading.faults import FileFaults
from soapbench.recipe.additives import AdditiveFacts, additive_table, placed
from soapbench.recipe.amounts import Amounts, amounts, pot_ml
from soapbench.recipe.cautions import cautions
from soapbench.recipe.lye import MELTING_ICE_J_G, NAOH, NEUTRALISING_J_MOL, peak_c
from soapbench.recipe.problems import problems
from soapbench.recipe.severity import Severity
from soapbench.swirls.stages import stages
from tests.plans import THREE_POTS

ADDITIVES = tables.additives()
ACIDS = {"citric acid": ("C6H8O7", 3, 1.0), "vinegar": ("C2H4O2", 1, 0.05)}


def worked(**changed: Any) -> Amounts:
    return amounts(plan(**changed), tables.oils(), tables.colourants(), ADDITIVES)


def with_(name: str, dose: str, **more: Any) -> dict[str, Any]:
    return {"additives": [{"name": name, "dose": dose, **more}]}


def severities(**changed: Any) -> dict[str, Severity]:
    any_plan, weighed = plan(**changed), worked(**changed)
    listed = (*problems(any_plan, weighed, tables.cautions()),
             *cautions(any_plan, weighed, tables.cautions()))  # fmt: skip
    return {c.id: c.severity for c in listed}


@pytest.mark.parametrize("acid", ACIDS)
def test_an_acid_uses_up_lye_by_its_molar_mass(acid: str) -> None:
    """Molar masses by the periodictable library; protons given up: textbooks, from memory."""
    formula, protons, share = ACIDS[acid]
    g = 20.0
    naoh = protons * share * g / periodictable.formula(formula).mass
    naoh *= periodictable.formula("NaOH").mass
    plain, got = worked(), worked(**with_(acid, f"{g} g"))
    assert got.naoh_g - plain.naoh_g == pytest.approx(naoh / 0.98, rel=1e-4)
    assert got.superfat.mid == pytest.approx(plain.superfat.mid)
    assert [p.superfat.mid for p in got.pots] == pytest.approx([0.05, 0.05])


def test_an_acid_in_one_pot_leaves_the_others_lye_heavy() -> None:
    got = worked(**with_("citric acid", "60 g", goes_in=["foam"]))
    base, foam = got.pots
    assert base.superfat.mid < 0 < foam.superfat.mid
    assert severities(**with_("citric acid", "60 g", goes_in="foam"))["superfat-of-pot"] == "stop"


def test_milk_takes_the_place_of_water_in_part_or_whole() -> None:
    """120 mL at 1.03 g/mL, 87 % of it water: common practice, from memory."""
    plain, got = worked(), worked(**with_("goat milk", "120 mL"))
    milk_g = 120 * 1.03
    assert got.additives[0].g == pytest.approx(milk_g)
    assert got.lye_water_g == pytest.approx(plain.water_g - 0.87 * milk_g)
    assert got.all_water_g == pytest.approx(plain.all_water_g)
    assert got.batter_g == pytest.approx(plain.batter_g + 0.13 * milk_g)
    assert got.dissolving_g == pytest.approx(plain.dissolving_g)
    whole = worked(**with_("goat milk", f"{plain.water_g / 0.87:.6f} g"))
    assert whole.lye_water_g == pytest.approx(0, abs=1e-3)
    too_much = severities(**with_("goat milk", "400 mL"))
    assert too_much["water-over"] is Severity.IMPOSSIBLE


def test_milk_at_emulsion_is_not_there_when_the_lye_dissolves() -> None:
    got = worked(**with_("goat milk", "150 g", goes_in="emulsion"))
    assert got.dissolving_g == pytest.approx(got.all_water_g - 0.87 * 150)
    assert (
        severities(**with_("goat milk", "170 g", goes_in="emulsion"))["lye-water-short"] == "stop"
    )


def test_a_share_is_of_the_oils_and_a_raw_kind_is_found_by_its_words() -> None:
    got = worked(**with_("raw forest honey", "2 %"))
    assert got.additives[0].g == pytest.approx(20)
    assert got.additives[0].facts.name == "honey"
    assert worked(**with_("stardust", "5 g")).additives[0].facts.known is False
    assert severities(**with_("stardust", "5 g"))["additive-unknown"] is Severity.CAUTION


def test_sugars_feed_the_heat_where_it_may_gel() -> None:
    allowed = {"conditions": {"batter": "30 degC", "room": "20 degC", "gel": "allow"}}
    assert "additive-heats" in severities(**with_("honey", "2 %"), **allowed)
    assert "additive-heats" not in severities(
        **with_("honey", "2 %")
    )  # the plain plan prevents gel
    assert "additive-heats" not in severities(**with_("silk", "2 g"), **allowed)


def test_hurry_is_the_middle_of_each_kinds_range_and_1_without() -> None:
    assert worked().hurry == 1
    honey, milk = ADDITIVES["honey"], ADDITIVES["goat milk"]
    two = [{"name": "honey", "dose": "1 %"}, {"name": "goat milk", "dose": "50 g"}]
    middles = [(low * high) ** 0.5 for low, high in (honey.clock, milk.clock)]
    assert worked(additives=two).hurry == pytest.approx(middles[0] * middles[1])


def test_where_it_usually_goes_stands_in_the_plan_and_its_stages() -> None:
    several = [
        {"name": "honey", "dose": "2 %"},
        {"name": "salt", "dose": "10 g", "goes_in": ["foam"]},
        {"name": "sugar", "dose": "10 g"},
    ]
    placed_plan = placed(plan(additives=several), ADDITIVES)
    assert [a.goes_in for a in placed_plan.additives] == ["emulsion", ("foam",), "lye water"]
    listed = stages(placed_plan, pot_ml(worked(additives=several)), tables.swirls())
    words = [stage.words for stage in listed]
    emulsify = next(i for i, word in enumerate(words) if word.startswith("Emulsify"))
    assert words[emulsify + 1] == "Stir in honey"
    assert "Stir salt into foam" in words
    assert read_tables(placed_plan.as_written()) == placed_plan


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('goes_in = "bucket"', "additives[1].goes_in"),
        ('goes_in = ["rope", "oils"]', "additives[1].goes_in"),
        ('dose = "0 g"', "additives[1].dose"),
        ('dose = "300 %"', "additives[1].dose"),
        ('dosage = "3 g"', "additives[1].dosage"),
    ],
)
def test_faults_stand_at_their_line(line: str, key: str) -> None:
    dose = "" if line.startswith("dose ") else 'dose = "3 g"\n'
    text = THREE_POTS + f'[[additives]]\nname = "honey"\n{dose}{line}\n'
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "a plan", tables.oils(), tables.swirls().kinds)
    (fault,) = refused.value.faults
    assert fault.key == key
    assert fault.line is not None
    assert text.splitlines()[fault.line - 1].startswith(line.partition(" ")[0])


def test_notes_of_the_table_fit_two_lines_and_every_value_is_marked() -> None:
    for facts in {facts.name: facts for facts in ADDITIVES.values()}.values():
        assert facts.source
        assert facts.verified
        assert len(textwrap.wrap(f"{facts.name}: {facts.note}", 78)) <= 2, facts.name


def test_an_own_table_is_read_and_its_faults_told() -> None:
    marks = {"source": "label", "verified": "own"}
    good = {"malt": {"water": 0.2, "clock": [1.0, 1.5], "goes_in": "emulsion", **marks}}
    assert additive_table(good)[0]["malt"].clock == (1.0, 1.5)
    bad = {"malt": {"water": 2, "goes_in": "bucket", "acid": {"atoms": [1]}, **marks}}
    assert {fault.key for fault in additive_table(bad)[1]} == {
        "malt.water", "malt.goes_in", "malt.acid.atoms",
    }  # fmt: skip


def test_ready_made_lye_counts_its_water() -> None:
    """131.304 g of NaOH of 98 %, 128.678 g pure: 257.356 g of a solution of 50 %, half of it
    water; the recipe has 261.255 g (see test_by_hand)."""
    lye = {"superfat": "5 %", "concentration": "33 %", "stock": "50 %"}
    got = worked(lye=lye)
    assert got.naoh_g == pytest.approx(257.356, abs=0.02)
    assert got.lye_water_g == pytest.approx(261.255 - 128.678, abs=0.02)
    assert got.all_water_g == pytest.approx(261.255, abs=0.02)
    dry = worked(lye={"superfat": "5 %", "concentration": "33 %", "purity": "100 %"})
    assert got.batter_g == pytest.approx(dry.batter_g)
    assert got.batter_ml == pytest.approx(dry.batter_ml)
    # Diluting gives off much less than dissolving.
    assert 20 < got.lye_peak_c < dry.lye_peak_c - 30
    assert "water-over" in severities(lye={**lye, "stock": "30 %"})
    assert "lye-stock" in severities(lye=lye)


def test_ice_takes_up_the_heat_of_melting() -> None:
    """Heat of fusion of water by the chemicals library: 6.01 kJ/mol."""
    from chemicals import Hfus

    assert Hfus("7732-18-5") / 18.015 == pytest.approx(MELTING_ICE_J_G, rel=0.002)
    plain = peak_c({NAOH: 33}, 67, 20)
    iced = peak_c({NAOH: 33}, 67, 20, ice_g=20)
    # 20 g take 333.4 J/g to melt and 4.18 J/g/K to come to 20 degC, of 100 g at about 3.6 J/g/K.
    assert plain - iced == pytest.approx(20 * (333.4 + 20 * 4.18) / 100 / 3.6, rel=0.06)


def test_an_acid_in_the_lye_warms_it_more() -> None:
    """H+ and OH- to water: OH- -230.0 kJ/mol (CRC, from memory), water by the chemicals library."""
    from chemicals import Hfl

    assert -Hfl("7732-18-5") - 230_000 == pytest.approx(NEUTRALISING_J_MOL, rel=0.03)
    plain, acid = peak_c({NAOH: 33}, 67, 20), peak_c({NAOH: 33}, 67, 20, acid_mol=0.1)
    assert acid - plain == pytest.approx(0.1 * NEUTRALISING_J_MOL / 100 / 3.6, rel=0.06)


def test_several_moulds_are_filled_in_turn_and_embeds_take_their_room() -> None:
    shares = [{"name": "olive", "share": "100 %"}]
    moulds = [
        {"volume": "1 L", "fill": "90 %"},
        {"length": "10 cm", "width": "5 cm", "depth": "4 cm", "fill": "80 %"},
    ]
    embeds = [{"volume": "80 mL", "name": "moon"}, {"volume": "20 mL"}]
    got = worked(oils=shares, mould=moulds, embeds=embeds)
    assert got.batter_ml == pytest.approx(900 + 160 - 100)
    assert got.mould_ml == pytest.approx(1200)
    assert [m.ml for m in got.moulds] == pytest.approx([900, 160])
    assert got.fill == pytest.approx(1060 / 1200)
    pour = plan(oils=shares, mould=moulds, embeds=embeds)
    assert read_tables(pour.as_written()) == pour
    words = [s.words for s in stages(pour, pot_ml(got), tables.swirls())]
    assert words[-1] == "Lay in moon and embed 2"


def test_a_fault_in_a_further_mould_stands_at_its_line() -> None:
    text = THREE_POTS.replace("[mould]", "[[mould]]").replace(
        "[[oils]]", '[[mould]]\nvolume = "2 kg"\n[[oils]]', 1
    )
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "a plan", tables.oils(), tables.swirls().kinds)
    (fault,) = refused.value.faults
    assert fault.key == "mould[2].volume"
    assert text.splitlines()[(fault.line or 0) - 1] == 'volume = "2 kg"'


ANY = st.sampled_from(sorted({facts.name for facts in ADDITIVES.values()}))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(ANY, st.floats(0.1, 20), st.sampled_from(["emulsion", "lye water", "foam"])),
             min_size=1, max_size=4),
    st.booleans(),
)  # fmt: skip
def test_whatever_goes_in_is_in_the_pots(
    several: list[tuple[str, float, str]], by_share: bool
) -> None:
    oils = (
        [{"name": "olive", "share": "100 %"}] if by_share else [{"name": "olive", "mass": "1 kg"}]
    )
    got = worked(
        oils=oils,
        pots=[pot("base", 70), pot("foam", 30)],
        additives=[{"name": n, "dose": f"{share} %", "goes_in": to} for n, share, to in several],
    )
    assert sum(p.ml for p in got.pots) == pytest.approx(got.batter_ml)
    assert sum(p.g for p in got.pots) == pytest.approx(got.batter_g)
    weighed = got.oils_g + got.naoh_g + got.koh_g + got.water_g + got.fragrance_g
    assert weighed + sum(a.g for a in got.additives) == pytest.approx(got.batter_g)
    assert got.superfat.mid == pytest.approx(0.05)
    if by_share:
        assert got.batter_ml == pytest.approx(1500 * 0.9)


def test_an_additive_nobody_knows_changes_nothing_but_its_own_mass() -> None:
    facts = AdditiveFacts("x", known=False)
    assert (facts.clock, facts.acid_mol_g, facts.water) == ((1.0, 1.0), 0.0, 0.0)
