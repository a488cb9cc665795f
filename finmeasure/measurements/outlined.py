"""Ratios that need a traced outline besides the landmarks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.fins.outline import Margin, margin_of
from finmeasure.fins.plane import Plane
from finmeasure.geometry import distance, polygon_area, polyline_length
from finmeasure.measurements.definitions import measure_definition
from finmeasure.measurements.estimates import estimate
from finmeasure.measurements.sources import Placed
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale

Array = NDArray[np.float64]

TRACED_U_PCT_SL = 0.23
"""Standard uncertainty of the place of a margin traced by hand, % of standard length.

Two tracings of the same margin lie 0.26 % SL apart on average (six fins, two tracings each); the
mean absolute difference of two normal errors of size s is 1.13 s. The areas of the same pairs
differ by 3.5 % (root mean square), which a common shift of that size explains.
"""
Estimate = tuple[float, float]


def aspect_ratio(
    reading: Reading, scale: Scale | None, placed: Placed
) -> Estimate | NotFound | None:
    """Give span² / area of the caudal fin, closed by its base line.

    Parameters
    ----------
    reading : Reading
        Both tips must be placed.
    scale : Scale, optional
        Cancels; only its mapping counts.
    placed : Placed
        Landmarks with the sources of their uncertainty.

    Returns
    -------
    (value, u), NotFound or None
        None where the fin is not traced; NotFound where the outline cannot be used.
    """
    margin = _margin("caudal", reading)
    if not isinstance(margin, Margin):
        return margin
    edge = _plane(scale, margin).from_px(margin.points_px)
    area, (span, u_span) = polygon_area(edge), _scale_free("caudal_span", placed)
    if not area > 0 or not span > 0:
        return NotFound("The traced tail fin has no area.", "Trace it again.")
    u_area = _traced_u(placed, scale, margin) * polyline_length(edge)
    value = span**2 / area
    return value, value * float(np.hypot(2 * u_span / span, u_area / area))


def rod_width_to_sl(
    reading: Reading, scale: Scale | None, placed: Placed
) -> Estimate | NotFound | None:
    """Give the width of the anal fin at half length, divided by standard length.

    Parameters
    ----------
    reading : Reading
        anal_origin and anal_tip, snout_tip and caudal_base must be placed.
    scale, placed : see :func:`aspect_ratio`

    Returns
    -------
    (value, u), NotFound or None
        None where the fin is not traced; NotFound where the outline cannot be used.
    """
    margin = _margin("anal", reading)
    if not isinstance(margin, Margin):
        return margin
    edge = _plane(scale, margin).from_px(margin.points_px)
    origin, tip = (placed.points[placed.names.index(name)] for name in ("anal_origin", "anal_tip"))
    width = _width_at_half(edge, origin, tip)
    length, u_length = _scale_free("standard_length", placed)
    if not width > 0 or not length > 0:
        return NotFound("The traced anal fin does not reach half its length.", "Trace it again.")
    u_width = 2.0**0.5 * _traced_u(placed, scale, margin)
    return width / length, width / length * float(np.hypot(u_width / width, u_length / length))


def _margin(fin: str, reading: Reading) -> Margin | NotFound | None:
    outline = reading.outlines.get(fin)
    return None if outline is None else margin_of(fin, outline, reading)


def _plane(scale: Scale | None, margin: Margin) -> Plane:
    return Plane(scale, margin.base_middle_px)


def _scale_free(length_id: str, placed: Placed) -> Estimate:
    """Length with the uncertainty that it brings into a ratio: tilt, and no scale."""
    row = replace(measure_definition(length_id), unit="1")
    sources = placed.sources.copy()
    sources[placed.scale_row] = 0.0
    (value,), (u,) = estimate([row], replace(placed, sources=sources))
    return float(value), float(u)


def _traced_u(placed: Placed, scale: Scale | None, margin: Margin) -> float:
    """Give the standard uncertainty of a traced margin's place, in the unit of the plane."""
    return TRACED_U_PCT_SL / 100.0 * placed.body_px * _plane(scale, margin).unit_per_px


def _width_at_half(edge: Array, origin: Array, tip: Array) -> float:
    """Width of a closed line square to origin – tip at half of it; 0 where it does not reach."""
    if not distance(origin, tip):
        return 0.0
    ray = (tip - origin) / distance(origin, tip)
    away = edge - (origin + tip) / 2.0
    along, across = away @ ray, away @ (-ray[1], ray[0])
    following = np.roll(np.arange(len(edge)), -1)
    crossing = (along > 0) != (along[following] > 0)
    if not crossing.any():
        return 0.0
    start, end = along[crossing], along[following][crossing]
    places = across[crossing] + (across[following] - across)[crossing] * start / (start - end)
    return float(np.ptp(places))
