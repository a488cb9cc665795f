"""Smooth random fields for skin, water and light."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]


def smooth_field(
    rng: np.random.Generator, shape: tuple[int, int], cells: float, *, octaves: int = 3
) -> Field:
    """Draw a smooth field of mean about 0 and standard deviation about 1.

    Parameters
    ----------
    rng : numpy Generator
    shape : tuple of int
        Height and width.
    cells : float
        Number of blotches along the longer side in the first octave; each further octave has
        twice as many and half the weight.
    """
    height, width = shape
    total = np.zeros(shape, np.float32)
    for octave in range(octaves):
        count = cells * 2.0**octave
        rows = max(int(np.ceil(count * height / max(shape))), 1) + 3
        columns = max(int(np.ceil(count * width / max(shape))), 1) + 3
        coarse = rng.standard_normal((rows, columns)).astype(np.float32)
        total += cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC) * 0.5**octave
    return total


def ramp(values: Field, low: float, high: float) -> Field:
    """Rise smoothly from 0 at `low` to 1 at `high`."""
    share = np.clip((values - np.float32(low)) / np.float32(high - low), 0, 1)
    return np.asarray(share * share * (3 - 2 * share), dtype=np.float32)
