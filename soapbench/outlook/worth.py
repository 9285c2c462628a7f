"""What a way to finish is worth to the maker, and what a spoilt batch costs.

1 as planned, .7 in part, .6 as another swirl, .3 saved (plain, spooned, cooked), and for a ruined
batch 0, -.5 or -1 as the maker has answered one question. All of it is a judgement of ours.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from soapbench.settings import Risk

if TYPE_CHECKING:  # settings are read before any model is loaded
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Flags = NDArray[np.bool_]

IN_PART = 0.7
"""Of what the same would have been worth as planned."""


class Become(StrEnum):
    """What a pour becomes when a way is taken and comes out."""

    WISH = "as wished"
    LESS = "the wish with something skipped"
    ANOTHER = "another swirl"
    SAVED = "saved"

    @property
    def worth(self) -> float:
        return {Become.WISH: 1.0, Become.LESS: IN_PART, Become.ANOTHER: 0.6, Become.SAVED: 0.3}[
            self
        ]


def worth(become: Become, as_planned: float, in_part: float, risk: Risk = Risk.USUAL) -> float:
    """Mean worth of a way that comes out as planned, or else in part, with these chances.

    Soap that is only saved is saved in part as well.
    """
    part = 1.0 if become is Become.SAVED else IN_PART
    lost = max(0.0, 1.0 - as_planned - in_part)
    return become.worth * (as_planned + part * in_part) + risk.ruin * lost


def worths(become: Become, planned: Flags, in_part: Flags, risk: Risk) -> Array:
    """The same draw by draw: as planned, and at least in part."""
    import numpy as np

    part = 1.0 if become is Become.SAVED else IN_PART
    return np.where(planned, become.worth, np.where(in_part, part * become.worth, risk.ruin))


WORTH_POURING = IN_PART
"""From this mean worth on a wish is worth pouring: no worse than coming out in part for certain."""
