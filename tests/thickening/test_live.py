"""The batch in hand: what taps, silence and wrong taps do to the room left."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import (
    MILESTONES,
    BatchHistory,
    Blend,
    FragranceWord,
    Mix,
    PotHistory,
    Reputation,
    Tap,
    Trace,
)
from soapbench.thickening import (
    Draws,
    Fit,
    acceleration,
    as_data,
    chance_above,
    fit,
    from_data,
    importance,
    live,
    milestone_times,
    no_batches,
)
from soapbench.thickening.evidence import rows_of
from soapbench.thickening.fitted import Fragrance, Lot, mixture
from soapbench.thickening.fragrance import usual_beliefs
from soapbench.thickening.in_hand import batch_sd
from soapbench.thickening.solve import lot_sd
from tests.worlds.making import make_many
from tests.worlds.world import draw_maker

EMULSION, LIGHT, MEDIUM, THICK, SET_UP = Trace
BLENDS = (Blend(20.0, 6.0), Blend(60.0, 6.0))
IN = 400.0


@pytest.fixture(scope="module")
def learned() -> Fit:
    rng = np.random.default_rng(11)
    maker = draw_maker(rng)
    return fit([m.history for m in make_many(rng, maker, 60)])


def one_pot(
    *taps: tuple[float, Trace],
    until: float = 1e9,
    reputation: Reputation = Reputation.WELL_BEHAVED,
    fragrance_in: float | None = IN,
) -> BatchHistory:
    pot = PotHistory("base", until, "Kelp", fragrance_in, BLENDS, tuple(Tap(t, s) for t, s in taps))
    return BatchHistory("b", Mix(30.0, 0.33, 0.40), (pot,), (FragranceWord("Kelp", reputation),))


def median_of(draws: Draws, milestone: Trace) -> float:
    return float(np.median(milestone_times(draws, "Kelp", IN, BLENDS)[:, milestone]))


def test_silence_is_information() -> None:
    fitted = no_batches()
    medians = [median_of(live(fitted, one_pot(), now), THICK) for now in (0.0, 600.0, 900.0)]
    assert medians[0] < medians[1] < medians[2]
    poured_out = median_of(live(fitted, one_pot(until=300.0), 1800.0), THICK)
    assert poured_out == pytest.approx(medians[0], rel=0.15)


def test_emulsion_tap_says_more_than_silence() -> None:
    fitted = no_batches()
    silent = median_of(live(fitted, one_pot(), 800.0), THICK)
    looked = median_of(live(fitted, one_pot((800.0, EMULSION)), 800.0), THICK)
    assert looked > 1.05 * silent


def test_a_tap_narrows_and_other_pots_learn_from_it(learned: Fit) -> None:
    word = FragranceWord("Kelp", Reputation.UNKNOWN)
    tapped = PotHistory("a", 1e9, "Kelp", IN, BLENDS, (Tap(480.0, LIGHT),))
    quiet = PotHistory("b", 1e9, "Kelp", IN, BLENDS)
    unscented = PotHistory("c", 1e9, None, None, BLENDS)
    batch = BatchHistory("b", Mix(30.0, 0.33, 0.40), (tapped, quiet, unscented), (word,))
    before, after = live(learned, batch, 0.0), live(learned, batch, 500.0)
    for fragrance, most in (("Kelp", 0.8), (None, 0.95)):
        sd = [
            np.log(milestone_times(d, fragrance, IN, BLENDS)[:, THICK]).std()
            for d in (before, after)
        ]
        assert sd[1] < most * sd[0]


def test_quick_taps_after_the_fragrance_reveal_an_accelerator() -> None:
    taps = [(520.0, LIGHT), (560.0, MEDIUM)]
    before = live(no_batches(), one_pot(), 0.0)
    after = live(no_batches(), one_pot(*taps), 560.0)
    assert chance_above(before, "Kelp") < 0.3 < 0.6 < chance_above(after, "Kelp")
    slow = live(no_batches(), one_pot((900.0, LIGHT), (1500.0, MEDIUM)), 1500.0)
    assert chance_above(slow, "Kelp") < 0.05


def test_several_fragrances_and_one_still_to_come(learned: Fit) -> None:
    words = (
        FragranceWord("Kelp", Reputation.ACCELERATES),
        FragranceWord("Fig", Reputation.WELL_BEHAVED),
    )
    pots = (
        PotHistory("a", 1e9, "Kelp", 300.0, BLENDS, (Tap(420.0, MEDIUM),)),
        PotHistory("b", 1e9, "Fig", 900.0, BLENDS),
        PotHistory("c", 1e9, "Nameless", None, BLENDS),
    )
    draws = live(learned, BatchHistory("b", Mix(30.0, 0.33, 0.4), pots, words), 450.0)
    assert set(draws.log_af) == {"Kelp", "Fig", "Nameless"}
    assert np.median(draws.log_af["Kelp"]) > np.median(draws.log_af["Fig"])
    later = np.linspace(900.0, 1500.0, draws.n)
    assert np.isfinite(milestone_times(draws, "Nameless", later, BLENDS)).all()


def test_same_question_same_answer_and_new_facts_move_it_smoothly(learned: Fit) -> None:
    batch = one_pot((600.0, LIGHT))
    once, again = live(learned, batch, 700.0), live(learned, batch, 700.0)
    assert np.array_equal(once.log_thresholds, again.log_thresholds)
    second_later = live(learned, batch, 701.0)
    a, b = (
        np.quantile(milestone_times(d, "Kelp", IN, BLENDS)[:, THICK], [0.1, 0.5, 0.9])
        for d in (once, second_later)
    )
    assert b == pytest.approx(a, rel=0.02)
    other_seed = live(learned, batch, 700.0, seed=1)
    c = np.quantile(milestone_times(other_seed, "Kelp", IN, BLENDS)[:, THICK], [0.1, 0.5, 0.9])
    assert c == pytest.approx(a, rel=0.06)


WRONG = [(LIGHT, EMULSION), (LIGHT, THICK), (LIGHT, SET_UP), (MEDIUM, LIGHT), (MEDIUM, SET_UP)]
"""Of a thinner state, or put right by the next tap; any other is a floor until taken back."""


@pytest.mark.parametrize(
    ("reached", "tapped"), WRONG, ids=[f"{r.words} tapped as {t.words}" for r, t in WRONG]
)
@pytest.mark.parametrize(
    "times",
    [(600.0, 760.0, 900.0), (500.0, 900.0, 1500.0), (450.0, 480.0, 510.0)],
    ids=["brisk", "slow", "seizing"],
)
def test_one_wrong_tap_moves_the_room_left_by_less_than_two_and_a_half(
    reached: Trace, tapped: Trace, times: tuple[float, ...], learned: Fit
) -> None:
    """Once the next state is tapped as it should be, with or without earlier batches."""
    at = dict(zip((LIGHT, MEDIUM, THICK), times, strict=True))
    following = Trace(reached + 1)
    right = [(at[s], s) for s in at if s <= following]
    wrong = [(t, tapped if s is reached else s) for t, s in right]
    now, target = at[following], Trace(reached + 2)
    for fitted in (no_batches(), learned):
        for sold in (Reputation.WELL_BEHAVED, Reputation.ACCELERATES):
            room = [
                median_of(live(fitted, one_pot(*taps, reputation=sold), now), target) - now
                for taps in (right, wrong)
            ]
            assert 0.4 < room[1] / room[0] < 2.5


def test_a_fit_survives_json(learned: Fit) -> None:
    again = from_data(json.loads(json.dumps(as_data(learned))))
    assert as_data(again) == as_data(learned)
    batch = one_pot((600.0, LIGHT))
    batch = replace(batch, fragrances=(FragranceWord("Fragrance 0"), *batch.fragrances))
    ours, theirs = live(learned, batch, 700.0), live(again, batch, 700.0)
    assert np.array_equal(ours.log_rate, theirs.log_rate)
    with pytest.raises((KeyError, TypeError, ValueError)):
        from_data({"batches": 3})


def test_acceleration_says_what_it_rests_on(learned: Fit) -> None:
    unknown = acceleration(learned, FragranceWord("Never used", Reputation.NOTORIOUS))
    assert unknown.batches == 0
    assert unknown.above(3.0) > 0.7
    assert unknown.quantile(0.1) < unknown.quantile(0.5) < unknown.quantile(0.9)
    assert unknown.above(unknown.quantile(0.5)) == pytest.approx(0.5, abs=1e-3)
    most = max(learned.fragrances.values(), key=lambda f: f.batches)
    used = acceleration(learned, FragranceWord(most.name, most.reputation))
    assert used.batches == most.batches > 5
    assert used.sd < 0.6 * unknown.sd


def test_learning_finds_the_true_acceleration() -> None:
    """Against the invented world's truth, which the fit never sees."""
    rng = np.random.default_rng(4)
    maker = draw_maker(rng)
    fitted = fit([m.history for m in make_many(rng, maker, 120)])
    truth = {s.word.name: s.log_af for s in maker.fragrances}
    words = {s.word.name: s.word for s in maker.fragrances}
    often = [f for f in fitted.fragrances.values() if f.batches >= 5]
    error = [acceleration(fitted, words[f.name]).mean - truth[f.name] for f in often]
    assert len(often) >= 6
    assert np.sqrt(np.mean(np.square(error))) < 0.45
    assert np.corrcoef([truth[f.name] for f in often], [f.log_af for f in often])[0, 1] > 0.9


@pytest.mark.parametrize(
    "pots",
    [
        (PotHistory("a", 2000.0),),
        (PotHistory("a", 2000.0, taps=(Tap(900.0, LIGHT), Tap(1500.0, MEDIUM))),),
        (PotHistory("a", 0.0, "Kelp", None),),
        (PotHistory("a", 2000.0, "Kelp", 0.0, BLENDS, (Tap(30.0, SET_UP),)),),
        (PotHistory("a", 2000.0, "Kelp", 500.0), PotHistory("b", 2000.0, "Fig", 600.0)),
        (),
    ],
    ids=[
        "never tapped",
        "unscented",
        "nothing seen",
        "seized in the oils",
        "two fragrances",
        "no pots",
    ],
)
def test_odd_batches_can_be_learned_from_and_foreseen(pots: tuple[PotHistory, ...]) -> None:
    batch = BatchHistory("b", Mix(24.0, 0.33, 0.40), pots)
    fitted = fit([batch, batch])
    assert np.isfinite(fitted.theta).all()
    assert np.linalg.eigvalsh(fitted.covariance).min() > 0
    assert fitted.batches == 2
    draws = live(fitted, batch, 1600.0)
    for pot in pots:
        times = milestone_times(draws, pot.fragrance, pot.fragrance_in, pot.blends)
        assert np.isfinite(times).all()
        assert (times > 0).all()
    json.dumps(as_data(fitted), allow_nan=False)


def test_blending_up_to_trace_misleads_nobody() -> None:
    """Bursts until light trace, each tap some seconds late: what is learned is what was so."""
    rng = np.random.default_rng(4)
    blends = tuple(Blend(20.0 + 25.0 * k, 6.0) for k in range(9))
    kappa, thresholds = 20.0, np.log([400.0, 700.0, 1000.0, 1300.0, 1600.0])
    mix, n = Mix(30.0, 0.33, 0.40), 40
    true = Draws(0.2 * rng.standard_normal(n), np.tile(thresholds, (n, 1)), np.full(n, kappa), {})
    noisy = replace(true, log_thresholds=thresholds + 0.05 * rng.standard_normal((n, 5)))
    times = milestone_times(noisy, None, None, blends) + rng.exponential(8.0, (n, 5))
    batches = []
    for i, reached in enumerate(np.sort(times, axis=1)):
        taps = tuple(Tap(float(t), state) for t, state in zip(reached, MILESTONES, strict=True))
        batches.append(
            BatchHistory(f"b{i}", mix, (PotHistory("p", 3000.0, None, None, blends, taps),))
        )
    fitted = fit(batches)
    assert fitted.theta[3] == pytest.approx(np.log(kappa), abs=0.6)
    assert fitted.theta[4] == pytest.approx(thresholds[LIGHT], abs=0.4)


def word(
    name: str, sold: Reputation = Reputation.ACCELERATES, lot: str | None = None
) -> FragranceWord:
    return FragranceWord(name, sold, lot)


def test_a_fragrance_that_seized_may_again_and_is_not_taken_for_fast() -> None:
    """Of six batches two seized: the chance counts that, the others say how fast it is."""
    usual = ((500.0, LIGHT), (600.0, MEDIUM), (700.0, THICK), (800.0, SET_UP))
    seized = ((IN + 25.0, THICK), (IN + 45.0, SET_UP))

    def batches(*which: tuple[tuple[float, Trace], ...]) -> list[BatchHistory]:
        return [one_pot(*taps, reputation=Reputation.ACCELERATES) for taps in which]

    never, twice = fit(batches(*[usual] * 6)), fit(batches(*[usual] * 4, seized, seized))
    kelp = word("Kelp")
    assert twice.fragrances["Kelp"].seized == 2
    calm, wild = acceleration(never, kelp), acceleration(twice, kelp)
    assert calm.seizes < 0.03 < 0.15 < wild.seizes < 0.35
    assert wild.quantile(0.5) == pytest.approx(calm.quantile(0.5), rel=0.25)
    soon = [
        np.mean(
            milestone_times(live(f, one_pot(reputation=Reputation.ACCELERATES), 0.0), "Kelp", IN)[
                :, SET_UP
            ]
            < IN + 90.0
        )
        for f in (never, twice)
    ]
    assert soon[0] < 0.05 < 0.12 < soon[1]


def test_a_new_bottle_is_foreseen_less_surely_and_told() -> None:
    def of_lot(lot: str) -> BatchHistory:
        batch = one_pot((500.0, LIGHT), (600.0, MEDIUM), (700.0, THICK))
        return replace(batch, fragrances=(word("Kelp", lot=lot),))

    fitted = fit([of_lot("A17")] * 8)
    known, new, unnamed = (acceleration(fitted, word("Kelp", lot=x)) for x in ("A17", "B2", None))
    assert (known.new_bottle, new.new_bottle, unnamed.new_bottle) == (False, True, True)
    assert not acceleration(fitted, word("Fig")).new_bottle  # nothing of it is known at all
    assert new.sd > 1.2 * known.sd
    wide = [a.quantile(0.98) / a.quantile(0.5) for a in (known, new)]
    assert wide[1] > wide[0]
    assert unnamed.sd == pytest.approx(new.sd, rel=0.05)


@pytest.mark.parametrize(
    "odd",
    [
        ((IN + 30.0, LIGHT), (IN + 60.0, SET_UP)),
        ((IN + 5000.0, LIGHT),),
        ((30.0, SET_UP),),
    ],
    ids=["at once", "hours", "before its fragrance"],
)
def test_one_odd_batch_moves_no_other_fragrance_far(
    odd: tuple[tuple[float, Trace], ...], learned: Fit
) -> None:
    """At most .15 of a chance at a fragrance it did not touch, on few batches and on many."""
    rng = np.random.default_rng(3)
    maker = draw_maker(rng)
    past = [m.history for m in make_many(rng, maker, 30)]
    strange = one_pot(*odd)
    for size in (0, 3, 10, 30):
        some = past[:size]
        before, after = (
            fit(batches) if batches else no_batches() for batches in (some, [*some, strange])
        )
        for sold in Reputation:
            for c in (22.0, 32.0):
                pot = PotHistory("p", 0.0, "Fig", None)
                batch = BatchHistory("b", Mix(c, 0.33, 0.4), (pot,), (word("Fig", sold),))
                up = (Blend(20.0, 60.0, 1.0, EMULSION),)
                chances = []
                for f in (before, after):
                    thick = milestone_times(live(f, batch, 0.0), "Fig", 300.0, up)[:, THICK]
                    chances.append([np.mean(thick > 300.0 + 60.0 * m) for m in (2, 5, 10, 20, 40)])
                assert np.abs(np.subtract(*chances)).max() <= 0.15


def test_a_bottle_known_is_foreseen_by_what_it_said_itself_counted_once() -> None:
    """Handbook normal theory: log AF of a fragrance and of two bottles of it, jointly; what is
    sighted of each bottle counts once, of its own straight, of the other through the fragrance."""
    fitted, none = no_batches(), (0.0,) * len(no_batches().theta)
    lots = (Lot("A17", 20.0, 20.0 * 0.9, none), Lot("B2", 8.0, 8.0 * 0.2, none))
    kelp = Fragrance("Kelp", Reputation.ACCELERATES, 9, 0.8, lots)
    fitted = replace(fitted, fragrances={"Kelp": kelp})
    believed = usual_beliefs(fitted, word("Kelp", lot="A17"))
    rho2 = float(lot_sd(fitted.sd.lot, np.array(kelp.log_af))) ** 2
    pieces = mixture(Reputation.ACCELERATES, fitted.words, fitted.priors)
    for belief, (_, mean, sd) in zip(believed, pieces, strict=True):
        precision = np.diag([1 / sd**2 + 2 / rho2, 1 / rho2 + 20.0, 1 / rho2 + 8.0])
        precision[0, 1:] = precision[1:, 0] = -1 / rho2
        covariance = np.linalg.inv(precision)
        means = covariance @ [mean / sd**2, 20.0 * 0.9, 8.0 * 0.2]
        assert belief.variance == pytest.approx(covariance[1, 1])
        assert belief.mean == pytest.approx(means[1])


def test_draws_are_the_posteriors_however_badly_its_mode_was_guessed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By hand: N(0, 1), and what was seen is half as likely below 0: two thirds lie above it, and
    among these as among the others it is the half normal, 0.6745 its median."""
    d, eye = importance.AF, np.eye(importance.AF)
    prior = importance.Pieces(np.ones(1), np.zeros((1, d)), eye[None])
    narrow = np.diag([0.25, *np.ones(d - 1)])
    wrong = importance.Pieces(np.ones(1), np.eye(1, d), narrow[None])
    monkeypatch.setattr(importance, "laplace", lambda *_: wrong)
    monkeypatch.setattr(
        importance, "log_likelihood", lambda _, __, q, ___: np.where(q[0] > 0.0, 0.0, np.log(0.5))
    )
    fitted = no_batches()
    rows = rows_of([one_pot((600.0, LIGHT))], {("Kelp", ""): 0}, fitted.priors, 0.2)
    q = importance.posterior_draws(fitted, prior, rows, 40_000, np.random.default_rng(5))[0]
    assert np.mean(q > 0.0) == pytest.approx(2 / 3, abs=0.02)
    assert np.median(q[q > 0.0]) == pytest.approx(0.6745, abs=0.03)
    assert np.median(q[q < 0.0]) == pytest.approx(-0.6745, abs=0.03)


def test_the_next_batch_may_be_odd_now_and_then() -> None:
    """As one normal: wider than the core of the t its batches stray by, not as wide as all of it,
    which for 3 degrees of freedom is the square root of 3 times the core (any handbook)."""
    fitted = no_batches()
    assert fitted.priors.batch_tail == 3.0
    assert 1.15 * fitted.sd.batch < batch_sd(fitted) < 3**0.5 * fitted.sd.batch
    straight = replace(fitted, priors=replace(fitted.priors, batch_tail=np.inf))
    assert batch_sd(straight) == fitted.sd.batch
