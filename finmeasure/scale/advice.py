"""What to change for the next photo, with the figure behind it."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.scale import quality
from finmeasure.scale.calibration import Scale

BLUR_WORTH_WORDS_PX = 1.8
BURNT_OUT_FROM, BURNT_OUT_WORTH_WORDS = 250, 0.05  # grey value, and share of the card
FILLS_ENOUGH = 0.6  # of the photo's width or height that the reference should span
TILT_WORTH_WORDS_DEG = 12.0
SHARE_WORTH_WORDS = 0.5  # of the squared uncertainty that one source makes up
U_WORTH_WORDS = 0.003


def photo_advice(scale: Scale, size_px: tuple[int, int]) -> tuple[str, ...]:
    """Say what would make the next photo's scale and detail better; empty where all is well.

    Parameters
    ----------
    scale : Scale
        The scale of this photo.
    size_px : tuple of int
        Width and height of the photo.

    Returns
    -------
    tuple of str
        One sentence each, the figure first.
    """
    return tuple(
        sentence
        for sentence in (
            _nearer(scale, size_px),
            _straighter(scale),
            _on_the_card(scale),
            _largest_source(scale),
        )
        if sentence
    )


def sharper(blur_px: float) -> str:
    """Ask for a sharper photo where it is worth a word; the blur of the card's own edges, px."""
    if math.isnan(blur_px) or blur_px < BLUR_WORTH_WORDS_PX:
        return ""
    return (
        f"The card is blurred over {blur_px:.1f} px: focus on the plane of the fish, steady the "
        "camera, give more light; below 1.5 px fin edges are told best."
    )


def less_glare(gray: NDArray[np.uint8], region_px: NDArray[np.float64]) -> str:
    """Ask for less glare where too much of the card is white without detail."""
    step = max(1, max(gray.shape) // 500)
    small = gray[::step, ::step]
    mask = np.zeros(small.shape, np.uint8)
    cv2.fillConvexPoly(mask, np.rint(region_px / step).astype(np.int32), 1)
    inside = small[mask > 0]
    share = float(np.mean(inside >= BURNT_OUT_FROM)) if inside.size else 0.0
    if share < BURNT_OUT_WORTH_WORDS:
        return ""
    return (
        f"{100 * share:.0f} % of the card is burnt out: no flash, light from both sides, less "
        "exposure; clear fins cannot be seen before white without detail."
    )


def _on_the_card(scale: Scale) -> str:
    if "outside_card" not in scale.flags:
        return ""
    return (
        "The fish reaches outside the card: move it to the middle of the field, or use the next "
        "larger card."
    )


def _nearer(scale: Scale, size_px: tuple[int, int]) -> str:
    if scale.region_px is None or not scale.rectified:
        return ""
    share = float((np.ptp(scale.region_px, axis=0) / size_px).max())
    if share >= FILLS_ENOUGH:
        return ""
    return (
        f"The card spans {100 * share:.0f} % of the photo: go nearer, zoom in or use a smaller "
        f"card, and fins get up to {0.8 / share:.1f} times as many pixels."
    )


def _straighter(scale: Scale) -> str:
    if not scale.rectified:
        return ""
    tilt = quality.tilt_deg(scale)
    if tilt <= TILT_WORTH_WORDS_DEG:
        return ""
    return f"The card is tilted by {tilt:.0f}°: hold the camera straight in front of it."


def _largest_source(scale: Scale) -> str:
    """Name the one source that makes up most of an uncertainty that is worth a word."""
    if not scale.budget or scale.u_rel < U_WORTH_WORDS:
        return ""
    worst = max(scale.budget, key=lambda line: line.u_rel)
    if worst.u_rel**2 < SHARE_WORTH_WORDS * scale.u_rel**2:
        return ""
    return (
        f"Most of the scale's ±{100 * scale.u_rel:.1f} % comes from {worst.source}: {worst.note}."
    )
