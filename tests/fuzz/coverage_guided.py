"""Optional, by hand where atheris installs: bytes grown towards code not reached yet.

python tests/fuzz/coverage_guided.py plan -max_total_time=300
python tests/fuzz/coverage_guided.py log -max_total_time=300
python tests/fuzz/coverage_guided.py record -max_total_time=300
python tests/fuzz/coverage_guided.py quantity -max_total_time=300
"""

from __future__ import annotations

import sys
from zlib import crc32

import atheris

with atheris.instrument_imports(include=["soapbench"]):
    from soapbench.bench.planfile import plan_from_text
    from soapbench.bench.tables import oils, swirls
    from soapbench.logfile.records import event_text, header_text, read_bytes
    from soapbench.reading.faults import FileFaults
    from soapbench.reading.safetext import clean
    from soapbench.reading.units import Measure, QuantityError, read, read_amount

OILS, SWIRLS = oils(), swirls().kinds


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


if __name__ == "__main__":
    wanted = sys.argv.pop(1)
    atheris.Setup(sys.argv, {f.__name__: f for f in (plan, log, record, quantity)}[wanted])
    atheris.Fuzz()
