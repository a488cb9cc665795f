"""How sharp a photo is, judged by its steepest edges."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.photo.halving import halvings

JUDGED_PX = 1200  # longer side of the photos whose blur is compared
ADDED_BLUR_PX = 2.0
STEEPEST = 99.5  # percentile of the slopes that are compared
LEAST_SLOPE = 1.0  # grey levels per pixel: below, there is no edge to judge by


def reduced(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Average a photo down to the size at which blur is judged; a smaller one stays as it is.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
    """
    small = halvings(pixels, JUDGED_PX)[-1]
    factor = JUDGED_PX / max(small.shape[:2])
    if factor >= 1.0:
        return small
    size = (max(round(small.shape[1] * factor), 1), max(round(small.shape[0] * factor), 1))
    return np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), np.uint8)


def photo_blur_px(pixels: NDArray[np.uint8]) -> float:
    """Blur of the sharpest edges of a photo, standard deviation in pixels.

    A step blurred by s has the slope h / (s √(2π)); blurred further by b it has s² + b² in place
    of s² (textbook). The ratio of the steepest slopes before and after gives s.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3) or (H, W), uint8

    Returns
    -------
    float
        0 where there are no edges to judge by.
    """
    gray = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY) if pixels.ndim == 3 else pixels
    before = _steepest(gray.astype(np.float32))
    after = _steepest(cv2.GaussianBlur(gray.astype(np.float32), (0, 0), ADDED_BLUR_PX))
    if before < LEAST_SLOPE or after >= before:
        return 0.0
    share = (after / before) ** 2
    return float(ADDED_BLUR_PX * np.sqrt(share / (1.0 - share)))


def _steepest(gray: NDArray[np.float32]) -> float:
    """Slope of the steepest edges, grey levels per pixel."""
    across = cv2.Sobel(gray, cv2.CV_32F, 1, 0, scale=1 / 8)
    down = cv2.Sobel(gray, cv2.CV_32F, 0, 1, scale=1 / 8)
    return float(np.percentile(cv2.magnitude(across, down), STEEPEST))
