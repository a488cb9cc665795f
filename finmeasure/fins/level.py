"""Rings round the places above zero, between the pixels: marching squares without loops."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Indices = NDArray[np.intp]


def zero_rings(height: NDArray[np.float32]) -> list[Points]:
    """Follow the zero level of a field.

    Parameters
    ----------
    height : ndarray of shape (H, W)
        At most zero along its border.

    Returns
    -------
    list of ndarray of shape (N, 2)
        (x, y) in pixels, the first point not repeated. High places that touch at a corner only are
        kept apart.

    References
    ----------
    W. E. Lorensen, H. E. Cline, Marching Cubes, Computer Graphics 21 (1987) 163-169; here in two
    dimensions.
    """
    starts, stops = _segments(height > 0)
    sides = np.sort(starts)
    following = np.searchsorted(sides, stops[np.argsort(starts)]).tolist()
    places = _crossings(height.astype(np.float64), sides)
    return [places[ring] for ring in _rings(following)]


def _segments(high: NDArray[np.bool_]) -> tuple[Indices, Indices]:
    """Sides of pixels squares at which the level enters and leaves them, high places on the left.

    A side that runs along a row has the number of its first pixel; those along columns follow.
    """
    count, width = high.size, high.shape[1]
    corners = high.view(np.uint8)
    total = corners[:-1, :-1] + corners[:-1, 1:] + corners[1:, :-1] + corners[1:, 1:]
    row, column = np.nonzero((total > 0) & (total < 4))
    upper = row * width + column
    flat = high.ravel()
    ul, ur, ll, lr = (flat[upper + step] for step in (0, 1, width, width + 1))
    sides = upper, count + upper + 1, upper + width, count + upper  # top, right, bottom, left
    enters = ur & ~ul, lr & ~ur, ll & ~lr, ul & ~ll
    leaves = ul & ~ur, ur & ~lr, lr & ~ll, ll & ~ul
    saddle = (ul == lr) & (ur == ll) & (ul != ur)
    plain = ~saddle
    starts = [_chosen(sides, enters)[plain]]
    stops = [_chosen(sides, leaves)[plain]]
    # Of a saddle each high corner is cut off by itself.
    for first, second, corner in ((0, 1, ur), (2, 3, ur), (3, 0, ul), (1, 2, ul)):
        cut = saddle & corner
        starts.append(sides[first][cut])
        stops.append(sides[second][cut])
    return np.concatenate(starts), np.concatenate(stops)


def _chosen(sides: tuple[Indices, ...], flags: tuple[NDArray[np.bool_], ...]) -> Indices:
    """Give the one flagged side of each square."""
    return np.asarray(np.select(flags, sides, 0), dtype=np.intp)


def _crossings(height: NDArray[np.float64], sides: Indices) -> Points:
    """Places where the level crosses sides, shape (N, 2)."""
    count, width = height.size, height.shape[1]
    down = sides >= count
    pixel = sides - count * down
    flat = height.ravel()
    before, after = flat[pixel], flat[pixel + np.where(down, width, 1)]
    share = before / (before - after)
    row, column = np.divmod(pixel, width)
    return np.column_stack([column + np.where(down, 0.0, share), row + np.where(down, share, 0.0)])


def _rings(following: list[int]) -> list[list[int]]:
    """Give the closed chains of indices, each followed by the next."""
    rings = []
    seen = bytearray(len(following))
    for start in range(len(following)):
        ring = []
        place = start
        while not seen[place]:
            seen[place] = 1
            ring.append(place)
            place = following[place]
        if ring:
            rings.append(ring)
    return rings
