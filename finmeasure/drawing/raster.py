"""Exact area coverage of polygons on a pixel grid: edges without the bias of sampled fills."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Coverage = NDArray[np.float32]


def coverage(polygon_px: ArrayLike, shape: tuple[int, int]) -> Coverage:
    """Share of every pixel that a polygon covers.

    Each edge adds, to the pixels it runs through and to all pixels right of them, the signed area
    between itself and the pixel's right side; a running sum along the rows then is the exact
    covered area (Green's theorem per pixel).

    Parameters
    ----------
    polygon_px : array_like of shape (N, 2), pixels (x, y)
        Ring, first point not repeated; 0, 0 is the centre of the upper left pixel.
    shape : tuple of int
        Height and width of the grid.

    Returns
    -------
    ndarray of shape (height, width), 0 to 1
        Parts of the ring that overlap themselves count once.
    """
    height, width = shape
    ring = np.asarray(polygon_px, float) + 0.5
    start, end = _split(ring, np.concatenate([ring[1:], ring[:1]]))
    middle = (start + end) / 2
    row = np.floor(middle[:, 1]).astype(np.int64)
    inside = (row >= 0) & (row < height)
    column = np.floor(middle[:, 0]).astype(np.int64)
    rise = np.where(inside, end[:, 1] - start[:, 1], 0.0)
    # Left of the grid an edge counts for the whole row, right of it for nothing.
    share_right = np.where(column < 0, 1.0, 1.0 - (middle[:, 0] - column))
    column = np.clip(column, 0, width)
    cell = np.clip(row, 0, height - 1) * (width + 2) + column
    size = height * (width + 2)
    total = np.bincount(cell, rise * share_right, minlength=size)
    total += np.bincount(cell + 1, rise * (1.0 - share_right), minlength=size)
    summed = np.cumsum(total.reshape(height, width + 2), axis=1)[:, :width]
    return np.minimum(np.abs(summed), 1.0).astype(np.float32)


def _split(
    start: NDArray[np.float64], end: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cut edges at every grid line, so that each piece lies within one pixel."""
    for axis in (0, 1):
        start, end = _split_along(start, end, axis)
    return start, end


def _split_along(
    start: NDArray[np.float64], end: NDArray[np.float64], axis: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cut edges at the integer values of one coordinate; their order is not kept."""
    crosses = np.floor(start[:, axis]) != np.floor(end[:, axis])
    begin, finish = _cut(start[crosses], end[crosses], axis)
    whole = ~crosses
    return np.concatenate([start[whole], begin]), np.concatenate([end[whole], finish])


def _cut(
    start: NDArray[np.float64], end: NDArray[np.float64], axis: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cut edges, each of which crosses an integer value of the coordinate."""
    low = np.minimum(start[:, axis], end[:, axis])
    high = np.maximum(start[:, axis], end[:, axis])
    first = np.floor(low) + 1
    cuts = np.maximum(np.ceil(high) - first, 0).astype(np.int64)
    pieces = cuts + 1
    edge = np.repeat(np.arange(len(start)), pieces)
    number = np.arange(len(edge)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    length = np.maximum(high - low, 1e-300)
    share = ((first - low)[edge] + number) / length[edge]
    share_end = np.where(number == cuts[edge], 1.0, share)
    share_start = np.where(number == 0, 0.0, ((first - low)[edge] + number - 1) / length[edge])
    rising = (end[:, axis] >= start[:, axis])[edge]
    begin = np.where(rising, share_start, 1.0 - share_start)[:, None]
    finish = np.where(rising, share_end, 1.0 - share_end)[:, None]
    # A falling edge was walked from its lower end: keep the ring's own direction.
    begin, finish = (
        np.where(rising[:, None], begin, finish),
        np.where(rising[:, None], finish, begin),
    )
    span = (end - start)[edge]
    return start[edge] + begin * span, start[edge] + finish * span
