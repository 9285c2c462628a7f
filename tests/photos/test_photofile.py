"""Photographs as files: what is read, what is refused, what is kept and what is shown of it."""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from soapbench.bench.photofile import (
    MOST_UNPACKED,
    SIDE_PX,
    NotAPhotograph,
    kept,
    pictures_in,
    read_photograph,
    small_jpeg,
    typed_path,
    within,
)

WIDE, HIGH = 90, 60
# Tag 274 of EXIF 2.3, Orientation, as TIFF 6.0 numbers it: what to do to see it upright.
UPRIGHT = {1: (0, 0), 3: (1, 1), 6: (0, 1), 8: (1, 0)}
"""Where the corner that is dark in the scene's left top lies in the file: column, row."""


def scene() -> Image.Image:
    """A light picture, dark in its left top corner."""
    pixels = np.full((HIGH, WIDE, 3), 220, np.uint8)
    pixels[: HIGH // 3, : WIDE // 3] = (20, 60, 20)
    return Image.fromarray(pixels)


def saved(path: Path, image: Image.Image | None = None, kind: str = "JPEG", **more: object) -> Path:
    (image or scene()).save(path, kind, **more)
    return path


@pytest.mark.parametrize(("kind", "ending"), [("JPEG", "jpg"), ("PNG", "png"), ("WEBP", "webp")])
def test_usual_kinds_are_read(tmp_path: Path, kind: str, ending: str) -> None:
    picture = read_photograph(saved(tmp_path / f"cut.{ending}", kind=kind))
    assert picture.shape == (HIGH, WIDE, 3)
    assert picture[5, 5].max() < 100 < picture[-5, -5].min()


@pytest.mark.parametrize("turned", UPRIGHT)
def test_a_picture_is_seen_upright_however_the_camera_was_held(tmp_path: Path, turned: int) -> None:
    """Orientation of EXIF (tag 274): 1 as it is, 3 upside down, 6 and 8 on its side."""
    back = {1: 0, 3: 180, 6: 90, 8: 270}[turned]
    exif = Image.Exif()
    exif[274] = turned
    path = saved(tmp_path / "cut.jpg", scene().rotate(back, expand=True), exif=exif)
    if turned in (6, 8):
        assert Image.open(path).size == (HIGH, WIDE), "on its side in the file"
    picture = read_photograph(path)
    assert picture.shape == (HIGH, WIDE, 3)
    assert picture[5, 5].max() < 100 < picture[-5, -5].min()


def test_a_large_picture_comes_smaller(tmp_path: Path) -> None:
    path = saved(tmp_path / "cut.jpg", scene().resize((4000, 3000)))
    assert max(read_photograph(path).shape) == SIDE_PX


def test_colours_of_the_camera_become_srgb(tmp_path: Path) -> None:
    """From a profile of sRGB itself nothing changes; one that is none is passed over."""
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    path = saved(tmp_path / "cut.png", kind="PNG", icc_profile=srgb)
    assert np.abs(read_photograph(path).astype(int) - np.asarray(scene())).max() <= 1
    path = saved(tmp_path / "odd.png", kind="PNG", icc_profile=b"no profile at all")
    assert (read_photograph(path) == np.asarray(scene())).all()


def test_clear_pixels_are_white(tmp_path: Path) -> None:
    image = scene().convert("RGBA")
    image.putalpha(0)
    assert (read_photograph(saved(tmp_path / "cut.png", image, "PNG")) == 255).all()


# ---------------------------------------------------------------- refused


def png(wide: int, high: int, data: bytes = b"") -> bytes:
    """A PNG of that size by its header (ISO/IEC 15948); its pixels are ``data``."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def test_what_unpacks_to_far_too_much_is_refused_before_it_is(tmp_path: Path) -> None:
    """A few kilobytes that claim billions of pixels, and ones that really hold 50 million."""
    bomb = tmp_path / "bomb.png"
    bomb.write_bytes(png(60_000, 60_000, zlib.compress(b"\0" * 1_000_000)))
    with pytest.raises(NotAPhotograph, match="too many"):
        read_photograph(bomb)
    wide, high = 8000, MOST_UNPACKED // 8000 + 1
    packed = zlib.compressobj()
    data = b"".join(packed.compress(b"\0" * (1 + 3 * wide)) for _ in range(high)) + packed.flush()
    bomb.write_bytes(png(wide, high, data))
    assert bomb.stat().st_size < 400_000
    with pytest.raises(NotAPhotograph, match="too many"):
        read_photograph(bomb)


REFUSED = {
    "text": b"a secret",
    "empty": b"",
    "cut short": png(64, 64, zlib.compress(b"\0" * 193 * 64)[:20]),
    "script in a picture's name": b"<svg onload=alert(1)>",
    "a GIF": b"GIF89a" + bytes(64),
    "a TIFF": b"II*\0" + bytes(64),
    "too small": png(2, 2, zlib.compress(b"\0" * 14)),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_photograph_is_refused_in_words(tmp_path: Path, what: str) -> None:
    path = tmp_path / "cut.png"
    path.write_bytes(REFUSED[what])
    with pytest.raises(NotAPhotograph) as refused:
        read_photograph(path)
    assert str(refused.value)
    with pytest.raises(NotAPhotograph):
        kept(tmp_path / "bench", "b", "middle", path)
    assert not (tmp_path / "bench").exists(), "nothing is kept of it"


def test_pipes_devices_folders_and_huge_files_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with open(tmp_path / "huge", "wb") as file:
        file.truncate(10**10)  # a hole: takes no room
    for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path, tmp_path / "huge",
                 tmp_path / "gone"):  # fmt: skip
        with pytest.raises(NotAPhotograph):
            read_photograph(path)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    kind=st.sampled_from(["JPEG", "PNG", "WEBP"]),
    changes=st.lists(st.tuples(st.integers(0, 3000), st.integers(0, 255)), max_size=12),
    cut=st.integers(0, 3000),
)
def test_a_damaged_picture_is_read_or_refused_never_a_fault(
    tmp_path_factory: pytest.TempPathFactory, kind: str, changes: list[tuple[int, int]], cut: int
) -> None:
    held = io.BytesIO()
    exif = Image.Exif()
    exif[274] = 6
    scene().save(held, kind, exif=exif)
    data = bytearray(held.getvalue())
    for place, value in changes:
        data[place % len(data)] = value
    path = tmp_path_factory.mktemp("hurt") / "cut"
    path.write_bytes(bytes(data[: max(1, len(data) - cut)]))
    try:
        picture = read_photograph(path)
    except NotAPhotograph:
        return
    assert picture.ndim == 3


# ---------------------------------------------------------------- kept and shown


def test_a_copy_is_kept_beside_the_batch_and_the_makers_own_stays(tmp_path: Path) -> None:
    path = saved(tmp_path / "IMG 1.JPG")
    before = path.read_bytes()
    bench = tmp_path / "bench"
    name = kept(bench, "20240501-dunes", "bar 3", path)
    assert name.startswith("photos/20240501-dunes/bar-3-")
    assert (bench / name).read_bytes() == before == path.read_bytes()
    assert kept(bench, "20240501-dunes", "bar 3", path) == name
    assert len(list((bench / name).parent.iterdir())) == 1


def test_what_a_report_shows_says_not_where_it_was_taken(tmp_path: Path) -> None:
    """Tag 34853 of EXIF 2.3: the place by GPS."""
    exif = Image.Exif()
    exif[34853] = {1: "N", 2: (54.0, 0.0, 0.0)}
    exif[271] = "A Camera"
    path = saved(tmp_path / "cut.jpg", scene().resize((2000, 1500)), exif=exif)
    assert b"A Camera" in path.read_bytes()
    small = small_jpeg(path)
    assert not Image.open(io.BytesIO(small)).getexif()
    assert b"A Camera" not in small
    assert max(Image.open(io.BytesIO(small)).size) == 1000


def test_only_files_of_the_bench_are_shown(tmp_path: Path) -> None:
    bench = tmp_path / "bench"
    (bench / "photos").mkdir(parents=True)
    (bench / "photos" / "out").symlink_to(tmp_path)
    assert within(bench, "photos/a.jpg") == bench / "photos" / "a.jpg"
    for path in ("../key", "/etc/passwd", "photos/out/key", "photos/../../key", "a\0b"):
        assert within(bench, path) is None, path


TYPED = {
    "cut.jpg": "cut.jpg",
    "'my cut.jpg'": "my cut.jpg",
    '"my cut.jpg" ': "my cut.jpg",
    r"my\ cut.jpg": "my cut.jpg",
    "file:///a/my%20cut.jpg": "/a/my cut.jpg",
}


@pytest.mark.parametrize("written", TYPED)
def test_a_path_as_typed_or_dropped(written: str) -> None:
    assert typed_path(written) == Path(TYPED[written])


def test_a_folder_lists_its_pictures_newest_first(tmp_path: Path) -> None:
    for i, name in enumerate(("a.jpg", "b.PNG", "c.txt", ".d.jpg", "e.webp")):
        (tmp_path / name).write_bytes(b"x")
        os.utime(tmp_path / name, (i, i))
    assert [path.name for path in pictures_in(tmp_path)] == ["e.webp", "b.PNG", "a.jpg"]
