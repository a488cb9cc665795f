"""Values and standard uncertainties of lengths and ratios of one reading."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from finmeasure.measurements.definitions import MeasureDefinition
from finmeasure.measurements.formulas import evaluate
from finmeasure.measurements.propagation import (
    displaced,
    from_displaced,
    propagate_draws,
    root_sum_of_squares,
)
from finmeasure.measurements.sources import Placed

Array = NDArray[np.float64]

CURVED = 0.1
"""Share of u that second differences may reach before draws replace the straight line."""
DRAWS = 1024
"""Draws for a curved measure: u is known to 1 / √(2 · 1024) = 2 %."""


def estimate(rows: Sequence[MeasureDefinition], placed: Placed) -> tuple[Array, Array]:
    """Estimate measures with their standard uncertainty.

    Parameters
    ----------
    rows : sequence of MeasureDefinition
        Lengths, and ratios of lengths, whose landmarks are placed.
    placed : Placed
        Landmarks and the sources of their uncertainty.

    Returns
    -------
    values, u : ndarray of shape (M,)
        In the unit of the points; ratios without unit. A ratio is formed at every displacement
        of every source, so that what numerator and denominator share cancels.

    Notes
    -----
    Linear propagation (JCGM 100) where it holds; draws (JCGM 101) for the farthest of several
    points of nearly equal distance and for lengths of a few u.
    """
    if not rows:
        return np.empty(0), np.empty(0)
    used = _columns(rows, placed)
    model = partial(_flat_model, rows, [placed.names[column] for column in used])
    points = placed.points[used].ravel()
    sources = placed.sources[:, used].reshape(len(placed.sources), -1)
    result = from_displaced(model(displaced(points, sources)))
    heeded = _heeded(rows, placed)
    u = root_sum_of_squares(result.shares * heeded)
    curved = np.abs(result.curvature * heeded).sum(axis=0) > CURVED * u
    for unit in ("mm", "1"):
        chosen = [i for i, row in enumerate(rows) if curved[i] and row.unit == unit]
        if chosen:
            u[chosen] = _u_by_draws([rows[i] for i in chosen], placed)
    return result.values, u


def _columns(rows: Sequence[MeasureDefinition], placed: Placed) -> list[int]:
    """Places of the landmarks that the rows need; farthest ends that are not placed are left."""
    needed = {name for row in rows for name in row.landmarks}
    return [column for column, name in enumerate(placed.names) if name in needed]


def _flat_model(rows: Sequence[MeasureDefinition], names: Sequence[str], flat: Array) -> Array:
    """Formulas as a function of flattened points, (B, 2 N) to (B, M)."""
    return evaluate(rows, flat.reshape(len(flat), -1, 2), names)


def _heeded(rows: Sequence[MeasureDefinition], placed: Placed) -> Array:
    """Which source counts for which measure, (S, M): tilt is in the scale of a length already."""
    heeded = np.ones((len(placed.sources), len(rows)))
    lengths = [index for index, row in enumerate(rows) if row.unit == "mm"]
    heeded[placed.tilt, lengths] = 0.0
    return heeded


def _u_by_draws(rows: Sequence[MeasureDefinition], placed: Placed) -> Array:
    """Draw the standard uncertainty of curved measures of one unit."""
    used = _columns(rows, placed)
    count = placed.tilt.start if rows[0].unit == "mm" else len(placed.sources)
    sources = placed.sources[:count, used].reshape(count, -1)
    points = placed.points[used].ravel()
    draws = points + _standard_normal(count) @ sources
    model = partial(_flat_model, rows, [placed.names[column] for column in used])
    return propagate_draws(model, points, draws)[1]


@cache
def _standard_normal(sources: int) -> Array:
    """Draw the sources, (DRAWS, S): fixed, in pairs of opposite sign, of unit variance.

    Fixed, so that the same reading gives the same u and nothing flickers while a mark is dragged.
    """
    half = np.random.default_rng(sources).standard_normal((DRAWS // 2, sources))
    half /= np.sqrt((half**2).mean(axis=0))
    return np.concatenate([half, -half])
