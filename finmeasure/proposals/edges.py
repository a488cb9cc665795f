"""Fin and body outlines: from the part mask to the edge in the full-size photo."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.edge import refine_margin
from finmeasure.fins.outline import cut_ring
from finmeasure.proposals.fine import FineLook
from finmeasure.proposals.frames import Points
from finmeasure.proposals.layout import LANDMARKS, MASK_PARTS, MASK_STRIDE_PX
from finmeasure.reading import Outline

#: Median fins and the landmarks at the two ends of their bases.
BASES = {
    "dorsal": ("dorsal_origin", "dorsal_end"),
    "second_dorsal": ("second_dorsal_origin", "second_dorsal_end"),
    "caudal": ("caudal_upper_insertion", "caudal_lower_insertion"),
    "anal": ("anal_origin", "anal_end"),
}
LEAST_CELLS = 25  # of the part mask: below, a fin is not outlined
BAND_PX = 2.0  # width of the network's edge in its own pixels
LEAST_SHARE = 0.6


def outline_of(
    part: Literal["body"] | str, look: FineLook, gray: NDArray[np.uint8]
) -> Outline | None:
    """Outline of one part; None where the mask shows too little of it.

    Parameters
    ----------
    part : str
        ``body`` or a key of :data:`BASES`.
    look : FineLook
    gray : ndarray of shape (H, W), uint8
        Photo at full size.
    """
    found = _largest_ring(look.parts, 1 + MASK_PARTS.index(part))
    if found is None:
        return None
    ring, confidence = look.frame.to_photo(found[0]), found[1]
    if part == "body":
        return Outline(part, ring, True, "finmeasure", confidence)
    ends = look.points[[LANDMARKS.index(name) for name in BASES[part]]]
    margin = cut_ring(ring, ends)
    margin = np.vstack([ends[:1], margin[1:-1], ends[1:]])
    refined = _refined(gray, margin, BAND_PX * look.frame.photo_px_per_px)
    return Outline(part, refined, False, "finmeasure", confidence)


def _largest_ring(parts: NDArray[np.float32], index: int) -> tuple[Points, float] | None:
    """Edge of the largest region of a class, in pixels of the square, and its sureness."""
    own = parts[index]
    rival = np.delete(parts, index, axis=0).max(axis=0)
    inside = (own > rival).astype(np.uint8)
    rings, _ = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest = max(rings, key=cv2.contourArea, default=None)
    if largest is None or cv2.contourArea(largest) < LEAST_CELLS:
        return None
    ring = largest[:, 0, :].astype(float) * MASK_STRIDE_PX
    smooth = cv2.GaussianBlur(np.vstack([ring[-6:], ring, ring[:6]])[None], (7, 1), 1.2)[0][6:-6]
    sure = float(own[inside > 0].mean())
    return np.asarray(smooth, np.float64), sure


def _refined(gray: NDArray[np.uint8], margin: Points, band_px: float) -> Points:
    """Margin at the edge in the photo; the rough one where the edge leads astray."""
    band = max(band_px, 2.0)
    height, width = gray.shape
    low, high = margin.min(axis=0), margin.max(axis=0)
    if (low < 1).any() or high[0] > width - 2 or high[1] > height - 2:
        return margin
    fine = refine_margin(gray, margin, band)
    ratio = cv2.contourArea(fine.astype(np.float32)) / max(
        cv2.contourArea(margin.astype(np.float32)), 1.0)  # fmt: skip
    return fine if LEAST_SHARE < ratio < 1.0 / LEAST_SHARE else margin
