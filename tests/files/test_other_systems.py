"""What differs on other systems, driven here by what is made up to be like them."""

from __future__ import annotations

import asyncio
import io
import os
import sys
import time
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace

import pytest
from textual import events
from textual.message import Message
from windows_fakes import contents, held_open, like_windows, with_console

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.planfile import read_plan
from soapbench.bench.settingsfile import save_settings
from soapbench.bench.tables import cautions, oils, swirls
from soapbench.cli import main
from soapbench.desk.draft import copied, file_name, opened, saved
from soapbench.desk.starting import begin, carry_on
from soapbench.log import Kind
from soapbench.logfile import clock as clocks
from soapbench.logfile import hold
from soapbench.logfile.batchlog import read_log
from soapbench.settings import Settings
from soapbench.sheet.plansheet import plan_sheet
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.pour.screen import PourScreen
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import worked_out

needs_proc = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="no /proc here")


@needs_proc
async def test_a_batch_from_its_plan_to_its_papers_like_on_windows(
    known: Known, clock: FakeClock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No fork, locks by msvcrt, an open file neither removed nor replaced."""
    like_windows(monkeypatch)
    folder = tmp_path / "bench"
    bench = open_bench(folder, tmp_path / "spill")
    draft = saved(copied(THREE_POTS, "Con"), folder / "plans", "Con")
    saved(opened(draft.path), folder / "plans", "Con", over=True)  # type: ignore[arg-type]
    save_settings(folder / "settings.toml", Settings(temperature="°F"))
    save_settings(folder / "settings.toml", Settings())
    desk = begin(bench, clock, known, plan_sheet(plan(), known, cautions(), levers=False))
    (log,) = (folder / "batches").glob("*.toml")
    desk.lye_meets_oils()
    held = hold.take(log, clock.boot_id)
    assert isinstance(held, hold.Holder), "a second program only watches"
    app = SoapbenchApp(bench, clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.switch_screen(PourScreen(desk))
        clock.passes(30)
        await pilot.press("r", "u", "z")
        await worked_out(app)
    desk.close()
    assert not held_open(hold.hold_path(log))
    assert hold.holder(log, clock.boot_id) is None
    again = carry_on(bench, clock, lambda: known, log)
    again.record(Kind.POUR_ENDED, finished=True)
    again.record(Kind.VERDICT, verdict="as wished")
    again.close()
    events = read_log(log).events
    assert [e.kind for e in events if e.kind is Kind.TROUBLE]
    assert len(remember(bench).lessons) == 1
    bench.close()
    for command in ("report", "calendar", "export", "batchsheet", "label"):
        for _ in range(2):  # made anew in place of the first
            paper = str(tmp_path / "paper")
            assert main([command, log.stem, "-o", paper, "--bench", str(folder)]) == 0
    left = [name for name in contents(folder) if name.endswith((".part", ".hold"))]
    assert left == []
    assert contents(tmp_path / "spill") <= {log.name}


async def test_no_key_makes_a_console_of_windows_deaf(monkeypatch: pytest.MonkeyPatch) -> None:
    """The toolkit's own thread, told by a console that is made up."""
    console, came = with_console(monkeypatch), asyncio.Queue[Message]()
    from soapbench.ui.terminal.windows import ConsoleDriver

    with open(os.devnull, "w") as shown, monkeypatch.context() as patched:
        patched.setattr(sys, "__stdout__", shown)
        patched.setattr(sys, "__stdin__", shown)
        app = SimpleNamespace(_post_message=came.put, log=SimpleNamespace(error=print))
        driver = ConsoleDriver(app)  # type: ignore[arg-type]
        driver.start_application_mode()
        for typed in ("z", "\udc80", "\x1b[1114112u", "\U0001f9fc", "3", " ", "\x1b[A"):
            console.typed.put(typed)
        keys: list[str] = []
        while keys[-1:] != ["up"]:
            message = await asyncio.wait_for(came.get(), 30)
            if isinstance(message, events.Key):
                keys.append(message.key)
        driver.stop_application_mode()
        driver.close()
    assert keys[0] == "z"
    assert keys[-3:] == ["3", "space", "up"]


@pytest.mark.parametrize("title", ["Con", "AUX", "nul ", "Com1", "lpt9", "a:b", "C:\\soap", "x. "])
def test_a_plans_file_can_be_called_so_anywhere(title: str) -> None:
    """By pathlib of Python, which holds the list of Microsoft's "Naming Files"."""
    name = f"{file_name(title)}.toml"
    assert not PureWindowsPath(name).is_reserved()
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789_.")
    assert PureWindowsPath("C:/bench", name).name == name


def test_a_byte_order_mark_and_line_ends_of_windows_change_nothing(tmp_path: Path) -> None:
    kinds = swirls(None).kinds
    plain, other = tmp_path / "plain.toml", tmp_path / "other.toml"
    plain.write_text(THREE_POTS, encoding="utf-8", newline="\n")
    other.write_bytes(b"\xef\xbb\xbf" + THREE_POTS.replace("\n", "\r\n").encode())
    assert read_plan(plain, oils(None), kinds) == read_plan(other, oils(None), kinds)


COMMANDS = {
    "check": ["check", "{plan}"],
    "json": ["check", "{plan}", "--json"],
    "faults": ["check", "{bad}"],
    "fragrances": ["fragrances"],
    "no plan": ["check", "nobody's plan ☃"],
}


@pytest.mark.parametrize("encoding", ["cp437", "cp1252", "ascii", "utf-16-le"])
@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS.keys())
def test_a_console_that_is_not_utf_8_gets_every_command(
    words: list[str], encoding: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = tmp_path / "bäd ☃.toml"
    bad.write_text(THREE_POTS.replace("33 %", "☃ %"), encoding="utf-8")
    shown = [io.TextIOWrapper(io.BytesIO(), encoding=encoding) for _ in range(2)]
    monkeypatch.setattr(sys, "stdout", shown[0])
    monkeypatch.setattr(sys, "stderr", shown[1])
    given = {"plan": str(SAMPLES / "lighthouse_column.toml"), "bad": str(bad)}
    code = main([word.format(**given) for word in words] + ["--bench", str(tmp_path / "bench")])
    assert code in (0, 1, 2)
    for stream in shown:
        stream.flush()
    output = b"".join(stream.buffer.getvalue() for stream in shown)  # type: ignore[attr-defined]
    assert output.decode(encoding)


def test_clocks_of_other_systems_count_in_sleep(monkeypatch: pytest.MonkeyPatch) -> None:
    """By each system's own pages of the clock (from memory): those that stand still are left."""
    asked: list[object] = []
    monkeypatch.setattr(clocks, "sys", type("sys", (), {"platform": "darwin"}))
    monkeypatch.setattr(time, "CLOCK_MONOTONIC_RAW", 4, raising=False)
    monkeypatch.setattr(time, "clock_gettime", lambda which: asked.append(which) or 7.0)
    assert clocks.boot_seconds() == 7.0
    assert asked == [4], "CLOCK_UPTIME_RAW stands still there"
    monkeypatch.setattr(clocks, "sys", type("sys", (), {"platform": "win32"}))
    monkeypatch.setattr(time, "monotonic", lambda: 9.0)
    assert clocks.boot_seconds() == 9.0
    assert clocks.this_boot() != clocks.this_boot(), "after a restart the wall clock is believed"


def test_paths_with_backslashes_are_only_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "Users\\maker"  # a name like any other here
    path = folder / "plans" / "my\\plan.toml"
    path.parent.mkdir(parents=True)
    path.write_text(THREE_POTS, encoding="utf-8")
    assert main(["check", str(path), "--bench", str(folder)]) in (0, 1)
    path.write_text("x = 1\n", encoding="utf-8")
    assert main(["check", str(path), "--bench", str(folder)]) == 2
    assert "my\\plan.toml" in capsys.readouterr().err
