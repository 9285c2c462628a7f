"""The commands that open no screen: a plan checked, the fragrance book, files of a batch.

Each takes the parsed command line and gives the exit code.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.options import (
    ATTENTION,
    FINE,
    UNREADABLE,
    any_text,
    folder_of,
    memory_of,
    plan_file,
    settings_of,
    tell_copies,
)
from soapbench.words import commands as words

if TYPE_CHECKING:
    from soapbench.bench.learned import Memory
    from soapbench.fragrances.book import Entry, FragranceBook
    from soapbench.plan import Plan


def _check(args: argparse.Namespace) -> int:
    from soapbench.bench.tables import cautions
    from soapbench.sheet.asjson import as_json
    from soapbench.sheet.plansheet import plan_sheet, with_together
    from soapbench.sheet.text import as_text

    memory = memory_of(args)
    sheet = plan_sheet(_plan(args, memory), memory.known, cautions())
    sheet = with_together(sheet, memory.known)
    if args.json:
        print(_as_json(as_json(sheet)))
    else:
        print(as_text(sheet, settings=settings_of(args)), end="")
    if args.face:
        from soapbench.papers.commands import face

        if why := face(Path(args.face), sheet, memory.known):
            print(why, file=sys.stderr)
            return UNREADABLE
    if sheet.impossible:
        return UNREADABLE
    return FINE if sheet.fine else ATTENTION


def _plan(args: argparse.Namespace, memory: Memory) -> Plan:
    from soapbench.bench.planfile import read_plan

    return read_plan(plan_file(args), memory.known.oils, memory.known.swirls.kinds)


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
        name, data = make(folder_of(args), args.batch, datetime.now().astimezone())
    except NoSuchBatch as why:
        print("\n".join(map(clean, str(why).splitlines())), file=sys.stderr)
        return UNREADABLE
    tell_copies(open_bench(folder_of(args)))
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


def _fragrances(args: argparse.Namespace) -> int:
    from soapbench.fragrances.asjson import as_json
    from soapbench.fragrances.suited import swirls_for
    from soapbench.fragrances.text import book_text, entry_text

    memory = memory_of(args)
    book = _book(args, memory)
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


def _book(args: argparse.Namespace, memory: Memory) -> FragranceBook:
    from soapbench.bench.tables import fragrances
    from soapbench.fragrances.book import fragrance_book

    return fragrance_book(memory.known, memory.lessons, fragrances(folder_of(args) / "tables"))


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
    from soapbench.fragrances.handon import NothingLearned, word_of
    from soapbench.fragrances.handon import words as found_words
    from soapbench.logfile.durable import write_new
    from soapbench.reading.safetext import clean

    memory = memory_of(args)
    book = _book(args, memory)
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
    older = take_in(folder_of(args), word)
    print(found_words(word))
    print(words.OLD_WORD if older else words.NEW_WORD)
    return FINE


def _as_json(data: object) -> str:
    """JSON with every letter as it is where the output can hold it."""
    whole = sys.stdout is not None and any_text(sys.stdout)
    return json.dumps(data, indent=1, ensure_ascii=not whole)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "check": _check,
    "fragrances": _fragrances,
    "hand_on": _hand_on,
    "take_in": _take_in,
    "write_batch": _write_batch,
}
