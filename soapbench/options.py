"""What can be asked for on the command line."""

from __future__ import annotations

import argparse
from typing import Any

from soapbench import __version__


def command_parser() -> argparse.ArgumentParser:
    """Parses a command line; ``command`` is then the name of what is to be done."""
    parser = argparse.ArgumentParser(
        prog="soapbench", description="Pour multi-coloured soap while it can still be poured."
    )
    parser.add_argument("--version", action="version", version=f"soapbench {__version__}")
    _bench_option(parser)
    parser.set_defaults(command="bench")
    commands = parser.add_subparsers(metavar="COMMAND")

    pour = commands.add_parser("pour", help="open a plan, get everything ready, and pour it")
    _plan_argument(pour)
    pour.set_defaults(command="pour")

    check = commands.add_parser("check", help="check a plan: amounts, chances, safety notes")
    _plan_argument(check)
    check.add_argument("--json", action="store_true", help="output JSON")
    check.add_argument(
        "--face", metavar="FILE", help="draw the predicted cut face to FILE (.svg or .png)"
    )
    check.set_defaults(command="check")

    rehearse = commands.add_parser("rehearse", help="practise a plan with simulated batter")
    _plan_argument(rehearse)
    rehearse.add_argument("--speed", default="4", metavar="1..20", help="speed-up, default 4")
    rehearse.add_argument(
        "--seed", type=int, metavar="N", help="use this batter again (default: random)"
    )
    rehearse.add_argument("--hands-off", action="store_true", help="play it automatically, no keys")
    rehearse.set_defaults(command="rehearse")

    fragrances = commands.add_parser(
        "fragrances", help="what your batches say about each fragrance"
    )
    fragrances.add_argument(
        "name", metavar="NAME", nargs="?", default="", help="a fragrance, or a part of its name"
    )
    fragrances.add_argument("--json", action="store_true", help="output JSON")
    _bench_option(fragrances)
    fragrances.set_defaults(command="fragrances")

    serve = commands.add_parser("serve", help="the bench in a browser on this computer")
    serve.add_argument(
        "--host", default="127.0.0.1", help="address of this computer in your network"
    )
    serve.add_argument("--port", type=_port, default=8765)
    _bench_option(serve)
    serve.set_defaults(command="serve")

    _batch_command(commands, "report", "a batch report as an HTML file to read or print")
    _batch_command(commands, "calendar", "cut, weighings and end of cure for any calendar")
    _batch_command(commands, "batchsheet", "what a batch is sold by, as an HTML file to print")
    _batch_command(commands, "label", "the text of a batch's label as a small SVG")
    hand = commands.add_parser("handon", help="what one fragrance taught, for another maker")
    hand.add_argument("name", metavar="NAME", help="a fragrance, or a part of its name")
    hand.add_argument("-o", "--out", metavar="FILE", help="where to write it")
    _bench_option(hand)
    hand.set_defaults(command="hand_on")
    take = commands.add_parser("takein", help="what another maker found of a fragrance")
    take.add_argument("file", metavar="FILE", help="the file that was handed on")
    _bench_option(take)
    take.set_defaults(command="take_in")
    export = _batch_command(commands, "export", "the events of one batch as CSV", batch="?")
    export.add_argument(
        "--fragrances", action="store_true", help="the fragrance book instead of a batch"
    )
    return parser


def _batch_command(
    commands: Any, name: str, says: str, batch: str | None = None
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=says, description=says)
    parser.add_argument(
        "batch",
        metavar="BATCH",
        nargs=batch,
        default="",
        help="a file, or a unique part of its name, title or id",
    )
    parser.add_argument(
        "-o", "--out", metavar="FILE", help="where to write it (- for standard output)"
    )
    _bench_option(parser)
    parser.set_defaults(command="write_batch", makes=name)
    return parser


def _port(written: str) -> int:
    port = int(written)
    if not 0 < port < 1 << 16:
        raise ValueError(written)
    return port


def _bench_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--bench",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="the bench folder (default: SOAPBENCH_DIR or the usual data folder)",
    )


def _plan_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "plan", metavar="PLAN", help="a pour plan: its file (TOML), or its title in your bench"
    )
    _bench_option(parser)
