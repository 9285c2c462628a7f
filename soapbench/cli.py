"""The command line. Each command imports only what it needs."""

from __future__ import annotations

import argparse
import gc
import io
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.options import (
    FINE,
    UNREADABLE,
    any_text,
    command_parser,
    folder_of,
    memory_of,
    plan_file,
    telling_waits,
)
from soapbench.words import commands as words

if TYPE_CHECKING:
    from soapbench.desk.prefetch import Ahead
    from soapbench.desk.rehearsing import Wanted

INTERRUPTED = 130
"""What shells say of a program ended by Ctrl+C."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 fine, 1 needs attention, 2 unreadable."""
    try:
        return _run(command_parser().parse_args(argv))
    except KeyboardInterrupt:  # the maker's own wish: nothing to be explained
        return INTERRUPTED


def _run(args: argparse.Namespace) -> int:
    from soapbench.logfile.clock import sound_time_zone
    from soapbench.reading.faults import FileFaults

    if odd := sound_time_zone():
        print(f"soapbench: {odd}", file=sys.stderr)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and not any_text(stream):
            stream.reconfigure(errors="replace")  # a terminal without "°" must not end a command
    try:
        code = COMMANDS[args.command](args)
        if sys.stdout:
            sys.stdout.flush()
        return code
    except FileFaults as refused:
        print(refused.text(), file=sys.stderr)
        return UNREADABLE
    except BrokenPipeError:  # a pager that was closed early
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except OSError as error:
        from soapbench.reading.safetext import clean

        where = f"{clean(str(error.filename), 200)}: " if error.filename else ""
        print(f"soapbench: {where}{error.strerror or error}", file=sys.stderr)
        if sys.stdout:  # what is still to be written there, fails too
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return UNREADABLE


def _bench(args: argparse.Namespace) -> int:
    return _app(args, None)


def _pour(args: argparse.Namespace) -> int:
    return _app(args, plan_file(args))


def _rehearse(args: argparse.Namespace) -> int:
    if not args.hands_off:
        gc.disable()  # as for every screen, below
    from soapbench.bench.planfile import weigh_out
    from soapbench.desk.rehearsing import Wanted, a_seed, speed_of

    try:
        speed = speed_of(args.speed)
        if args.seed is not None and args.seed < 0:
            raise ValueError(words.BAD_SEED)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return UNREADABLE
    plan = plan_file(args)
    with telling_waits(args):
        ready = weigh_out(plan, folder_of(args) / "tables")
    if not ready.pourable:
        print(words.NO_REHEARSAL, file=sys.stderr)
        return UNREADABLE
    wanted = Wanted(ready, speed, a_seed() if args.seed is None else args.seed)
    return _hands_off(args, wanted) if args.hands_off else _app(args, None, wanted)


def _hands_off(args: argparse.Namespace, wanted: Wanted) -> int:
    from soapbench.bench.folder import spill_folder
    from soapbench.bench.learned import open_bench
    from soapbench.desk.rehearsing import hands_off
    from soapbench.logfile.clock import SystemClock
    from soapbench.rehearsal.text import report_text

    bench = open_bench(folder_of(args), spill_folder())
    report = hands_off(bench, SystemClock().read(), memory_of(args).known, wanted)
    print(report_text(report, wanted.sheet.plan.title, wanted.seed), end="")
    return FINE


def _serve(args: argparse.Namespace) -> int:
    try:
        from soapbench.ui.browser import NotThisAddress, serve
    except ImportError:
        print(words.NO_BROWSER, file=sys.stderr)
        return UNREADABLE
    try:
        serve(folder_of(args), args.host, args.port)
    except (NotThisAddress, OSError) as why:
        print(words.not_served(why), file=sys.stderr)
        return UNREADABLE
    return FINE


def _app(args: argparse.Namespace, plan: Path | None, rehearsal: Wanted | None = None) -> int:
    if not _terminal():
        print(words.NO_TERMINAL, file=sys.stderr)
        return UNREADABLE
    gc.disable()  # loading makes much that stays: the app collects again once that is done
    ahead = _look_ahead(plan, folder_of(args)) if plan else None
    from soapbench.ui.app import app_of, run

    with telling_waits(args):
        app = app_of(folder_of(args), plan, rehearsal, ahead)
    return run(app)


def _look_ahead(plan: Path, folder: Path) -> Ahead | None:
    from soapbench.desk.prefetch import look_ahead

    return look_ahead(plan, folder, shutil.get_terminal_size().columns)


def _terminal() -> bool:
    """Whether somebody can see the screens, which are drawn on standard error, and press keys."""
    if os.environ.get("TEXTUAL_DRIVER"):  # a browser shows them
        return True
    return all(s is not None and s.isatty() for s in (sys.__stdin__, sys.__stderr__))


def _without_screen(args: argparse.Namespace) -> int:
    from soapbench import commands

    return commands.COMMANDS[args.command](args)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "bench": _bench,
    "pour": _pour,
    "rehearse": _rehearse,
    "serve": _serve,
    **dict.fromkeys(("check", "fragrances", "hand_on", "take_in", "write_batch"), _without_screen),
}


if __name__ == "__main__":
    sys.exit(main())
