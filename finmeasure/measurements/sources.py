"""What is uncertain in one reading: each landmark, the shared scale, and the unknown tilt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.scheme import landmark_definition
from finmeasure.reading import Landmark, Reading
from finmeasure.scale.calibration import Scale

Array = NDArray[np.float64]

TILT_ANGLE = math.radians(7.0)
"""Standard deviation of the tilt of fish against camera about each of two axes, without a card.

Our choice, without data. Together 10° root mean square, beyond 17° in one photo of twenty. A length
in the middle half of a photo is then wrong by some 4 %, the default of the experiments on unknown
tilt.
"""
TILT_SHORTENING = math.sqrt(2.0) * TILT_ANGLE**2
"""Root mean square of the foreshortening 1 − cos t ≈ t²/2 for such tilts: 2.1 %."""
FOCAL_TO_FRAME = 0.775
"""Focal length over the longer side of the photo where the lens is not known: that of a 27 mm
lens (the usual phone; common practice) by the 43.3 mm diagonal of 35 mm film, on a 4 : 3 photo. It
is also that of the drawn photos; docs/method/measures.md says how it was settled."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """The placed landmarks of a reading in the plane of measurement.

    Parameters
    ----------
    names : tuple of str
        The N landmarks.
    points : ndarray of shape (N, 2)
        In millimetres, or in pixels where there is no scale.
    sources : ndarray of shape (S, N, 2)
        Displacement of all points when one source is off by one standard uncertainty: two sources
        per landmark (along and across the body), the scale, and four of tilt without a card.
    tilt : slice
        Rows of the tilt sources.
    scale_row : int
        Row of the scale.
    defaults : frozenset of str
        Landmarks that carry the uncertainty of a careful person.
    body_px : float
        Standard length in pixels, or the extent of the marks where it cannot be seen.
    """

    names: tuple[str, ...]
    points: Array
    sources: Array
    tilt: slice
    scale_row: int
    defaults: frozenset[str]
    body_px: float


def placed_landmarks(
    reading: Reading, scale: Scale | None, frame_px: tuple[int, int] | None
) -> Placed:
    """Collect the placed landmarks of a reading with everything that is uncertain about them.

    Parameters
    ----------
    reading : Reading
        Marks of one fish.
    scale : Scale, optional
        None keeps pixels as the unit.
    frame_px : tuple of int, optional
        Width and height of the photo; without it the fish is taken to fill the frame.
    """
    marks = [mark for mark in reading.landmarks.values() if mark.state == "placed"]
    pixels = np.array([mark.point for mark in marks], float).reshape(-1, 2)
    axis, body_px = body_axis(reading, pixels)
    slopes = np.broadcast_to(np.eye(2), (len(marks), 2, 2))
    if scale is not None and marks:
        slopes = scale.mm_per_px_at(pixels)
    points = pixels if scale is None or not marks else scale.to_mm(pixels)
    own = _landmark_sources(marks, axis, body_px, slopes)
    shared = (points - _middle(points)) * (0.0 if scale is None else scale.u_rel)
    tilt = np.empty((0, *points.shape))
    if (scale is None or not scale.rectified) and marks:
        frame = max(frame_px) if frame_px else float(np.ptp(pixels, axis=0).max())
        tilt = _tilt_sources(points, frame * FOCAL_TO_FRAME * _unit_per_px(slopes))
    return Placed(
        tuple(mark.name for mark in marks),
        points,
        np.concatenate([own, shared[None], tilt]),
        slice(len(own) + 1, None),
        len(own),
        frozenset(mark.name for mark in marks if mark.u_px is None),
        body_px,
    )


def body_axis(reading: Reading, pixels: Array) -> tuple[Array, float]:
    """Direction of the body as a unit vector, and its length in pixels.

    Where snout or caudal base cannot be seen, the longest direction of the marks and their extent
    stand in: only default uncertainties hang on them.
    """
    if reading.placed("snout_tip", "caudal_base"):
        line = reading.point("caudal_base") - reading.point("snout_tip")
        if np.hypot(*line) > 0:
            return line / np.hypot(*line), float(np.hypot(*line))
    if len(pixels) < 2:
        return np.array([1.0, 0.0]), 0.0
    direction = np.linalg.svd(pixels - pixels.mean(axis=0))[2][0]
    return direction, float(np.ptp(pixels @ direction))


def _middle(points: Array) -> Array:
    return points.mean(axis=0) if len(points) else np.zeros(2)


def _unit_per_px(slopes: Array) -> float:
    return float(np.sqrt(np.abs(np.linalg.det(slopes)).mean()))


def _landmark_sources(marks: list[Landmark], axis: Array, body_px: float, slopes: Array) -> Array:
    """Two sources per landmark: along and across the body, shape (2 N, N, 2)."""
    across = np.array([-axis[1], axis[0]])
    sizes = np.array([_u_px(mark, body_px) for mark in marks]).reshape(-1, 2)
    steps_px = np.stack([sizes[:, :1] * axis, sizes[:, 1:] * across], axis=1)
    steps = np.einsum("nij,nsj->nsi", slopes, steps_px)
    sources = np.zeros((len(marks), 2, len(marks), 2))
    every = np.arange(len(marks))
    sources[every, :, every] = steps
    return sources.reshape(2 * len(marks), len(marks), 2)


def _u_px(mark: Landmark, body_px: float) -> tuple[float, float]:
    """Give the standard uncertainty of a landmark along and across the body, pixels."""
    if mark.u_px is not None:
        return mark.u_px, mark.u_px if mark.u_across_px is None else mark.u_across_px
    known = landmark_definition(mark.name)
    per_cent = body_px / 100.0
    return known.u_along_pct_sl * per_cent, known.u_across_pct_sl * per_cent


def _tilt_sources(points: Array, distance: float) -> Array:
    """Four sources of an unknown tilt t towards an unknown side: shape (4, N, 2).

    Foreshortening 1 − cos t along a direction ψ that may be any: its mean part belongs to the
    scale, what remains is −(ε/2)(cos 2ψ, sin 2ψ) on two strains of equal size, without
    correlation, each with the standard deviation ε_rms / √8. A fin square to the body therefore
    gets ε_rms / √2 in its ratio, one along the body nothing. Perspective: the near end is drawn
    larger by sin t / distance per unit of length; two sources again.

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        In the plane of measurement.
    distance : float
        Camera distance in the unit of the points.
    """
    away = points - _middle(points)
    strain = TILT_SHORTENING / math.sqrt(8.0)
    stretch = away * (strain, -strain)
    shear = away[:, ::-1] * strain
    nearness = away * (TILT_ANGLE / distance if distance > 0 else 0.0)
    return np.stack([stretch, shear, *(away * nearness[:, i : i + 1] for i in range(2))])
