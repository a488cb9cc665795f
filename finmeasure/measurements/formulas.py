"""Formulas of lengths and ratios on stacks of landmark points.

Every formula takes points of shape (B, K, 2) and returns (B,): one result per row, so that a
value and all that its uncertainty needs come from one call.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from finmeasure.measurements.definitions import Kind, MeasureDefinition, measure_definition

Array = NDArray[np.float64]


def distance(points: Array) -> Array:
    """Straight line between two points, (B, 2, 2) to (B,)."""
    return _norm(points[:, 1] - points[:, 0])


def farthest_along_axis(points: Array) -> Array:
    """Farthest of the third and further points along the line first → second, from first.

    Total length: the axis is the body axis, the points are the ends of the tail fin.
    """
    start = points[:, 0]
    axis = points[:, 1] - start
    along = ((points[:, 2:] - start[:, None]) * axis[:, None]).sum(axis=2)
    return np.asarray(along.max(axis=1) / _norm(axis))


def farther(points: Array) -> Array:
    """Longest straight line from the first point to any of the others."""
    return np.asarray(_norm(points[:, 1:] - points[:, :1]).max(axis=1))


def offset_from_line(points: Array) -> Array:
    """Distance of the third point from the line first – second, towards the fourth point.

    Negative where it lies beyond the line.
    """
    first, line = points[:, 0], points[:, 1] - points[:, 0]
    away, body = points[:, 2] - first, points[:, 3] - first
    return np.asarray(_cross(line, away) * np.sign(_cross(line, body)) / _norm(line))


_OF_KIND: Mapping[Kind, Callable[[Array], Array]] = {
    "distance": distance,
    "farthest_along_axis": farthest_along_axis,
    "farther": farther,
    "offset_from_line": offset_from_line,
}


def evaluate(
    rows: Sequence[MeasureDefinition], points: Array, names: Sequence[str]
) -> NDArray[np.float64]:
    """Evaluate lengths and ratios for many placements of the landmarks at once.

    Parameters
    ----------
    rows : sequence of MeasureDefinition
        Measures of the kinds of this module and ratios of them.
    points : ndarray of shape (B, N, 2)
        Landmarks, in millimetres or in pixels.
    names : sequence of str
        Names of the N landmarks. Of a measure that takes the farthest of several points, those
        that are not among the names are left out.

    Returns
    -------
    ndarray of shape (B, M)
        One column per measure, in the unit of the points; ratios without unit. NaN where a line
        has no length.
    """
    place = {name: index for index, name in enumerate(names)}
    lengths: dict[str, Array] = {}

    def length(id_: str) -> Array:
        if id_ not in lengths:
            row = measure_definition(id_)
            columns = [place[name] for name in row.landmarks if name in place]
            lengths[id_] = _OF_KIND[row.kind](points[:, columns])
        return lengths[id_]

    with np.errstate(divide="ignore", invalid="ignore"):
        results = [
            length(row.parts[0]) / length(row.parts[1]) if row.parts else length(row.id)
            for row in rows
        ]
    table = np.stack(results, axis=1) if results else np.empty((len(points), 0))
    table[~np.isfinite(table)] = np.nan
    return table


def _norm(vectors: Array) -> Array:
    """Length of vectors along the last axis; np.hypot is slower here."""
    return np.asarray(np.sqrt(vectors[..., 0] ** 2 + vectors[..., 1] ** 2))


def _cross(first: Array, second: Array) -> Array:
    """Signed area of the parallelogram of two plane vectors."""
    return np.asarray(first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0])
