"""Mutants of the thickening model judged to change nothing that can be noticed, each with its
reason; see ``equivalent``. A place a line."""

# ruff: noqa: E501
# fmt: off
from __future__ import annotations

NOT_NOTICED: dict[str, tuple[tuple[str, str, int, str], ...]] = {
    'any number below 0 tells it; what it picks counts 0 times': (
        ('thickening/evidence.py', 'NOT_KEYED_UP = -1', 16, '(2)'),
    ),
    'without fragrance AF is 1, and A is 1 whatever w is': (
        ('thickening/evidence.py', 'lot, t_f, w = NO_LOT, inf, 1.0', 39, '(0.0)'),
    ),
    'halving comes to the same number whichever half its own end belongs to': (
        ('thickening/fragrance.py', 'low, high = (low, middle) if 1.0 - self.above(np.exp(middle)) >= p else (middle, high)', 41, '(1.0 - self.above(np.exp(middle)) > p)'),
    ),
    'a sum over a grid as fine, give or take a few places': (
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 61, '(0)'),
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 61, '(2)'),
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 56, '(2)'),
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 56, '(0)'),
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 39, '(9)'),
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 39, '(8 * (len(GRID) - 1) - 1)'),
        ('thickening/fragrance.py', 'a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)', 44, '(len(GRID) + 1)'),
    ),
    'where the first tooth of the comb stands is as good as drawn': (
        ('thickening/importance.py', 'teeth = (np.arange(kept) + 0.5) / kept * weight[-1]', 31, '(0.0)'),
        ('thickening/importance.py', 'teeth = (np.arange(kept) + 0.5) / kept * weight[-1]', 31, '(1.0)'),
    ),
    'a step that gains exactly nothing need not be taken': (
        ('thickening/importance.py', 'better = reached >= best', 17, '(reached > best)'),
        ('thickening/profile.py', 'better = reached >= best', 17, '(reached > best)'),
    ),
    'a guard against dividing by 0 or its logarithm may be as small as it likes': (
        ('thickening/profile.py', 'size = np.maximum(np.maximum(np.abs(step_b), np.abs(step_s)), 1e-12)', 70, '(2e-12)'),
        ('thickening/importance.py', 'step *= np.minimum(scale, 1.0 / np.maximum(np.abs(step).max(axis=1), 1e-12))[:, None]', 77, '(2e-12)'),
        ('thickening/importance.py', 'scale = log(max(pieces.weights[k], 1e-300)) + float(np.log(np.diag(unroot)).sum())', 43, '(2e-300)'),
        ('thickening/solve.py', 'longest = max(float(np.abs(step.theta).max()), creep, 1e-12)', 62, '(2e-12)'),
    ),
    'a guard of a variance may be twice as small': (
        ('thickening/solve.py', 'variance = np.maximum(np.diag(start.covariance)[size:], 1e-6)', 64, '(2e-06)'),
        ('thickening/solve.py', 'variance = np.maximum(np.diag(covariance)[size:], 1e-6)', 58, '(2e-06)'),
    ),
    'one draw more among thousands': (
        ('thickening/in_hand.py', 'fit: Fit, history: BatchHistory, now: float, n: int = 4000, seed: int = 0, thinned: int = 1', 58, '(4001)'),
    ),
    'without any lot there is no pair to number': (
        ('thickening/equations.py', 'rows.batch[scented] * max(lots, 1) + rows.lot[scented], return_inverse=True', 40, '(0)'),
    ),
    'a step that was too long is taken back by less, and more often': (
        ('thickening/importance.py', 'best, scale = np.maximum(best, reached), np.where(better, 1.0, 0.4 * scale)', 71, '(0.8)'),
    ),
    'weights are divided by their sum right after': (
        ('thickening/fragrance.py', 'weights = np.exp(np.array(logs) - max(logs))', 21, '(np.array(logs) + max(logs))'),
        ('thickening/fragrance.py', 'bottles = [(1.0, 0.0)]', 20, '(2.0)'),
    ),
    'of no bursts, or of no rows, the sum is 0 all the same': (
        ('thickening/exposure.py', 'used = kappa * blended_by(float(np.median(t)), blends) + t if blends else t', 11, '(kappa * blended_by(float(np.median(t)), blends) + t)'),
        ('thickening/importance.py', 'if tapped < len(each):', 7, '(tapped <= len(each))'),
    ),
    'where two pieces meet, both say the same': (
        ('thickening/exposure.py', 'piece += target >= by(s, mixed)', 17, '(target > by(s, mixed))'),
        ('thickening/normal.py', 'return chosen(z > 0.0, 1.0 - upper, upper)', 18, '(z >= 0.0)'),
        ('thickening/normal.py', 'return chosen(z > 0.0, np.log1p(-np.exp(log_upper)), log_upper)', 18, '(z >= 0.0)'),
    ),
    'it is one of the powers of 0.3, and none lies between': (
        ('thickening/profile.py', 'moving = (np.abs(reached - best) > 0.02) & (scale > 1e-3)', 52, '(scale >= 0.001)'),
        ('thickening/profile.py', 'moving = (np.abs(reached - best) > 0.02) & (scale > 1e-3)', 60, '(0.002)'),
    ),
    'a gain worked out of densities is never just that': (
        ('thickening/profile.py', 'moving = (np.abs(reached - best) > 0.02) & (scale > 1e-3)', 18, '(np.abs(reached - best) >= 0.02)'),
    ),
    'the search has come to its end by then': (
        ('thickening/profile.py', 'for _ in range(15):', 19, '(16)'),
        ('thickening/fragrance.py', 'for _ in range(50):', 23, '(51)'),
    ),
    'halving comes to the same number from farther off': (
        ('thickening/fragrance.py', 'low, high = -4.0, 8.0', 21, '(8.0)'),
        ('thickening/fragrance.py', 'low, high = -4.0, 8.0', 26, '(16.0)'),
    ),
    'any number below 0 leaves the length open': (
        ('thickening/equations.py', 'theta=whole.theta - to_theta.reshape(-1, size).T @ solved.reshape(-1, size),', 46, '(2)'),
        ('thickening/equations.py', 'theta=whole.theta - to_theta.reshape(-1, size).T @ solved.reshape(-1, size),', 75, '(2)'),
        ('thickening/equations.py', 'slope_theta=whole.slope_theta - solved.reshape(-1, size).T @ tugged.reshape(-1),', 56, '(2)'),
        ('thickening/equations.py', 'slope_theta=whole.slope_theta - solved.reshape(-1, size).T @ tugged.reshape(-1),', 85, '(2)'),
        ('thickening/evidence.py', 'np.array(signs, dtype=np.float64).reshape(-1, 15),', 50, '(2)'),
        ('thickening/evidence.py', 'np.array(terms, dtype=np.float64).reshape(-1, 3),', 51, '(2)'),
    ),
    'no tap comes before the lye': (
        ('thickening/signs.py', 'begun = up.end if up else -1.0', 31, '(2.0)'),
    ),
    'what is tapped is 1, and all else 0': (
        ('thickening/evidence.py', 'tapped, of_batch = is_tapped > 0.5, batch.astype(np.intp)', 27, '(is_tapped >= 0.5)'),
        ('thickening/evidence.py', 'tapped, of_batch = is_tapped > 0.5, batch.astype(np.intp)', 39, '(0.0)'),
    ),
    'a burst kept up to a state has one': (
        ('thickening/evidence.py', 'start, to = (up.end, up.to) if up and up.to is not None else (0.0, NOT_KEYED_UP)', 43, '(up)'),
    ),
    'what rounding takes away may be as small as it likes': (
        ('thickening/solve.py', 'if reached + _log_prior(there, setting, sd, pulled, trust) >= before - 1e-9:', 15, '(reached + _log_prior(there, setting, sd, pulled, trust) > before - 1e-09)'),
        ('thickening/solve.py', 'if reached + _log_prior(there, setting, sd, pulled, trust) >= before - 1e-9:', 74, '(before + 1e-09)'),
        ('thickening/solve.py', 'if reached + _log_prior(there, setting, sd, pulled, trust) >= before - 1e-9:', 83, '(2e-09)'),
        ('thickening/solve.py', 'if reached + _log_prior(there, setting, sd, pulled, trust) >= before - 1e-9:', 83, '(0.0)'),
    ),
    'only the square of it is used': (
        ('thickening/fragrance.py', 'ties = ties - np.array(lot.tie) * through', 15, '(ties + np.array(lot.tie) * through)'),
    ),
    'so far off both chances are nothing beside any other': (
        ('thickening/likelihood.py', 'FARTHEST, FAR = 30.0, 9.0', 22, '(18.0)'),
    ),
}
