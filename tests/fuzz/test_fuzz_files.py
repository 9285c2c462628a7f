"""What else comes from a maker's disk: photographs, own tables, and where their copies go."""

from __future__ import annotations

import contextlib
import io
import random
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from fuzz_kit import ANYTHING, MANY, NASTY, TEXT
from hypothesis import given
from hypothesis import strategies as st
from mutate import TYPED, typed_cases
from PIL import Image
from targets import TARGETS

from soapbench.bench import owntable, planedit
from soapbench.bench.photofile import NotAPhotograph, kept, read_photograph, typed_path
from soapbench.logfile.tomltext import plain
from soapbench.reading.faults import FileFaults
from tests.plans import THREE_POTS


def picture(kind: str) -> bytes:
    held = io.BytesIO()
    rng = random.Random(3)
    image = Image.frombytes("RGB", (48, 32), bytes(rng.randrange(256) for _ in range(48 * 32 * 3)))
    image.save(held, kind)
    return held.getvalue()


PICTURES = tuple(picture(kind) for kind in ("JPEG", "PNG", "WEBP"))


@MANY
@given(
    st.sampled_from(PICTURES),
    st.lists(st.tuples(st.floats(0, 1), st.binary(max_size=12), st.integers(0, 40)), max_size=6),
)
def test_any_bytes_in_a_photograph(data: bytes, spoilt: list[tuple[float, bytes, int]]) -> None:
    for where, put, cut in spoilt:
        at = int(where * len(data))
        data = data[:at] + put + data[at + cut :]
    with TemporaryDirectory() as folder:
        file = Path(folder) / "cut.jpg"
        file.write_bytes(data)
        with contextlib.suppress(NotAPhotograph):
            pixels = read_photograph(file)
            assert pixels.ndim == 3
            assert pixels.shape[2] == 3


@pytest.mark.parametrize(
    "batch", [*NASTY, "../../x", "/tmp/x", "..", ".", "a/../../b", "20260301-ab"]
)
def test_a_copy_lies_in_the_bench_whatever_its_batch_is_called(tmp_path: Path, batch: str) -> None:
    photo = tmp_path / "cut.jpg"
    photo.write_bytes(PICTURES[0])
    bench = tmp_path / "here" / "bench"
    for part in ("whole loaf", batch):
        path = kept(bench, batch, part, photo)
        assert (bench / path).resolve().is_relative_to((bench / "photos").resolve())
        assert (bench / path).is_file()
    assert {p.name for p in tmp_path.iterdir()} == {"cut.jpg", "here"}
    if batch == "20260301-ab":
        assert path.startswith("photos/20260301-ab/")


@MANY
@given(TEXT)
def test_any_path_typed(written: str) -> None:
    with contextlib.suppress(ValueError):
        assert "\0" not in str(typed_path(written))


VALUES = ANYTHING.map(plain).filter(lambda value: value is not None)


NAMES = st.one_of(st.sampled_from(["Kelp", "Tar.1", "told", 'a"b']), TEXT.filter(bool))


@MANY
@given(st.lists(NAMES, min_size=1, max_size=2), VALUES)
def test_a_value_of_a_table_changes_that_value_only(path: list[str], value: object) -> None:
    text = '# mine\n["Tar & Thyme"]\nlimit_percent = 3.5  # its certificate\n'
    place = tuple(str(plain(part)) for part in path)
    try:
        changed = owntable.with_value(text, place, value)
    except (FileFaults, ValueError, TypeError, KeyError):
        return  # refused; the file stays as it was
    tables = tomllib.loads(changed)
    assert "# mine" in changed
    assert place[0] == "Tar & Thyme" or tables["Tar & Thyme"] == {"limit_percent": 3.5}


@MANY
@given(TEXT.map(lambda text: str(plain(text))))
def test_any_text_put_into_a_plan(text: str) -> None:
    changed = planedit.with_value(THREE_POTS, ("title",), text)
    assert tomllib.loads(changed) == tomllib.loads(THREE_POTS) | {"title": text}


@pytest.mark.parametrize("kind", TYPED)
def test_spoilt_files_and_anything_typed(kind: str) -> None:
    """A few of the cases that ``mutate`` makes by the thousand; a fault of ours would raise."""
    rng = random.Random(11)
    cases = [typed_cases(kind, rng) for _ in range(3)]
    assert len(set(cases)) == 3
    for case in cases:
        TARGETS[kind](case)
