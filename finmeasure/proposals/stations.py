"""Places that follow from the form of the whole fish rather than from what is seen at one spot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from finmeasure.proposals.layout import LANDMARKS, MASK_PARTS, MASK_STRIDE_PX

_SNOUT, _TAIL, _TOP, _BOTTOM = (
    LANDMARKS.index(name) for name in ("snout_tip", "caudal_base", "body_top", "body_bottom")
)
_INSERTIONS = [LANDMARKS.index(f"caudal_{side}_insertion") for side in ("upper", "lower")]
#: The network learned the foremost short rays 2.7 % of the length before the drawn fan; on the real
#: development photos half of that was too much.
FOREMOST_RAYS_TOO_FAR = 0.014
#: The deepest place is looked for between these shares of the length, and is the middle of all that
#: is nearly as deep: the outline is flat there.
_SEARCH, _NEARLY = (0.15, 0.75), 0.985
_SMOOTH_CELLS = 3.0
_OF_MASK = 2 / 3
_FLESH = [1 + MASK_PARTS.index(part) for part in ("body", "pectoral")]

Points = NDArray[np.float64]


def placed_by_form(points: Points, parts: NDArray[np.float32]) -> Points:
    """Move the deepest place and the insertions of the caudal fin.

    Parameters
    ----------
    points : ndarray of shape (L, 2)
        Landmarks as read from the heat maps, pixels of the network's input: a level fish that
        faces left.
    parts : ndarray of shape (P + 1, n, n)
        Probability of ground and parts.

    Returns
    -------
    ndarray of shape (L, 2)
        The deepest place lies at one station, between what the body's mask (two thirds) and what
        the heat maps say: on the real development photos each is far off on other fish.
    """
    moved = points.copy()
    length = float(points[_TAIL, 0] - points[_SNOUT, 0])
    flesh = parts[_FLESH].sum(axis=0)
    if length < MASK_STRIDE_PX * parts.shape[1] / 8 or not (flesh > 0.5).any():
        return moved  # no fish that faces left
    moved[_INSERTIONS, 0] += FOREMOST_RAYS_TOO_FAR * length
    column = _deepest_column(flesh, points[_SNOUT, 0], length)
    seen = float(points[[_TOP, _BOTTOM], 0].mean()) / MASK_STRIDE_PX
    station = _OF_MASK * column + (1 - _OF_MASK) * seen
    for index, edge in zip((_TOP, _BOTTOM), _edges(flesh), strict=True):
        # The heat map's height is finer than the mask's; the mask says how the edge goes on.
        from_to = [points[index, 0] / MASK_STRIDE_PX, station]
        before, after = np.interp(from_to, np.arange(len(edge)), edge)
        moved[index] = (MASK_STRIDE_PX * station,
                        points[index, 1] + MASK_STRIDE_PX * (after - before))  # fmt: skip
    return moved


def _deepest_column(flesh: NDArray[np.float32], snout_px: float, length_px: float) -> float:
    columns = np.arange(flesh.shape[1])
    share = (MASK_STRIDE_PX * columns - snout_px) / length_px
    depth = gaussian_filter1d(flesh.sum(axis=0).astype(float), _SMOOTH_CELLS)
    depth = np.where((share > _SEARCH[0]) & (share < _SEARCH[1]), depth, 0.0)
    return float(columns[depth >= _NEARLY * depth.max()].mean())


def _edges(flesh: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Rows of the upper and the lower edge of the body in each column, smoothed."""
    inside = flesh > 0.5
    upper = inside.argmax(axis=0).astype(float)
    lower = len(flesh) - 1.0 - inside[::-1].argmax(axis=0)
    return (gaussian_filter1d(upper, _SMOOTH_CELLS), gaussian_filter1d(lower, _SMOOTH_CELLS))
