"""Find a straight ruler anywhere in a photo: a proposal that a person must check."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.scale import budget
from finmeasure.scale.calibration import Scale
from finmeasure.scale.references import Ruler
from finmeasure.scale.ruler import ruler_scale, ticks_between

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
WORK_PX = (2400, 1200, 600)  # longer sides of the pictures that are searched
TILE_PX = 192
SMALLEST_PERIOD_PX, LARGEST_PERIOD_PX = 3.6, 11.0
LEAST_PEAK = 60.0  # of a tile's power spectrum over its median at the same wavelength
MOST_TRIALS = 4  # directions and periods, the clearest tiles first
BAND = 0.2  # relative width of the band round the ticks' frequency
STRONG = 0.3  # of the strongest ticks: weaker places are no ruler
STEPS_PER_WIDTH = 5.0  # of the picture that is smoothed, in one standard deviation
LARGEST_GAP = 0.2  # of the ruler that may be hidden in one piece
LEAST_TICKS = 25
MOST_HEIGHT, HALF_AS_STRONG = 9.0, 0.5  # of a row of ticks in spacings; where it ends
LONGER_TICKS = (5, 10, 2, 4, 8, 16)  # every so-many-th tick is longer: mm, then parts of an inch
LEAST_LONGER = 0.25  # correlation of the longer ticks beside the short ones
COUNT_AGREES = 0.08  # ticks counted and expected from their spacing, relative
LARGEST_RESIDUAL, LEAST_SHARE = 0.1, 0.6  # stricter than where a person has clicked
FRAME_TICKS = 2.0  # half height of the frame that is drawn round the row, in ticks
EVEN = 0.75  # how steadily the phase goes on over six ticks: one on a ruler
MOST_UNEVEN = 0.04  # its lens share; 0.044 gave 2.1 % in one of 300 drawn photos
TILTED = NotFound(
    "A ruler is found, but it is tilted: its ticks are far wider apart at one end than the other.",
    "Hold the camera straight above the ruler, farther away, and zoom in.",
)
NONE = NotFound(
    "No straight ruler with even ticks and longer ones among them is found in the photo.",
    "Click near both ends of its ticks (scales.csv, kind ruler), or use our card.",
)


@dataclass(frozen=True, slots=True)
class _Sign:
    """A tile that looks like ticks: its middle, direction along the ruler, period, strength."""

    middle: tuple[float, float]
    angle: float
    period_px: float
    strength: float


def proposed_ruler_scale(gray: Gray, tick_mm: float) -> Scale | NotFound:
    """Find a ruler and make its scale, flagged: a person must check ruler and spacing."""
    ruler = find_ruler(gray, tick_mm)
    if isinstance(ruler, NotFound):
        return ruler
    scale = ruler_scale(gray, ruler)
    if isinstance(scale, NotFound):
        return scale
    if next(line.u_rel for line in scale.budget if line.source == "lens") > MOST_UNEVEN:
        return TILTED
    ends = np.array([[ruler.x1_px, ruler.y1_px], [ruler.x2_px, ruler.y2_px]])
    along = (ends[1] - ends[0]) / ruler.length_px
    across = FRAME_TICKS * tick_mm * scale.px_per_mm * np.array([-along[1], along[0]])
    frame = np.array([ends[0] - across, ends[1] - across, ends[1] + across, ends[0] + across])
    return budget.with_flags(replace(scale, region_px=frame), "ruler_proposed")


def find_ruler(gray: Gray, tick_mm: float) -> Ruler | NotFound:
    """Find the longest row of even ticks that has longer ticks among them.

    Tiles whose power spectrum shows one sharp wavelength tell direction and spacing. Along each of
    these directions the ticks are followed to both ends. Stripes, tiles and scales are no ruler:
    among its ticks every fifth or tenth (second, fourth …) must be longer.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The upright photo.
    tick_mm : float
        Distance of the finest ticks, which a picture cannot tell.

    Returns
    -------
    Ruler or NotFound
        Two points near its ends, on the row of the finest ticks.
    """
    sides_px = sorted({min(side_px, max(gray.shape)) for side_px in WORK_PX}, reverse=True)
    found = [one for side_px in sides_px for one in _rows_of_ticks(gray, side_px)]
    for ticks, full in sorted(found, key=lambda one: -one[0]):
        x1, y1, x2, y2 = (float(value) for value in full.ravel())
        ruler = Ruler(x1, y1, x2, y2, tick_mm)
        if _holds(gray, ruler, ticks):
            return ruler
    return NONE


def _rows_of_ticks(gray: Gray, side_px: int) -> list[tuple[float, Array]]:
    """Find rows of ticks in the reduced photo: their number, and two ends in the photo."""
    factor = max(1.0, max(gray.shape) / side_px)
    size = (round(gray.shape[1] / factor), round(gray.shape[0] / factor))
    small = gray if factor == 1 else cv2.resize(gray, size, interpolation=cv2.INTER_AREA)
    smooth = small.astype(np.float32)
    smooth -= cv2.GaussianBlur(smooth, (0, 0), LARGEST_PERIOD_PX)
    signs = sorted(_signs(smooth), key=lambda sign: -sign.strength)
    found = [_followed(smooth, sign) for sign in _different(signs)]
    return [(one[0], (one[1] + 0.5) * factor - 0.5) for one in found if one is not None]


def _holds(gray: Gray, ruler: Ruler, expected: float) -> bool:
    """Tell whether the ticks of a proposal can be counted all along, as many as expected."""
    ticks = ticks_between(gray, ruler)
    if isinstance(ticks, NotFound):
        return False
    off = abs(ticks.counted / expected - 1)
    return off < COUNT_AGREES and ticks.residual < LARGEST_RESIDUAL and ticks.share > LEAST_SHARE


def _signs(picture: NDArray[np.float32]) -> Iterator[_Sign]:
    """Look for one sharp wavelength in overlapping tiles."""
    height, width = picture.shape
    side = min(TILE_PX, height, width)
    window = np.outer(np.hanning(side), np.hanning(side)).astype(np.float32)
    fy, fx = np.meshgrid(np.fft.fftfreq(side), np.fft.rfftfreq(side), indexing="ij")
    radius = np.hypot(fx, fy)
    band = (radius > 1 / LARGEST_PERIOD_PX) & (radius < 1 / SMALLEST_PERIOD_PX)
    ring = np.minimum((radius * side).astype(int), side)
    for top in range(0, height - side + 1, side // 2):
        for left in range(0, width - side + 1, side // 2):
            tile = picture[top : top + side, left : left + side]
            power = np.abs(np.fft.rfft2((tile - tile.mean()) * window)) ** 2
            total = np.bincount(ring.ravel(), power.ravel())
            usual = total / np.maximum(np.bincount(ring.ravel()), 1)
            share = np.where(band, power / (usual[ring] + 1e-6), 0) * (power > 1e4)
            place = int(np.argmax(np.where(share > 6, power, 0)))
            y, x = np.unravel_index(place, power.shape)
            rest = float(np.median(power[band]))
            strength = float(power[y, x] / (rest + 1e-6)) if share[y, x] > 6 else 0.0
            if strength > LEAST_PEAK:
                angle = math.atan2(fy[y, x], fx[y, x])
                middle = (left + side / 2, top + side / 2)
                yield _Sign(middle, angle, 1 / float(radius[y, x]), strength)


def _different(signs: list[_Sign]) -> list[_Sign]:
    """Keep the clearest of the signs that tell the same ruler."""
    kept: list[_Sign] = []
    for sign in signs:
        if len(kept) == MOST_TRIALS:
            break
        if not any(_same(sign, other) for other in kept):
            kept.append(sign)
    return kept


def _same(one: _Sign, other: _Sign) -> bool:
    turn = abs((one.angle - other.angle + math.pi / 2) % math.pi - math.pi / 2)
    across = (one.middle[1] - other.middle[1]) * math.cos(other.angle) - (
        one.middle[0] - other.middle[0]
    ) * math.sin(other.angle)
    return turn < 0.1 and abs(across) < TILE_PX and abs(one.period_px / other.period_px - 1) < 0.1


def _followed(picture: NDArray[np.float32], sign: _Sign) -> tuple[float, Array] | None:
    """Follow the ticks along the sign's direction; give their number and the two ends."""
    band, along, start = _band(picture, sign)
    frequency = np.fft.fftfreq(band.shape[1]) * sign.period_px
    keep = np.exp(-0.5 * ((frequency - 1) / BAND) ** 2) * (frequency > 0)
    waves = np.fft.ifft(np.fft.fft(band, axis=1) * keep, axis=1).astype(np.complex64)
    strength = _smooth(np.abs(waves), 4 * sign.period_px)
    near = strength[:, _middle_part(strength.shape[1], sign, along, start)]
    limit = STRONG * float(near.max())
    good = (strength > limit) & (_steadiness(waves, sign.period_px) > EVEN)
    runs = [_longest_run(row) for row in good]
    row = int(np.argmax([stop - first + 0.001 * strength[i, first:stop].sum() / (limit + 1e-9)
                         for i, (first, stop) in enumerate(runs)]))  # fmt: skip
    first, stop = runs[row]
    ticks = (stop - first - 2 * sign.period_px) / sign.period_px
    if ticks < LEAST_TICKS:
        return None
    highest = round(MOST_HEIGHT * sign.period_px)
    if _height_px(strength[:, first:stop], row) > highest:
        return None
    beside = slice(max(0, row - highest), row + highest + 1)
    if not _has_longer_ticks(band[beside, first:stop], sign.period_px):
        return None
    inset = sign.period_px
    across = np.array([-along[1], along[0]]) * (row - band.shape[0] // 2)
    ends = np.array([start + along * (first + inset), start + along * (stop - inset)]) + across
    return ticks, ends


def _height_px(strength: NDArray[np.float32], row: int) -> int:
    """Rows round one in which the same wave goes on: a cloth's are many, a row of ticks is low."""
    level = strength.mean(axis=1)
    weak = np.flatnonzero(level < HALF_AS_STRONG * level[row])
    above, below = weak[weak < row], weak[weak > row]
    upper = int(above[-1]) if len(above) else -1
    lower = int(below[0]) if len(below) else len(level)
    return lower - upper - 1


def _steadiness(waves: NDArray[np.complex64], period_px: float) -> Array:
    """How steadily the phase goes on from tick to tick: 1 for even ticks, low for texture."""
    lag = round(6 * period_px)
    step = np.zeros_like(waves)
    step[:, lag // 2 : lag // 2 + waves.shape[1] - lag] = waves[:, lag:] * waves[:, :-lag].conj()
    parts = (np.abs(waves) ** 2, step.real, step.imag)
    power, real, imaginary = (_smooth(part, 4 * period_px) for part in parts)
    return np.asarray(np.hypot(real, imaginary) / (power + 1e-9))


def _smooth(values: NDArray[np.float32], wide_px: float) -> NDArray[np.float32]:
    """Smooth rows by a normal distribution so wide, on a picture that is as much narrower."""
    size = values.shape[1]
    narrow = max(1, round(size * STEPS_PER_WIDTH / wide_px))
    small = cv2.resize(values, (min(size, narrow), len(values)), interpolation=cv2.INTER_AREA)
    wide = wide_px * small.shape[1] / size
    small = cv2.GaussianBlur(small, (0, 0), sigmaX=wide, sigmaY=1.5)
    return np.asarray(cv2.resize(small, (size, len(values))), np.float32)


def _band(picture: NDArray[np.float32], sign: _Sign) -> tuple[Array, Array, Array]:
    """Cut the band of the photo along a sign's direction, level, shape (rows, N)."""
    height, width = picture.shape
    along = np.array([math.cos(sign.angle), math.sin(sign.angle)])
    reach = math.hypot(width, height)
    middle = np.array(sign.middle)
    inside = [
        t
        for t in np.arange(-reach, reach, 2.0)
        if 0 <= (p := middle + t * along)[0] < width and 0 <= p[1] < height
    ]
    start = middle + inside[0] * along
    distance = np.arange(0, inside[-1] - inside[0])
    offsets = np.arange(-TILE_PX // 2, TILE_PX // 2)
    places = start + distance[None, :, None] * along
    places = places + offsets[:, None, None] * np.array([-along[1], along[0]])
    flat = places.astype(np.float32)
    band = cv2.remap(picture, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR)
    return np.asarray(band, float), along, start


def _middle_part(size: int, sign: _Sign, along: Array, start: Array) -> slice:
    """Columns of the band that lie in the sign's tile."""
    at = int((np.array(sign.middle) - start) @ along)
    return slice(max(0, at - TILE_PX // 2), min(size, at + TILE_PX // 2))


def _longest_run(good: NDArray[np.bool_]) -> tuple[int, int]:
    """First and last place of the longest run of good places; hidden pieces are bridged."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]]))).reshape(-1, 2)
    if not len(edges):
        return 0, 0
    joined = [list(edges[0])]
    for first, stop in edges[1:]:
        if first - joined[-1][1] <= LARGEST_GAP * (stop - joined[-1][0]):
            joined[-1][1] = stop
        else:
            joined.append([first, stop])
    first, stop = max(joined, key=lambda run: run[1] - run[0])
    return int(first), int(stop)


def _has_longer_ticks(band: Array, period_px: float) -> bool:
    """Tell whether beside the ticks every fifth or tenth (second, fourth …) one goes on."""
    rows = cv2.blur(band, (1, 3))[1::3]
    return any(_repeats(row, period_px, every) for row in rows for every in LONGER_TICKS)


def _repeats(row: Array, period_px: float, every: int) -> bool:
    """Tell whether a row repeats at so many ticks, and not at one."""
    size = len(row)
    lag = every * period_px
    if lag > size / 4:
        return False
    power = np.abs(np.fft.rfft(row - row.mean(), 2 * size)) ** 2
    likeness = np.fft.irfft(power)[:size] / (np.arange(size, 0, -1) / size)
    if likeness[0] <= 0:
        return False
    likeness = likeness / likeness[0]
    wide = max(1, round(0.25 * period_px))
    at = round(lag)
    peak = float(likeness[at - wide : at + wide + 1].max())
    between = round(lag / 2) if every != 2 else round(1.5 * period_px)
    one = float(likeness[max(1, round(period_px) - wide) : round(period_px) + wide + 1].max())
    return peak > LEAST_LONGER and one < 0.6 * peak and float(likeness[between]) < 0.6 * peak
