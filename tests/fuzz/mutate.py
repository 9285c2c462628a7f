"""Thousands of spoilt plans and logs, each read by a program of its own with a limit of memory.

    python tests/fuzz/mutate.py plans --count 3400 --seed 1
    python tests/fuzz/mutate.py logs --count 400
    python tests/fuzz/mutate.py tables --count 400
    python tests/fuzz/mutate.py photograph --count 400
    python tests/fuzz/mutate.py word --count 400         (a fragrance as another maker found it)
    python tests/fuzz/mutate.py additive --count 400
    python tests/fuzz/mutate.py form --count 400         (a plan's, typed into)
    python tests/fuzz/mutate.py materials --count 400    (forms of own materials, typed into)

Prints how many were fine, refused, slow (over a second), fell (another exit code, a traceback)
or ran out of time or memory, and keeps the files of those under ``--keep``.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import resource
import shutil
import signal
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]
SLOW_S = 1.0
LIMIT_S = 20
"""Of a processor's time."""
MEMORY = 1_000_000_000
UNITS = (
    "%", "g", "kg", "mL", "L", "cm", "mm", "km", "degC", "degF", "K", "tsp", "cup", "oz", "s", "h",
    "millidegC", "kilodegF", "delta_degC", "dB", "bit", "g/mL", "mg/g", "g**2", "m", "ly", "inch",
    "1/s", "degC*g", "",
)  # fmt: skip
NUMBERS = (
    "0", "-1", "1e-9", "0.001", "1", "1.5", "99.999", "100", "101", "1e3", "1e6", "1e9", "1e300",
    "1e-300", "nan", "inf", "1/2", "½", "1,5", "0x10", "٣", "1_000", "9" * 400,
)  # fmt: skip
TEXTS = (
    "", " ", "x" * 5_000, "\x1b]0;t\x07", "[red]x[/]", "../../x", "石鹸", "a\u202eb", "olive",
    "base", "drop swirl", "each pot", "NaOH", "KOH", "notorious", "#4a5a6a", "oil", "water",
)  # fmt: skip


def spoilt(text: str, rng: random.Random) -> str:
    """``text``, a plan, with a few things wrong."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        text = rng.choice(WAYS)(text, rng)
    return text


def _line(text: str, rng: random.Random) -> tuple[list[str], int]:
    lines = text.splitlines()
    valued = [i for i, line in enumerate(lines) if "=" in line] or [0]
    return lines or [""], rng.choice(valued)


def _value(text: str, rng: random.Random) -> str:
    lines, at = _line(text, rng)
    key = lines[at].partition("=")[0]
    value = lines[at].partition("=")[2].strip().strip('"')
    if value[:1].isdigit() and rng.random() < 0.6:  # another amount that may well stand
        number, _, unit = value.partition(" ")
        factor = rng.choice((0.001, 0.3, 0.9, 1.1, 3, 1000))
        with contextlib.suppress(ValueError):
            lines[at] = f'{key}= "{float(number) * factor:.6g} {unit}"'
        return "\n".join(lines) + "\n"
    amount = rng.choice((*NUMBERS, *TEXTS)) + rng.choice(("", " " + rng.choice(UNITS)))
    plain = rng.choice((True, False, False, False, False))
    lines[at] = f"{key}= {amount}" if plain else f"{key}= {_quoted(amount)}"
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + "".join(c if c.isprintable() and c not in '"\\' else " " for c in text) + '"'


def _unit(text: str, rng: random.Random) -> str:
    lines, at = _line(text, rng)
    key, _, value = lines[at].partition("=")
    number = value.strip().strip('"').split(" ")[0]
    lines[at] = f'{key}= "{number} {rng.choice(UNITS)}"'
    return "\n".join(lines) + "\n"


def _gone(text: str, rng: random.Random) -> str:
    lines, at = _line(text, rng)
    del lines[at]
    return "\n".join(lines) + "\n"


def _twice(text: str, rng: random.Random) -> str:
    lines, at = _line(text, rng)
    return "\n".join([*lines[: at + 1], lines[at], *lines[at + 1 :]]) + "\n"


def _many(text: str, rng: random.Random) -> str:
    """Thousands of rows, keys or steps."""
    count = rng.choice((10, 100, 1_000, 20_000))
    kind = rng.choice(("pots", "oils", "colourants", "keys", "steps", "faults"))
    if kind == "keys":
        return text + "".join(f"unknown{i} = {i}\n" for i in range(count))
    if kind == "faults":
        return text + "".join(f'[[oils]]\nname = "no{i}"\nshare = "x"\n' for i in range(count))
    if kind == "pots":
        return text + "".join(f'[[pots]]\nname = "p{i}"\nshare = "0.1 %"\n' for i in range(count))
    if kind == "oils":
        return text + '[[oils]]\nname = "olive"\nshare = "0.1 %"\n' * count
    if kind == "colourants":
        return text + '[[pots.colourants]]\nname = "mica"\ndose = "1 tsp"\n' * count
    steps = ", ".join(['"drop swirl"'] * count)
    return text.replace("steps = [", f"steps = [{steps}, ")


def _mould(text: str, rng: random.Random) -> str:
    sizes = [f"{rng.choice(('0.1', '1', '9', '300', '20000'))} {rng.choice(('mm', 'cm', 'm'))}"]
    sizes += [f"{rng.choice(('0.1', '1', '9', '300', '20000'))} cm" for _ in range(2)]
    lines = [
        line for line in text.splitlines()
        if not line.startswith(("length", "width", "depth", "volume"))
    ]  # fmt: skip
    at = next((i for i, line in enumerate(lines) if "mould]" in line), 0)
    names = ("length", "width", "depth")
    lines[at + 1 : at + 1] = [f'{n} = "{size}"' for n, size in zip(names, sizes, strict=True)]
    return "\n".join(lines) + "\n"


def _bytes(text: str, rng: random.Random) -> str:
    at, cut = rng.randrange(len(text) + 1), rng.choice((0, 1, 5, 60))
    put = "".join(rng.choice('"[]={}.#\n\\0a,') for _ in range(rng.choice((1, 3, 20))))
    return text[:at] + put + text[at + cut :]


def _moved(text: str, rng: random.Random) -> str:
    lines, at = _line(text, rng)
    line = lines.pop(at)
    lines.insert(rng.randrange(len(lines) + 1), line)
    return "\n".join(lines) + "\n"


WAYS: tuple[Callable[[str, random.Random], str], ...] = (
    _value, _value, _value, _unit, _unit, _gone, _twice, _many, _mould, _bytes, _moved,
)  # fmt: skip


def logs_of(text: str) -> bytes:
    """A poured batch of a plan as its log's bytes."""
    from datetime import UTC, datetime

    from soapbench.log import Event, Kind
    from soapbench.logfile.records import Header, event_text, header_text
    from tests.plans import plan

    at = datetime(2026, 3, 1, 18, tzinfo=UTC)
    events = [
        Event(at, 0.0, Kind.LYE_MEETS_OILS, boot_id="b", id="lye"),
        Event(at, 90.0, Kind.TRACE_SEEN, "base", {"state": 1}, 90.0, "b", "tap"),
        Event(at, 95.0, Kind.BLEND_BURST, None, {"seconds": 5.0}, 95.0, "b", "blend"),
        Event(at, 300.0, Kind.NOTE, "base", {"text": "ricing"}, 300.0, "b", "note"),
        Event(at, 900.0, Kind.POUR_ENDED, None, {"finished": True}, 900.0, "b", "end"),
        Event(at, 90000.0, Kind.WEIGHING, None, {"g": 900.0}, 90000.0, "b", "weigh"),
    ]
    header = Header("b1", "Quay Wall", at, "1", plan(text).as_written())
    return header_text(header) + b"".join(map(event_text, events))


def spoilt_log(log: bytes, rng: random.Random) -> bytes:
    """Some values gone wrong, their checksums put right; entries doubled, lost, many."""
    from zlib import crc32

    first, *rest = log.split(b"\n[[event]]\n")
    records = [first, *(b"[[event]]\n" + record for record in rest)]
    raws = [record[: record.rfind(b'sum = "')].decode() for record in records]
    for _ in range(rng.choice((1, 2, 4))):
        at = rng.randrange(len(raws))
        way = rng.choice((_value, _value, _unit, _gone, _moved))
        raws[at] = way(raws[at], rng)
    if rng.random() < 0.15:
        more = [raws[-2]] * rng.choice((10, 1_000, 20_000))
        raws += [raw.replace('id = "', f'id = "{i}') for i, raw in enumerate(more)]
    sound = [raw.encode("utf-8", "replace") for raw in raws]
    return b"\n".join(raw + b'sum = "%08x"\n' % crc32(raw) for raw in sound)


def forked(act: Callable[[], int], path: Path) -> tuple[str, float, int]:
    """How ``act`` ended in a child with limits: a word, seconds, peak memory in kB."""
    pid = os.fork()
    if pid == 0:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S + 1))
        signal.alarm(15 * LIMIT_S)  # for what waits without working; either ends the child
        with path.open("w") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
            try:
                code = act()
            except MemoryError:
                code = 98
            except BaseException:  # noqa: BLE001 - that is what is looked for
                import traceback

                traceback.print_exc()
                code = 99
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)
    _, status, used = os.wait4(pid, 0)
    seconds = used.ru_utime + used.ru_stime  # the machine may be busy with something else
    if os.WIFSIGNALED(status):
        late = os.WTERMSIG(status) in (signal.SIGALRM, signal.SIGXCPU)
        word = "out of time" if late else "fell"
    else:
        code = os.WEXITSTATUS(status)
        word = {0: "fine", 1: "fine", 2: "refused", 98: "out of memory"}.get(code, "fell")
    return word, seconds, used.ru_maxrss


TABLES = ("oils", "colourants", "swirls", "aftercare", "additives")
TYPED = ("photograph", "word", "additive", "form", "materials")
"""Kinds that go straight to one of ``targets``; the others through the command line."""
KEYED = (
    *NUMBERS, *TEXTS, "30 x 9 x 8 cm", "2 L", "33 %", "base, foam", "lye water", "2 : 1", "1 tsp",
    "to light trace", "190-200 mg/g", "Linalool 2.1 %, Limonene 0.4", "75 degF", "goat milk",
)  # fmt: skip
SIDES = (b"\x00\x00\x00\x01", b"\xff\xff\xff\xff", b"\x00\x00\xff\xff", b"\x7f\xff\xff\xff")
"""Where a file says how large its picture is."""


def photographs() -> list[bytes]:
    """Snapshots of a bar as files of every kind that is read."""
    import io

    import numpy as np
    from PIL import Image

    high, wide = 90, 120
    y, x = np.mgrid[0:high, 0:wide]
    rgb = np.full((high, wide, 3), 140, np.uint8)
    bar = (abs(x - 60) < 44) & (abs(y - 45) < 32)
    rgb[bar] = (74, 90, 106)
    rgb[bar & (y < 40)] = (233, 228, 214)
    cases = []
    for kind, more in (("JPEG", {}), ("JPEG", {"progressive": True}), ("PNG", {}), ("WEBP", {})):
        held = io.BytesIO()
        exif = Image.Exif()
        exif[0x0112] = 6
        Image.fromarray(rgb).save(held, kind, exif=exif, **more)
        cases.append(held.getvalue())
    return cases


def spoilt_bytes(data: bytes, rng: random.Random) -> bytes:
    """Bytes changed, lost, put in, doubled; the first part, where sizes stand, most often."""
    for _ in range(rng.choice((1, 1, 2, 4, 12))):
        at = rng.randrange(len(data) + 1) if rng.random() < 0.5 else rng.randrange(200)
        put = rng.choice((*SIDES, rng.randbytes(rng.choice((1, 2, 8, 100))), b""))
        cut = rng.choice((0, len(put), len(put), 40, len(data)))
        data = data[:at] + put + data[at + cut :]
        if rng.random() < 0.05:
            data *= rng.choice((2, 50))
    return data


def typed(rng: random.Random) -> bytes:
    """What is chosen and keyed into a form, as ``targets.Choices`` reads it."""
    keys = rng.randbytes(2)
    for _ in range(rng.choice((1, 3, 12))):
        key = rng.choice(KEYED).encode("utf-8", "replace")[:63]
        keys += rng.randbytes(3) + bytes([len(key)]) + key
    return keys


def typed_cases(kind: str, rng: random.Random) -> bytes:
    """One case for a kind of ``TYPED``."""
    if kind == "photograph":
        return spoilt_bytes(rng.choice(photographs()), rng)
    if kind in ("form", "materials"):
        return typed(rng)
    sound = FOUND if kind == "word" else (ROOT / "soapbench/data/additives.toml").read_text()
    return spoilt(sound, rng).encode("utf-8", "replace")


FOUND = """\
["fragrance found"]
name = "Kelp & Fig"
described_as = "accelerates"
times_faster = 4.4
four_in_five = [2.7, 7.0]
batches = 5
told_on = "2026-03-01"
"""


def cases(kind: str, count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """Where in a folder each lies, and its bytes."""
    samples = [file.read_text() for file in sorted((ROOT / "sample_plans").glob("*.toml"))]
    rng = random.Random(seed)
    from tests.plans import EVERYTHING, THREE_POTS

    log = logs_of(THREE_POTS)
    for _ in range(count):
        if kind == "plans":
            text = spoilt(rng.choice((THREE_POTS, EVERYTHING, *samples)), rng)
            yield "case.toml", text.encode("utf-8", "replace")
        elif kind in TYPED:
            yield "case.bin", typed_cases(kind, rng)
        elif kind == "logs":
            yield "bench/batches/case.toml", spoilt_log(log, rng)
        else:
            name = f"{rng.choice(TABLES)}.toml"
            text = spoilt((ROOT / "soapbench/data" / name).read_text(), rng)
            yield f"bench/tables/{name}", text.encode("utf-8", "replace")


def acts(kind: str, folder: Path) -> list[Callable[[], int]]:
    """What is done with a case."""
    from soapbench.cli import main

    if kind in TYPED:
        from targets import TARGETS

        return [lambda: TARGETS[kind]((folder / "case.bin").read_bytes()) or 0]
    bench = ["--bench", str(folder / "bench")]
    if kind == "plans":
        file, face = str(folder / "case.toml"), str(folder / "face.svg")
        return [lambda: main(["check", file, "--face", face, *bench])]
    out = ["-o", str(folder / "out")]
    if kind == "tables":
        return [
            lambda: main(["check", str(folder / "case.toml"), *bench]),
            lambda: main(["report", "case", *out, *bench]),
            lambda: main(["calendar", "case", *out, *bench]),
        ]
    return [
        lambda: main(["report", "case", *out, *bench]),
        lambda: main(["calendar", "case", *out, *bench]),
        lambda: main(["export", "case", *out, *bench]),
    ]


def load(folder: Path) -> None:
    """Have loaded here what every child would load for itself."""
    from contextlib import redirect_stdout

    from tests.plans import EVERYTHING, THREE_POTS

    place = folder / "bench/batches/case.toml"
    place.parent.mkdir(parents=True)
    place.write_bytes(logs_of(THREE_POTS))
    (folder / "case.toml").write_text(EVERYTHING)
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere):
        for kind in ("plans", "logs"):
            for act in acts(kind, folder):
                assert act() in (0, 1)


def run(kind: str, count: int, seed: int, keep: Path | None) -> Counter[str]:
    """Counts by how it ended; the odd ones are kept."""
    import targets  # noqa: F401

    import soapbench.barface.words
    import soapbench.bench.learned
    import soapbench.papers.commands
    import soapbench.papers.report
    import soapbench.sheet.text  # noqa: F401

    ended: Counter[str] = Counter()
    most = 0
    with TemporaryDirectory() as name:
        folder = Path(name)
        load(folder)
        for number, (where, case) in enumerate(cases(kind, count, seed)):
            place = folder / where
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(case)
            shutil.rmtree(folder / "bench/.derived", ignore_errors=True)
            for act in acts(kind, folder):
                word, seconds, memory = forked(act, folder / "told")
                most = max(most, memory)
                ended[word] += 1
                words = (folder / "told").read_text("utf-8", "replace")
                slow = seconds > SLOW_S
                ended["slow"] += slow
                ended["no line named"] += word == "refused" and ", line " not in words
                ended["over 100 kB told"] += len(words) > 100_000
                if keep and (slow or word not in ("fine", "refused")):
                    keep.mkdir(parents=True, exist_ok=True)
                    stem = f"{kind}-{seed}-{number}-{word.replace(' ', '-')}-{seconds:.1f}s"
                    (keep / f"{stem}{place.suffix}").write_bytes(case)
                    (keep / f"{stem}.told").write_text(words[-5_000:])
            if kind == "tables":
                place.unlink()
    print(f"{count} {kind}: {dict(ended)}; most memory {most // 1000} MB")
    return ended


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("kind", choices=("plans", "logs", "tables", *TYPED))
    parser.add_argument("--count", type=int, default=3400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    ended = run(args.kind, args.count, args.seed, args.keep)
    return int(bool(ended["fell"] or ended["out of time"] or ended["out of memory"]))


if __name__ == "__main__":
    sys.exit(main())
