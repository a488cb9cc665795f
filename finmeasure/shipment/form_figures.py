"""Slope of the face, from the traced body outline between the snout and the eye."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.reading import Reading

LEAST_POINTS = 4


def face_slope_deg(reading: Reading) -> float | None:
    """Measure how steeply the forehead rises from the snout to above the eye.

    Parameters
    ----------
    reading : Reading
        With snout_tip, caudal_base, eye_centre and the outline of the body (or of the whole fish).

    Returns
    -------
    float or None
        Angle of the least-squares line through the upper edge against the body axis, degrees: 0 is
        level, 90 upright. None where a mark or the outline is missing. Pixels are taken as they
        are: a card tilted by 15 degrees changes the angle by about a degree.
    """
    outline = reading.outlines.get("body") or reading.outlines.get("fish")
    if outline is None or not reading.placed("snout_tip", "caudal_base", "eye_centre"):
        return None
    snout, tail = reading.point("snout_tip"), reading.point("caudal_base")
    axis = (tail - snout) / max(float(np.hypot(*(tail - snout))), 1e-9)
    across = np.array([-axis[1], axis[0]])
    eye = reading.point("eye_centre") - snout
    # The back lies where the eye lies; with the eye level with the snout it cannot be told.
    side = float(np.sign(eye @ across)) or float("nan")
    edge = _dense(np.asarray(outline.points_px, float)) - snout
    along, height = edge @ axis, side * (edge @ across)
    face = (along >= 0) & (along <= eye @ axis) & (height > 0)
    face &= height >= along / max(float(eye @ axis), 1e-9) * abs(float(eye @ across)) * 0.999
    if face.sum() < LEAST_POINTS or not np.ptp(along[face]):
        return None
    return float(np.degrees(np.arctan(np.polyfit(along[face], height[face], 1)[0])))


def _dense(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """Place points along a ring, 2000 in all, so that a coarse trace counts by its length."""
    closed = np.vstack([ring, ring[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    places = np.linspace(0.0, along[-1], 2000, endpoint=False)
    return np.column_stack([np.interp(places, along, closed[:, axis]) for axis in (0, 1)])
