"""Scales that are not rectified: two marked points, or a px/mm known from elsewhere."""

from __future__ import annotations

import math

import numpy as np

from finmeasure.errors import NotFound
from finmeasure.scale import budget
from finmeasure.scale.calibration import BudgetLine, Scale
from finmeasure.scale.request import Bar

SHORTEST_PX = 50.0
SHORT_PX = 100.0
U_KNOWN_DEFAULT = 0.02  # as for a bar: nothing is known about tilt


def bar_scale(bar: Bar) -> Scale | NotFound:
    """Scale from two marked points a known length apart.

    The relative uncertainty is sqrt(2 s² / L² + u_reference² + u_tilt²), s the standard deviation
    of a marked point per axis and L the distance in pixels.

    Returns
    -------
    Scale or NotFound
        NotFound where the bar is shorter than 50 px.
    """
    length_px = bar.length_px
    if length_px < SHORTEST_PX:
        return NotFound(
            f"The marked bar is {length_px:.0f} px long; at least {SHORTEST_PX:g} px are needed.",
            "Mark a longer length, or photograph the bar larger.",
        )
    middle = ((bar.x1_px + bar.x2_px) / 2, (bar.y1_px + bar.y2_px) / 2)
    lines = (
        BudgetLine(
            "click",
            math.sqrt(2) * bar.click_sd_px / length_px,
            f"ends marked to {bar.click_sd_px:g} px over {length_px:.0f} px",
        ),
        BudgetLine("reference", bar.length_mm_u / bar.length_mm, "length of the bar itself"),
        BudgetLine("tilt", bar.tilt_u_rel, "tilt and depth between bar and fish are not known"),
    )
    scale = budget.with_lines(_plain("bar", bar.length_mm / length_px, middle), lines)
    return budget.with_flags(scale, "scale_uncertain") if length_px < SHORT_PX else scale


def known_scale(px_per_mm: float, px_per_mm_u: float | None, size_px: tuple[int, int]) -> Scale:
    """Scale that was stated by a person, in px/mm with its standard uncertainty.

    Without an uncertainty 2 % is assumed, as for the unknown tilt of a bar.

    Parameters
    ----------
    size_px : tuple of int
        Width and height of the photo.
    """
    centre = ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2)
    if px_per_mm_u is None:
        line = BudgetLine("stated", U_KNOWN_DEFAULT, "no uncertainty was given; 2 % is assumed")
    else:
        line = BudgetLine("stated", px_per_mm_u / px_per_mm, "uncertainty as given")
    return budget.with_lines(_plain("known", 1 / px_per_mm, centre), (line,))


def _plain(method: str, mm_per_px: float, centre_px: tuple[float, float]) -> Scale:
    """Give a scale that is the same everywhere."""
    return Scale(
        method=method,
        pixel_to_mm=np.diag([mm_per_px, mm_per_px, 1.0]),
        u_rel=0.0,
        rectified=False,
        centre_px=centre_px,
        flags=("not_rectified",),
    )
