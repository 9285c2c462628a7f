"""What a maker reads off a face: shares, lateness, and the same picture for the same seed.

Area shares are checked against the volume shares poured, the only outside truth there is.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.barface import (
    AIR,
    Colour,
    Design,
    Face,
    Manner,
    Mould,
    Pouring,
    SinkDepth,
    ToolPass,
    Top,
    WireLed,
    face,
    loaf,
)

COLOURS = tuple(
    Colour(name, look, i)
    for i, (name, look) in enumerate(
        [("slate", "#4a5a6a"), ("foam", "#e9e4d6"), ("teal", "#2f8f8b"), ("plum", "#7b3b5e")]
    )
)
MIXED = (Manner.IN_THE_POT, Manner.BLEND)


def swirl(manner: Manner, trace: float = 1.0, *after: ToolPass, top: Top | None = None) -> Design:
    base = manner if manner in MIXED else Manner.FILL
    accents = tuple(Pouring(i, s, manner, trace) for i, s in ((1, 0.2), (2, 0.15), (3, 0.1)))
    return Design(COLOURS, (Pouring(0, 0.55, base, trace), *accents, *after), top=top)


def worst(drawn: Face, design: Design) -> float:
    return max(abs(drawn.shares.get(pot, 0.0) - share) for pot, share in enumerate(design.shares))


@pytest.mark.parametrize("top", [None, Top(3.0)], ids=["level", "textured"])
@pytest.mark.parametrize("manner", list(Manner))
def test_every_face_has_the_shares_poured(manner: Manner, top: Top | None) -> None:
    design = swirl(manner, 1.0, ToolPass(WireLed.LOOPS, 1.0), top=top)
    for where in (0.02, 0.5, 0.9):
        assert worst(face(design, where, 200, 160, 5), design) < 0.01


def test_a_pot_poured_again_after_its_pot_swirl_is_plain() -> None:
    swirled = (Pouring(0, 0.3, Manner.IN_THE_POT), Pouring(1, 0.3, Manner.IN_THE_POT))
    design = Design(COLOURS, (*swirled, Pouring(0, 0.4, Manner.LAYER, 3.0)))
    drawn = face(design, 0.5, 100, 100, 1)
    assert (drawn.pots[:35] == 0).all()
    assert (drawn.pots[45:] == 1).mean() > 0.3
    assert worst(drawn, design) < 0.01


steps = st.lists(
    st.one_of(
        st.builds(
            Pouring,
            pot=st.integers(0, 3),
            share=st.floats(0.02, 1.0),
            manner=st.sampled_from(list(Manner)),
            trace=st.floats(0.0, 4.0),
            own_trace=st.floats(0.0, 4.0),
            spots=st.integers(0, 4),
        ),
        st.builds(ToolPass, path=st.sampled_from(list(WireLed)), trace=st.floats(0.0, 4.0)),
    ),
    min_size=1,
    max_size=7,
).filter(lambda listed: any(isinstance(step, Pouring) for step in listed))
designs = st.builds(
    Design,
    colours=st.just(COLOURS),
    steps=steps.map(tuple),
    mould=st.builds(Mould, width=st.floats(5.0, 12.0), depth=st.floats(4.0, 12.0)),
    top=st.one_of(st.none(), st.builds(Top, trace=st.floats(0.0, 4.0))),
)


@settings(max_examples=60, deadline=None)
@given(design=designs, where=st.floats(0.0, 1.0), seed=st.integers(0, 10_000))
def test_random_plans_keep_their_shares(design: Design, where: float, seed: int) -> None:
    drawn = face(design, where, 160, 128, seed, polish=False)
    assert worst(drawn, design) < 0.01
    assert np.isfinite(drawn.rgb).all()


@settings(max_examples=8, deadline=None)
@given(design=designs, seed=st.integers(0, 10_000))
def test_a_loaf_keeps_its_shares(design: Design, seed: int) -> None:
    faces = loaf(design, 5, 120, 96, seed, polish=False)
    for pot, share in enumerate(design.shares):
        assert np.mean([f.shares.get(pot, 0.0) for f in faces]) == pytest.approx(share, abs=0.01)


def test_same_seed_same_face_other_seed_another() -> None:
    design = swirl(Manner.DROP)
    first, again, other = (face(design, 0.4, 80, 60, seed) for seed in (3, 3, 4))
    assert np.array_equal(first.rgb, again.rgb)
    assert np.array_equal(first.pots, again.pots)
    assert (first.pots != other.pots).mean() > 0.1


def test_faces_drift_smoothly_and_the_ends_differ() -> None:
    design = swirl(Manner.DROP, 1.0, ToolPass())
    here, near, far = (face(design, w, 120, 96, 3).pots for w in (0.5, 0.505, 0.98))
    assert 0.0 < (here != near).mean() < 0.12
    assert (here != far).mean() > 2.0 * (here != near).mean()


def mean_height(design: Design, seed: int) -> float:
    """Mean height of all that is not base, 0 floor to 1 surface."""
    pots = face(design, 0.5, 100, 80, seed, polish=False).pots
    rows = np.nonzero(pots != 0)[0]
    return 1.0 - float(rows.mean() + 0.5) / pots.shape[0]


def test_a_late_drop_swirl_lies_on_top() -> None:
    for seed in (1, 2, 3):
        heights = [mean_height(swirl(Manner.DROP, t), seed) for t in (0.0, 1.0, 2.0, 3.0)]
        assert heights == sorted(heights)
        assert heights[-1] > heights[0] + 0.25


def test_a_late_column_heaps_up_where_an_early_one_pushes_its_rings_outward() -> None:
    def rings_at_the_surface(trace: float, seed: int) -> int:
        pours = tuple(Pouring(i, s, Manner.COLUMN, trace) for i, s in enumerate((0.4, 0.3, 0.3)))
        surface = face(Design(COLOURS, pours), 0.5, 120, 90, seed, polish=False).pots[2]
        return int((np.diff(surface) != 0).sum())

    for seed in (1, 2, 3):
        assert rings_at_the_surface(3.2, seed) >= rings_at_the_surface(1.0, seed) + 3


@pytest.mark.parametrize("manner", [m for m in Manner if m not in (*MIXED, Manner.EMBED)])
def test_every_manner_of_pouring_shows_what_being_late_costs(manner: Manner) -> None:
    def drawn(trace: float) -> Face:
        pours = tuple(
            Pouring(i, s, manner if i else Manner.FILL, trace, trace)
            for i, s in enumerate((0.55, 0.2, 0.15, 0.1))
        )
        return face(Design(COLOURS, pours), 0.5, 100, 80, 4, polish=False)

    assert (drawn(1.0).pots != drawn(3.2).pots).mean() > 0.03


def test_sink_depth_is_a_value_the_maker_can_replace() -> None:
    plain = swirl(Manner.DROP, 1.0)
    shallow = Design(plain.colours, plain.steps, sink=SinkDepth(light=0.1))
    assert mean_height(shallow, 2) > mean_height(plain, 2) + 0.1
    assert SinkDepth().at(1.5) == pytest.approx((0.66 + 0.14) / 2)


def test_hanger_in_a_thick_batter_moves_less() -> None:
    still = face(swirl(Manner.LAYER, 2.0), 0.5, 100, 80, 2).pots
    moved = [
        (
            face(swirl(Manner.LAYER, 2.0, ToolPass(WireLed.UP_DOWN, t)), 0.5, 100, 80, 2).pots
            != still
        )
        for t in (1.0, 3.0, 4.0)
    ]
    parts = [float(m.mean()) for m in moved]
    assert parts == sorted(parts, reverse=True)
    assert parts[0] > 2.0 * parts[2]


def test_ombre_goes_from_one_pot_to_the_other() -> None:
    design = Design(COLOURS, (Pouring(0, 0.5, Manner.BLEND), Pouring(1, 0.5, Manner.BLEND)))
    light = face(design, 0.5, 60, 60, 1, polish=False).rgb.astype(float).mean(axis=(1, 2))
    assert (np.diff(light) <= 1.0).all()
    assert light[0] - light[-1] > 100.0


def test_textured_top_has_air_above_its_troughs() -> None:
    drawn = face(swirl(Manner.LAYER, 2.0, top=Top(3.0)), 0.5, 120, 100, 1)
    assert (drawn.pots[-1] != AIR).all()
    assert (drawn.pots[0] == AIR).mean() > 0.5
    assert np.array_equal(drawn.cover == 0, drawn.cover < 1)
    assert ((drawn.cover > 0) & (drawn.cover < 255)).any()  # its outline is anti-aliased


def test_rgb_is_the_pots_look_away_from_edges() -> None:
    drawn = face(Design(COLOURS, (Pouring(2, 1.0),)), 0.5, 20, 20, 1, polish=False)
    assert (drawn.rgb == (0x2F, 0x8F, 0x8B)).all()


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Colour("x", "red"),
        lambda: Pouring(0, 0.0),
        lambda: Pouring(0, float("nan")),
        lambda: Pouring(0, float("inf")),
        lambda: Mould(depth=float("nan")),
        lambda: Pouring(0, 1.0, trace=4.5),
        lambda: Pouring(0, 1.0, spots=-1),
        lambda: ToolPass(trace=-1.0),
        lambda: Mould(width=0.0),
        lambda: Design(COLOURS, ()),
        lambda: Design(COLOURS, (Pouring(4, 1.0),)),
        lambda: face(swirl(Manner.DROP), 1.2, 20, 20, 1),
        lambda: face(swirl(Manner.DROP), 0.5, 0, 20, 1),
    ],
)
def test_wrong_input_is_refused(wrong) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=r"\w"):
        wrong()
