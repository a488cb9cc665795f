"""The scale from a thing of known size that was marked: a blank ID-1 card or a coin."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.scale import budget, quality
from finmeasure.scale.calibration import BudgetLine, Scale
from finmeasure.scale.orientation import oriented
from finmeasure.scale.references import COINS_MM, MarkedObject

Array = NDArray[np.float64]
# ISO/IEC 7810: ID-1 is 85.60 x 53.98 mm; unused cards 85.47-85.72 x 53.92-54.03 mm (from memory).
# Limits as rectangular distributions (JCGM 100:2008, 4.3.7): half the range / √3.
ID1_MM = (85.60, 53.98)
ID1_U_MM = (0.125 / math.sqrt(3), 0.055 / math.sqrt(3))
U_COIN_MM = 0.05  # wear and tolerance of a coin's diameter; assumed
LARGEST_TILT_DEG = 30.0
SMALLEST_PX = 50.0
U_LENS = 0.005  # a lens's radial term, not known from four corners or one rim
U_TILT_OF_RIM = 0.01  # distance and thickness of the coin before the fish's plane; assumed
LARGEST_TILT_OF_RIM_DEG = 20.0  # 25° gave 2.1 % in one of 300 drawn photos
# A fish 50 mm beside the coin, 300 mm from the lens: root mean square over all directions; assumed.
BESIDE_OVER_DISTANCE = 50 / 300 / math.sqrt(2)


def object_scale(marked: MarkedObject) -> Scale | NotFound:
    """Make the scale of a marked thing."""
    points = np.array(marked.points_px, float)
    if marked.name == "ID1":
        return _card_scale(points, marked.click_sd_px)
    return _coin_scale(points, COINS_MM[marked.name], marked.click_sd_px)


def _card_scale(corners_px: Array, click_sd_px: float) -> Scale | NotFound:
    """Map the four corners of a blank card to its plane; tilt is taken out by them."""
    sides = np.hypot(*(np.roll(corners_px, -1, axis=0) - corners_px).T)
    if sides.min() < SMALLEST_PX or not cv2.isContourConvex(corners_px.astype(np.float32)):
        return NotFound(
            "The four marked corners are not those of a card, or the card is too small.",
            "Mark the corners in order round the card, where its straight edges would meet.",
        )
    across, down = ID1_MM
    if sides[[0, 2]].sum() < sides[[1, 3]].sum():
        across, down = down, across
    known = np.array([[0, 0], [across, 0], [across, down], [0, down]])
    matrix = cv2.getPerspectiveTransform(
        corners_px.astype(np.float32), known.astype(np.float32)
    ).astype(float)
    middle_px = corners_px.mean(axis=0)
    bare = Scale("known_object", matrix, 0.0, True, (middle_px[0], middle_px[1]))
    tilt = quality.tilt_deg(replace(bare, optical_centre_px=(middle_px[0], middle_px[1])))
    if tilt > LARGEST_TILT_DEG:
        return _too_tilted(tilt, LARGEST_TILT_DEG)
    scale = oriented(bare, known.mean(axis=0), np.ones(2))
    u_size = math.hypot(*(u / side for u, side in zip(ID1_U_MM, ID1_MM, strict=True))) / 2**0.5
    lines = (
        # Four corners give each direction twice: the mean side has half a side's variance.
        BudgetLine("click", click_sd_px / float(sides.min()), f"corners to {click_sd_px:g} px"),
        BudgetLine("reference", u_size, "ISO/IEC 7810 limits of unused cards"),
        BudgetLine("lens", U_LENS, "four corners do not show the lens"),
    )
    return budget.with_lines(replace(scale, region_px=corners_px), lines)


def _coin_scale(rim_px: Array, diameter_mm: float, click_sd_px: float) -> Scale | NotFound:
    """Stretch the rim's ellipse back to a circle: foreshortening is taken out, perspective is not.

    Which side of the coin is the nearer one cannot be told from its rim.
    """
    (x, y), axes, turn_deg = cv2.fitEllipseDirect(rim_px.astype(np.float32))
    long_px, short_px = max(axes), min(axes)
    if not (math.isfinite(long_px) and long_px >= SMALLEST_PX and short_px > 0):
        return NotFound(
            f"The marked rim is {long_px:.0f} px wide; at least {SMALLEST_PX:g} px are needed.",
            "Mark points all round the rim, or photograph the coin larger.",
        )
    tilt_deg = math.degrees(math.acos(short_px / long_px))
    if tilt_deg > LARGEST_TILT_OF_RIM_DEG:
        return _too_tilted(tilt_deg, LARGEST_TILT_OF_RIM_DEG)
    matrix = np.eye(3)
    matrix[:2, :2] = _stretch(axes, turn_deg) * diameter_mm
    scale = Scale(
        method="known_object",
        pixel_to_mm=matrix,
        u_rel=0.0,
        rectified=False,
        centre_px=(float(x), float(y)),
        flags=("not_rectified",),
    )
    # r(t) = r0 + a cos 2t + b sin 2t by least squares: r0 has the variance s² / n, a and b 2 s² / n
    # each, so a radius in any one direction 3 s² / n.
    u_click = click_sd_px * math.sqrt(3 / len(rim_px)) / (short_px / 2)
    nearer = BESIDE_OVER_DISTANCE * math.sin(math.radians(tilt_deg))
    note = f"coin tilted by {tilt_deg:.0f}°: a fish beside it may be nearer or farther"
    lines = (
        BudgetLine("click", u_click, f"{len(rim_px)} points on the rim to {click_sd_px:g} px"),
        BudgetLine("reference", U_COIN_MM / diameter_mm, "wear and tolerance of the coin"),
        BudgetLine("tilt", math.hypot(U_TILT_OF_RIM, nearer), note),
    )
    return budget.with_lines(scale, lines)


def _stretch(axes_px: Sequence[float], turn_deg: float) -> Array:
    """Give the symmetric matrix that makes an ellipse a circle of diameter 1."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    turn = np.array([[c, -s], [s, c]])
    return np.asarray(turn @ np.diag(1 / np.asarray(axes_px, float)) @ turn.T)


def _too_tilted(tilt: float, limit: float) -> NotFound:
    return NotFound(
        f"The marked thing is tilted by {tilt:.0f}° against the camera; at most "
        f"{limit:g}° are allowed.",
        "Hold the camera straight in front of it.",
    )
