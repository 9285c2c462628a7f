"""The drop of mathematical marbling in the unbounded plane; far from walls the mould's is the same.

After A. Jaffer's pages on marbling, read there.
"""

from __future__ import annotations

import numpy as np

from soapbench.barface.maps import Floats, Points


def drop_forth(x: Floats, y: Floats, cx: float, cy: float, radius: float) -> Points:
    """A drop of ``radius`` at (cx, cy) pushes the paint around it outwards."""
    dx, dy = x - cx, y - cy
    k = np.sqrt(1.0 + radius**2 / (dx * dx + dy * dy))
    return cx + dx * k, cy + dy * k


def drop_back(x: Floats, y: Floats, cx: float, cy: float, radius: float) -> Points:
    """Inverse of ``drop_forth`` outside the drop; points inside it land on its centre."""
    dx, dy = x - cx, y - cy
    k = np.sqrt(np.maximum(1.0 - radius**2 / (dx * dx + dy * dy), 0.0))
    return cx + dx * k, cy + dy * k
