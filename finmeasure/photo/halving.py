"""Smaller copies of a photo, each half the size of the one before."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]


def halved(pixels: Pixels) -> Pixels:
    """Average every 2 × 2 pixels; an odd last row or column is left out.

    Halving again and again costs a tenth of one step by the mean over large areas, because
    OpenCV has fast code for 2 × 2 only.

    Parameters
    ----------
    pixels : ndarray of shape (H, W) or (H, W, 3), uint8
        At least 2 × 2.

    Returns
    -------
    ndarray of shape (H // 2, W // 2) or (H // 2, W // 2, 3), uint8
        Place p of it is the place 2 p + 0.5 of `pixels`.
    """
    height, width = (side // 2 for side in pixels.shape[:2])
    even = pixels[: 2 * height, : 2 * width]
    return np.asarray(cv2.resize(even, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def halvings(pixels: Pixels, least_px: float) -> tuple[Pixels, ...]:
    """Give a picture and its halves down to the last whose longer side is at least `least_px`.

    Parameters
    ----------
    pixels : ndarray of shape (H, W) or (H, W, 3), uint8
    least_px : float
        At least 1.

    Returns
    -------
    tuple of ndarray
        The picture itself first; place p of number k is the place (p + 0.5) 2^k − 0.5 of it.
    """
    levels = [pixels]
    while max(levels[-1].shape[:2]) // 2 >= least_px and min(levels[-1].shape[:2]) > 1:
        levels.append(halved(levels[-1]))
    return tuple(levels)
