"""Values and standard uncertainties of lengths and ratios of one reading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from finmeasure.measurements.definitions import MeasureDefinition, measure_definition
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
"""Draws for a curved measure; what is linear in it comes out exactly."""
NORMAL_95, CHI2_95 = 1.96, 5.99
"""95 % of a normal value lies within 1.96 u, of χ² with two degrees of freedom below 5.99."""
_DEPTH_POINTS = frozenset({"body_top", "body_bottom", "peduncle_top", "peduncle_bottom"})


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
    counts, slips = _counting(rows, placed)
    # A slip of variance s² lengthens a depth d by s²/2d on average and √3 times that in root mean
    # square; s²/2d is the curvature.
    oblique = math.sqrt(3.0) * np.abs(result.curvature * slips).sum(axis=0)
    u = np.hypot(root_sum_of_squares(result.shares * counts), oblique)
    curved = np.abs(result.curvature * counts).sum(axis=0) > CURVED * u
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


def _counting(rows: Sequence[MeasureDefinition], placed: Placed) -> tuple[Array, Array]:
    """Tell which source counts for which measure, and which only slips, (S, M) each.

    Tilt is in the scale of a length already. Where along the body a depth is taken is ill-defined
    and meant to be the same for both of its points: one that slips makes the line oblique and
    never shorter.
    """
    counts = np.ones((len(placed.sources), len(rows)))
    slips = np.zeros_like(counts)
    for column, row in enumerate(rows):
        if row.unit == "mm":
            counts[placed.tilt, column] = 0.0
        along = [2 * placed.names.index(name) for name in _DEPTH_POINTS.intersection(row.landmarks)]
        counts[along, column], slips[along, column] = 0.0, 1.0
    return counts, slips


def _u_by_draws(rows: Sequence[MeasureDefinition], placed: Placed) -> Array:
    """Draw the standard uncertainty of curved measures of one unit."""
    used = _columns(rows, placed)
    count = placed.tilt.start if rows[0].unit == "mm" else len(placed.sources)
    sources = placed.sources[:count, used].reshape(count, -1)
    points = placed.points[used].ravel()
    draws = points + _standard_normal(count) @ sources
    model = partial(_flat_model, rows, [placed.names[column] for column in used])
    u = propagate_draws(model, points, draws)[1]
    values = model(points[None])[0]
    cannot_be_told_from_zero = [_holds_zero(row, placed) for row in rows]
    return np.where(cannot_be_told_from_zero, np.maximum(u, np.abs(values) / NORMAL_95), u)


def _holds_zero(row: MeasureDefinition, placed: Placed) -> bool:
    """Whether both marks of a straight line may lie on one place.

    Two scattered marks never read a distance of zero; 95 % of the readings lie within √5.99 = 2.45
    standard deviations of their difference (χ² of two degrees of freedom).
    """
    length = measure_definition(row.parts[0]) if row.parts else row
    if length.kind != "distance":
        return False
    first, second = (placed.names.index(name) for name in length.landmarks)
    away = placed.points[second] - placed.points[first]
    spread = placed.sources[:, second] - placed.sources[:, first]
    covariance = spread.T @ spread
    return bool(away @ np.linalg.pinv(covariance) @ away <= CHI2_95)


@cache
def _standard_normal(sources: int) -> Array:
    """Draw the sources, (DRAWS, S): fixed, in pairs of opposite sign, of exact unit covariance.

    Fixed, so that the same reading gives the same u and nothing flickers while a mark is dragged;
    of exact covariance, so that all that is linear comes out as by linear propagation.
    """
    half = np.random.default_rng(sources).standard_normal((DRAWS // 2, sources))
    root = np.linalg.cholesky(half.T @ half / len(half))
    half = np.linalg.solve(root, half.T).T
    return np.concatenate([half, -half])
