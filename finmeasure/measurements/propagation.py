"""Propagation of uncertainty through a function of correlated inputs.

Inputs are correlated through the *sources* behind them: each source is independent of the others
and displaces the inputs by one row of a matrix when it is off by one standard uncertainty. What
two results share (the scale of a photo, a landmark) therefore stays shared and cancels by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Model = Callable[[Array], Array]
"""Function of inputs (B, K) that returns results (B,) or (B, M)."""


@dataclass(frozen=True, slots=True, eq=False)
class Propagated:
    """Results of a model with the share of each source.

    Parameters
    ----------
    values : ndarray of shape (M,)
        Results at the estimates.
    shares : ndarray of shape (S, M)
        Change of each result when a source is off by one standard uncertainty, with its sign.
    curvature : ndarray of shape (S, M)
        What the straight line misses: half the second difference over ± one standard uncertainty.
    """

    values: Array
    shares: Array
    curvature: Array

    @property
    def u(self) -> Array:
        """Combined standard uncertainty of each result, shape (M,)."""
        return root_sum_of_squares(self.shares)


def sources_of(covariance: ArrayLike) -> Array:
    """Turn a covariance matrix into independent sources.

    Parameters
    ----------
    covariance : array_like of shape (K, K)
        Symmetric, not negative; fully correlated inputs are allowed.

    Returns
    -------
    ndarray of shape (K, K)
        Rows are sources; their squares add up to the covariance.

    Examples
    --------
    >>> bool(np.allclose(sources_of([[4.0, 0.0], [0.0, 9.0]]).T @ sources_of([[4.0, 0.0],
    ...                  [0.0, 9.0]]), [[4.0, 0.0], [0.0, 9.0]]))
    True
    """
    values, vectors = np.linalg.eigh(np.asarray(covariance, float))
    return np.asarray((vectors * np.sqrt(np.clip(values, 0.0, None))).T)


def displaced(estimates: ArrayLike, sources: ArrayLike) -> Array:
    """List the inputs as estimated, then with each source off by plus and by minus one.

    Parameters
    ----------
    estimates : array_like of shape (K,)
        Inputs.
    sources : array_like of shape (S, K)
        Displacement of the inputs by one standard uncertainty of each source.

    Returns
    -------
    ndarray of shape (1 + 2 S, K)
        One input per row.
    """
    best, steps = np.asarray(estimates, float), np.asarray(sources, float)
    return np.concatenate([best[None], best + steps, best - steps])


def propagate(model: Model, estimates: ArrayLike, sources: ArrayLike) -> Propagated:
    """Propagate uncertainty linearly, with sensitivities from the model itself.

    Parameters
    ----------
    model : callable
        Takes inputs of shape (B, K) and returns results of shape (B,) or (B, M).
    estimates : array_like of shape (K,)
        Inputs.
    sources : array_like of shape (S, K)
        Displacement of the inputs by one standard uncertainty of each source; a diagonal matrix
        for independent inputs, :func:`sources_of` for a covariance.

    Returns
    -------
    Propagated
        Values and shares.

    References
    ----------
    JCGM 100:2008, 5.2.2 (correlated inputs) and 5.1.3 note 2 (sensitivities by stepping each
    input by plus and minus its standard uncertainty).

    Examples
    --------
    >>> propagate(lambda x: x[:, 0] + x[:, 1], [1.0, 2.0], np.diag([3.0, 4.0])).u.tolist()
    [5.0]
    """
    return from_displaced(model(displaced(estimates, sources)))


def from_displaced(results: Array) -> Propagated:
    """Take values and shares from a model's results at the rows of :func:`displaced`.

    Parameters
    ----------
    results : ndarray of shape (1 + 2 S,) or (1 + 2 S, M)
        In the order of the rows.
    """
    table = np.asarray(results, float).reshape(len(results), -1)
    best, (up, down) = table[0], np.split(table[1:], 2)
    return Propagated(best, (up - down) / 2.0, (up + down) / 2.0 - best)


def root_sum_of_squares(shares: Array) -> Array:
    """Combine the shares of independent sources, shape (S, M) to (M,)."""
    return np.asarray(np.sqrt(np.einsum("sm,sm->m", shares, shares)))


def propagate_draws(model: Model, estimates: ArrayLike, draws: ArrayLike) -> tuple[Array, Array]:
    """Propagate uncertainty by draws, where a straight line is not enough.

    Parameters
    ----------
    model : callable
        Takes inputs of shape (B, K) and returns results of shape (B,) or (B, M).
    estimates : array_like of shape (K,)
        Inputs.
    draws : array_like of shape (B, K)
        Draws from the joint distribution of the inputs.

    Returns
    -------
    results : ndarray of shape (B, M)
        Draws of the results.
    u : ndarray of shape (M,)
        Root mean square departure from the results at the estimates; a bias that the model's
        shape brings with it (of a maximum, of a distance near zero) is therefore inside u.

    References
    ----------
    JCGM 101:2008, 7.4 and 7.6.
    """
    best = np.asarray(model(np.asarray(estimates, float)[None]), float).reshape(1, -1)
    results = np.asarray(model(np.asarray(draws, float)), float).reshape(len(np.asarray(draws)), -1)
    return results, np.asarray(np.sqrt(((results - best) ** 2).mean(axis=0)))


def shortest_interval(draws: ArrayLike, probability: float = 0.95) -> tuple[float, float]:
    """Shortest interval that holds a share of the draws of one result.

    References
    ----------
    JCGM 101:2008, 5.3.4 and 7.7.

    Examples
    --------
    >>> shortest_interval([0.0, 1.0, 1.1, 1.2, 5.0], 0.6)
    (1.0, 1.2)
    """
    ordered = np.sort(np.asarray(draws, float))
    inside = max(1, round(probability * len(ordered)))
    widths = ordered[inside - 1 :] - ordered[: len(ordered) - inside + 1]
    start = int(np.argmin(widths))
    return float(ordered[start]), float(ordered[start + inside - 1])
