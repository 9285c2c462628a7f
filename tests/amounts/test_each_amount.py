"""Each figure of the amounts by itself, worked by hand, from plans with one thing changed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from amounts_kit import plan, pot

from soapbench.bench import tables
from soapbench.recipe.amounts import Amounts, FragranceAmount, amounts
from soapbench.recipe.lye import KOH, NAOH, peak_c, solution_ml

OILS, COLOURANTS, ADDITIVES = tables.oils(), tables.colourants(), tables.additives()
LYE = {"purity": "98 %", "superfat": "5 %", "concentration": "33 %"}


def worked(**changed: Any) -> Amounts:
    return amounts(plan(**changed), OILS, COLOURANTS, ADDITIVES)


def fragrance(name: str, load: str, *pots: str, **more: str) -> dict[str, Any]:
    return {"name": name, "load": load, "goes_into": list(pots), **more}


def test_a_fragrance_is_over_its_limit_past_it_and_not_at_it() -> None:
    weighed = FragranceAmount("Fig", 10.0, 10.0, ("base",), 0.02, 0.03, limit=0.03)
    assert not weighed.over
    assert replace(weighed, share_cured=0.0301).over
    assert not replace(weighed, share_fresh=0.5).over, "the dried bar counts"
    assert not replace(weighed, share_cured=1.0, limit=None).over
    assert replace(weighed, limit=0.0).over


def test_what_is_dissolved_in_what_water_makes_the_lye_as_strong_as_it_is_made() -> None:
    """Lye of 33 % with 150 g of milk, 87 % of it water, held back until emulsion."""
    plain, milk = worked(), worked(additives=[{"name": "goat milk", "dose": "150 g",
                                               "goes_in": "emulsion"}])  # fmt: skip
    assert plain.lye_strength == pytest.approx(0.33)
    assert milk.concentration == pytest.approx(0.33)
    left = milk.all_water_g - 0.87 * 150
    assert milk.lye_strength == pytest.approx(milk.pure_g / (milk.pure_g + left))
    none = worked(additives=[{"name": "goat milk", "dose": "400 g", "goes_in": "emulsion"}])
    assert none.dissolving_g < 0
    assert none.lye_strength == 1.0, "no water is left to dissolve it in"


def test_the_lye_is_measured_as_it_is_made_with_as_much_water_as_alkali_at_least() -> None:
    got = worked()
    assert got.lye_solution_ml == pytest.approx(
        solution_ml({NAOH: got.naoh_g}, got.dissolving_g, 30.0)
    )
    none = worked(additives=[{"name": "goat milk", "dose": "400 g", "goes_in": "emulsion"}])
    assert none.lye_solution_ml == pytest.approx(solution_ml({NAOH: none.naoh_g}, none.naoh_g, 30))


def test_the_lye_warms_by_what_goes_into_its_water_and_not_by_what_goes_in_later() -> None:
    """Ice, and citric acid, three protons of 192.124 g/mol."""
    later = {"goes_in": "emulsion"}
    acid = [{"name": "citric acid", "dose": "20 g"}]
    got = worked(additives=acid)
    assert got.lye_peak_c == pytest.approx(
        peak_c({NAOH: got.pure_g}, got.dissolving_g, 20.0, acid_mol=20 * 3 / 192.124), rel=1e-5
    )
    got = worked(additives=[acid[0] | later])
    assert got.lye_peak_c == pytest.approx(peak_c({NAOH: got.pure_g}, got.dissolving_g, 20.0))
    ice = {"name": "ice", "goes_in": "lye water"}
    iced = worked(additives=[ice | {"dose": "100 g"}])
    by_hand = peak_c({NAOH: iced.pure_g}, iced.dissolving_g, 20.0, ice_g=100.0)
    assert iced.lye_peak_c == pytest.approx(by_hand)
    assert iced.lye_peak_c < worked().lye_peak_c - 15.0
    most = worked(additives=[ice | {"dose": "800 g"}])
    water = most.dissolving_g
    assert water < 800.0
    expected = peak_c({NAOH: most.pure_g}, water, 20.0, ice_g=water)
    assert most.lye_peak_c == pytest.approx(expected), "no more melts than there is water"


def test_saturated_fat_is_the_mean_by_share() -> None:
    """By certificates: 70 % of the oils with 20 %, 30 % with 60 %: 32 %."""
    oils = [
        {"name": "one", "share": "70 %", "saponification": "190 mg/g", "saturated": "20 %"},
        {"name": "two", "share": "30 %", "saponification": "200 mg/g", "saturated": "60 %"},
    ]
    got = worked(oils=oils)
    assert got.saturated == pytest.approx(0.7 * 0.2 + 0.3 * 0.6)
    assert [oil.g for oil in got.oils] == pytest.approx([0.7 * got.oils_g, 0.3 * got.oils_g])


def test_fragrances_of_two_pots_each_by_its_own_density_and_the_strictest_share_of_them() -> None:
    two = [
        fragrance("Fig", "4 %", "base", density="0.90 g/mL"),
        fragrance("Tar", "2 %", "foam", density="1.10 g/mL"),
    ]
    got = worked(fragrance=two)
    fig, tar = got.fragrances
    assert (fig.g, tar.g) == pytest.approx((0.04 * 800, 0.02 * 200), rel=0.02)
    assert (fig.ml, tar.ml) == pytest.approx((fig.g / 0.90, tar.g / 1.10))
    assert (fig.pots, tar.pots) == (("base",), ("foam",))
    assert got.fragrance_g == pytest.approx(fig.g + tar.g)
    assert got.fragrance_share_of_product == fig.share_cured > tar.share_cured
    for one, name in ((fig, "base"), (tar, "foam")):
        mixed = got.pot(name)
        assert mixed.name == name
        assert one.share_fresh == pytest.approx(one.g / mixed.g)
        dry = 1 - got.all_water_g / got.batter_g
        assert one.share_cured == pytest.approx(one.g / (mixed.g * dry))
    assert worked(fragrance=None).fragrance_share_of_product == 0.0
    absurd = worked(fragrance={"name": "Fig", "load": "100 %"})
    assert absurd.fragrances[0].share_cured <= 1.0


def test_moulds_are_filled_by_as_much_more_as_there_is() -> None:
    """Moulds of 1000 mL and 200 mL wanted at 90 % and 80 %: 1060 mL, and what there is of it."""
    moulds = [{"volume": "1 L", "fill": "90 %"}, {"volume": "200 mL", "fill": "80 %"}]
    got = worked(mould=moulds)
    part = got.batter_ml / 1060.0
    assert [m.brim_ml for m in got.moulds] == [1000.0, 200.0]
    assert [m.ml for m in got.moulds] == pytest.approx([900.0 * part, 160.0 * part])
    assert [m.pots for m in got.moulds] == [(), ()]
    assert got.mould_ml == pytest.approx(1200.0)
    assert got.fill == pytest.approx(got.batter_ml / 1200.0)


def test_each_mould_takes_its_pots_and_the_embeds_that_lie_in_it() -> None:
    moulds = [
        {"volume": "2 L", "fill": "90 %", "pots": ["base"]},
        {"volume": "1 L", "fill": "50 %", "pots": ["foam"]},
    ]
    embeds = [{"volume": "80 mL", "name": "moon", "mould": "1"}]
    got = worked(mould=moulds, embeds=embeds)
    assert [m.pots for m in got.moulds] == [("base",), ("foam",)]
    assert [m.ml for m in got.moulds] == pytest.approx(
        [got.pot("base").ml + 80.0, got.pot("foam").ml]
    )
    assert got.fill == pytest.approx((got.batter_ml + 80.0) / 3000.0)


def test_alkalis_are_told_where_there_is_any_to_weigh() -> None:
    got = worked()
    assert got.alkalis == ((NAOH, got.naoh_g),)
    koh = worked(lye={"alkali": "KOH", "purity": "90 %"})
    assert koh.alkalis == ((KOH, koh.koh_g),)
    both = worked(lye={"alkali": "both", "koh_share": "10 %", "koh_purity": "90 %", **LYE})
    assert both.alkalis == ((NAOH, both.naoh_g), (KOH, both.koh_g))


def test_without_tables_of_colours_and_additives_the_usual_is_taken() -> None:
    colour = {"name": "stardust", "dose": "10 mL", "disperse_in": "oil"}
    changed: dict[str, Any] = {
        "pots": [pot("base", 80, colour), pot("foam", 20)],
        "additives": [{"name": "moondust", "dose": "5 g", "goes_in": "emulsion"}],
    }
    of = plan(**changed)
    bare, whole = amounts(of, OILS), amounts(of, OILS, COLOURANTS, ADDITIVES)
    assert bare.batter_g == pytest.approx(whole.batter_g)
    assert [a.facts.known for a in bare.additives] == [False]
    assert bare.pots[0].colourants[0].g == whole.pots[0].colourants[0].g > 0


def test_oil_for_colour_on_top_is_told_apart_from_oil_held_back() -> None:
    colour = {"name": "clay", "dose": "10 mL", "disperse_in": "oil", "liquid": "20 mL"}
    on_top = worked(pots=[pot("base", 80, colour), pot("foam", 20)])
    assert [oil.name for oil in on_top.extra_oils] == ["olive"]
    assert on_top.extra_oils[0].g == pytest.approx(20 * on_top.oils[0].density)
    assert on_top.held_back == ()
    held = worked(pots=[pot("base", 80, colour | {"oil_from": "recipe"}), pot("foam", 20)])
    assert held.extra_oils == ()
    assert [one.oil for one in held.held_back] == ["olive"]
    dry = worked(pots=[pot("base", 80, colour | {"disperse_in": "water"}), pot("foam", 20)])
    assert (dry.extra_oils, dry.held_back) == ((), ())
