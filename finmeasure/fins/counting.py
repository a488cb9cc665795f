"""Count rays, spines or scales along a line: a straightened strip, and its peaks as a proposal."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.signal import find_peaks, peak_prominences

from finmeasure.errors import MarkingError

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
HALF_WIDTH_SHARE = 0.02  # of the line's length, to each side
LEAST_HALF_WIDTH_PX = 3.0
SHORTEST_LINE_PX = 30.0
SAMPLES_PER_PX = 2.0
MOST_SAMPLES = 4000
SLANTS = np.tan(np.radians(np.arange(-40, 41, 5)))  # of the rays across the strip
FEWEST, FINEST_PX = 3, 3.0  # rays along the line; pixels from one to the next
LEAST_GAP = 0.55  # of the spacing between two peaks
WEAK, SURE = 0.30, 0.6  # prominence of a peak, of the median one
LONG_GAP = 1.6  # of the spacing: a ray may be missed there


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """The surroundings of a line, straightened: the line runs from left to right in its middle.

    Parameters
    ----------
    values : ndarray of shape (2 h + 1, L)
        Brightness; a column is one place along the line.
    line_px : ndarray of shape (L, 2), pixels (x, y)
        Places of the columns.
    step_px : float
        Photo pixels from one column to the next, and from one row to the next.
    """

    values: Array
    line_px: Array
    step_px: float

    def picture(self, height_px: int = 96) -> NDArray[np.uint8]:
        """Give the strip for looking at, contrast stretched, shape (height_px, W)."""
        low, high = np.percentile(self.values, [1, 99])
        grey = 255 * (self.values - low) / max(float(high - low), 1.0)
        width = max(round(self.values.shape[1]), 1)
        shown = cv2.resize(grey.clip(0, 255).astype(np.uint8), (width, height_px))
        return np.asarray(shown, np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class CountProposal:
    """Peaks along a strip, for a person to check.

    Parameters
    ----------
    columns : ndarray of shape (N,)
        Columns of the strip where a ray, spine or scale seems to be.
    low, high : int
        Sure peaks only; and those that may be missed in wide gaps as well.
    """

    columns: NDArray[np.intp]
    low: int
    high: int

    @property
    def count(self) -> int:
        """How many there seem to be."""
        return len(self.columns)

    def __str__(self) -> str:
        """Say the count with its uncertainty."""
        if self.low == self.high:
            return f"{self.count}"
        return f"{self.count} ({self.low} to {self.high})"


def strip_along(gray: Gray, line_px: ArrayLike, half_width_px: float | None = None) -> Strip:
    """Straighten the surroundings of a line.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo.
    line_px : array_like of shape (N, 2), pixels (x, y)
        Corners of the line, across the rays or along the lateral line.
    half_width_px : float, optional
        How far to each side; by default 2 % of the line's length.

    Raises
    ------
    MarkingError
        If the line is too short.
    """
    corners = np.asarray(line_px, float).reshape(-1, 2)
    away = np.concatenate([[0.0], np.hypot(*np.diff(corners, axis=0).T).cumsum()])
    length = float(away[-1])
    if length < SHORTEST_LINE_PX:
        message = (
            f"The line is {length:.0f} px long; at least {SHORTEST_LINE_PX:g} px are needed. Draw "
            "it across all rays, or take a nearer photo."
        )
        raise MarkingError(message)
    count = min(math.ceil(length * SAMPLES_PER_PX), MOST_SAMPLES)
    step = length / (count - 1)
    at = np.linspace(0, length, count)
    line = np.column_stack([np.interp(at, away, corners[:, axis]) for axis in (0, 1)])
    half = half_width_px or max(HALF_WIDTH_SHARE * length, LEAST_HALF_WIDTH_PX)
    rows = np.arange(-round(half / step), round(half / step) + 1) * step
    heading = gaussian_filter1d(np.gradient(line, axis=0), 0.02 * count, axis=0)
    heading /= np.hypot(*heading.T)[:, None]
    aside = np.column_stack([-heading[:, 1], heading[:, 0]])
    places = (line[None] + rows[:, None, None] * aside[None]).astype(np.float32)
    values = cv2.remap(gray, places[..., 0], places[..., 1], cv2.INTER_LINEAR,
                       borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    return Strip(np.asarray(values, float), line, step)


def count_along(strip: Strip) -> CountProposal:
    """Propose where rays, spines or scales stand along a strip.

    The strip is averaged across at the slant that gives the clearest profile, freed of slow
    changes, and smoothed by a share of its main spacing; peaks of the narrower sign (dark rays or
    light ones) count. The range is our choice: peaks less than 0.6 of the median one in prominence
    may be none, and gaps of more than 1.6 spacings may hide more.

    Parameters
    ----------
    strip : Strip
        From :func:`strip_along`.
    """
    profile = _clearest_profile(strip.values)
    spacing = _main_spacing(profile, FINEST_PX / strip.step_px)
    if spacing is None:
        return CountProposal(np.empty(0, np.intp), 0, 0)
    fine = gaussian_filter1d(profile, 0.12 * spacing) - gaussian_filter1d(profile, 1.2 * spacing)
    if np.mean(fine**3) < 0:  # narrow dark lines on a lighter membrane
        fine = -fine
    peaks, _ = find_peaks(fine, distance=max(1, round(LEAST_GAP * spacing)))
    if not len(peaks):
        return CountProposal(peaks, 0, 0)
    strength = peak_prominences(fine, peaks, wlen=round(3 * spacing))[0]
    typical = float(np.median(strength[strength > 0.2 * strength.max()]))
    kept = strength >= WEAK * typical
    return _with_range(peaks[kept], strength[kept] / typical)


def _with_range(peaks: NDArray[np.intp], strength: Array) -> CountProposal:
    """Say between which numbers the count lies."""
    gaps = np.diff(peaks)
    typical = float(np.median(gaps)) if len(gaps) else 1.0
    missed = int(np.round(gaps[gaps > LONG_GAP * typical] / typical - 1).sum())
    crowded = int(np.sum(gaps < 0.7 * typical))
    unsure = max(int(np.sum(strength < SURE)), crowded)
    return CountProposal(peaks, len(peaks) - unsure, len(peaks) + missed)


def _clearest_profile(values: Array) -> Array:
    """Average across the strip along the slant that leaves most contrast."""
    rows = np.arange(len(values)) - len(values) // 2
    columns = np.arange(values.shape[1])
    profiles = []
    for slant in SLANTS:
        shifted = [np.interp(columns + slant * row, columns, values[i])
                   for i, row in enumerate(rows)]  # fmt: skip
        profiles.append(np.mean(shifted, axis=0))
    fine = [np.var(np.diff(gaussian_filter1d(one, 1.0))) for one in profiles]
    return np.asarray(profiles[int(np.argmax(fine))])


def _main_spacing(profile: Array, finest: float) -> float | None:
    """Columns from one peak to the next, by the strongest wave of the profile; None without one."""
    level = profile - gaussian_filter1d(profile, len(profile) / (2 * FEWEST))
    power = np.abs(np.fft.rfft(level * np.hanning(len(level)), 4 * len(level))) ** 2
    waves = np.arange(len(power)) / 4.0
    allowed = (waves >= FEWEST) & (waves <= len(profile) / finest)
    if not allowed.any() or power[allowed].max() <= 0:
        return None
    smooth = gaussian_filter1d(power, 3.0)
    return float(len(profile) / waves[allowed][np.argmax(smooth[allowed])])
