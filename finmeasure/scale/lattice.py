"""Find a first patch of squared paper in a photo: its directions, spacing and one crossing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
TILE_PX = 256
LONGER_SIDES_PX = (1200, 600, 100_000)  # of the pictures searched; the last one is full size
FEWEST_PERIODS = 6  # in a tile
SMALLEST_PERIOD_PX = 4.5
LEAST_ANGLE_DEG = 54.0
LEAST_PEAK = 0.22  # of the autocorrelation along each direction; growing from it decides
FIRST_PEAK = 0.6  # of the highest: the first one so high is the spacing, not a multiple of it
MOST_PER_REDUCTION = 4
ALIKE = 0.2
RATIO = (0.72, 1.39)
LARGEST_COSINE = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """A patch of squares.

    Parameters
    ----------
    crossing_px : ndarray of shape (2,)
        One crossing of lines.
    steps_px : ndarray of shape (2, 2)
        Columns: the way from one crossing to the next, along each direction.
    dark_lines : bool
        True where lines are darker than the squares.
    score : float
        Lower of both directions' autocorrelation peaks.
    """

    crossing_px: Array
    steps_px: Array
    dark_lines: bool
    score: float


def find_lattices(gray: Gray) -> Iterator[Lattice]:
    """Give the clearest patches of squares of each reduction, coarse reductions first.

    Several, because a fish's scales can look like squares, too. Coarse
    pictures are fast and less noisy; only the full size shows the finest lines.
    """
    tried: set[int] = set()
    for side_px in LONGER_SIDES_PX:
        factor = max(1, round(max(gray.shape) / side_px))
        if factor in tried:
            continue
        tried.add(factor)
        found = [
            _enlarged(lattice, corner, factor)
            for tile, corner in _tiles(_reduced(gray, factor))
            if (lattice := _lattice_of_tile(tile)) is not None
        ]
        real = [lattice for lattice in found if not _blocks_of_the_file(lattice)]
        yield from _different(sorted(real, key=lambda lattice: -lattice.score))


def _different(lattices: list[Lattice]) -> list[Lattice]:
    """Keep the best patch of each spacing and direction."""
    kept: list[Lattice] = []
    for lattice in lattices:
        if len(kept) < MOST_PER_REDUCTION and not any(_alike(lattice, other) for other in kept):
            kept.append(lattice)
    return kept


def _alike(first: Lattice, second: Lattice) -> bool:
    """Tell whether one patch's steps are nearly whole steps of the other, one square long."""
    steps = np.linalg.solve(first.steps_px, second.steps_px)
    return bool(np.abs(np.abs(steps).max(axis=0) - 1).max() < ALIKE)


def _blocks_of_the_file(lattice: Lattice) -> bool:
    """Tell the 8 × 8 blocks of JPEG from paper: level, upright, and a multiple of 8 px."""
    size = np.abs(lattice.steps_px)
    blocks = np.sort(size.ravel())[2:] / 8
    off = np.abs(blocks - np.rint(blocks)).max() * 8
    return bool(off < 0.05 and np.sort(size.ravel())[:2].max() < 0.1)


def _reduced(gray: Gray, factor: int) -> Gray:
    if factor == 1:
        return gray
    size = (gray.shape[1] // factor, gray.shape[0] // factor)
    whole = gray[: size[1] * factor, : size[0] * factor]
    return np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), np.uint8)


def _tiles(gray: Gray) -> Iterator[tuple[Array, Array]]:
    """Give at most 5 × 4 tiles, spread over the picture, and their upper left corners (x, y)."""
    height, width = gray.shape
    if min(height, width) < TILE_PX:
        return
    for top in _starts(height, 4):
        for left in _starts(width, 5):
            tile = gray[top : top + TILE_PX, left : left + TILE_PX]
            yield tile.astype(float), np.array([left, top], float)


def _starts(size: int, most: int) -> NDArray[np.intp]:
    count = min(most, max(1, round(1.5 * size / TILE_PX)))
    return np.unique(np.linspace(0, size - TILE_PX, count).astype(np.intp))


def _enlarged(found: Lattice, corner: Array, factor: int) -> Lattice:
    """Bring a tile's lattice into the photo's full-size pixels."""
    place = (found.crossing_px + corner + 0.5) * factor - 0.5
    return Lattice(place, found.steps_px * factor, found.dark_lines, found.score)


def _lattice_of_tile(tile: Array) -> Lattice | None:
    """Find two directions and their spacing in the power spectrum of one tile."""
    flat = _flattened(tile)
    window = np.outer(np.hanning(TILE_PX), np.hanning(TILE_PX))
    spectrum = fft.fftshift(fft.fft2(flat * window))
    power = np.abs(spectrum) ** 2
    peaks = _two_peaks(power)
    if peaks is None:
        return None
    waves, scores = [], []
    for peak in peaks:
        period, score = _period(power, peak)
        if score < LEAST_PEAK:
            return None
        harmonic = max(1, round(float(np.hypot(*peak)) * period / TILE_PX))
        waves.append(peak / harmonic / TILE_PX)
        scores.append(score)
    return _lattice(flat * window, np.array(waves), min(scores))


def _flattened(tile: Array) -> Array:
    """Divide by the light that falls on the paper."""
    light = cv2.GaussianBlur(tile, (0, 0), 20) + 1.0
    flat = tile / light
    return np.asarray(flat - flat.mean())


def _two_peaks(power: Array) -> list[Array] | None:
    """Find the strongest wave, and the strongest one across it, in cycles per tile (x, y)."""
    middle = TILE_PX // 2
    y, x = np.mgrid[-middle:middle, -middle:middle]
    radius = np.hypot(x, y)
    allowed = (radius >= FEWEST_PERIODS) & (radius <= TILE_PX / SMALLEST_PERIOD_PX)
    allowed &= (y > 0) | ((y == 0) & (x > 0))
    first = _peak(np.where(allowed, power, 0.0))
    if first is None:
        return None
    angle = np.degrees(np.arctan2(y, x) - np.arctan2(first[1], first[0]))
    across = np.abs((angle + 90) % 180 - 90) >= LEAST_ANGLE_DEG
    second = _peak(np.where(allowed & across, power, 0.0))
    return None if second is None else [first, second]


def _peak(power: Array) -> Array | None:
    """Place of the highest value, to a fraction of a bin by parabolas through its neighbours."""
    row, column = np.unravel_index(int(np.argmax(power)), power.shape)
    if power[row, column] <= 0 or not (0 < row < TILE_PX - 1 and 0 < column < TILE_PX - 1):
        return None
    logs = np.log(power[row - 1 : row + 2, column - 1 : column + 2] + 1e-30)
    shift = []
    for low, top, high in (logs[1], logs[:, 1]):
        bend = low - 2 * top + high
        shift.append(float(np.clip((low - high) / (2 * bend), -0.5, 0.5)) if bend < 0 else 0.0)
    return np.array([column - TILE_PX // 2 + shift[0], row - TILE_PX // 2 + shift[1]])


def _period(power: Array, peak: Array) -> tuple[float, float]:
    """Spacing along a direction, pixels, and how high its autocorrelation peak is.

    The slice of the power spectrum through the origin is that of the picture projected on the
    direction; its transform is the projection's autocorrelation. The first high peak is taken, so
    that a strong harmonic cannot halve the spacing nor bold lines multiply it.
    """
    way = peak / np.hypot(*peak)
    radius = np.arange(3.0, TILE_PX / 2 - 2, 0.5)
    places = (TILE_PX // 2 + radius[:, None] * way).astype(np.float32)
    smooth = cv2.blur(power, (3, 3))
    part = cv2.remap(smooth, places[None, :, 0], places[None, :, 1], cv2.INTER_LINEAR)[0]
    lags = np.arange(SMALLEST_PERIOD_PX, TILE_PX / FEWEST_PERIODS, 0.25)
    likeness = np.cos(2 * np.pi * np.outer(lags, radius) / TILE_PX) @ part / part.sum()
    inner = likeness[1:-1]
    tops = np.flatnonzero((inner >= likeness[:-2]) & (inner >= likeness[2:])) + 1
    if not len(tops) or likeness[tops].max() <= 0:
        return 1.0, 0.0
    first = tops[likeness[tops] >= FIRST_PEAK * likeness[tops].max()][0]
    return float(lags[first]), float(likeness[first])


def _lattice(tile: Array, waves: Array, score: float) -> Lattice | None:
    """Turn two waves (rows, cycles per pixel) into steps and a crossing near the tile's middle."""
    lengths = np.hypot(*waves.T)
    cosine = float(waves[0] @ waves[1] / lengths.prod())
    if not RATIO[0] <= lengths[0] / lengths[1] <= RATIO[1] or abs(cosine) > LARGEST_COSINE:
        return None
    middle = (TILE_PX - 1) / 2
    along = np.arange(TILE_PX) - middle
    # Thin lines on broad squares: the lines are the rarer, farther values.
    dark_lines = bool((tile**3).sum() < 0)
    phases = []
    for fx, fy in waves:
        wave = np.exp(-2j * np.pi * fy * along)[:, None] * np.exp(-2j * np.pi * fx * along)
        phases.append(np.angle((tile * wave).sum()))
    at_line = np.pi if dark_lines else 0.0
    turns = (at_line - np.array(phases)) / (2 * np.pi)
    turns -= np.rint(turns)
    steps = np.asarray(np.linalg.inv(waves), float)
    return Lattice(np.asarray(steps @ turns + middle, float), steps, dark_lines, score)
