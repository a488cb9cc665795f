"""Indentations that a whole fin has: fork points, dips, and the gaps of comb-like edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

#: A marked point is moved to the deepest margin point this near, as a share of the fin's length.
SNAP_REACH = 0.05
#: Shallower dents need no cut: the disc leaves them alone.
LEAST_DENT = 0.05
#: A tail looks forked if a hollow is so deep, its lobe tips so far apart and the hollow so wide at
#: half of its depth, all as shares of the fin's length; a bite of radius 0.1 is 0.17 wide there.
FORK_DEPTH = 0.06
FORK_SPAN = 0.6
FORK_HALF_WIDTH = 0.22
#: A comb has at least this many gaps, this alike in depth and distance.
COMB_GAPS = 5
COMB_SPREAD = 0.2


def snapped(margin: Points, marked: Points, fin_length: float) -> Points | None:
    """Move a marked natural notch to the deepest margin point near it.

    Parameters
    ----------
    margin : ndarray of shape (N, 2)
        Front to rear base point.
    marked : ndarray of shape (2,)
        The landmark.
    fin_length : float
        The fin's length, in the unit of `margin`.

    Returns
    -------
    ndarray of shape (2,) or None
        None where the landmark is not at the margin, or the margin is hardly dented there (a
        rounded tail's middle ray end): then the fin needs no cut.
    """
    near = _near(margin, marked, fin_length)
    if not near.any():
        return None
    middle = margin[[0, -1]].mean(axis=0)
    away = np.hypot(*(margin - middle).T)
    place = int(np.where(near, away, np.inf).argmin())
    front, rear = _lobe_tips(away, place)
    dent = _dents(margin[[front, place, rear]], middle)[1]
    return margin[place] if dent >= LEAST_DENT * fin_length else None


def is_at_margin(margin: Points, marked: Points, fin_length: float) -> bool:
    """Whether a marked point lies near the margin."""
    return bool(_near(margin, marked, fin_length).any())


def looks_forked(margin: Points, fin_length: float) -> bool:
    """Whether a tail's margin has a broad hollow between two lobes.

    Parameters
    ----------
    margin : ndarray of shape (N, 2)
        Evenly spaced, upper to lower base point.
    fin_length : float
        In the unit of `margin`.

    Returns
    -------
    bool
        A bite is narrow against the distance of the lobe tips, a fork is not.
    """
    middle = margin[[0, -1]].mean(axis=0)
    away = np.hypot(*(margin - middle).T)
    third = len(margin) // 3
    place = third + int(away[third : len(margin) - third].argmin())
    front, rear = _lobe_tips(away, place)
    if rear - front < 3:
        return False
    hollow = margin[front : rear + 1]
    dents = _dents(hollow, middle)
    chord = hollow[-1] - hollow[0]
    span = float(np.hypot(*chord)) / fin_length
    deep = hollow[dents >= 0.5 * dents.max()] @ chord / (span * fin_length**2)
    broad = span >= FORK_SPAN and np.ptp(deep) >= FORK_HALF_WIDTH
    return bool(dents.max() >= FORK_DEPTH * fin_length and broad)


def looks_like_comb(depths: NDArray[np.float64], places: NDArray[np.float64]) -> bool:
    """Whether notches are so many, even and alike that they are gaps between free ray tips.

    Parameters
    ----------
    depths : ndarray of shape (K,)
        Depths of all notches along one margin, in any unit.
    places : ndarray of shape (K,)
        Their places along the margin, as shares of its length, rising.

    Returns
    -------
    bool
        Damage is uneven: most gaps of a comb differ little from their median.
    """
    if len(depths) < COMB_GAPS:
        return False
    gaps = np.diff(places)
    alike = np.abs(depths / np.median(depths) - 1.0) <= COMB_SPREAD
    even = np.abs(gaps / np.median(gaps) - 1.0) <= COMB_SPREAD
    return bool(alike.sum() >= COMB_GAPS and alike.mean() >= 0.6 and even.mean() >= 0.5)


def _near(margin: Points, marked: Points, fin_length: float) -> NDArray[np.bool_]:
    """Find the margin points within reach of a landmark."""
    return np.asarray(np.hypot(*(margin - marked).T) <= SNAP_REACH * fin_length)


def _lobe_tips(away: NDArray[np.float64], place: int) -> tuple[int, int]:
    """Give the indices of the farthest margin points before and after a place."""
    return int(away[: place + 1].argmax()), place + int(away[place:].argmax())


def _dents(hollow: Points, inside: Points) -> NDArray[np.float64]:
    """Distance of points from the chord of the first and last, positive towards `inside`."""
    chord = hollow[-1] - hollow[0]
    length = float(np.hypot(*chord))
    if length == 0.0:
        return np.zeros(len(hollow))
    away = np.vstack([hollow, inside]) - hollow[0]
    offsets = (chord[0] * away[:, 1] - chord[1] * away[:, 0]) / length
    return np.asarray(offsets[:-1] * np.sign(offsets[-1]))
