"""Profile likelihood of a regrowth curve: all rates and lags that the data allow."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Vector = NDArray[np.float64]
RATES, LAGS, NEAR = 121, 41, 30
#: Shares of the missing part per day that are looked at; slower or faster cannot be told apart.
SLOWEST, FASTEST = 1e-4, 3.0


def plausible_rates(
    day: Vector,
    ratio: Vector,
    u: Vector,
    *,
    whole: tuple[float, float],
    best: Mapping[str, float],
    with_lag: bool,
    level: float = 0.95,
) -> tuple[Vector, Vector]:
    """Find all pairs of rate and lag whose best curve is not refuted by the data.

    For given rate and lag the law is linear in the start and the whole length, so their best
    values follow without search; the reference of the whole length counts as one more datum.

    Parameters
    ----------
    day, ratio, u : ndarray of shape (N,)
        The series.
    whole : tuple of float
        Reference of the whole length and its standard uncertainty.
    best : mapping of str to float
        The fitted curve.
    with_lag : bool
        Whether the lag is free; 0 otherwise.
    level : float
        Level of the intervals.

    Returns
    -------
    rates, lags : ndarray of shape (M,)
        Negative rates (a fin that gets shorter) are among them where the data allow it.
    """
    span = float(np.ptp(day))
    positive = np.geomspace(SLOWEST, FASTEST, RATES)
    # A fin that shrinks e-fold within the series is slow enough to stand for all that shrink.
    shrinking = -np.linspace(0.0, 1.0, 11) / span
    rates = np.concatenate([shrinking, positive, _near(best["rate"], abs(best["rate"]))])
    lags = np.zeros(1)
    if with_lag:
        near = _near(best["lag"] - day[0], 0.3 * span)
        lags = np.clip(np.append(near, np.linspace(0.0, 0.6 * span, LAGS)), 0.0, None)
    pairs = np.array(np.meshgrid(rates, lags, indexing="ij")).reshape(2, -1)
    chi2 = _best_chi2(day - day[0], ratio, u, whole=whole, rates=pairs[0], lags=pairs[1])
    allowed = chi2 <= chi2.min() + _threshold(float(chi2.min()), day.size, with_lag, level)
    return pairs[0][allowed], pairs[1][allowed] + day[0]


def _near(value: float, reach: float) -> Vector:
    """Values round the best one, the denser the nearer: narrow intervals are resolved too."""
    away = reach * np.geomspace(1e-5, 1.0, NEAR)
    return np.concatenate([value - away, [value], value + away])


def _threshold(least: float, points: int, with_lag: bool, level: float) -> float:
    """Rise of chi-squared that marks the level, wider where the law fits worse than the u say."""
    freedom = points - 2 - with_lag
    plain = float(stats.chi2.ppf(level, 1))
    if freedom < 1 or least <= freedom:
        return plain
    return max(plain, float(stats.f.ppf(level, 1, freedom)) * least / freedom)


def _best_chi2(
    day: Vector,
    ratio: Vector,
    u: Vector,
    *,
    whole: tuple[float, float],
    rates: Vector,
    lags: Vector,
) -> Vector:
    """Least chi-squared over start and whole length for each rate and lag, shape (M,)."""
    value, value_u = whole
    # Column of the start, column of the whole length; the last row is the reference.
    left = np.exp(-rates[:, None] * np.clip(day[None, :] - lags[:, None], 0.0, None))
    start = np.hstack([left / u, np.zeros((len(rates), 1))])
    end = np.hstack([(1.0 - left) / u, np.full((len(rates), 1), 1.0 / value_u)])
    seen = np.append(ratio / u, value / value_u)
    a, b, c = (start**2).sum(axis=1), (start * end).sum(axis=1), (end**2).sum(axis=1)
    p, q = start @ seen, end @ seen
    determinant = a * c - b**2
    first, last = (c * p - b * q) / determinant, (a * q - b * p) / determinant
    left_over = seen - first[:, None] * start - last[:, None] * end
    return np.asarray((left_over**2).sum(axis=1))
