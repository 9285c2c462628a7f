"""Optional, by hand where atheris installs: bytes grown towards code not reached yet.

python tests/fuzz/coverage_guided.py KIND [CORPUS] -max_total_time=300 -rss_limit_mb=1000

KIND: plan, log, record, quantity, photo, form, fragrance (one handed on), spoken. An empty CORPUS,
a folder, is given something sound to begin with.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import sys
import tempfile
import tomllib
from collections.abc import Callable
from pathlib import Path
from zlib import crc32

import atheris

with atheris.instrument_imports(include=["soapbench"]):
    from soapbench.bench import owntable, planedit
    from soapbench.bench.handonfile import read_word, take_in
    from soapbench.bench.photofile import NotAPhotograph, read_photograph
    from soapbench.bench.planfile import plan_from_text
    from soapbench.bench.tables import fragrances, oils, swirls
    from soapbench.desk.materials import FORMS
    from soapbench.logfile.records import event_text, header_text, read_bytes
    from soapbench.reading.faults import FileFaults, Wrong
    from soapbench.reading.safetext import clean
    from soapbench.reading.units import Measure, QuantityError, read, read_amount
    from soapbench.words.spoken import aloud

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.fuzz.mutate import logs_of
from tests.plans import THREE_POTS

OILS, SWIRLS = oils(), swirls().kinds
HERE = Path(tempfile.mkdtemp(dir="/dev/shm" if os.path.isdir("/dev/shm") else None))
HANDED_ON = """["fragrance found"]
name = "Reed Smoke"
described_as = "well behaved"
times_faster = 3.1
four_in_five = [2.0, 4.8]
batches = 3
told_on = "2026-03-01"
"""
PLACES: tuple[tuple[int | str, ...], ...] = (
    ("title",), ("mould", "volume"), ("oils", 0, "share"), ("lye", "superfat"),
    ("conditions", "batter"), ("fragrance", "load"), ("pots", 1, "share"),
    ("pots", 0, "colourants", 0, "dose"), ("swirl", "steps"), ("pots", 2, "name"),
)  # fmt: skip


def plan(data: bytes) -> None:
    """A plan file: read, or refused with words."""
    try:
        plan_from_text(data.decode("utf-8", "surrogateescape"), "a plan", OILS, SWIRLS)
    except FileFaults as refused:
        if not refused.faults:
            raise


def log(data: bytes) -> None:
    """A log: never an error; what was read is written and read back (values stay flat)."""
    found = read_bytes(data)
    if found.header:
        assert read_bytes(header_text(found.header)).header is not None
    for event in found.events:
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
    for measure in Measure:
        try:
            assert abs(read(text, measure)) < float("inf")
            read_amount(text)
        except QuantityError as refused:
            if not refused.wrong:
                raise


def photo(data: bytes) -> None:
    """A photograph: pixels within bounds, or refused with words."""
    file = HERE / "cut.jpg"
    file.write_bytes(data)
    with contextlib.suppress(NotAPhotograph):
        pixels = read_photograph(file)
        assert pixels.ndim == 3
        assert max(pixels.shape) <= 1600


def form(data: bytes) -> None:
    """What is typed into the forms: kept as it is, and then read or refused like any plan."""
    if not data:
        return
    typed = clean(data[1:].decode("utf-8", "replace"), 200)
    place = PLACES[data[0] % len(PLACES)]
    with contextlib.suppress(KeyError, IndexError):
        made = planedit.with_value(THREE_POTS, place, [typed] if place[-1] == "steps" else typed)
        tomllib.loads(made)
        plan(made.encode())
    for blank in (b for form in FORMS for b in form.blanks if not b.closed):
        with contextlib.suppress(Wrong):
            value = blank.read(typed)
            text = owntable.with_value("", ("mine", *blank.path), value)
            assert tomllib.loads(text)
            assert blank.show(value).isprintable()


def fragrance(data: bytes) -> None:
    """A fragrance handed on: refused with words, or taken in and then told of the bench."""
    file = HERE / "found.toml"
    file.write_bytes(data)
    try:
        word = read_word(file)
    except FileFaults as refused:
        if not refused.faults:
            raise
        return
    (HERE / "tables" / "fragrances.toml").unlink(missing_ok=True)
    take_in(HERE, word)
    assert fragrances(HERE / "tables")[word.name].told == word.told


def spoken(data: bytes) -> None:
    """Whatever is said: words alone, nothing a voice would take for a command."""
    said = aloud(data.decode("utf-8", "surrogateescape"))
    assert said.isprintable()
    assert not set(said) & set('<>|;$`\\"')


def pictures() -> list[bytes]:
    from PIL import Image

    rng, found = random.Random(3), []
    image = Image.frombytes("RGB", (48, 32), rng.randbytes(48 * 32 * 3))
    for kind in ("JPEG", "PNG", "WEBP"):
        held = io.BytesIO()
        image.save(held, kind)
        found.append(held.getvalue())
    return found


KINDS: dict[str, tuple[Callable[[bytes], None], Callable[[], list[bytes]]]] = {
    "plan": (plan, lambda: [THREE_POTS.encode()]),
    "log": (log, lambda: [logs_of(THREE_POTS)]),
    "record": (record, lambda: [logs_of(THREE_POTS).replace(b"\n[[event]]", b"\0[[event]]")]),
    "quantity": (quantity, lambda: [b"1.2 kg", b"1 1/2 tsp", b"75 degF"]),
    "photo": (photo, pictures),
    "form": (form, lambda: [bytes([i]) + b"12.5 %" for i in range(len(PLACES))]),
    "fragrance": (fragrance, lambda: [HANDED_ON.encode()]),
    "spoken": (spoken, lambda: [b"2 1/2 tsp in 15 mL: 4:30 (99 g)?"]),
}


if __name__ == "__main__":
    act, seeds = KINDS[sys.argv.pop(1)]
    for folder in (Path(said) for said in sys.argv[1:] if not said.startswith("-")):
        folder.mkdir(parents=True, exist_ok=True)
        if not any(folder.iterdir()):
            for number, seed in enumerate(seeds()):
                (folder / f"seed{number}").write_bytes(seed)
    atheris.Setup(sys.argv, act)
    atheris.Fuzz()
