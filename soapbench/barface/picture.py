"""A face as files for a report: PNG bytes and a small self-contained SVG."""

from __future__ import annotations

import struct
import zlib
from html import escape

import numpy as np

from soapbench.barface.draw import Bytes, Face


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(rgb: Bytes, cover: Bytes | None = None) -> bytes:
    """(h, w, 3) bytes as a PNG (ISO/IEC 15948), with ``cover`` (h, w) as its opacity."""
    pixels = rgb if cover is None else np.dstack([rgb, cover])
    high, wide, deep = pixels.shape
    # filter 0 before every row
    rows = np.concatenate([np.zeros((high, 1), np.uint8), pixels.reshape(high, -1)], axis=1)
    header = struct.pack(">IIBBBBB", wide, high, 8, 6 if deep == 4 else 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", header)
        + _chunk(b"IDAT", zlib.compress(rows.tobytes(), 6))
        + _chunk(b"IEND", b"")
    )


def svg(face: Face, title: str = "Cut face") -> str:
    """The face as one path a colour, each run of equal pixels a stroke one pixel high."""
    high, wide = face.tints.shape
    runs: dict[int, list[str]] = {}
    for row in range(high):
        tints = face.tints[row]
        starts = np.flatnonzero(np.concatenate([[True], tints[1:] != tints[:-1]]))
        ends = np.append(starts[1:], wide)
        for start, end in zip(starts, ends, strict=True):
            tint = int(tints[start])
            if tint < len(face.palette):
                runs.setdefault(tint, []).append(f"M{start} {row}h{end - start}")
    paths = "".join(
        f'<path stroke="#{bytes(face.palette[tint]).hex()}" d="{"".join(parts)}"/>'
        for tint, parts in sorted(runs.items())
    )
    # drawn with every pixel stretched to the mould's proportions
    shown = wide / face.aspect
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" role="img" '
        f'width="{wide * 3}" height="{shown * 3:.0f}" preserveAspectRatio="none">'
        f"<title>{escape(title)}</title>"
        f'<g fill="none" stroke-width="1.05" transform="translate(0 .5)">{paths}</g></svg>'
    )
