"""Even resampling of a margin and the Gaussian filter for open profiles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

#: Constant of the Gaussian filter: half of a wave of the cut-off length passes (ISO 16610-21).
ALPHA = float(np.sqrt(np.log(2.0) / np.pi))


def resample(points: Points, step: float) -> Points:
    """Lay points evenly along an open polyline.

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        Polyline without repeated points.
    step : float
        Wanted distance; it is made slightly smaller so that both ends are kept.

    Returns
    -------
    ndarray of shape (M, 2)
        In the unit of the points.
    """
    travelled = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    places = np.linspace(0.0, travelled[-1], max(2, int(np.ceil(travelled[-1] / step)) + 1))
    return np.column_stack([np.interp(places, travelled, axis) for axis in points.T])


def gaussian_weights(step: float, cutoff: float) -> NDArray[np.float64]:
    """Weights of the Gaussian filter, reaching one cut-off length to both sides.

    References
    ----------
    ISO 16610-21, linear profile filters: Gaussian filters (formula from memory, transmissions
    in the tests).
    """
    reach = int(np.ceil(cutoff / step))
    places = np.arange(-reach, reach + 1) * step
    weights = np.exp(-np.pi * (places / (ALPHA * cutoff)) ** 2)
    return np.asarray(weights / weights.sum())


def smooth(points: Points, step: float, cutoff: float) -> Points:
    """Smooth x(s) and y(s) of an evenly sampled open margin.

    The ends are continued by point reflection, so both end points stay where they are.

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        Evenly spaced.
    step, cutoff : float
        Spacing, and the wavelength of which half passes, in the unit of the points.

    Returns
    -------
    ndarray of shape (N, 2)
        In the unit of the points.

    References
    ----------
    ISO 16610-21 (filter); ISO 16610-28 (ends of profiles).
    """
    weights = gaussian_weights(step, cutoff)
    reach = min(len(weights) // 2, len(points) - 1)
    before = 2.0 * points[0] - points[reach:0:-1]
    after = 2.0 * points[-1] - points[-2 : -reach - 2 : -1]
    longer = np.vstack([before, points, after])
    middle = len(weights) // 2
    weights = weights[middle - reach : middle + reach + 1]
    weights = weights / weights.sum()
    return np.column_stack([np.convolve(axis, weights, mode="valid") for axis in longer.T])
