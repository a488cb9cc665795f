"""Uncertainty of the edge figures: a boundary whose position is uncertain by part of a pixel."""

from __future__ import annotations

import math

from finmeasure.fins.notches import FoundNotch

#: Standard uncertainty of a boundary's position in a sharp photo, pixels.
BOUNDARY_PX = 0.5
#: Share of the distance of two traced points by which the edge between them may stray.
STRAY_PER_STEP = 0.05
#: Share of the boundary's uncertainty by which all of it may be shifted alike (drawn fins).
COMMON_SHIFT = 0.12
#: Blur rounds a tip by so many times the boundary's uncertainty (drawn fins).
TIP_FACTOR = 1.5
#: Floors: of the notch area in percent points, of the notch depth in % of the fin's length.
AREA_FLOOR, DEPTH_FLOOR = 0.05, 0.2


def boundary_u_px(blur_px: float | None, step_px: float) -> float:
    """Give the standard uncertainty of the boundary's position, pixels.

    Parameters
    ----------
    blur_px : float, optional
        Standard deviation of the edge's blur; None counts as sharp.
    step_px : float
        Distance of traced points; a hand-traced line strays between them.
    """
    blurred = BOUNDARY_PX * max(1.0, blur_px or 0.0)
    return math.hypot(blurred, STRAY_PER_STEP * max(0.0, step_px - 1.0))


def notch_area_u(wall: float, envelope_area: float, u_boundary: float) -> float:
    """Of the notch area, percent points; `wall` is the notches' length of margin."""
    return math.hypot(AREA_FLOOR, 100.0 * u_boundary * wall / envelope_area)


def notch_depth_u(
    deepest: FoundNotch | None, fin_length: float, least_depth: float, u_boundary: float
) -> float:
    """Of the deepest notch, % of the fin's length; a narrow gap is filled in by blur.

    Where no notch is counted the true depth lies evenly between 0 and the least depth.
    """
    if deepest is None:
        return 100.0 * least_depth / fin_length / math.sqrt(3.0)
    steepness = 1.0 + deepest.depth / deepest.width
    return math.hypot(DEPTH_FLOOR, 100.0 * u_boundary / fin_length * steepness)


def length_u(u_click: float, u_boundary: float) -> float:
    """Of the fin's length: middle of two clicked base points, and the boundary at the tip.

    Blur takes more from a pointed tip than it may shift a straight edge.
    """
    return math.hypot(u_click / math.sqrt(2.0), TIP_FACTOR * u_boundary)


def area_u(margin_length: float, base_length: float, u_click: float, u_boundary: float) -> float:
    """Of the fin's area: the whole boundary moved outwards, and both base points.

    A shift common to the whole boundary is a small part of what it may be at one place.
    """
    return math.hypot(
        margin_length * COMMON_SHIFT * u_boundary, base_length * u_click / math.sqrt(2.0)
    )
