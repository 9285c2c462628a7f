"""Files made to do harm: shown safely or refused with words, in every screen and command."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from safety_kit import CALM, bench_of, bench_read, new_desk, on_screen, ticks
from textual.pilot import Pilot

from soapbench.advice.known import Known
from soapbench.batter import Mix
from soapbench.bench.learned import remember
from soapbench.cli import main
from soapbench.figures import Figures
from soapbench.log import Event, Kind
from soapbench.logfile.records import Header, event_text, header_text, read_bytes
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.dialogs import Words
from soapbench.ui.home import HomeScreen
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.summary import SummaryScreen
from soapbench.ui.ways import CarryOn, ToAftercare, ToFragrances
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan

ESC = "\x1b]0;pwned\x07\x1b[31m\x9b31m"
BIDI = "\u202eevil\u2066\u200b"
MARKUP = "[red]x[/] see [/ [@click=app.quit]b[/]"
HOSTILE = ESC + BIDI + MARKUP
PLAN = THREE_POTS


def changed(old: str, new: str) -> str:
    assert old in PLAN
    return PLAN.replace(old, new)


# ---- the command line

REFUSED: dict[str, bytes | str] = {
    "bad UTF-8": b'title = "\xff\xfe"\n',
    "empty": "",
    "blank": "\n\n   ",
    "10 MB of junk": random.Random(1).randbytes(10_000_000),
    "brackets": "a = " + "[" * 400_000,
    "a key of 400,000 parts": "[a" + ".a" * 400_000 + "]\nx = 1\n",
    "no TOML": "title = Quay Wall\n",
    "null byte": PLAN + "\0",
    "NaN": changed('share = "70 %"', "share = nan"),
    "NaN in words": changed('"70 %"', '"nan %"'),
    "infinity": changed('"70 %"', '"inf %"'),
    "too large": changed('"70 %"', '"1e999 %"'),
    "an exponent of nine digits": changed('"1 tsp"', '"1e300000000 tsp"'),
    "a fraction of it": changed('"1 tsp"', '"1e-300000000/3 tsp"'),
    "5,000 digits": changed('"70 %"', "9" * 5000),
    "negative": changed('"70 %"', '"-70 %"'),
    "shares that do not add up": changed('"70 %"', '"71 %"'),
    "duplicate pots": changed('name = "gull"', 'name = "rope"'),
    "unknown oil": changed('"olive"', '"walrus"'),
    "unknown swirl": changed('"hanger swirl"', '"teleport"'),
    "a name of 10,000": changed('"gull"', '"' + "g" * 10_000 + '"'),
    "escape in a name": changed('"gull"', '"\\u001b]0;pwned\\u0007"'),
    "bidi in a name": changed('"gull"', '"a\\u202eb"'),
    "escape in a key": PLAN + '"\\u001b[31mx" = 1\n',
    "a date for a share": changed('"70 %"', "1979-05-27T07:32:00Z"),
    "tables for texts": "title = {}\nmould = 3\noils = {}\npots = 'x'\n",
}


@pytest.mark.parametrize("content", REFUSED.values(), ids=REFUSED)
@pytest.mark.parametrize("json_too", [(), ("--json",)], ids=["text", "json"])
def test_check_refuses_it_with_words(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    content: bytes | str,
    json_too: tuple[str, ...],
) -> None:
    file = tmp_path / "plan.toml"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    assert main(["check", str(file), *json_too]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert str(file) in err
    assert "\n    " in err
    assert all(line.isprintable() for line in err.splitlines())
    assert max(map(len, err.splitlines())) < 1500


PLACES: dict[str, Callable[[Path], str]] = {
    "a folder": str,
    "nothing there": lambda folder: str(folder / "nosuch.toml"),
    "a device": lambda folder: "/dev/zero",
    "a name too long": lambda folder: str(folder / ("x" * 5000)),
    "a null byte": lambda folder: str(folder / "a\0b"),
    "a name that is no UTF-8": lambda folder: os.fsdecode(os.fsencode(folder) + b"/\xff.toml"),
    "escapes in the name": lambda folder: str(folder / f"{HOSTILE}.toml".replace("/", "")),
}


@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_check_of_what_is_no_plan_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], place: Callable[[Path], str]
) -> None:
    assert main(["check", place(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert "\n    " in err
    assert all(line.isprintable() for line in err.splitlines())


def test_a_pipe_is_refused_and_not_waited_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "plan.toml")
    assert main(["check", str(tmp_path / "plan.toml")]) == 2
    assert "a device or a pipe" in capsys.readouterr().err


def test_markup_in_names_is_only_text(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "plan.toml"
    file.write_text(changed('"Quay Wall"', json.dumps(MARKUP)).replace('"gull"', '"see [/"'))
    assert main(["check", str(file)]) in (0, 1)
    assert MARKUP in capsys.readouterr().out
    assert main(["check", "--json", str(file)]) in (0, 1)
    assert json.loads(capsys.readouterr().out)["title"] == MARKUP


def test_a_bench_that_is_a_file_stops_no_check(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "plan.toml"
    file.write_text(PLAN)
    for bench in (file, Path("x" * 5000)):
        assert main(["check", "--bench", str(bench), str(file)]) in (0, 1)
    assert "Quay Wall" in capsys.readouterr().out


# ---- the screens


def hostile_header(title: str = HOSTILE) -> Header:
    created = datetime(2026, 3, 1, tzinfo=UTC)
    return Header("../../" + HOSTILE, title, created, HOSTILE, plan(CALM).as_written())


def at(t: float, kind: Kind, pot: str | None = None, **values: str | bool) -> Event:
    wall = datetime(2026, 3, 1, 18, tzinfo=UTC)
    return Event(wall, t, kind, pot, values, 1000.0 + t, "boot-1", f"{t:.0f}")


def write(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def lines_of(pilot: Pilot[int]) -> list[str]:
    strips = pilot.app.screen._compositor.render_strips()
    return ["".join(segment.text for segment in strip) for strip in strips]


def safe(pilot: Pilot[int]) -> str:
    """What the screen shows; nothing in it may steer a terminal."""
    lines = lines_of(pilot)
    for line in lines:
        assert line.replace("\u00a0", " ").isprintable(), ascii(line)
    return "\n".join(lines)


async def test_every_screen_of_a_hostile_log(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    events = [
        at(0, Kind.LYE_MEETS_OILS),
        at(10, Kind.NOTE, HOSTILE, text=HOSTILE * 500),
        at(11, Kind.NOTE, "base", text=HOSTILE),
        at(12, Kind.WEIGHED_OUT, item=HOSTILE, lot=HOSTILE),
        at(13, Kind.STAGE_DONE, HOSTILE, stage=HOSTILE),
        at(14, Kind.RESCUE_TAKEN, steps=HOSTILE),
    ]
    data = header_text(hostile_header()) + b"".join(map(event_text, events))
    write(tmp_path / "bench" / "batches" / "a.toml", data)
    clock.passes(60)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(100, 30)) as pilot:
        await bench_read(pilot)
        assert "x[/] see [/" in safe(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, PourScreen)
        await ticks(pilot, clock)
        safe(pilot)
        await pilot.press("n")
        safe(pilot)
        await pilot.press("escape", "e", "y", "space")
        await pilot.pause()
        assert isinstance(app.screen, SummaryScreen)
        assert "x[/] see [/" in safe(pilot)


async def test_bad_files_are_named_and_stop_nothing(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    batches = tmp_path / "bench" / "batches"
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    desk.close()
    sound = event_text(at(5, Kind.NOTE, "base", text="ricing"))
    head = header_text(hostile_header("Torn"))
    write(batches / "torn.toml", head + event_text(at(0, Kind.LYE_MEETS_OILS)) + sound[:-20])
    write(batches / "junk.toml", random.Random(2).randbytes(100_000))
    write(batches / "empty.toml", b"")
    write(batches / f"{ESC}{BIDI}[red]\n.toml", b"x = 1\n")
    (batches / "folder.toml").mkdir()
    (batches / "loop.toml").symlink_to(batches / "loop.toml")
    write(tmp_path / "bench" / "plans" / f"{ESC}{BIDI}[red].toml", PLAN.encode())
    write(tmp_path / "bench" / ".derived" / "index.sqlite", b"no index at all")
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(120, 50)) as pilot:
        await bench_read(pilot)
        shown = safe(pilot)
        assert "Quay Wall" in shown
        for name in ("torn.toml", "junk.toml", "empty.toml", "[red]"):
            assert name in " ".join(app.bench.batches().troubles)
        assert "torn.toml" in on_screen(pilot)
        kinds = [line.kind for line in app.screen.lines]  # type: ignore[attr-defined]
        assert "carry on" in " ".join(kinds)
        assert len(app.bench.unfinished()) == 2


async def test_a_hostile_plan_in_its_screens(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    file = tmp_path / "plan.toml"
    text = changed('"Quay Wall"', json.dumps(MARKUP)).replace('"Tar & Thyme"', '"see [/"')
    file.write_text(text.replace('"rope"', '"[@click=app.quit]"').replace('"ochre"', '"[/b]"'))
    app = SoapbenchApp(bench_of(tmp_path), clock, file)
    async with app.run_test(size=(100, 40)) as pilot:
        await bench_read(pilot)
        assert isinstance(app.screen, PlanScreen)
        safe(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert "see [/" in safe(pilot)
        await pilot.press(*["down"] * 6, "l")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        safe(pilot)
        await pilot.press("escape", "enter", "y")
        await pilot.pause()
        await pilot.press("space", "space", "down", "2", "f", "r")
        await ticks(pilot, clock)
        assert isinstance(app.screen, PourScreen)
        assert "[@click=app.quit]" in on_screen(pilot)
        safe(pilot)


async def test_a_refused_plan_is_told_safely(tmp_path: Path, clock: FakeClock) -> None:
    file = tmp_path / "plan.toml"
    file.write_text(PLAN + '"\\u001b[31m[/]" = 1\n')
    app = SoapbenchApp(bench_of(tmp_path), clock, file)
    async with app.run_test(size=(100, 40)) as pilot:
        await bench_read(pilot)
        assert "unknown setting" in safe(pilot)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "damaged"),
        (
            header_text(Header("b", "t", datetime(2026, 1, 1, tzinfo=UTC), "1")),
            "mould missing",
        ),
        (
            header_text(
                Header(
                    "b",
                    "t",
                    datetime(2026, 1, 1, tzinfo=UTC),
                    "1",
                    plan(CALM.replace('"in-the-pot swirl"', '"textured top"')).as_written(),
                )
            ),
            "Textured top comes after a pour",
        ),
    ],
    ids=["empty", "no plan", "steps that pour nothing"],
)
async def test_a_pour_that_cannot_be_carried_on_says_why(
    tmp_path: Path, clock: FakeClock, data: bytes, why: str
) -> None:
    path = tmp_path / "bench" / "batches" / "a.toml"
    write(path, data + event_text(at(0, Kind.LYE_MEETS_OILS)))
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test() as pilot:
        await bench_read(pilot)
        refused: list[str] = []
        app.take(CarryOn(path), refused.append)
        assert "a.toml can't be carried on. " in refused[0]
        assert why in refused[0]
        assert isinstance(app.screen, HomeScreen)
        assert app.desk is None


@pytest.mark.parametrize("kept", ["{}", "[]", '"x"', "7", '{"history": {"pots": [3]}}'])
def test_an_index_that_holds_something_else_is_made_anew(tmp_path: Path, kept: str) -> None:
    figures = Figures(
        mix=Mix(30.0, 0.33, 0.3), pot_ml={"base": 540.0, "rope": 180.0, "gull": 180.0}
    )
    head = Header(
        "b", "Quay Wall", datetime(2026, 1, 1, tzinfo=UTC), "1", plan(CALM).as_written(), figures
    )
    events = (at(0, Kind.LYE_MEETS_OILS), at(400, Kind.POUR_ENDED, finished=True))
    path = tmp_path / "bench" / "batches" / "a.toml"
    write(path, header_text(head) + b"".join(map(event_text, events)))
    bench = bench_of(tmp_path)
    whole = remember(bench).lessons
    assert len(whole) == 1
    bench.close()
    with sqlite3.connect(tmp_path / "bench" / ".derived" / "index.sqlite") as db:
        db.execute("UPDATE logs SET history = ?", (kept,))
    db.close()
    (tmp_path / "bench" / ".derived" / "fit.json").write_text(kept)
    assert remember(bench_of(tmp_path)).lessons == whole


# ---- size

BIG = {
    "checksum lines": b'\nsum = "' * 1_200_000,
    "event lines": b"\n[[event]]\n" * 900_000,
    "one value, deep": b"[[event]]\nat = " + b"[" * 9_000_000,
    "noise": random.Random(3).randbytes(10_000_000),
}


@pytest.mark.parametrize("data", BIG.values(), ids=BIG)
def test_ten_megabytes_of_nothing_take_time_in_proportion(data: bytes) -> None:
    small, whole = data[: len(data) // 8], data
    start = time.process_time()
    read_bytes(small)
    middle = time.process_time()
    assert read_bytes(whole).events == ()
    # Squared growth would be sixty-four times as long, hours where it was.
    assert time.process_time() - middle < 40 * (middle - start) + 2.0


async def test_what_comes_after_the_pour_of_a_hostile_log(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    events = [
        at(0, Kind.LYE_MEETS_OILS),
        at(400, Kind.POUR_ENDED, finished=True),
        at(500, Kind.SPRAY, HOSTILE, text=HOSTILE),
        at(90_000, Kind.CUT, text=HOSTILE),
        at(90_001, Kind.WEIGHING, g=HOSTILE, text=HOSTILE),
        at(90_002, Kind.CUT_SEEN, HOSTILE, part=HOSTILE, text=HOSTILE, seen=HOSTILE),
        at(90_003, Kind.VERDICT, verdict=HOSTILE, next_time=HOSTILE, next_swirl=HOSTILE),
    ]
    path = tmp_path / "bench" / "batches" / "a.toml"
    write(path, header_text(hostile_header()) + b"".join(map(event_text, events)))
    clock.passes(100_000)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(100, 40)) as pilot:
        await bench_read(pilot)
        safe(pilot)
        app.take(ToAftercare(path))
        await bench_read(pilot)
        assert not isinstance(app.screen, HomeScreen)
        safe(pilot)
        for key in ("down", "down", "enter", "escape"):
            await pilot.press(key)
            await bench_read(pilot)
            safe(pilot)
        app.take(ToFragrances(""))
        await bench_read(pilot)
        safe(pilot)
