"""Editing a traced margin, one vertex or one stretch at a time. Nothing is changed in place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from finmeasure.fins.records import BASE_POINTS
from finmeasure.reading import Landmark, Outline

Points = NDArray[np.float64]
LEAST_POINTS = 3
SAME_PLACE_PX = 0.5


def base_ends(part: str) -> tuple[str, str]:
    """Name the landmarks at the front and rear end of a fin's base.

    Examples
    --------
    >>> base_ends("pelvic")
    ('pelvic_origin', 'pelvic_end')
    """
    return BASE_POINTS.get(part, (f"{part}_origin", f"{part}_end"))


def with_base_lines(
    outlines: Mapping[str, Outline], landmarks: Mapping[str, Landmark]
) -> dict[str, Outline]:
    """Give the outlines that a reading can hold.

    A fin whose spread or edge was marked without tracing it gets the straight line between its
    base points, so that the mark is kept; where these are not placed it is left out.
    """
    kept = {}
    for part, outline in outlines.items():
        if len(outline.points_px) >= LEAST_POINTS:
            kept[part] = outline
            continue
        ends = [landmarks.get(name) for name in base_ends(part)]
        placed = [end.point for end in ends if end is not None and end.state == "placed"]
        if len(placed) == 2:
            kept[part] = replace(outline, points_px=np.array(placed))
    return kept


def with_end_moved(
    outlines: Mapping[str, Outline], landmark: Landmark, to: tuple[float, float]
) -> dict[str, Outline]:
    """Give the outlines with the end that stood on a base point moved along with it."""
    moved = dict(outlines)
    for part, outline in outlines.items():
        for name, index in zip(base_ends(part), (0, -1), strict=True):
            points = outline.points_px
            if name != landmark.name or not len(points):
                continue
            if np.hypot(*(points[index] - landmark.point)) < SAME_PLACE_PX:
                fresh = with_vertex_moved(points, index, to)
                moved[part] = replace(outline, points_px=fresh)
    return moved


def nearest_vertex(points: ArrayLike, at: ArrayLike, reach_px: float) -> int | None:
    """Find the vertex nearest to a place.

    Parameters
    ----------
    points : array_like of shape (N, 2), pixels
        The margin.
    at : array_like of shape (2,), pixels
        The place.
    reach_px : float
        Vertices farther away do not count.

    Returns
    -------
    int or None
        Its index.

    Examples
    --------
    >>> nearest_vertex([(0, 0), (10, 0)], (9, 1), 3.0)
    1
    """
    line = np.asarray(points, float).reshape(-1, 2)
    if not len(line):
        return None
    away = np.hypot(*(line - np.asarray(at, float)).T)
    index = int(away.argmin())
    return index if away[index] <= reach_px else None


def nearest_edge(points: ArrayLike, at: ArrayLike, reach_px: float) -> int | None:
    """Find the straight piece nearest to a place; piece i joins vertices i and i + 1.

    Examples
    --------
    >>> nearest_edge([(0, 0), (10, 0), (10, 10)], (9, 5), 3.0)
    1
    """
    line = np.asarray(points, float).reshape(-1, 2)
    if len(line) < 2:
        return None
    start, along = line[:-1], np.diff(line, axis=0)
    length_squared = np.maximum((along**2).sum(axis=1), 1e-12)
    share = ((np.asarray(at, float) - start) * along).sum(axis=1) / length_squared
    foot = start + np.clip(share, 0.0, 1.0)[:, None] * along
    away = np.hypot(*(foot - np.asarray(at, float)).T)
    index = int(away.argmin())
    return index if away[index] <= reach_px else None


def with_vertex(points: ArrayLike, at: ArrayLike, edge: int) -> Points:
    """Give the margin with a vertex put into piece `edge`."""
    return np.insert(np.asarray(points, float), edge + 1, np.asarray(at, float), axis=0)


def with_vertex_moved(points: ArrayLike, index: int, to: ArrayLike) -> Points:
    """Give the margin with one vertex elsewhere."""
    line = np.array(points, float)
    line[index] = to
    return line


def with_place_pulled(points: ArrayLike, index: int, to: ArrayLike, reach_px: float) -> Points:
    """Give the margin with one vertex elsewhere and its near neighbours drawn along.

    A line with many vertices bends instead of growing a spike; one with few moves only the
    vertex.

    Parameters
    ----------
    points : array_like of shape (N, 2), pixels
        The margin; its two ends stay where they are unless one of them is moved.
    index : int
        The vertex.
    to : array_like of shape (2,), pixels
        Where it goes.
    reach_px : float
        Along the line, how far neighbours are drawn along; it falls off as a cosine.

    Examples
    --------
    >>> with_place_pulled([(0, 0), (5, 0), (10, 0)], 1, (5, 4), 3.0).tolist()
    [[0.0, 0.0], [5.0, 4.0], [10.0, 0.0]]
    """
    line = np.array(points, float)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    away = np.minimum(np.abs(run - run[index]) / reach_px, 1.0)
    weight = 0.5 * (1.0 + np.cos(np.pi * away))
    weight[[0, -1]] = 0.0
    weight[index] = 1.0
    return np.asarray(line + weight[:, None] * (np.asarray(to, float) - line[index]))


def without_vertex(points: ArrayLike, index: int) -> Points:
    """Give the margin without one vertex."""
    return np.delete(np.asarray(points, float), index, axis=0)


def with_stretch_redrawn(points: ArrayLike, stretch: ArrayLike) -> Points:
    """Replace the part of a margin that a newly drawn line runs along.

    The new line takes the place of all vertices between the two that lie nearest to its ends;
    it may be drawn in either direction.

    Parameters
    ----------
    points : array_like of shape (N, 2), pixels
        The margin.
    stretch : array_like of shape (M, 2), pixels
        The new line, at least two points.

    Returns
    -------
    ndarray of shape (K, 2)
        The margin keeps its direction and its two end points.

    Examples
    --------
    >>> with_stretch_redrawn([(0, 0), (5, 0), (10, 0)], [(8, 2), (2, 2)]).tolist()
    [[0.0, 0.0], [2.0, 2.0], [8.0, 2.0], [10.0, 0.0]]
    """
    line, fresh = np.asarray(points, float), np.asarray(stretch, float)
    first, last = (_place_along(line, end) for end in (fresh[0], fresh[-1]))
    if first > last:
        first, last, fresh = last, first, fresh[::-1]
    head = line[: max(int(np.floor(first)) + 1, 1)]
    tail = line[min(int(np.ceil(last)), len(line) - 1) :]
    return np.vstack([head, fresh, tail])


def thinned(points: ArrayLike, spacing_px: float) -> Points:
    """Resample a line at about even spacing, keeping both ends.

    Examples
    --------
    >>> thinned([(0, 0), (10, 0)], 5.0).tolist()
    [[0.0, 0.0], [5.0, 0.0], [10.0, 0.0]]
    """
    line = np.asarray(points, float).reshape(-1, 2)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    count = max(round(float(run[-1]) / spacing_px), 1) + 1
    wanted = np.linspace(0.0, run[-1], count)
    return np.column_stack([np.interp(wanted, run, line[:, axis]) for axis in (0, 1)])


def _place_along(line: Points, at: Points) -> float:
    """Give the place on a line nearest to a point, as vertex index plus share of the piece."""
    start, along = line[:-1], np.diff(line, axis=0)
    share = ((at - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12)
    share = np.clip(share, 0.0, 1.0)
    away = np.hypot(*(start + share[:, None] * along - at).T)
    index = int(away.argmin())
    return index + float(share[index])
