"""What the command line says: help, what was written, why something could not be done."""

from __future__ import annotations

from collections.abc import Sequence

from soapbench.reading.safetext import counted

ABOUT = "Pour multi-coloured soap while it can still be poured."
COMMANDS = "commands"
HELP = {
    "pour": "open a plan, get everything ready, and pour it",
    "check": "check a plan: amounts, chances, safety notes",
    "rehearse": "practise a plan with simulated batter",
    "fragrances": "what your batches say about each fragrance",
    "serve": "your bench in a browser on this computer",
    "report": "a batch report as an HTML file to read or print",
    "calendar": "cut, weighings and end of cure for any calendar",
    "batchsheet": "what a batch is sold by, as an HTML file to print",
    "label": "the text of a batch's label as a small SVG",
    "handon": "what one fragrance taught, for another maker",
    "takein": "what another maker found of a fragrance",
    "export": "all that was noted of one batch, for a spreadsheet (CSV)",
}
JSON = "output JSON"
FACE = "draw the predicted cut face to FILE (.svg or .png)"
SPEED = "times faster than real time (default: 4)"
SEED = "the batter of this number again (default: a new one)"
PORT = "port of that address (default: 8765)"
HANDS_OFF = "play it by itself, no keys"
FRAGRANCE = "a fragrance, or a part of its name"
HOST = "this computer's address in your network (default: this computer only)"
HANDED_ON = "the file that was handed on"
BOOK_INSTEAD = "the fragrance book instead of a batch"
BATCH = "a file, or enough of its title to tell it apart"
OUT, OUT_OR_SCREEN = "where to write it", "where to write it (- for standard output)"
BENCH = "the bench folder (default: SOAPBENCH_DIR or the usual data folder)"
PLAN = "a pour plan: its file (TOML), or its title on your bench"

FACE_SUFFIX = "file must end in .svg or .png"
NO_ORDER = "this order of steps can't be poured"
NO_REHEARSAL = "This order of steps can't be poured; check tells why."
BAD_PORT = "a port is a number from 1 to 65535"
BAD_SEED = "seed must be 0 or more"
NO_OUTPUT = "Standard output is closed: name a file."
NO_BROWSER = 'For the browser install soapbench with "soapbench[browser]".'
NO_TERMINAL = "soapbench needs a terminal window; see soapbench --help"
OLD_WORD, NEW_WORD = "It replaces an earlier word.", "It counts as a word, not as your batches."
NONE_TO_NAME = "Press f on the bench to add one."
WHICH_BATCH = "Which batch? Give a file, or part of its title."
NO_BATCHES, LATEST = "There are no batches on this bench yet.", "The latest are:"
ON_NETWORK = (
    "Anyone on this network with the address can pour and edit plans, and typing isn't\n"
    "encrypted. Home networks only."
)
TOO_MANY_WINDOWS = "Too many windows of the bench are open."
WRONG_NAME, WRONG_PAGE = "Not under this name.", "Not from another page."
WANTS_KEY = "Open the address that was printed, with its key."


def not_drawn(file: str, why: str) -> str:
    return f"{file} was not drawn: {why}"


def not_written(file: str, why: object) -> str:
    return f"{file} cannot be written: {why}"


def written(file: str) -> str:
    return f"Written: {file}"


def no_fragrance(name: str, right: str) -> str:
    return f'No fragrance called "{name}" here. {right}'


def several_fragrances(name: str, names: Sequence[str]) -> str:
    listed = ", ".join(f'"{one}"' for one in names)
    return f'"{name}" matches {counted(len(names), "fragrance")}; be more specific: {listed}'


def not_served(why: object) -> str:
    return f"The bench cannot be served: {why}"


def served(address: str) -> str:
    return f"Your bench is at {address}\nCtrl+C ends it."


def no_address(host: str) -> str:
    return f'"{host}" is no address; write 127.0.0.1 or 192.168.1.20'


def every_address(host: str) -> str:
    return f"{host} is every address at once; name this computer's own"


def several_batches(name: str, count: int) -> str:
    return f'"{name}" matches {counted(count, "batch", "batches")}; be more specific:'


def no_batch(name: str) -> str:
    return f'No batch is called "{name}".'


def still_poured(batch: str) -> str:
    return f"{batch}: is still being poured."


def no_dates(batch: str) -> str:
    return f"{batch}: has no dates left."


def waiting(where: str) -> str:
    return f"soapbench: waiting for the disk of {where} (Ctrl+C ends)"
