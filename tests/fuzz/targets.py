"""What any bytes may do: one function a kind of file or form, each fine unless it raises.

Every one takes bytes and gives nothing back. What is refused must be refused with words; what is
read must be shown, written and read back. ``coverage_guided`` and ``mutate`` drive them.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar
from zlib import crc32

from soapbench.bench import owntable
from soapbench.bench.handonfile import read_word, take_in, text_of
from soapbench.bench.photofile import NotAPhotograph, kept, read_photograph
from soapbench.bench.planfile import plan_from_text
from soapbench.bench.tables import additives, colourants, fragrances, oils, swirls
from soapbench.desk import planchanges
from soapbench.desk.materials import FORMS, NEW, rows
from soapbench.desk.plankeys import ADD, MORE, SIZE, Keys
from soapbench.desk.planlayout import rows as plan_rows
from soapbench.logfile.records import event_text, header_text, read_bytes
from soapbench.logfile.tomlfile import parse_text
from soapbench.photos.measure import measure
from soapbench.reading.faults import FileFaults, Wrong
from soapbench.reading.safetext import clean
from soapbench.reading.units import Measure, QuantityError, read, read_amount
from soapbench.recipe.additives import additive_table
from soapbench.settings import Settings
from soapbench.words.spoken import aloud
from tests.plans import EVERYTHING

OILS, SWIRLS = oils(), swirls().kinds
LOOKS, SHARES = ("#4a5a6a", "#e9e4d6", "#b5483a"), (0.6, 0.25, 0.15)
SETTINGS = (Settings(), Settings(units="US", temperature="°F"))
MOST_TURNS = 20
T = TypeVar("T")


class Choices:
    """Choices made by bytes, so that a small change of them is a small change of what is done."""

    def __init__(self, data: bytes) -> None:
        self.data = data

    def byte(self) -> int:
        first, self.data = self.data[:1], self.data[1:]
        return first[0] if first else 0

    def one(self, of: Sequence[T]) -> T:
        return of[(self.byte() * 256 + self.byte()) % len(of)]

    def text(self) -> str:
        """Up to 63 bytes: what a maker typed, or what was pasted."""
        length = self.byte() % 64
        taken, self.data = self.data[:length], self.data[length:]
        return taken.decode("utf-8", "replace")


def plan(data: bytes) -> None:
    """A plan file: read, or refused with words."""
    try:
        plan_from_text(data.decode("utf-8", "surrogateescape"), "a plan", OILS, SWIRLS)
    except FileFaults as refused:
        _with_words(refused)


def log(data: bytes) -> None:
    """A log: never an error; what was read is written and read back (values stay flat)."""
    read = read_bytes(data)
    if read.header:
        assert read_bytes(header_text(read.header)).header is not None
    for event in read.events:
        (same,) = read_bytes(event_text(event)).events
        parts = ("at", "t", "kind", "pot", "boot_s", "boot_id", "id")
        assert [getattr(same, p) for p in parts] == [getattr(event, p) for p in parts]
        assert same.values.keys() == event.values.keys()


def record(data: bytes) -> None:
    """The same, every record's checksum put right first."""
    log(b"".join(_summed(part) for part in data.split(b"\x00")))


def _summed(part: bytes) -> bytes:
    raw = part.rstrip(b"\n") + b"\n"
    return b"\n" + raw + b'sum = "%08x"\n' % crc32(raw)


def quantity(data: bytes) -> None:
    """A quantity: a finite number, or refused with words; what is shown cannot steer a terminal."""
    text = data.decode("utf-8", "surrogateescape")
    assert clean(text).isprintable()
    for kind in Measure:
        try:
            assert abs(read(text, kind)) < float("inf")
            read_amount(text)
        except QuantityError as refused:
            if not refused.wrong:
                raise


def photograph(data: bytes) -> None:
    """A photograph: kept and measured, or refused with words."""
    with TemporaryDirectory() as name:
        file = Path(name) / "cut.jpg"
        file.write_bytes(data)
        try:
            face = measure(read_photograph(file), LOOKS, SHARES, 1.3)
            copy = kept(Path(name), "a batch", "middle", file)
        except NotAPhotograph as refused:
            _told(str(refused))
        else:
            assert (Path(name) / copy).read_bytes() == data
            assert all(0 <= pot.share <= 1 for pot in face.pots)


def word(data: bytes) -> None:
    """A fragrance as another maker found it: taken in and read back, or refused with words."""
    with TemporaryDirectory() as name:
        file = Path(name) / "found.toml"
        file.write_bytes(data)
        try:
            received = read_word(file)
        except FileFaults as refused:
            _with_words(refused)
            return
        assert clean(received.name, 60).isprintable()
        take_in(Path(name), received)
        own = fragrances(Path(name) / "tables")
        assert own[received.name].by_others == received.by_others
        again = Path(name) / "again.toml"
        from datetime import date

        again.write_text(text_of(received, date(2026, 3, 1)), "utf-8")
        assert read_word(again) == received


def additive(data: bytes) -> None:
    """A table of additives: every faulty entry is left out, with words, and the rest weighed."""
    from soapbench.recipe.amounts import amounts

    try:
        tables = parse_text(data.decode("utf-8", "surrogateescape"), "additives.toml")
    except FileFaults as refused:
        _with_words(refused)
        return
    table, faults = additive_table(tables)
    assert all(fault.wrong and fault.right for fault in faults)
    pour = plan_from_text(EVERYTHING, "a plan", OILS, SWIRLS)
    weighed = amounts(pour, OILS, colourants(), {**additives(), **table})
    assert sum(pot.ml for pot in weighed.pots) - weighed.batter_ml < 1
    assert weighed.batter_ml > 0


def form(data: bytes) -> None:
    """The plan's form: whatever is typed where, there may be lines to fix and never a fault."""
    choices = Choices(data)
    text, settings = EVERYTHING, choices.one(SETTINGS)
    for _ in range(MOST_TURNS):
        if not choices.data:
            break
        tables = parse_text(text, "")
        cells: list[Keys] = [
            cell.keys for row in plan_rows(tables, (), settings) for cell in row.cells
        ]
        keys, act = choices.one(cells), choices.byte() % 8
        if keys[-1] == MORE:
            continue
        if act == 0:
            text = planchanges.removed(text, keys)
        elif act == 1:
            text = planchanges.made_whole(text, keys)
        else:
            typed = choices.text()
            if not _refused(typed, keys, settings):
                text = planchanges.put(text, keys, typed, {}, settings)
    plan(text.encode("utf-8", "surrogateescape"))


def _refused(typed: str, keys: Keys, settings: Settings) -> bool:
    """As the editor does before it takes anything."""
    from soapbench.ui.workshop.questions import wrong_with

    place = ("mould", SIZE) if keys == ("mould", ADD) else keys
    return bool(wrong_with(typed, place, settings)) or not typed.isprintable()


def materials(data: bytes) -> None:
    """The forms of own oils, colourants, additives, fragrances and swirls."""
    choices = Choices(data)
    own = choices.one(FORMS)
    text = own.first_lines
    for _ in range(MOST_TURNS):
        if not choices.data:
            break
        entries: dict[str, Any] = dict(owntable.entries(text, own.under))
        cells = [cell.keys for row in rows(own, entries) for cell in row.cells]
        keys, typed = choices.one(cells), choices.text()
        if not typed.strip() or not typed.isprintable():
            continue
        name = str(keys[len(own.at)])
        blanks = own.blanks_of(entries[name]) if name in entries else ()
        blank = next((b for b in blanks if b.path == keys[len(own.at) + 1 :]), None)
        with contextlib.suppress(Wrong):  # the editor says what is wrong and takes nothing
            if keys[-1] == NEW and typed not in entries:
                text = owntable.with_entry(text, (*own.at, typed), own.first or {})
            elif blank and typed in (blank.choices or (typed,)):
                text = owntable.with_value(text, keys, blank.read(typed))
            elif blank is None and choices.byte() % 2:
                text = owntable.without(text, keys)
            elif blank is None and typed not in entries:
                text = owntable.renamed(text, keys, typed)
        parse_text(text, own.file)


def spoken(data: bytes) -> None:
    """What is read aloud: words, nothing that a shell or a voice would take for a command."""
    speech = aloud(data.decode("utf-8", "surrogateescape"))
    assert speech.isprintable()
    assert not set(speech) & set('<>|;$`\\"')


def _with_words(refused: FileFaults) -> None:
    _told(*(fault.wrong for fault in refused.faults))


def _told(*why: str) -> None:
    assert why
    assert all(why)


TARGETS: dict[str, Callable[[bytes], None]] = {
    f.__name__: f
    for f in (plan, log, record, quantity, photograph, word, additive, form, materials, spoken)
}
