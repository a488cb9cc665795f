"""Pull a roughly traced margin to the edge that runs along it in the photo.

Between the traced corners the edge is the path of least cost on the photo, where a strong step of
brightness is cheap to walk along [1]_; it is then moved to the steepest place across itself.

References
----------
.. [1] E. W. Dijkstra, "A note on two problems in connexion with graphs", Numerische Mathematik
   1 (1959) 269-271, in the form of ``skimage.graph.route_through_array``.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import (
    distance_transform_edt,
    gaussian_filter1d,
    gaussian_gradient_magnitude,
    map_coordinates,
)
from shapely import LineString
from skimage.draw import line as pixels_between
from skimage.graph import route_through_array

from finmeasure.errors import MarkingError
from finmeasure.marking.margin import thinned

Points = NDArray[np.float64]
EDGE_BLUR_PX = 1.0
COST_FLOOR = 0.03  # keeps the path short where there is no edge at all
FINE_REACH_PX = 2.0
FINE_STEP_PX = 0.25
SPACING_PX = 2.0


def snapped_margin(gray: NDArray[np.uint8], traced: ArrayLike, reach_px: float) -> Points:
    """Pull a traced line to the edge beside it.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo in grey.
    traced : array_like of shape (N, 2), pixels (x, y)
        The rough line, at least two points; its two ends stay where they are.
    reach_px : float
        How far from the traced corners the edge may lie.

    Returns
    -------
    ndarray of shape (M, 2), pixels (x, y)
        One point about every 2 px; it never crosses itself unless the traced line does so.

    Raises
    ------
    MarkingError
        If fewer than two points are given or the line has no length.
    """
    rough = np.asarray(traced, float).reshape(-1, 2)
    if len(rough) < 2 or np.ptp(rough, axis=0).max() < SPACING_PX:
        message = f"{len(rough)} points make no line to pull to the edge. Trace the fin first."
        raise MarkingError(message)
    corner, step = _step_near(gray, rough, reach_px)
    corners = _corners_on_edge(step, rough - corner, reach_px)
    path = _cheapest_path(_cost(step, corners, reach_px), corners)
    path[0], path[-1] = rough[0] - corner, rough[-1] - corner
    coarse = gaussian_filter1d(path, 1.5, axis=0, mode="nearest")
    fine = _moved_to_steepest(step, coarse)
    choices = (thinned(_with_ends(line, path), SPACING_PX) for line in (fine, coarse))
    simple = next((line for line in choices if LineString(line).is_simple), rough - corner)
    return np.asarray(simple + corner)


def _step_near(
    gray: NDArray[np.uint8], rough: Points, reach_px: float
) -> tuple[Points, NDArray[np.float64]]:
    """Cut the surroundings of a line out; give their corner and the steepness of brightness."""
    room = reach_px + 8.0 * EDGE_BLUR_PX
    low = np.maximum(np.floor(rough.min(axis=0) - room), 0).astype(int)
    high = np.ceil(rough.max(axis=0) + room).astype(int) + 1
    crop = gray[low[1] : high[1], low[0] : high[0]].astype(float)
    return low.astype(float), gaussian_gradient_magnitude(crop, EDGE_BLUR_PX)


def _corners_on_edge(step: NDArray[np.float64], rough: Points, reach_px: float) -> Points:
    """Move each traced corner to a steep place near it; near ones count for more.

    Corners that tell nothing about the line's course are left out first.
    """
    reduced = np.asarray(LineString(rough).simplify(reach_px / 5.0).coords)
    radius = max(round(reach_px / 2.0), 1)
    offsets = np.mgrid[-radius : radius + 1, -radius : radius + 1].reshape(2, -1).T
    away = np.hypot(*offsets.T)
    offsets, away = offsets[away <= radius], away[away <= radius]
    last = np.array(step.shape)[::-1] - 1
    moved = reduced.copy()
    for index in range(1, len(reduced) - 1):
        places = np.clip(np.rint(reduced[index]) + offsets, 0, last).astype(int)
        worth = (step[places[:, 1], places[:, 0]] + 1e-3) * (1.0 - 0.5 * away / radius)
        moved[index] = places[worth.argmax()]
    return np.clip(np.rint(moved), 0, last)


def _cheapest_path(cost: NDArray[np.float64], corners: Points) -> Points:
    """Join the corners along steep places, pixel by pixel, without loops."""
    path: list[tuple[int, int]] = []
    for start, end in pairwise(corners.astype(int)):
        found, _ = route_through_array(
            cost, tuple(start[::-1]), tuple(end[::-1]), fully_connected=True, geometric=True
        )
        path += [tuple(place) for place in found]
    return np.asarray(_without_loops(path), float)[:, ::-1]


def _cost(step: NDArray[np.float64], corners: Points, reach_px: float) -> NDArray[np.float64]:
    """Cost of a pixel: low where it is as steep as the steep places along the line are.

    It grows with the distance from the line, mildly within reach and strongly beyond.
    """
    away = np.ones(step.shape, dtype=bool)
    for start, end in pairwise(corners.astype(int)):
        away[pixels_between(start[1], start[0], end[1], end[0])] = False
    usual = max(float(np.quantile(step[~away], 0.8)), 1e-6)
    distance = distance_transform_edt(away) / reach_px
    flat = (1.0 - np.clip(step / usual, 0.0, 1.0)) ** 2
    return np.asarray(COST_FLOOR + flat + 0.3 * distance**2 + 2.0 * (distance > 1.0))


def _without_loops(path: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Take out what leads back to a pixel that was passed before."""
    kept: list[tuple[int, int]] = []
    place_of: dict[tuple[int, int], int] = {}
    for pixel in path:
        if pixel in place_of:
            for dropped in kept[place_of[pixel] + 1 :]:
                del place_of[dropped]
            del kept[place_of[pixel] + 1 :]
        else:
            place_of[pixel] = len(kept)
            kept.append(pixel)
    return kept


def _moved_to_steepest(step: NDArray[np.float64], path: Points) -> Points:
    """Move a path across itself to the steepest place nearby, by fractions of a pixel."""
    tangent = np.gradient(gaussian_filter1d(path, 2.0, axis=0, mode="nearest"), axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    offsets = np.arange(-FINE_REACH_PX, FINE_REACH_PX + FINE_STEP_PX / 2, FINE_STEP_PX)
    across, down = np.moveaxis(path[:, None] + offsets[None, :, None] * normal[:, None], -1, 0)
    found = map_coordinates(step, [down, across], order=1, mode="nearest")
    weight = np.maximum(found - 0.7 * found.max(axis=1, keepdims=True), 0.0) + 1e-9
    shift = (weight * offsets).sum(axis=1) / weight.sum(axis=1)
    return np.asarray(path + gaussian_filter1d(shift, 2.0, mode="nearest")[:, None] * normal)


def _with_ends(line: Points, path: Points) -> Points:
    """Give a line with the two ends of the path."""
    return np.vstack([path[:1], line[1:-1], path[-1:]])
