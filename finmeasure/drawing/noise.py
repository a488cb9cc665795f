"""Smooth random fields for skin, water and light."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

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
    finest = cells * 2.0 ** (octaves - 1)
    # Drawn no finer than needed, then enlarged: five pixels per cell are smooth enough.
    share = min(1.0, 5.0 * finest / max(shape))
    height, width = (max(round(side * share), 2) for side in shape)
    total = np.zeros((height, width), np.float32)
    for octave in range(octaves):
        count = cells * 2.0**octave / max(shape)
        rows, columns = (int(np.ceil(count * side)) + 3 for side in shape)
        coarse = rng.standard_normal((rows, columns), np.float32)
        total += cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC) * 0.5**octave
    if share == 1.0:
        return total
    return np.asarray(cv2.resize(total, shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)


def sensor_noise(
    rng: np.random.Generator, shape: tuple[int, ...], deviation: float
) -> NDArray[np.float32]:
    """Draw independent normal noise, from 65536 equally likely values; they reach 4.3 SD.

    Looking values up takes a quarter of the time of drawing each.
    """
    picked = rng.integers(0, 65536, shape, np.uint16)
    return np.asarray((_normal_values() * np.float32(deviation))[picked], np.float32)


@lru_cache(maxsize=1)
def _normal_values() -> Field:
    """Quantiles of the standard normal distribution in the middle of 65536 equal shares."""
    return np.asarray(ndtri((np.arange(65536) + 0.5) / 65536), np.float32)


def tripled(field: Field) -> Field:
    """Repeat a field for red, green and blue, (H, W) → (H, W, 3).

    Arithmetic on whole colour pixels is three times as fast as stretching a field over them.
    """
    return np.asarray(cv2.merge((field, field, field)), np.float32)


def ramp(values: Field, low: float, high: float) -> Field:
    """Rise smoothly from 0 at `low` to 1 at `high`."""
    share = np.clip((values - np.float32(low)) / np.float32(high - low), 0, 1)
    return np.asarray(share * share * (3 - 2 * share), dtype=np.float32)
