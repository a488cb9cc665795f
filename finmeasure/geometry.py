"""Plane geometry on arrays of points; every point is (x, y)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]


def distance(first: ArrayLike, second: ArrayLike) -> float:
    """Length of the straight line between two points.

    Parameters
    ----------
    first, second : array_like of shape (2,)
        Points in one common unit.

    Returns
    -------
    float
        In the unit of the points.

    Examples
    --------
    >>> distance((0, 0), (3, 4))
    5.0
    """
    return float(np.hypot(*(np.asarray(second, float) - np.asarray(first, float))))


def along_axis(point: ArrayLike, start: ArrayLike, end: ArrayLike) -> float:
    """Signed length of a point's projection on the axis start → end, from start.

    Examples
    --------
    >>> along_axis((5, 2), (0, 0), (10, 0))
    5.0
    """
    axis = np.asarray(end, float) - np.asarray(start, float)
    return float((np.asarray(point, float) - np.asarray(start, float)) @ axis / np.hypot(*axis))


def signed_offset(point: ArrayLike, start: ArrayLike, end: ArrayLike) -> float:
    """Distance of a point from the line start → end; positive to the right when y points down.

    Examples
    --------
    >>> signed_offset((5, 2), (0, 0), (10, 0))
    2.0
    """
    axis = np.asarray(end, float) - np.asarray(start, float)
    away = np.asarray(point, float) - np.asarray(start, float)
    return float((axis[0] * away[1] - axis[1] * away[0]) / np.hypot(*axis))


def polyline_length(points: ArrayLike) -> float:
    """Length of an open polyline, shape (N, 2), in the unit of the points."""
    return float(np.hypot(*np.diff(np.asarray(points, float), axis=0).T).sum())


def polygon_area(points: ArrayLike) -> float:
    """Area of the polygon closed by a straight line from the last to the first point.

    Returns
    -------
    float
        Never negative, in the square of the points' unit.

    Examples
    --------
    >>> polygon_area([(0, 0), (4, 0), (4, 3), (0, 3)])
    12.0
    """
    x, y = np.asarray(points, float).T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)
