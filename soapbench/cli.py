"""The command line. Each command imports only what it needs."""

from __future__ import annotations

import argparse
import gc
import io
import json
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from soapbench.options import command_parser
from soapbench.words import commands as words

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench
    from soapbench.bench.learned import Memory
    from soapbench.desk.prefetch import Ahead
    from soapbench.desk.rehearsing import Wanted
    from soapbench.fragrances.book import Entry
    from soapbench.plan import Plan
    from soapbench.settings import Settings

FINE, ATTENTION, UNREADABLE = 0, 1, 2
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
        if isinstance(stream, io.TextIOWrapper) and not _any_text(stream):
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


def _any_text(stream: TextIO) -> bool:
    return (stream.encoding or "utf-8").lower().replace("_", "-") in ("utf-8", "utf8")


def _as_json(data: object) -> str:
    """JSON with every letter as it is where the output can hold it."""
    whole = sys.stdout is not None and _any_text(sys.stdout)
    return json.dumps(data, indent=1, ensure_ascii=not whole)


def _folder(args: argparse.Namespace) -> Path:
    from soapbench.bench.folder import bench_folder

    return bench_folder(getattr(args, "bench", None), os.environ)


def _memory(args: argparse.Namespace) -> Memory:
    from soapbench.bench.learned import open_bench, remember

    bench = open_bench(_folder(args))
    memory = remember(bench, _settings(args).risk)
    _tell_copies(bench)
    return memory


def _tell_copies(bench: Bench) -> None:
    """Say on standard error what only a file sync's copy of a batch holds."""
    listing = bench.batches()
    if listing.copies:
        from soapbench.bench.joining import not_joined

        for copy in not_joined(bench, listing):
            print(f"soapbench: {copy.words}", file=sys.stderr)


def _telling_waits(args: argparse.Namespace) -> AbstractContextManager[None]:
    """Say on standard error what is waited for, where the bench's disk does not answer."""
    from soapbench.logfile.patience import telling
    from soapbench.reading.safetext import clean

    line = words.waiting(clean(str(_folder(args)), 200))
    return telling(lambda: print(line, file=sys.stderr, flush=True))


def _settings(args: argparse.Namespace) -> Settings:
    from soapbench.bench.settingsfile import read_settings
    from soapbench.desk.keys import ACTS

    with _telling_waits(args):
        return read_settings(_folder(args), [act.name for act in ACTS])[0]


def _read(args: argparse.Namespace, memory: Memory) -> Plan:
    from soapbench.bench.planfile import read_plan

    return read_plan(_plan_file(args), memory.known.oils, memory.known.swirls.kinds)


def _plan_file(args: argparse.Namespace) -> Path:
    """A file, or the plan of the bench with that title. Raises FileFaults for neither."""
    from soapbench.bench.plannamed import plan_named

    with _telling_waits(args):
        return plan_named(args.plan, _folder(args))


def _check(args: argparse.Namespace) -> int:
    from soapbench.bench.tables import cautions
    from soapbench.sheet.asjson import as_json
    from soapbench.sheet.plansheet import plan_sheet, with_together
    from soapbench.sheet.text import as_text

    memory = _memory(args)
    sheet = plan_sheet(_read(args, memory), memory.known, cautions())
    sheet = with_together(sheet, memory.known)
    if args.json:
        print(_as_json(as_json(sheet)))
    else:
        print(as_text(sheet, settings=_settings(args)), end="")
    if args.face:
        from soapbench.papers.commands import face

        if why := face(Path(args.face), sheet, memory.known):
            print(why, file=sys.stderr)
            return UNREADABLE
    if sheet.impossible:
        return UNREADABLE
    return FINE if sheet.fine else ATTENTION


def _write_batch(args: argparse.Namespace) -> int:
    """Make one file of a batch and write it here, or where -o says."""
    from datetime import datetime

    from soapbench.bench.batchfile import NoSuchBatch
    from soapbench.bench.learned import open_bench
    from soapbench.logfile.durable import write_new
    from soapbench.papers import commands
    from soapbench.reading.safetext import clean

    makers = {
        "report": commands.report,
        "calendar": commands.calendar,
        "batchsheet": commands.batch_sheet,
        "label": commands.label,
        "export": commands.events,
    }
    make = commands.fragrances if getattr(args, "fragrances", False) else makers[args.makes]
    try:
        name, data = make(_folder(args), args.batch, datetime.now().astimezone())
    except NoSuchBatch as why:
        print("\n".join(map(clean, str(why).splitlines())), file=sys.stderr)
        return UNREADABLE
    _tell_copies(open_bench(_folder(args)))
    if args.out == "-":
        if sys.stdout is None:
            print(words.NO_OUTPUT, file=sys.stderr)
            return UNREADABLE
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return FINE
    file = Path(args.out or name)
    try:
        if file.exists() and not file.is_file():
            file.write_bytes(data)  # a device or a pipe stays what it is
        else:
            write_new(file, data, over=True)
    except OSError as error:
        print(words.not_written(clean(str(file)), error.strerror), file=sys.stderr)
        return UNREADABLE
    print(words.written(clean(str(file))))
    return FINE


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
    plan = _plan_file(args)
    with _telling_waits(args):
        ready = weigh_out(plan, _folder(args) / "tables")
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

    bench = open_bench(_folder(args), spill_folder())
    report = hands_off(bench, SystemClock().read(), _memory(args).known, wanted)
    print(report_text(report, wanted.sheet.plan.title, wanted.seed), end="")
    return FINE


def _fragrances(args: argparse.Namespace) -> int:
    from soapbench.bench.tables import fragrances
    from soapbench.fragrances.asjson import as_json
    from soapbench.fragrances.book import fragrance_book
    from soapbench.fragrances.suited import swirls_for
    from soapbench.fragrances.text import book_text, entry_text

    memory = _memory(args)
    book = fragrance_book(memory.known, memory.lessons, fragrances(_folder(args) / "tables"))
    listed = book.matches(args.name) if args.name else book.entries
    if args.name and len(listed) != 1:
        print(_no_one_fragrance(args.name, listed, book.entries), file=sys.stderr)
        return UNREADABLE
    if args.json:
        print(_as_json(as_json(book, listed, memory.known)))
    elif args.name:
        swirls = swirls_for(listed[0], book.usual, memory.known)
        print(entry_text(listed[0], swirls, memory.known), end="")
    else:
        print(book_text(book), end="")
    return FINE


def _no_one_fragrance(asked: str, matches: Sequence[Entry], known: Sequence[Entry]) -> str:
    """Why a name means no fragrance, or more than one."""
    from soapbench.reading.faults import nearest
    from soapbench.reading.safetext import clean

    name, names = clean(asked, 60), [clean(entry.name, 60) for entry in matches or known]
    if matches:
        return words.several_fragrances(name, names[:8])
    return words.no_fragrance(name, nearest(asked, names) if names else words.NONE_TO_NAME)


def _hand_on(args: argparse.Namespace) -> int:
    """Write what one fragrance taught into a file for another maker."""
    from datetime import datetime

    from soapbench.bench.handonfile import file_name, text_of
    from soapbench.bench.tables import fragrances
    from soapbench.fragrances.book import fragrance_book
    from soapbench.fragrances.handon import NothingLearned, word_of
    from soapbench.fragrances.handon import words as found_words
    from soapbench.logfile.durable import write_new
    from soapbench.reading.safetext import clean

    memory = _memory(args)
    own = fragrances(_folder(args) / "tables")
    book = fragrance_book(memory.known, memory.lessons, own)
    listed = book.matches(args.name)
    if len(listed) != 1:
        print(_no_one_fragrance(args.name, listed, book.entries), file=sys.stderr)
        return UNREADABLE
    try:
        word = word_of(memory.known.fit, listed[0].name, listed[0].reputation)
    except NothingLearned as why:
        print(clean(str(why), 200), file=sys.stderr)
        return UNREADABLE
    file = Path(args.out or file_name(word))
    try:
        write_new(file, text_of(word, datetime.now().date()).encode(), over=bool(args.out))
    except OSError as error:
        print(words.not_written(clean(str(file)), error.strerror or error), file=sys.stderr)
        return UNREADABLE
    print(f"{found_words(word)}\n{words.written(clean(str(file)))}")
    return FINE


def _take_in(args: argparse.Namespace) -> int:
    """Take in what another maker found."""
    from soapbench.bench.handonfile import read_word, take_in
    from soapbench.fragrances.handon import words as found_words

    word = read_word(Path(args.file))
    older = take_in(_folder(args), word)
    print(found_words(word))
    print(words.OLD_WORD if older else words.NEW_WORD)
    return FINE


def _bench(args: argparse.Namespace) -> int:
    return _app(args, None)


def _pour(args: argparse.Namespace) -> int:
    return _app(args, _plan_file(args))


def _serve(args: argparse.Namespace) -> int:
    try:
        from soapbench.ui.browser import NotThisAddress, serve
    except ImportError:
        print(words.NO_BROWSER, file=sys.stderr)
        return UNREADABLE
    try:
        serve(_folder(args), args.host, args.port)
    except (NotThisAddress, OSError) as why:
        print(words.not_served(why), file=sys.stderr)
        return UNREADABLE
    return FINE


def _app(args: argparse.Namespace, plan: Path | None, rehearsal: Wanted | None = None) -> int:
    if not _terminal():
        print(words.NO_TERMINAL, file=sys.stderr)
        return UNREADABLE
    gc.disable()  # loading makes much that stays: the app collects again once that is done
    ahead = _look_ahead(plan, _folder(args)) if plan else None
    from soapbench.ui.app import app_of, run

    with _telling_waits(args):
        app = app_of(_folder(args), plan, rehearsal, ahead)
    return run(app)


def _look_ahead(plan: Path, folder: Path) -> Ahead | None:
    from soapbench.desk.prefetch import look_ahead

    return look_ahead(plan, folder, shutil.get_terminal_size().columns)


def _terminal() -> bool:
    """Whether somebody can see the screens, which are drawn on standard error, and press keys."""
    if os.environ.get("TEXTUAL_DRIVER"):  # a browser shows them
        return True
    return all(s is not None and s.isatty() for s in (sys.__stdin__, sys.__stderr__))


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "bench": _bench,
    "pour": _pour,
    "check": _check,
    "rehearse": _rehearse,
    "fragrances": _fragrances,
    "hand_on": _hand_on,
    "take_in": _take_in,
    "serve": _serve,
    "write_batch": _write_batch,
}


if __name__ == "__main__":
    sys.exit(main())
