"""A photograph of cut bars taken into a batch: copied beside it, measured, answers filled in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.aftercare.cutreview import photo_answer, review
from soapbench.log import Kind
from soapbench.words.review import NOT_IN_BENCH, photo_kept

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk
    from soapbench.photos.measure import Measured


@dataclass(frozen=True, slots=True)
class Taken:
    """A photograph of one part of the loaf, kept and measured."""

    part: str
    kept: str
    """Its copy's path from the bench."""
    measured: Measured


def take(desk: Desk, bench: Path, batch: str, part: str, path: Path) -> Taken:
    """Keep a copy beside the batch with this file name, and measure it; takes about a second.

    Raises NotAPhotograph, OSError.
    """
    from soapbench.bench.photofile import kept, read_photograph

    rgb = read_photograph(path)
    return Taken(part, kept(bench, batch, part, path), measured(desk, part, rgb))


def turned(desk: Desk, bench: Path, batch: str, part: str, photo: str) -> Taken:
    """A photograph that is kept, a quarter turn to the right: kept beside it, and measured.

    Raises NotAPhotograph, OSError.
    """
    import numpy as np

    from soapbench.bench.photofile import NotAPhotograph, kept_turned, read_photograph, within

    path = within(bench, photo)
    if path is None:
        raise NotAPhotograph(NOT_IN_BENCH)
    rgb = np.ascontiguousarray(np.rot90(read_photograph(path), -1))
    return Taken(part, kept_turned(bench, batch, part, rgb), measured(desk, part, rgb))


def measured(desk: Desk, part: str, rgb: object) -> Measured:
    """A picture (h, w, 3) measured beside the face drawn for that part of the loaf, as poured.

    What was seen is of the plan's pots, in their order; colours of embeds are told from theirs.
    """
    import numpy as np

    from soapbench.barface import face
    from soapbench.barface.words import PART_AT, place_of, poured_showings
    from soapbench.photos.measure import LOOK_PX, measure

    plan, picture = desk.plan, np.asarray(rgb, np.uint8)
    kept = desk.foreseen.face
    loaves = poured_showings(desk.batch, plan, desk.amounts, desk.known, desk.state, kept)
    if not loaves:
        looks, ml = [pot.colour for pot in plan.pots], [pot.ml for pot in desk.amounts.pots]
        return measure(picture, looks, ml)
    design = loaves[0].design
    where = place_of(part, None)
    where = PART_AT["middle"] if where is None else where
    drawn = face(design, where, *LOOK_PX, loaves[0].seed, polish=False).pots
    wide = 0.0 if plan.mould.width is None else design.mould.width / design.mould.depth
    looks = [colour.look for colour in design.colours]
    whole = measure(picture, looks, design.shares, wide, drawn)
    return replace(whole, pots=whole.pots[: len(plan.pots)])


def note(desk: Desk, taken: Taken) -> str:
    """Log it, and fill in how far each colour came where nobody has said; what that came to."""
    face = taken.measured
    shares = [round(pot.share, 4) for pot in face.pots]
    desk.record(Kind.CUT_SEEN, part=taken.part, photo=taken.kept, shares=list(shares))
    if face.trouble:
        return photo_kept(0, "", face.trouble)
    so_far = review(desk.facts)
    mine = so_far.answers.get(taken.part, {})
    by_photo = so_far.by_photo.get(taken.part, {})
    filled, unsure = 0, []
    for measure, pot in zip(face.pots, desk.plan.pots, strict=True):
        asked = ("reached", pot.name)
        if (
            pot is desk.plan.base
            or not measure.reached
            or (asked in mine and asked not in by_photo)
        ):
            continue
        if measure.sure == "not sure":
            unsure.append(pot.name)
            continue
        answer = photo_answer(taken.part, measure.reached, measure.sure.value)
        desk.record(Kind.CUT_SEEN, pot.name, **answer)
        filled += 1
    return photo_kept(filled, ", ".join(unsure))
