"""Lay many squares of paper over each other, to see fine lines between the ones that were found."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.scale import corners
from finmeasure.scale.calibration import Scale

Array = NDArray[np.float64]
DIVISIONS = (10, 5, 2)
STEPS = 120  # a square's side is sampled at; all divisions fall on whole steps
MOST_SQUARES = 250
ACROSS = (0.25, 0.75)  # where the profiles run: between the lines of every division
BOLDER = 1.3  # times as dark as a thin line
FEWEST_TO_COMPARE = 20
LEAST_DEPTH = 0.008  # of the paper's brightness
LEAST_OF_MAIN = 0.04  # of the depth of the lines that were found


def finest_lines(
    gray: NDArray[np.uint8], mapping: Scale, index: NDArray[np.intp]
) -> tuple[int, bool]:
    """Find how many times finer the finest lines are than those that were found.

    On paper with 1, 5 and 10 mm lines the bold lines alone may have been found. Averaged over
    hundreds of squares even faint lines between them show.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo, lines dark.
    mapping : Scale
        Mapping to squares: crossings lie at whole numbers.
    index : ndarray of int, shape (N, 2)
        Crossings that were measured.

    Returns
    -------
    int
        1 where there are no finer lines, else into how many parts they divide a square.
    bool
        Whether every second one of the finest lines is bold.
    """
    chosen = _some(index)
    profiles = [_profile(gray, mapping, chosen, axis) for axis in (0, 1)]
    for parts in DIVISIONS:
        if all(_divided(profile, parts) for profile in profiles):
            bold = all(_depth(p, STEPS // 2) * BOLDER < _depth(p, 0) for p in profiles)
            return parts, parts == 2 and bold
    alternate = [_alternate(gray, mapping, index, axis) for axis in (0, 1)]
    return 1, all(alternate)


def _some(index: NDArray[np.intp]) -> Array:
    """Take at most so many, spread over all."""
    return index[:: max(1, len(index) // MOST_SQUARES)].astype(float)


def _alternate(gray: NDArray[np.uint8], mapping: Scale, index: NDArray[np.intp], axis: int) -> bool:
    """Tell whether every second line along one direction is bolder."""
    even = index[:, axis] % 2 == 0
    if min(even.sum(), (~even).sum()) < FEWEST_TO_COMPARE:
        return False
    depths = [
        _depth(_profile(gray, mapping, _some(index[which]), axis), 0) for which in (even, ~even)
    ]
    return max(depths) > BOLDER * min(depths)


def _depth(profile: Array, at: int) -> float:
    """How dark the profile is at one place."""
    return float(profile.max() - profile[at])


def _profile(gray: NDArray[np.uint8], mapping: Scale, chosen: Array, axis: int) -> Array:
    """Median brightness across a square along one direction, 1 = the paper, shape (STEPS,)."""
    along = np.arange(STEPS) / STEPS
    rows = []
    for across in ACROSS:
        places = np.repeat(chosen[:, None, :], STEPS, axis=1)
        places[..., axis] += along
        places[..., 1 - axis] += across
        levels = corners.sample(gray, mapping.to_px(places.reshape(-1, 2)))
        rows.append(levels.reshape(-1, STEPS))
    levels = np.concatenate(rows)
    bright = np.quantile(levels, 0.9, axis=1, keepdims=True)
    open_paper = bright[:, 0] > 0.6 * np.median(bright)  # not the fish
    shares = levels[open_paper] / np.maximum(bright[open_paper], 1)
    return np.asarray(np.median(shares, axis=0))


def _divided(profile: Array, parts: int) -> bool:
    """Tell whether there is a line at every division."""
    step = STEPS // parts
    at = np.arange(1, parts) * step
    if parts == 10:
        at = at[1:-1]  # next to a main line its blurred flank hides the line
    depth = (profile[at - step // 2] + profile[(at + step // 2) % STEPS]) / 2 - profile[at]
    main = profile.max() - profile[0]
    return bool(depth.min() > max(LEAST_DEPTH, LEAST_OF_MAIN * main))
