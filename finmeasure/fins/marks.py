"""What the fin figures take from a reading's landmarks: standard length and click uncertainty."""

from __future__ import annotations

import numpy as np

from finmeasure.fins.plane import Plane
from finmeasure.geometry import distance
from finmeasure.landmarks.scheme import landmark_definition
from finmeasure.reading import Reading

#: Standard deviation of one careful click where nothing else is known, pixels per axis.
CLICK_PX = 1.0


def standard_length(reading: Reading, plane: Plane) -> tuple[float, float] | None:
    """Snout tip to caudal base in the plane's unit, and its standard uncertainty.

    Parameters
    ----------
    reading : Reading
        Marks of one fish.
    plane : Plane
        Plane of measurement; the scale's own uncertainty is left out, as ratios share it.

    Returns
    -------
    tuple of float or None
        None where one of the two points is not placed.
    """
    if not reading.placed("snout_tip", "caudal_base"):
        return None
    ends_px = np.stack([reading.point("snout_tip"), reading.point("caudal_base")])
    ends = plane.from_px(ends_px)
    u_px = np.hypot(click_u_px(reading, "snout_tip"), click_u_px(reading, "caudal_base"))
    return distance(*ends), float(u_px) * plane.unit_per_px


def click_u_px(reading: Reading, name: str) -> float:
    """Give the standard uncertainty of a landmark along the body, pixels.

    Parameters
    ----------
    reading : Reading
        Marks of one fish.
    name : str
        Landmark.

    Returns
    -------
    float
        As given; else that of a careful person, a share of the standard length; else one pixel.
    """
    landmark = reading.landmarks.get(name)
    if landmark is not None and landmark.u_px is not None:
        return landmark.u_px
    if not reading.placed("snout_tip", "caudal_base"):
        return CLICK_PX
    length_px = distance(reading.point("snout_tip"), reading.point("caudal_base"))
    return landmark_definition(name).u_along_pct_sl / 100.0 * length_px


def base_u_px(reading: Reading, names: tuple[str, str]) -> float:
    """Give the uncertainty of a fin's base points per axis, root mean square, pixels."""
    given = [click_u_px(reading, name) for name in names if reading.placed(name)]
    return float(np.sqrt(np.mean(np.square(given)))) if given else CLICK_PX
