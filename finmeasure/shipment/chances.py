"""Chance that an equal fish stands as far from the others, by all characters or by one of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

TOGETHER_SHARE = 0.5
"""Share of T² in the false alarms, against 1 for each single character (our choice)."""
DIRECTIONS = 1000
Table = NDArray[np.float64]


def leave_one_out_t_squared(values: ArrayLike) -> Table:
    """Hotelling's T² of each row against the mean and covariance of the others.

    Parameters
    ----------
    values : array_like of shape (N, P)
        N fish, P characters, N > P + 2.

    Returns
    -------
    ndarray of shape (N,)
        (x − mean₋ᵢ)ᵀ S₋ᵢ⁻¹ (x − mean₋ᵢ) (N−1)/N.
    """
    table = np.asarray(values, float)
    count = len(table)
    away = table - table.mean(axis=0)
    # Rank-one downdate of mean and covariance (Sherman & Morrison 1950, Ann. Math. Stat. 21:124)
    # pinv: a constant column has no say
    distance = np.einsum("ij,ij->i", away @ np.linalg.pinv(away.T @ away), away) * (count - 1)
    left = (count - 1) ** 2 - count * distance
    return np.asarray(distance * count * (count - 2) / np.maximum(left, 1e-9))


def leave_one_out_t(values: ArrayLike) -> Table:
    """Student's t of each value against the mean and spread of the other fish.

    Parameters
    ----------
    values : array_like of shape (N, P)
        N fish, P characters, N > 3.

    Returns
    -------
    ndarray of shape (N, P)
        (x − mean₋ᵢ) / s₋ᵢ · √((N−1)/N), with N−2 degrees of freedom.
    """
    table = np.asarray(values, float)
    count = len(table)
    away = table - table.mean(axis=0)
    squares = (away**2).sum(axis=0)
    left = np.maximum(squares - away**2 * count / (count - 1), 1e-18 * squares + 1e-300)
    return np.asarray(away * np.sqrt(count * (count - 2) / (count - 1) / left))


def leave_one_out_t_given_others(values: ArrayLike) -> Table:
    """Student's t of each value against what the fish's other characters let expect.

    Parameters
    ----------
    values : array_like of shape (N, P)
        N fish, P characters, N > P + 3.

    Returns
    -------
    ndarray of shape (N, P)
        Externally studentised residual of each character in its least-squares regression on the
        others, with N−P−1 degrees of freedom; 0 for a character that never differs.

    References
    ----------
    Belsley, Kuh & Welsch 1980, Regression Diagnostics, section 2.1 (from memory; checked against
    statsmodels in the tests).
    """
    table = np.asarray(values, float)
    count, characters = table.shape
    away = table - table.mean(axis=0)
    inverse = np.linalg.pinv(away.T @ away)
    scaled = away @ inverse
    own = np.maximum(np.diag(inverse), 1e-300)
    share = scaled**2 / own
    leverage = 1.0 / count + np.einsum("ij,ij->i", scaled, away)[:, None] - share
    freedom = count - characters
    inside = np.clip(share / np.maximum(1.0 - leverage, 1e-9), 0.0, 1.0 - 1e-12)
    return np.asarray(np.sign(scaled) * np.sqrt(inside * (freedom - 1) / (1.0 - inside)))


def most_unusual(values: ArrayLike, among: Sequence[int], limit: float) -> tuple[int, bool]:
    """Find the fish that stands farthest from all others, and whether it stands too far.

    Three looks are taken: T² finds a fish that differs a little in several characters, t one that
    differs in a single one, t given the others one whose characters do not go together. The chance
    is that of any of them being as extreme, see :func:`chance_of_any`.

    Parameters
    ----------
    values : array_like of shape (N, P)
        N fish, P characters, N > P + 3.
    among : sequence of int
        Rows that are asked for.
    limit : float
        Share of equal fish that may stand too far: of one fish, so a box of N has N times as many.

    Returns
    -------
    int, bool
        Row, and whether its chance is below the limit.

    References
    ----------
    Hotelling 1931, Ann. Math. Stat. 2:360-378 (distribution of T²); Thompson 1935, Ann. Math.
    Stat. 6:214-219 (one value against the rest of its sample; from memory).
    """
    table = np.asarray(values, float)
    count, characters = table.shape
    rows = list(among)
    single = np.abs(leave_one_out_t(table)[rows]).max(axis=1)
    level = 2.0 * special.stdtr(count - 2, -single)
    t_squared = leave_one_out_t_squared(table)[rows]
    if characters > 1:
        rest = count - 1 - characters
        f_value = t_squared * rest / (characters * (count - 2))
        together = special.fdtrc(characters, rest, f_value)
        given = np.abs(leave_one_out_t_given_others(table)[rows]).max(axis=1)
        level = np.minimum(level, 2.0 * special.stdtr(rest, -given))
        level = np.minimum(level, together / TOGETHER_SHARE)
    worst = int(np.lexsort((-t_squared, level))[0])
    if TOGETHER_SHARE * level[worst] >= limit:  # the chance of any look is no smaller
        return rows[worst], False
    others = np.delete(table, rows[worst], axis=0)
    return rows[worst], chance_of_any(float(level[worst]), _correlations(others)) < limit


def _correlations(table: Table) -> Table:
    """Correlations, drawn a little to zero: those of few fish come out too large."""
    count, characters = table.shape
    spread = table.std(axis=0)
    standard = (table - table.mean(axis=0)) / np.where(spread > 0, spread, 1.0)
    found = standard.T @ standard / count * (1.0 - characters / count)
    np.fill_diagonal(found, 1.0)
    return np.asarray(found)


def chance_of_any(level: float, correlations: ArrayLike) -> float:
    """Chance that an equal fish passes the level in at least one of the looks.

    Parameters
    ----------
    level : float
        Chance of one look: t of a character, or t given the others; T² has half of it.
    correlations : array_like of shape (P, P)
        Of the characters.

    Returns
    -------
    float
        In the limit of many fish. A normal vector has a direction that is even over the sphere and,
        independent of it, a length of chi distribution; so for each of 1000 directions the chance
        of lying beyond the nearest of all limits is exact, and the mean over them is taken.

    Examples
    --------
    >>> chance_of_any(0.01, [[1.0]])
    0.01
    """
    matrix = np.atleast_2d(np.asarray(correlations, float))
    characters = len(matrix)
    if characters == 1 or level <= 0.0 or level >= 1.0:
        return min(max(level, 0.0), 1.0)
    inverse = np.linalg.inv(matrix)
    scores = _directions(characters) @ np.linalg.cholesky(matrix).T
    given = scores @ inverse / np.sqrt(np.diag(inverse))
    farthest = np.maximum(np.abs(scores).max(axis=1), np.abs(given).max(axis=1))
    single = -special.ndtri(level / 2.0) / farthest
    together = np.sqrt(special.chdtri(characters, TOGETHER_SHARE * level))
    return float(special.chdtrc(characters, np.minimum(single, together) ** 2).mean())


@lru_cache(maxsize=8)
def _directions(characters: int) -> Table:
    """Directions even over the sphere, the same ones in every run."""
    drawn = np.random.default_rng(1935).normal(size=(DIRECTIONS, characters))
    return np.asarray(drawn / np.linalg.norm(drawn, axis=1, keepdims=True))
