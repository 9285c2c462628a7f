"""The maker's own tables in a bench, sound and faulty."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from soapbench.batter import Reputation
from soapbench.bench import tables
from soapbench.reading.faults import Fault, FileFaults

MARULA = """
[marula]
aliases = ["marula oil"]
saponification.mg_koh_g = [188, 199]
density = { g_ml = 0.91, at_c = 20 }
[olive]
source = "certificate of lot 7 (invented)"
verified = "read on it"
saponification.mg_koh_g = 191.5
"""
READERS = {
    "oils.toml": tables.oils,
    "colourants.toml": tables.colourants,
    "fragrances.toml": tables.fragrances,
    "swirls.toml": tables.swirls,
}


def attempt(bench: Path, name: str) -> tuple[Any, tuple[Fault, ...]]:
    """What a bench's table reads as, or its faults."""
    try:
        return READERS[name](bench), ()
    except FileFaults as found:
        return None, found.faults


def test_own_oils_are_added_and_replace(tmp_path: Path) -> None:
    (tmp_path / "oils.toml").write_text(MARULA, "utf-8")
    oils = tables.oils(tmp_path)
    assert oils["marula oil"] is oils["marula"]
    assert oils["marula"].saponification.source == tables.OWN_MARKS["source"]
    assert oils["olive"].saponification.mid == 191.5
    assert oils["olive"].saponification.verified == "read on it"
    assert oils["olive oil"].saponification.mid == 190, "an alias still means the packaged oil"
    assert tables.oils()["olive"].saponification.mid == 190, "only in that bench"
    assert oils["coconut"].saponification.mid == 256.5


def test_own_colourants_and_fragrances(tmp_path: Path) -> None:
    (tmp_path / "colourants.toml").write_text('[ochre]\nbulk_g_ml = 0.9\nlook = "#c08a3e"\n')
    (tmp_path / "fragrances.toml").write_text(
        '["Kelp & Fig"]\nlimit_percent = 9.5\nreputation = "accelerates"\n'
    )
    assert tables.colourants(tmp_path)["ochre"].bulk_g_ml == 0.9
    assert "mica" in tables.colourants(tmp_path)
    fig = tables.fragrances(tmp_path)["Kelp & Fig"]
    assert (fig.limit, fig.reputation, fig.density) == (0.095, Reputation.ACCELERATES, None)
    assert tables.fragrances() == {}


def test_every_fault_at_its_line(tmp_path: Path) -> None:
    (tmp_path / "oils.toml").write_text(
        "[olive]\nsaponification.mg_koh_g = [196, 184]\niodin = 3\n\n[shea]\n\n"
        '["my lard"]\nsaponification.mg_koh_g = "190"\n'
    )
    with pytest.raises(FileFaults) as caught:
        tables.oils(tmp_path)
    assert [(f.key, f.line) for f in caught.value.faults] == [
        ("olive.iodin", 3),
        ("olive.saponification.mg_koh_g", 2),
        ("shea.saponification", 5),
        ("my lard.saponification.mg_koh_g", 8),
    ]
    assert "iodine" in caught.value.faults[0].right


@pytest.mark.parametrize(
    ("line", "key", "right"),
    [
        ('cooked = "yes"', "swirl.comb.cooked", "true"),
        ("least_pots = 2.5", "swirl.comb.least_pots", "1 to 12"),
        ("least_pots = 4\nmost_pots = 3", "swirl.comb.most_pots", "4 to 12"),
        ('moves = [{ do = "comb", hand = ["thick trace", "light trace"], median_s = 20 }]',
         "swirl.comb.moves[1].hand", '["light trace", "thick trace"]'),
        ('moves = [{ do = "comb", median_s = 20, per_pot = 1 }]',
         "swirl.comb.moves[1].per_pot", "true"),
    ],
)  # fmt: skip
def test_faults_in_a_swirl_of_ones_own(tmp_path: Path, line: str, key: str, right: str) -> None:
    moves = "" if "moves" in line else 'moves = [{ do = "comb", median_s = 20 }]\n'
    text = f'[swirl.comb]\nsays = "a comb drawn through"\nrole = "tool"\n{moves}{line}\n'
    (tmp_path / "swirls.toml").write_text(text, "utf-8")
    _, faults = attempt(tmp_path, "swirls.toml")
    assert [fault.key for fault in faults] == [key]
    assert right in faults[0].right


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("text", ["[[[", "x = 1", 'olive = "190"', "", "\ud800", "[a]\n[a]"])
def test_odd_files_are_faults_or_nothing(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / name).write_bytes(text.encode("utf-8", "surrogatepass"))
    read, faults = attempt(tmp_path, name)
    assert faults or read == READERS[name]()
    assert text != "" or not faults, "an empty table adds nothing and is no fault"


@pytest.mark.parametrize("name", READERS)
def test_a_folder_or_nothing_in_place_of_a_table(tmp_path: Path, name: str) -> None:
    assert READERS[name](tmp_path) == READERS[name]()
    (tmp_path / name).mkdir()
    with pytest.raises(FileFaults):
        READERS[name](tmp_path)


VALUE = st.recursive(
    st.sampled_from(
        ["1", "-1", "nan", "inf", '"x"', "true", "1979-05-27", "[1, 2]", "190.5", "{}"]
    ),
    lambda inner: st.builds("[{}, {}]".format, inner, inner),
    max_leaves=4,
)
KEY = st.sampled_from(
    [
        "saponification", "saponification.mg_koh_g", "iodine.g_100g", "density", "density.relative",
        "density.at_c", "density.water_c", "fatty_acids", "fatty_acids.percent",
        'fatty_acids.percent."18:1"', "saturated.share", "aliases", "document", "source",
        "verified", "bulk_g_ml", "solid_g_ml", "disperse_in", "look", "glycerin_rivers", "note",
        "limit_percent", "reputation", "density_g_ml",
    ]
)  # fmt: skip


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.sampled_from(["oils.toml", "colourants.toml", "fragrances.toml"]),
       st.lists(st.tuples(KEY, VALUE), max_size=4))  # fmt: skip
def test_no_table_breaks_the_reader(
    tmp_path: Path, name: str, lines: list[tuple[str, str]]
) -> None:
    text = "[thing]\n" + "".join(f"{key} = {value}\n" for key, value in lines)
    (tmp_path / name).write_text(text, "utf-8")
    read, faults = attempt(tmp_path, name)
    assert all(fault.wrong and fault.right for fault in faults)
    assert faults or "thing" in read
    for other in READERS:
        (tmp_path / other).unlink(missing_ok=True)


def test_tables_load_without_anything_slow() -> None:
    """Start-up: the plan's models, units, numbers and screens are not needed to read them."""
    code = (
        "import sys; from soapbench.bench import tables;"
        "tables.oils(); tables.colourants(); tables.cautions(); tables.swirls();"
        "print(*sorted({'pydantic', 'pint', 'numpy', 'textual', 'tomlkit'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == ""
