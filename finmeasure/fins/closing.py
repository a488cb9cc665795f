"""Filled masks of a fin and their closing with a disc, by exact distance transforms."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]


def polygon_mask(ring: Points, shape: tuple[int, int]) -> Mask:
    """Fill a ring: a pixel belongs to it if its centre lies inside (even-odd rule).

    Parameters
    ----------
    ring : ndarray of shape (N, 2)
        (x, y) in pixels of the mask; 0, 0 is the centre of the first pixel.
    shape : tuple of int
        Rows and columns.

    Returns
    -------
    ndarray of bool of `shape`
    """
    start, stop = ring, np.roll(ring, -1, axis=0)
    low = np.ceil(np.minimum(start[:, 1], stop[:, 1])).astype(int)
    high = np.ceil(np.maximum(start[:, 1], stop[:, 1])).astype(int)
    edges = np.repeat(np.arange(len(ring)), high - low)
    rows = np.arange(len(edges)) - np.repeat(np.cumsum(high - low) - (high - low), high - low)
    rows = rows + low[edges]
    run = stop[edges] - start[edges]
    crossing = start[edges, 0] + (rows - start[edges, 1]) * run[:, 0] / run[:, 1]
    columns = np.clip(np.ceil(crossing).astype(int), 0, shape[1])
    # Only odd or even counts, so that small numbers may run over.
    toggles = np.zeros((shape[0], shape[1] + 1), np.uint8)
    np.add.at(toggles, (rows, columns), np.uint8(1))
    return np.asarray((np.cumsum(toggles, axis=1, dtype=np.uint8)[:, :-1] & 1).view(np.bool_))


def distance_to_zero(mask: Mask) -> NDArray[np.float32]:
    """Exact distance of every true pixel to the nearest false one, in pixels."""
    found = cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(found, dtype=np.float32)


def closed_with_disc(mask: Mask, radius: float) -> Mask:
    """Close a mask with a disc; the mask must lie farther than the radius from its borders.

    Parameters
    ----------
    mask : ndarray of bool
        Padded by more than `radius`, else the border counts as outside.
    radius : float
        In pixels.

    Returns
    -------
    ndarray of bool
        All places that no disc outside the mask can reach.
    """
    dilated = distance_to_zero(~mask) <= radius
    return np.asarray(distance_to_zero(dilated) > radius)


def outer_rings(mask: Mask) -> tuple[Points, ...]:
    """Rings round the connected parts of a mask, (x, y) in pixels of the mask."""
    found, _ = cv2.findContours(mask.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return tuple(np.asarray(ring, float)[:, 0, :] for ring in found)
