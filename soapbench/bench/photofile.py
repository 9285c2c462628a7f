"""Photographs as files: read within bounds, kept beside their batch, made small for a report.

Only the first picture of a file of a few well-known kinds is read, by Pillow, and only after its
size is known: neither a file of gigabytes nor one that unpacks to them is opened. The maker's own
file is never moved or changed; a copy of it is kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import re
import struct
import warnings
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from soapbench.logfile.door import NotAFile, read_file
from soapbench.logfile.durable import make_folder, write_new

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray
    from PIL.Image import Image

    Bytes = NDArray[np.uint8]

LARGEST_FILE = 40_000_000
"""Bytes."""
MOST_PIXELS = 110_000_000
"""Of a JPEG, which is unpacked at a part of its size; the largest telephones make 108 million."""
MOST_UNPACKED = 40_000_000
"""Pixels of other kinds, which have to be unpacked whole."""
SIDE_PX, REPORT_PX = 1600, 1000
"""Longest side of a picture as measured, and as put into a report."""
KINDS = {"JPEG": ".jpg", "MPO": ".jpg", "PNG": ".png", "WEBP": ".webp"}
OPENED = ("JPEG", "PNG", "WEBP")
"""A JPEG of several pictures, as some telephones make them, then calls itself MPO."""
ENDINGS = (".jpg", ".jpeg", ".png", ".webp")
LARGEST_PROFILE = 1_000_000
FOLDER = "photos"
# What damaged pictures were seen to make Pillow raise.
_DAMAGED = (
    OSError, SyntaxError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
    AssertionError, EOFError, RuntimeError, MemoryError, struct.error, zlib.error,
)  # fmt: skip


class NotAPhotograph(Exception):
    """Why a file cannot be used, in words for the maker."""


def read_photograph(path: Path) -> Bytes:
    """The picture in a file as (h, w, 3) sRGB, upright, no side longer than ``SIDE_PX``.

    Raises NotAPhotograph.
    """
    return _pixels(_upright(_data(path), SIDE_PX))


def kept(bench: Path, batch: str, part: str, path: Path) -> str:
    """Copy the photograph ``path`` beside the batch with this file name; the copy's path from the
    bench. The same picture of the same part is kept once. Raises NotAPhotograph, OSError.
    """
    return _kept(bench, batch, part, _data(path))


def kept_turned(bench: Path, batch: str, part: str, rgb: Bytes) -> str:
    """Keep a picture (h, w, 3) that was turned, beside the one it came of. Raises OSError."""
    from PIL import Image

    held = io.BytesIO()
    Image.fromarray(rgb).save(held, "JPEG", quality=95)
    return _kept(bench, batch, part, held.getvalue())


def _kept(bench: Path, batch: str, part: str, data: bytes) -> str:
    ending = KINDS[_opened(data).format or ""]
    _upright(data, REPORT_PX)  # it must be whole, too
    digest = hashlib.blake2b(data, digest_size=5).hexdigest()
    name = f"{_plain(part)}-{digest}{ending}"
    batch = _plain(batch)
    folder = bench / FOLDER / batch
    make_folder(folder)
    write_new(folder / name, data, over=True)
    return f"{FOLDER}/{batch}/{name}"


def _plain(name: str) -> str:
    """``name`` as part of a path: a log from elsewhere may call its batch "../../x"."""
    plain = re.sub(r"[^\w.-]+", "-", name.replace(" ", "-")).lstrip(".-")[:80]
    same = plain == name.replace(" ", "-")
    return plain if same else f"{plain}-{hashlib.blake2b(_bytes(name), digest_size=4).hexdigest()}"


def _bytes(name: str) -> bytes:
    return name.encode("utf-8", "replace")


def small_jpeg(path: Path) -> bytes:
    """The picture as a JPEG for a report: small, upright, and without where and when it was taken.

    Raises NotAPhotograph.
    """
    held = io.BytesIO()
    _upright(_data(path), REPORT_PX).save(held, "JPEG", quality=85)
    return held.getvalue()


def within(bench: Path, path: str) -> Path | None:
    """The file a log means, if it lies in the bench: a log from elsewhere must not show others."""
    try:
        inside = (bench / path).resolve()
        return inside if inside.is_relative_to(bench.resolve()) else None
    except (OSError, ValueError, RuntimeError):
        return None


def typed_path(written: str) -> Path:
    """A path as typed or dropped on a terminal: quoted, escaped, or a file's URL. ValueError."""
    text = written.strip()
    if len(text) > 1 and text[0] == text[-1] and text[0] in "'\"":
        text = text[1:-1]
    elif text.startswith("file://"):
        text = unquote(urlsplit(text).path)
    elif "\\ " in text:
        text = text.replace("\\ ", " ")
    if "\0" in text:
        raise ValueError("that is no path to a file")
    try:
        return Path(text).expanduser()
    except RuntimeError as error:  # nobody's home
        raise ValueError(str(error)) from None


def pictures_in(folder: Path, most: int = 30) -> tuple[Path, ...]:
    """Pictures of a folder by their endings, newest first. Raises OSError."""
    pictures = []
    for path in folder.iterdir():
        if path.suffix.lower() in ENDINGS and not path.name.startswith("."):
            with contextlib.suppress(OSError):
                if path.is_file():
                    pictures.append((path.stat().st_mtime, path))
    return tuple(path for _, path in sorted(pictures, reverse=True)[:most])


@contextlib.contextmanager
def _quietly() -> Iterator[None]:
    """Without Pillow's warnings, which would be written over a screen; what is wrong is raised."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _data(path: Path) -> bytes:
    try:
        return read_file(path, LARGEST_FILE)
    except NotAFile as error:
        raise NotAPhotograph(f"{error.strerror}, not a photo") from None
    except FileNotFoundError:
        raise NotAPhotograph("there is no such file") from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise NotAPhotograph(f"it cannot be read: {why}") from None


def _opened(data: bytes) -> Image:
    """The picture, its size known and within bounds, not unpacked yet."""
    from PIL import Image, UnidentifiedImageError

    try:
        with _quietly():
            image = Image.open(io.BytesIO(data), formats=OPENED)
    except Image.DecompressionBombError:
        raise NotAPhotograph("it unpacks to far too many pixels") from None
    except UnidentifiedImageError:
        raise NotAPhotograph("it is no JPEG, PNG or WebP; save it as JPEG") from None
    except _DAMAGED as error:
        raise NotAPhotograph(f"it is damaged: {error}") from None
    wide, high = image.size
    if wide * high > (MOST_PIXELS if image.format in ("JPEG", "MPO") else MOST_UNPACKED):
        raise NotAPhotograph(f"{wide} x {high} pixels are too many; save it smaller")
    return image


def _upright(data: bytes, side: int) -> Image:
    from PIL import ImageOps

    image: Any = _opened(data)
    try:
        with _quietly():
            image.draft("RGB", (side, side))  # a JPEG is unpacked no larger than needed
            profile = image.info.get("icc_profile")
            image.thumbnail((side, side))
            image = ImageOps.exif_transpose(image)
            if "A" in image.getbands() or "transparency" in image.info:
                image = _on_white(image)
            image = _in_srgb(image, profile) if profile else image
            upright: Image = image.convert("RGB")
    except _DAMAGED as error:
        raise NotAPhotograph(f"it is damaged: {error}") from None
    if min(upright.size) < 16:
        raise NotAPhotograph("it is too small")
    return upright


def _on_white(image: Image) -> Image:
    from PIL import Image as Images

    own = image.convert("RGBA")
    return Images.alpha_composite(Images.new("RGBA", own.size, "white"), own).convert("RGB")


def _in_srgb(image: Image, profile: bytes) -> Image:
    """From the camera's colours to sRGB; as it is where its profile says nothing usable."""
    from PIL import ImageCms

    if len(profile) > LARGEST_PROFILE or image.mode not in ("RGB", "L", "CMYK"):
        return image
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        in_srgb = ImageCms.profileToProfile(
            image, own, ImageCms.createProfile("sRGB"), outputMode="RGB"
        )
    except (ImageCms.PyCMSError, *_DAMAGED):
        return image
    return in_srgb or image


def _pixels(image: Image) -> Bytes:
    import numpy as np

    return np.asarray(image, dtype=np.uint8)
