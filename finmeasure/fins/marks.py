"""What the fin figures take from a reading's landmarks: standard length and click uncertainty."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
    return click_us_px(reading, name)[0]


def click_us_px(reading: Reading, name: str) -> tuple[float, float]:
    """Give the standard uncertainties of a landmark along and across the body, pixels.

    As given; else those of a careful person, shares of the standard length; else one pixel.
    """
    landmark = reading.landmarks.get(name)
    if landmark is not None and landmark.u_px is not None:
        across = landmark.u_across_px
        return landmark.u_px, landmark.u_px if across is None else across
    if not reading.placed("snout_tip", "caudal_base"):
        return CLICK_PX, CLICK_PX
    per_cent = distance(reading.point("snout_tip"), reading.point("caudal_base")) / 100.0
    known = landmark_definition(name)
    return known.u_along_pct_sl * per_cent, known.u_across_pct_sl * per_cent


def click_steps(reading: Reading, name: str, plane: Plane) -> NDArray[np.float64]:
    """Displace a landmark by one standard uncertainty along and across the body.

    Parameters
    ----------
    reading : Reading
        Marks of one fish.
    name : str
        Landmark.
    plane : Plane
        Plane of measurement.

    Returns
    -------
    ndarray of shape (2, 2)
        One displacement a row, in the plane's unit.
    """
    line = np.array([1.0, 0.0])
    if reading.placed("snout_tip", "caudal_base"):
        ends = np.stack([reading.point("snout_tip"), reading.point("caudal_base")])
        snout, tail = plane.from_px(ends)
        line = (tail - snout) / (distance(snout, tail) or 1.0)
    along, across = np.multiply(click_us_px(reading, name), plane.unit_per_px)
    return np.stack([along * line, across * np.array([-line[1], line[0]])])


def base_u_px(reading: Reading, names: tuple[str, str]) -> float:
    """Give the uncertainty of a fin's base points per axis, root mean square, pixels."""
    given = [click_u_px(reading, name) for name in names if reading.placed(name)]
    return float(np.sqrt(np.mean(np.square(given)))) if given else CLICK_PX
