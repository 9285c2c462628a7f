"""What a cut face shows, in words: how far each colour comes, and what being late costs it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.aftercare.cutreview import PARTS, REACHED, Reach
from soapbench.barface import AIR, Design, Face, barplan, face, png, svg
from soapbench.barface.barplan import Worked
from soapbench.barface.reach import depth_of, reach
from soapbench.batter import TRACE_WORDS
from soapbench.figures import FaceFigures
from soapbench.plan import Plan
from soapbench.pour.state import PourState
from soapbench.reading.safetext import clean
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.browning import looks_after_cure
from soapbench.sinking import Sinking
from soapbench.swirls.pouring import lots
from soapbench.swirls.table import SwirlTable
from soapbench.thickening.draws import Draws
from soapbench.words.review import predicted, sank, shown, sinks

PART_AT = dict(zip(PARTS, (0.1, 0.5, 0.9), strict=True))
"""Where along the loaf a part of it is cut."""
LOOK_PX = (72, 54)
"""Large enough to say how far a colour came."""
PRINT_WIDE_PX = 180
TALLEST = 3
"""A picture's height, widths at most."""
LEAST_PX = 4
LATER = ("as planned", "one step thicker", "two steps thicker")


@dataclass(frozen=True, slots=True)
class Showing:
    """One loaf to show: whose it is, its design, what to say of it."""

    label: str
    design: Design
    seed: int
    words: str
    cured: Design | None = None
    """The same loaf after its cure, where vanillin browns it."""


@dataclass(frozen=True, slots=True)
class Beside:
    """How far a colour was foreseen to come, and how far it came."""

    pot: str
    part: str
    foreseen: str
    came: str

    @property
    def words(self) -> str:
        pot = clean(self.pot, 30)
        part, came = shown(self.part), sank(self.came)
        if self.foreseen == self.came:
            return f"{pot}, {part}: {came}, as predicted"
        return f"{pot}, {part}: {came} ({predicted(self.foreseen)})"


def showings(
    plan: Plan, known: Known, amounts: Amounts | None = None, late: int = 2
) -> tuple[Showing, ...]:
    """The plan's loaf as foreseen, those of further moulds with pots of their own, then the first
    poured one to ``late`` (0 to 2) trace states late."""
    pour = Foreseen(plan, known, amounts)
    worked = barplan.foreseen(pour)
    amounts, table, sinking = pour.amounts, known.swirls, known.sinking
    faces = [
        showing(label, plan, amounts, table, barplan.later(worked, states), sinking)
        for states, label in enumerate(LATER[: late + 1])
    ]
    faces[1:1] = _further(LATER[0], plan, amounts, table, worked, sinking)
    return tuple(s for s in faces if s)


def _further(
    label: str,
    plan: Plan,
    amounts: Amounts,
    table: SwirlTable,
    worked: Sequence[Worked],
    sinking: Sinking,
) -> list[Showing | None]:
    """Faces of the moulds after the first that have several pots of their own."""
    return [
        showing(f"{label}, {lot.name}", plan, amounts, table, worked, sinking, lot.moulds[0])
        for lot in lots(plan)
        if 0 not in lot.moulds and len(lot.pots) > 1
    ]


def poured_showings(
    batch: str,
    plan: Plan,
    amounts: Amounts,
    known: Known,
    state: PourState,
    kept: FaceFigures | None = None,
    draws: Draws | None = None,
) -> tuple[Showing, ...]:
    """The loaf as it was poured, beside the one foreseen; empty when nothing was poured.

    ``kept``: what the log's header kept of the face before the pour; else it is foreseen anew.
    ``draws``: how the batter behaved; else what the taps make likely.
    """
    if not any(d.stage.puts == "mould" and not d.skipped for d in state.done):
        return ()
    worked = barplan.poured(state, draws or barplan.likely(batch, plan, amounts, known, state))
    faces = (
        showing("as poured", plan, amounts, known.swirls, worked, known.sinking),
        *_further("as poured", plan, amounts, known.swirls, worked, known.sinking),
        foreseen_showing(plan, amounts, known, kept),
    )
    return tuple(s for s in faces if s)


def foreseen_showing(
    plan: Plan, amounts: Amounts, known: Known, kept: FaceFigures | None = None
) -> Showing | None:
    """The loaf as it was foreseen before its pour."""
    before = barplan.from_kept(plan, amounts, known.swirls, kept)
    if before is None:
        before = barplan.foreseen(Foreseen(plan, known, amounts)), known.sinking
    return showing("as predicted", plan, amounts, known.swirls, *before)


def showing(
    label: str,
    plan: Plan,
    amounts: Amounts,
    table: SwirlTable,
    worked: Sequence[Worked],
    sinking: Sinking,
    mould: int = 0,
) -> Showing | None:
    """One loaf with its words; None when nothing came into its mould."""
    drawn = barplan.design(plan, amounts, table, worked, sinking, mould)
    if drawn is None:
        return None
    worked = barplan.of_mould(plan, worked, mould)
    seed = barplan.seed(plan)
    words = [_batter_words(worked)]
    if any(w.stage.drops for w in worked):  # nothing sinks that was not dropped
        middle = face(drawn, PART_AT["middle"], *LOOK_PX, seed, polish=False)
        words += _reach_words(plan, drawn, middle)
    past = barplan.too_thick(worked)
    if past:
        words.append(f"too thick for the {' and '.join(past)}")
    cured = _cured(drawn, plan, amounts)
    if cured is not None:
        words.append("browns while it cures")
    return Showing(label, drawn, seed, clean("; ".join(words), 1000), cured)


def _cured(drawn: Design, plan: Plan, amounts: Amounts) -> Design | None:
    """With the colours it will have after its cure; None where no pot browns."""
    after = looks_after_cure(plan, amounts)
    if not after:
        return None
    pots = zip(drawn.colours, plan.pots, strict=False)  # embeds, which come last, stay as they are
    colours = [replace(colour, look=after.get(pot.name, colour.look)) for colour, pot in pots]
    return replace(drawn, colours=(*colours, *drawn.colours[len(colours) :]))


def _batter_words(worked: Sequence[Worked]) -> str:
    """Trace states of the batter from the first pour into the mould to the last."""
    pours = [w for w in worked if w.stage.puts == "mould"]
    states = [
        TRACE_WORDS[int(max(w.traces[pot] for pot in w.stage.onto or w.stage.pots))]
        for w in (pours[0], pours[-1])
    ]
    first, last = states
    return f"batter at {first}" if first == last else f"batter from {first} to {last}"


def _reach_words(plan: Plan, drawn: Design, shown: Face) -> list[str]:
    """Accents by how far they come."""
    poured = {pour.pot for pour in drawn.pours}
    places: dict[str, list[str]] = {}
    for i, pot in enumerate(plan.pots):
        if pot is not plan.base and i in poured:
            places.setdefault(reached(shown, i), []).append(clean(pot.name, 14))
    return [sinks(places[place], place) for place in REACHED if place in places]


def depth_reached(shown: Face, pot: int) -> float:
    """How far down ``pot`` comes, 0 top to 1 bottom; nan where it does not show."""
    return depth_of(shown.pots == pot, shown.pots != AIR)


def reached(shown: Face, pot: int) -> str:
    """The same in the cut review's words."""
    return reach(depth_reached(shown, pot))


def beside(
    plan: Plan, shown: Showing, answers: Iterable[Reach], bars: int | None = None
) -> tuple[Beside, ...]:
    """The maker's answers beside a foreseen loaf. ``bars`` in it: where each was cut."""
    index = {pot.name: i for i, pot in enumerate(plan.pots)}
    rows = []
    faces: dict[float, Face] = {}
    for answer in answers:
        where = place_of(answer.part, bars)
        if where is None or answer.pot not in index:
            continue
        if where not in faces:
            faces[where] = face(shown.design, where, *LOOK_PX, shown.seed, polish=False)
        foreseen = reached(faces[where], index[answer.pot])
        rows.append(Beside(answer.pot, answer.part, foreseen, answer.reached))
    return tuple(rows)


def reaches_foreseen(plan: Plan, shown: Showing) -> dict[tuple[str, str], str]:
    """How far each accent was foreseen to come, by part of the loaf and pot."""
    reaches = {}
    for part, where in PART_AT.items():
        drawn = face(shown.design, where, *LOOK_PX, shown.seed, polish=False)
        for i, pot in enumerate(plan.pots):
            if pot is not plan.base:
                reaches[(part, pot.name)] = reached(drawn, i)
    return reaches


def place_of(part: str, bars: int | None) -> float | None:
    """Where a part of the loaf lies, 0 to 1; None for a bar of a loaf cut nobody knows how."""
    if part in PART_AT:
        return PART_AT[part]
    number = part.removeprefix("bar ")
    if bars and number.isascii() and number.isdigit() and 1 <= int(number) <= bars:
        return (int(number) - 0.5) / bars
    return None


def face_svg(shown: Showing, title: str, where: float = PART_AT["middle"]) -> str:
    """The face ``where`` along the loaf (0 to 1) as SVG, titled."""
    return svg(_printed(shown, 1, where), clean(title))


def face_png(shown: Showing) -> bytes:
    """The same face as PNG."""
    drawn = _printed(shown, 4)
    return png(drawn.rgb, drawn.cover)


def _printed(shown: Showing, larger: int = 1, where: float = PART_AT["middle"]) -> Face:
    wide = PRINT_WIDE_PX * larger
    aspect = face(shown.design, where, 1, 1, shown.seed).aspect
    return face(shown.design, where, *printed_px(wide, aspect), shown.seed)


def printed_px(wide: int, aspect: float) -> tuple[int, int]:
    """Width and height of a picture, px: a tower or a sheet of a mould is no more work than a loaf.

    Past these ends the picture is coarser one way; it is still shown in its proportions.
    """
    if wide / aspect > TALLEST * wide:
        return max(LEAST_PX, round(TALLEST * wide * aspect)), TALLEST * wide
    return wide, max(LEAST_PX, round(wide / aspect))
