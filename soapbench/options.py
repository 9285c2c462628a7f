"""What can be asked for on the command line, and which bench and plan are meant by it."""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from soapbench import __version__
from soapbench.words import commands as words

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench
    from soapbench.bench.learned import Memory
    from soapbench.settings import Settings

FINE, ATTENTION, UNREADABLE = 0, 1, 2


def command_parser() -> argparse.ArgumentParser:
    """Parses a command line; ``command`` is then the name of what is to be done."""
    parser = argparse.ArgumentParser(prog="soapbench", description=words.ABOUT)
    parser.add_argument("--version", action="version", version=f"soapbench {__version__}")
    _bench_option(parser)
    parser.set_defaults(command="bench")
    commands = parser.add_subparsers(title=words.COMMANDS, metavar="COMMAND")

    pour = _command(commands, "pour")
    _plan_argument(pour)
    pour.set_defaults(command="pour")

    check = _command(commands, "check")
    _plan_argument(check)
    check.add_argument("--json", action="store_true", help=words.JSON)
    check.add_argument("--face", metavar="FILE", help=words.FACE)
    check.set_defaults(command="check")

    rehearse = _command(commands, "rehearse")
    _plan_argument(rehearse)
    rehearse.add_argument("--speed", default="4", metavar="1..20", help=words.SPEED)
    rehearse.add_argument("--seed", type=int, metavar="N", help=words.SEED)
    rehearse.add_argument("--hands-off", action="store_true", help=words.HANDS_OFF)
    rehearse.set_defaults(command="rehearse")

    fragrances = _command(commands, "fragrances")
    fragrances.add_argument("name", metavar="NAME", nargs="?", default="", help=words.FRAGRANCE)
    fragrances.add_argument("--json", action="store_true", help=words.JSON)
    _bench_option(fragrances)
    fragrances.set_defaults(command="fragrances")

    serve = _command(commands, "serve")
    serve.add_argument("--host", metavar="ADDRESS", default="127.0.0.1", help=words.HOST)
    serve.add_argument("--port", type=_port, metavar="N", default=8765, help=words.PORT)
    _bench_option(serve)
    serve.set_defaults(command="serve")

    _batch_command(commands, "report")
    _batch_command(commands, "calendar")
    _batch_command(commands, "batchsheet")
    _batch_command(commands, "label")
    hand = _command(commands, "handon")
    hand.add_argument("name", metavar="NAME", help=words.FRAGRANCE)
    hand.add_argument("-o", "--out", metavar="FILE", help=words.OUT)
    _bench_option(hand)
    hand.set_defaults(command="hand_on")
    take = _command(commands, "takein")
    take.add_argument("file", metavar="FILE", help=words.HANDED_ON)
    _bench_option(take)
    take.set_defaults(command="take_in")
    export = _batch_command(commands, "export", batch="?")
    export.add_argument("--fragrances", action="store_true", help=words.BOOK_INSTEAD)
    return parser


def _command(commands: Any, name: str) -> argparse.ArgumentParser:
    says = words.HELP[name]
    parser: argparse.ArgumentParser = commands.add_parser(name, help=says, description=says)
    return parser


def _batch_command(commands: Any, name: str, batch: str | None = None) -> argparse.ArgumentParser:
    parser = _command(commands, name)
    parser.add_argument(
        "batch",
        metavar="BATCH",
        nargs=batch,
        default="",
        help=words.BATCH,
    )
    parser.add_argument("-o", "--out", metavar="FILE", help=words.OUT_OR_SCREEN)
    _bench_option(parser)
    parser.set_defaults(command="write_batch", makes=name)
    return parser


def _port(written: str) -> int:
    if not written.isdecimal() or not 0 < int(written) < 1 << 16:
        raise argparse.ArgumentTypeError(words.BAD_PORT)
    return int(written)


def _bench_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--bench",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help=words.BENCH,
    )


def _plan_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("plan", metavar="PLAN", help=words.PLAN)
    _bench_option(parser)


# ---- what is meant


def folder_of(args: argparse.Namespace) -> Path:
    from soapbench.bench.folder import bench_folder

    return bench_folder(getattr(args, "bench", None), os.environ)


def plan_file(args: argparse.Namespace) -> Path:
    """A file, or the plan of the bench with that title. Raises FileFaults for neither."""
    from soapbench.bench.plannamed import plan_named

    with telling_waits(args):
        return plan_named(args.plan, folder_of(args))


def settings_of(args: argparse.Namespace) -> Settings:
    from soapbench.bench.settingsfile import read_settings
    from soapbench.desk.keys import ACTS

    with telling_waits(args):
        return read_settings(folder_of(args), [act.name for act in ACTS])[0]


def memory_of(args: argparse.Namespace) -> Memory:
    from soapbench.bench.learned import open_bench, remember

    bench = open_bench(folder_of(args))
    memory = remember(bench, settings_of(args).risk)
    tell_copies(bench)
    return memory


def tell_copies(bench: Bench) -> None:
    """Say on standard error what only a file sync's copy of a batch holds."""
    listing = bench.batches()
    if listing.copies:
        from soapbench.bench.joining import not_joined

        for copy in not_joined(bench, listing):
            print(f"soapbench: {copy.words}", file=sys.stderr)


def telling_waits(args: argparse.Namespace) -> AbstractContextManager[None]:
    """Say on standard error what is waited for, where the bench's disk does not answer."""
    from soapbench.logfile.patience import telling
    from soapbench.reading.safetext import clean

    line = words.waiting(clean(str(folder_of(args)), 200))
    return telling(lambda: print(line, file=sys.stderr, flush=True))


def any_text(stream: TextIO) -> bool:
    return (stream.encoding or "utf-8").lower().replace("_", "-") in ("utf-8", "utf8")
