"""Each key of the workshop does to a plan what it says."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from soapbench.batter import Reputation
from soapbench.desk import planchanges
from soapbench.desk.draft import (
    FIRST_PLAN,
    ChangedOnDisk,
    Draft,
    file_name,
    opened,
    saved,
)
from soapbench.desk.plankeys import ADD, SIZE
from soapbench.fragrances.shelf import ShelfFragrance
from soapbench.reading.units import QuantityError
from soapbench.settings import Settings
from soapbench.words.workshop import plainly
from tests.plans import THREE_POTS, plan

METRIC, US = Settings(), Settings(units="US", temperature="°F")
FIG = ShelfFragrance("Fig", limit=0.095, reputation=Reputation.ACCELERATES, density=0.98, lot="F7")


def shares(text: str, name: str) -> list[str]:
    return [row["share"] for row in tomllib.loads(text)[name]]


def test_the_first_plan_is_sound() -> None:
    assert plan(FIRST_PLAN).title == "New plan"


@pytest.mark.parametrize(
    ("typed", "settings", "keys", "kept"),
    [
        ("25", METRIC, ("mould", "length"), "25 cm"),
        ("10", US, ("mould", "length"), "10 in"),
        ("78", US, ("conditions", "batter"), "78 °F"),
        ("78 degF", METRIC, ("conditions", "batter"), "78 degF"),
        ("12", METRIC, ("lye", "superfat"), "12 %"),
        ("no idea", METRIC, ("lye", "superfat"), "no idea"),
    ],
)
def test_a_bare_number_gets_the_makers_unit(
    typed: str, settings: Settings, keys: tuple[str, ...], kept: str
) -> None:
    text = planchanges.put(FIRST_PLAN, keys, typed, {}, settings)
    assert tomllib.loads(text)[keys[0]][keys[1]] == kept


def test_a_swapped_fragrance_brings_its_certificate_and_lot() -> None:
    text = planchanges.put(THREE_POTS, ("fragrance", "name"), "Fig", {"Fig": FIG}, METRIC)
    fragrance = plan(text).fragrance[0]
    assert (fragrance.name, fragrance.limit, fragrance.reputation, fragrance.lot) == (
        "Fig", 0.095, Reputation.ACCELERATES, "F7",
    )  # fmt: skip
    unknown = ShelfFragrance("Dill")
    bare = planchanges.put(text, ("fragrance", "name"), "Dill", {"Dill": unknown}, METRIC)
    assert plan(bare).fragrance[0].limit is None, "another fragrance's limit never stays"
    assert plan(bare).fragrance[0].lot is None


def test_a_pot_added_to_a_whole_plan_is_taken_from_the_largest() -> None:
    text = planchanges.added(THREE_POTS, ("pots",), "buoy")
    assert shares(text, "pots") == ["50 %", "20 %", "20 %", "10 %"]
    assert len(plan(text).pots) == 4


def test_a_share_is_made_up_to_the_whole() -> None:
    short = planchanges.put(FIRST_PLAN, ("oils", 0, "share"), "60", {}, METRIC)
    assert shares(planchanges.made_whole(short, ("oils", 1, "share")), "oils") == [
        "60 %",
        "35 %",
        "5 %",
    ]


def test_the_last_oil_and_pot_stay() -> None:
    text = FIRST_PLAN
    for _ in range(4):
        text = planchanges.removed(text, ("oils", 0, "name"))
        text = planchanges.removed(text, ("pots", 0, "name"))
    read = tomllib.loads(text)
    assert len(read["oils"]) == len(read["pots"]) == 1


def test_another_mould_takes_masses_and_doses_along() -> None:
    """A litre to two: by hand, each dose and mass twice over, shares as they were."""
    by_mass = THREE_POTS.replace('share = "70 %"', 'mass = "700 g"').replace(
        'share = "30 %"', 'mass = "300 g"'
    )
    text = planchanges.other_mould(by_mass, "20 x 10 x 10 cm", 1000.0, METRIC)
    read = tomllib.loads(text)
    assert [oil["mass"] for oil in read["oils"]] == ["1400 g", "600 g"]
    assert read["pots"][0]["colourants"][0]["dose"] == "2 tsp"
    assert shares(text, "pots") == ["60 %", "20 %", "20 %"]
    assert plan(text).mould.volume_ml == pytest.approx(2000)


def test_of_several_moulds_each_is_changed_by_itself() -> None:
    several = THREE_POTS.replace("[mould]", "[[mould]]").replace(
        "[[oils]]", '[[mould]]\nvolume = "200 mL"\n[[oils]]', 1
    )
    text = planchanges.put(several, ("mould", 1, SIZE), "10 x 5 x 5 cm", {}, METRIC)
    assert [mould.ml for mould in plan(text).mould.also] == pytest.approx([250])
    assert plan(text).mould.ml == pytest.approx(1000)
    with pytest.raises(QuantityError, match="several moulds"):
        planchanges.other_mould(several, "2 L", 1000.0, METRIC)


def test_another_mould_takes_additives_along() -> None:
    """Doses by mass or volume; shares of the oils follow by themselves."""
    text = THREE_POTS + '[[additives]]\nname = "aloe"\ndose = "20 g"\n'
    text += '[[additives]]\nname = "honey"\ndose = "2 %"\n'
    doses = [
        a["dose"]
        for a in tomllib.loads(planchanges.other_mould(text, "2 L", 1000.0, METRIC))["additives"]
    ]
    assert doses == ["40 g", "2 %"]


@pytest.mark.parametrize("typed", ["big", "1 x 2", "1 x 2 x 3 kg", "0 x 9 x 8 cm", "5 g"])
def test_no_mould_is_refused_with_what_would_be_right(typed: str) -> None:
    with pytest.raises(QuantityError) as refused:
        planchanges.mould_of(typed, METRIC)
    assert refused.value.right


def test_a_file_only_read_is_never_written(tmp_path: Path) -> None:
    file = tmp_path / "hand.toml"
    file.write_bytes(THREE_POTS.replace("\n", "\r\n").encode())
    was = (file.read_bytes(), file.stat().st_mtime_ns)
    draft = saved(opened(file), tmp_path, "x")
    assert (file.read_bytes(), file.stat().st_mtime_ns) == was
    assert draft.path == file


def test_a_change_from_elsewhere_is_not_written_over(tmp_path: Path) -> None:
    file = tmp_path / "hand.toml"
    file.write_text(THREE_POTS)
    mine = opened(file).to(FIRST_PLAN)
    file.write_text(THREE_POTS + "# from another program\n")
    with pytest.raises(ChangedOnDisk):
        saved(mine, tmp_path, "x")
    assert "another program" in file.read_text()
    assert saved(mine, tmp_path, "x", over=True).on_disk == FIRST_PLAN == file.read_text()


def test_a_new_plan_never_takes_another_plans_file(tmp_path: Path) -> None:
    first = saved(Draft(FIRST_PLAN), tmp_path, "Märzwind / 2")
    second = saved(Draft(THREE_POTS), tmp_path, "Märzwind / 2")
    assert first.path is not None
    assert second.path is not None
    assert (first.path.name, second.path.name) == ("marzwind_2.toml", "marzwind_2_2.toml")
    assert file_name("../../..") == "plan"


@pytest.mark.parametrize(
    ("of_a_file", "of_a_form"),
    [
        ('missing; add "share"', "missing; enter the share"),
        ('alkali = "both" and koh_share = "5 %"', "alkali both and KOH share 5 %"),
        ("koh_share goes with both alkalis", "KOH share goes with both alkalis"),
        ('give saponification = "190 mg/g"', "give SAP value 190 mg/g"),
        ('no oil is called "olve"', 'no oil is called "olve"'),
    ],
)
def test_a_form_tells_no_keys_of_the_file(of_a_file: str, of_a_form: str) -> None:
    assert plainly(of_a_file) == of_a_form


def test_a_second_mould_and_which_pots_go_into_it() -> None:
    def moulds(text: str) -> list[dict[str, object]]:
        return list(tomllib.loads(text)["mould"])

    text = planchanges.put(FIRST_PLAN, ("mould", ADD), "30 x 5 x 4 cm", {}, METRIC)
    first, second = moulds(text)
    assert first == tomllib.loads(FIRST_PLAN)["mould"]
    assert second == {"length": "30 cm", "width": "5 cm", "depth": "4 cm"}
    chosen = planchanges.put(text, ("mould", 1, "pots"), "base", {}, METRIC)
    assert moulds(chosen)[1]["pots"] == ["base"]
    in_turn = planchanges.put(chosen, ("mould", 1, "pots"), "", {}, METRIC)
    assert "pots" not in moulds(in_turn)[1]
    assert moulds(planchanges.removed(text, ("mould", 1, SIZE))) == [first]
    assert planchanges.removed(text, ("mould", 0, SIZE)) == text
