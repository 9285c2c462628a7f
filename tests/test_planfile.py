"""A bad plan gives every fault at once, each at its line, with what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from soapbench.bench import tables
from soapbench.bench.planfile import plan_from_text, read_plan
from soapbench.plan.reader import read_tables
from soapbench.reading.faults import MOST_FAULTS, FileFaults
from tests.fakes import SAMPLES
from tests.plans import THREE_POTS, plan, sample


def faults_of(text: str) -> list[tuple[str, int | None, str, str]]:
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "p.toml", tables.oils(), tables.swirls().kinds)
    return [(f.key, f.line, f.wrong, f.right) for f in refused.value.faults]


def changed(old: str, new: str) -> str:
    assert old in THREE_POTS
    return THREE_POTS.replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "key", "wrong", "right"),
    [
        ('volume = "1 L"', "volume = 1.5", "mould.volume", "no unit", '"1.2 L"'),
        ('volume = "1 L"', 'volume = "1 kg"', "mould.volume", "does not measure", '"1.2 L"'),
        ('volume = "1 L"', 'volume = "1 zorks"', "mould.volume", "not a unit", '"1.2 L"'),
        ('volume = "1 L"', 'volume = "-1 L"', "mould.volume", "out of range", "20 mL"),
        ('volume = "1 L"', "volume = nan", "mould.volume", "no unit", '"1.2 L"'),
        ('volume = "1 L"', 'volume = "nan L"', "mould.volume", "not a number", "450 g"),
        ('volume = "1 L"', 'volume = "1e999 L"', "mould.volume", "too large", "450 g"),
        ('fill = "90 %"', 'fil = "90 %"', "mould.fil", "unknown setting", '"fill"'),
        ('name = "olive"', 'name = "olvie"', "oils[1].name", 'no oil is called "olvie"', '"olive"'),
        ('share = "70 %"', 'share = "60 %"', "oils", "add up to 90 %", "100 %"),
        ('share = "70 %"', 'mass = "700 g"', "oils", "some oils have a share", "the same way"),
        ('name = "rope"', 'name = "Base"', "pots[2].name", 'second pot is called "Base"', "own"),
        ('name = "rope"', 'name = "r\\u001b[2J"', "pots[2].name", "control", "plain text"),
        ('name = "rope"', f'name = "{"r" * 10_000}"', "pots[2].name", "10000", "at most 60"),
        ('name = "rope"', "name = 7", "pots[2].name", "text is expected", "quotes"),
        ('"accelerates"', '"acelerates"', "fragrance.reputation", "not a word", '"accelerates"'),
        ('limit = "9 %"', 'goes_into = "ropes"', "fragrance.goes_into", "no pot", '"rope"'),
        ('"hanger swirl"]', '"hangar swirl"]', "swirl.steps[2]", "no swirl", '"hanger swirl"'),
        ('superfat = "5 %"', 'alkali = "LiOH"', "lye.alkali", "must be one of", '"KOH"'),
        ('look = "#202020"', 'look = "black"', "pots[1].look", "no colour", "#8a2020"),
        ('title = "Quay Wall"', "", "title", "missing", 'add "title"'),
        ("[lye]", "[[lye]]", "lye", "a table is expected", "[lye]"),
        ('["drop swirl", "hanger swirl"]', '"drop swirl"', "swirl.steps", "a list", "[[table]]"),
        ('["drop swirl", "hanger swirl"]', "[]", "swirl.steps", "there is none", "at least 1"),
        ('"accelerates"', "5", "fragrance.reputation", "text is expected", "quotes"),
        ('superfat = "5 %"', 'water_to_lye = "2 : 3"', "lye.water_to_lye", "no water", "2 : 1"),
    ],
)
def test_one_fault_names_key_and_remedy(
    old: str, new: str, key: str, wrong: str, right: str
) -> None:
    text = changed(old, new)
    faults = faults_of(text)
    assert any(key == k and wrong in w and right in r for k, _, w, r in faults), faults
    line = next(line for k, line, w, _ in faults if k == key and wrong in w)
    if new:
        assert line is not None
        written = text.splitlines()[line - 1]
        assert new in written or "[[oils]]" in written


def test_what_would_be_right_is_named_once() -> None:
    (into,) = faults_of(changed('limit = "9 %"', 'goes_into = "zzz"'))
    assert into[3] == 'one of "base", "each pot", "gull", "oils", "rope"'


def test_a_pot_with_a_fault_in_it_is_still_there() -> None:
    text = (
        THREE_POTS.split("[[pots]]")[0]
        + """
[[pots]]
name = "base"
share = "100 %"
look = "black"
[swirl]
steps = ["plain pour"]
"""
    )
    assert [key for key, _, _, _ in faults_of(text)] == ["pots[1].look"]


def test_all_faults_come_at_once() -> None:
    text = changed('volume = "1 L"', "volume = 3").replace('share = "30 %"', 'share = "20 %"')
    text = text.replace('batter = "30 degC"', 'batter = "30 kg"')
    keys = [key for key, _, _, _ in faults_of(text)]
    assert keys == ["mould.volume", "oils", "conditions.batter"]


@pytest.mark.parametrize(
    ("name", "content", "wrong"),
    [
        ("empty", b"", "empty"),
        ("not text", b"\xff\xfe\x00title", "not UTF-8"),
        ("not toml", b"title = [unclosed", "not TOML"),
        ("junk", b"\x00" * 10_000_000, "too large"),
        ("nested", b"a = " + b"[" * 5000, "not TOML"),
        ("twice", b'title = "a"\ntitle = "b"', "not TOML"),
    ],
    ids=["empty", "not text", "not toml", "junk", "nested", "twice"],
)
def test_files_that_are_no_plan(tmp_path: Path, name: str, content: bytes, wrong: str) -> None:
    path = tmp_path / f"{name}.toml"
    path.write_bytes(content)
    with pytest.raises(FileFaults) as refused:
        read_plan(path, tables.oils(), tables.swirls().kinds)
    assert any(wrong in fault.wrong for fault in refused.value.faults), refused.value.faults


@pytest.mark.parametrize("unit", ["millidegC", "kdegF", "degC/min", "degC/degC", "kilo", "g/g/g"])
def test_a_unit_pint_cannot_make_sense_of_is_refused(unit: str) -> None:
    text = THREE_POTS.replace("30 degC", f"30 {unit}")
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "a plan", tables.oils(), tables.swirls().kinds)
    (fault,) = refused.value.faults
    assert fault.key == "conditions.batter"
    assert "not a unit" in fault.wrong or "does not measure" in fault.wrong
    assert fault.line is not None


def test_of_thousands_of_faults_the_first_are_told_and_how_many_more() -> None:
    text = THREE_POTS + "".join(f"key{i} = 1\n" for i in range(5000))
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "a plan", tables.oils(), tables.swirls().kinds)
    faults = refused.value.faults
    assert len(faults) == MOST_FAULTS
    assert refused.value.more == 5000 - MOST_FAULTS
    first = text.splitlines().index("key0 = 1") + 1
    assert [fault.line for fault in faults] == list(range(first, first + MOST_FAULTS))


COLOUR = '[[pots.colourants]]\nname = "c"\n'


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("[[pots.colourants]]", f"{COLOUR * 12}[[pots.colourants]]", "pots[1].colourants"),
        ('"drop swirl", ', '"drop swirl", ' * 7, "swirl.steps"),
        ("steps =", f"fall_back = {['plain pour'] * 13}\nsteps =", "swirl.fall_back"),
        ("[lye]", '[[oils]]\nname = "lard"\nshare = "1 %"\n' * 30 + "[lye]", "oils"),
        ("[swirl]", '[[pots]]\nname = "x"\nshare = "1 %"\n' * 12 + "[swirl]", "pots"),
    ],
)
def test_more_than_a_bench_can_hold_is_refused(old: str, new: str, key: str) -> None:
    text = THREE_POTS.replace(old, new, 1)
    with pytest.raises(FileFaults) as refused:
        plan_from_text(text, "a plan", tables.oils(), tables.swirls().kinds)
    faults = {fault.key: fault for fault in refused.value.faults}
    assert faults[key].right.startswith("at most")
    assert faults[key].line is not None


@pytest.mark.parametrize(("where", "wrong"), [("missing.toml", "no such file"), (".", "folder")])
def test_no_file_and_a_folder(tmp_path: Path, where: str, wrong: str) -> None:
    with pytest.raises(FileFaults, match=wrong):
        read_plan(tmp_path / where, tables.oils(), tables.swirls().kinds)


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_a_resolved_plan_reads_back_the_same(path: Path) -> None:
    read = sample(path)
    assert read_tables(read.as_written()).as_written() == read.as_written()


def test_reading_never_writes(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_text(THREE_POTS, "utf-8")
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    read_plan(path, tables.oils(), tables.swirls().kinds)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert [p.name for p in tmp_path.iterdir()] == ["p.toml"]


def test_one_fragrance_or_several() -> None:
    one = plan()
    assert [one.fragrance_of(p.name) is not None for p in one.pots] == [True, True, True]
    two = plan(
        THREE_POTS.replace("[fragrance]", "[[fragrance]]").replace(
            'load = "3 %"', 'load = "3 %"\ngoes_into = "base"'
        )
        + '[[fragrance]]\nname = "Mint"\nload = "2 %"\ngoes_into = ["gull"]\n'
    )
    each = [two.fragrance_of(pot.name) for pot in two.pots]
    assert [f.name if f else None for f in each] == ["Tar & Thyme", None, "Mint"]
