"""Pull a roughly traced margin to the edge that runs along it in the photo.

The edge is the path of least cost on a strip round the traced line, where a strong step of
brightness is cheap to walk along [1]_.

References
----------
.. [1] E. W. Dijkstra, "A note on two problems in connexion with graphs", Numerische Mathematik
   1 (1959) 269-271, in the form of ``skimage.graph.route_through_array``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import gaussian_filter1d, gaussian_gradient_magnitude, map_coordinates
from skimage.graph import route_through_array

from finmeasure.errors import MarkingError
from finmeasure.marking.margin import thinned

Points = NDArray[np.float64]
EDGE_BLUR_PX = 1.0
ACROSS_STEP_PX = 0.5
COST_FLOOR = 0.02  # keeps the path short where there is no edge at all


def snapped_margin(gray: NDArray[np.uint8], traced: ArrayLike, reach_px: float) -> Points:
    """Pull a traced line to the edge beside it.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo in grey.
    traced : array_like of shape (N, 2), pixels (x, y)
        The rough line, at least two points; its two ends stay where they are.
    reach_px : float
        How far from the traced line the edge may lie.

    Returns
    -------
    ndarray of shape (M, 2), pixels (x, y)
        One point about every 2 px.

    Raises
    ------
    MarkingError
        If fewer than two points are given or the line has no length.
    """
    rough = np.asarray(traced, float).reshape(-1, 2)
    if len(rough) < 2 or np.ptp(rough, axis=0).max() < 2.0:
        message = f"{len(rough)} points make no line to pull to the edge. Trace the fin first."
        raise MarkingError(message)
    centre = thinned(rough, 1.0)
    places = _strip(centre, reach_px)
    across = _cheapest_across(_edge_strength(gray, places))
    path = places[np.arange(len(centre)), across]
    path = gaussian_filter1d(path, 1.0, axis=0, mode="nearest")
    path[0], path[-1] = rough[0], rough[-1]
    return thinned(path, 2.0)


def _strip(centre: Points, reach_px: float) -> NDArray[np.float64]:
    """Give sample places across a line, shape (N, K, 2); the middle column is the line."""
    steps = np.arange(-reach_px, reach_px + ACROSS_STEP_PX / 2, ACROSS_STEP_PX)
    tangent = np.gradient(gaussian_filter1d(centre, 3.0, axis=0, mode="nearest"), axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    # towards the ends the strip closes on the fixed end points
    run = np.arange(len(centre))
    opening = np.minimum(1.0, np.minimum(run, run[::-1]) / max(reach_px, 1.0))
    return np.asarray(
        centre[:, None, :] + (opening[:, None] * steps)[:, :, None] * normal[:, None, :]
    )


def _edge_strength(gray: NDArray[np.uint8], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the step of brightness per pixel at any places, shape (N, K)."""
    margin = 8.0 * EDGE_BLUR_PX
    low = np.maximum(np.floor(places.min(axis=(0, 1)) - margin), 0).astype(int)
    high = np.ceil(places.max(axis=(0, 1)) + margin).astype(int) + 1
    crop = gray[low[1] : high[1], low[0] : high[0]].astype(float)
    step = gaussian_gradient_magnitude(crop, EDGE_BLUR_PX)
    across, down = np.moveaxis(places - low, -1, 0)
    found = map_coordinates(step, [down, across], order=1, mode="nearest")
    return np.asarray(found, dtype=np.float64)


def _cheapest_across(strength: NDArray[np.float64]) -> NDArray[np.intp]:
    """Give for every place along the strip the column where the cheapest path crosses it."""
    top = max(float(np.quantile(strength, 0.98)), 1e-6)
    cost = COST_FLOOR + (1.0 - np.clip(strength / top, 0.0, 1.0)) ** 2
    middle = strength.shape[1] // 2
    start, end = (0, middle), (len(strength) - 1, middle)
    path, _ = route_through_array(cost, start, end, fully_connected=True, geometric=True)
    rows, columns = np.asarray(path).T
    across = np.full(len(strength), middle, dtype=np.intp)
    across[rows] = columns
    return across
