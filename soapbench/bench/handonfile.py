"""Files by which what a fragrance taught goes from one bench to another."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from soapbench.bench import owntable
from soapbench.bench.tables import fragrances
from soapbench.fragrances.handon import LONGEST_NAME, TABLE, Word, as_table, word_in
from soapbench.logfile.door import NotAFile, read_file
from soapbench.logfile.tomlfile import key_lines, parse_text
from soapbench.reading.faults import Fault, FileFaults
from soapbench.reading.safetext import clean

FILE = "fragrances.toml"
FIRST_LINES = "# Fragrances of this bench; limits are those of their own certificates, for soap.\n"
LARGEST = 10_000
"""Bytes; a whole one has three hundred."""
TOLD_MARKS = {"source": "as another maker found it", "verified": "that maker's word"}
HEADING = """\
# What one fragrance did to the clock, as one maker found it in batches of their own.
# times_faster: how many times faster batter thickens with 3 % of it at 24 °C; four_in_five: four
# times of five it lies between these. Take it in with: soapbench takein FILE
# It says nothing of how much may be used: that is in the bottle's own certificate.
"""


def text_of(word: Word, today: date) -> str:
    """The file's text."""
    import tomli_w

    return f"{HEADING}\n{tomli_w.dumps({TABLE: as_table(word, today)})}"


def file_name(word: Word) -> str:
    """What the file is called where nobody names it; safe in any folder."""
    plain = "".join(c if c.isalnum() else "-" for c in word.name.casefold())
    return f"{plain[:LONGEST_NAME]}-found.toml"


def read_word(path: Path) -> Word:
    """The word in a file. Raises FileFaults with all that is wrong with it."""
    name = str(path)
    try:
        text = read_file(path, LARGEST).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileFaults(name, [Fault("", "it is no plain text", "a file by soapbench")]) from None
    except FileNotFoundError:
        raise FileFaults(name, [Fault("", "there is no such file", "check its name")]) from None
    except NotAFile as error:
        raise FileFaults(name, [Fault("", error.strerror or "no file", "a file")]) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or clean(str(error), 80)
        raise FileFaults(name, [Fault("", f"it cannot be read: {why}", "a small file")]) from None
    word, faults = word_in(parse_text(text, name))
    if word is None:
        lines = {".".join(map(str, keys)): line for keys, line in key_lines(text).items()}
        raise FileFaults(name, [_placed(fault, lines) for fault in faults])
    return word


def _placed(fault: Fault, lines: dict[str, int]) -> Fault:
    key = fault.key
    while key not in lines and "." in key:
        key = key.rpartition(".")[0]
    return Fault(fault.key, fault.wrong, fault.right, lines.get(key))


def take_in(bench: Path, word: Word) -> bool:
    """Keep the word in the maker's own table of fragrances; True where it replaces an older one.

    What the maker wrote there stays as it is. Raises FileFaults for a faulty table, OSError.
    """
    tables = bench / "tables"
    own = fragrances(tables).get(word.name)  # refuses a faulty table before it is written
    text = owntable.text_of(tables, FILE, FIRST_LINES)
    entry: dict[str, Any] = {
        "times_faster": word.by_others.times_faster,
        "four_in_five": [word.by_others.low, word.by_others.high],
        "batches": word.by_others.batches,
        **TOLD_MARKS,
    }
    text = owntable.with_value(text, (word.name, "told"), None)  # an older word goes whole
    for key, value in entry.items():
        text = owntable.with_value(text, (word.name, "told", key), value)
    if own is None:
        text = owntable.with_value(text, (word.name, "reputation"), word.described_as.value)
    owntable.save(tables, FILE, text)
    return own is not None and own.by_others is not None
