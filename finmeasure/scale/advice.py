"""What to change for the next photo, with the figure behind it."""

from __future__ import annotations

import numpy as np

from finmeasure.scale import quality
from finmeasure.scale.calibration import Scale

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
        for sentence in (_nearer(scale, size_px), _straighter(scale), _largest_source(scale))
        if sentence
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
