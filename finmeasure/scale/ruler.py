"""The scale from a ruler: two clicks near its ends, then every tick between them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from finmeasure.errors import NotFound
from finmeasure.scale import budget
from finmeasure.scale.calibration import BudgetLine, Scale
from finmeasure.scale.references import Ruler

Array = NDArray[np.float64]
STEP_PX = 0.5  # between samples along the ruler
STRIP_SHARE = 0.02  # of the length: how far beside the clicks ticks are looked for
LEAST_STRIP_PX = 12.0
SHORTEST_PX = 100.0
SMALLEST_PERIOD_PX = 4.0
FEWEST_TICKS = 6
LEAST_PEAK = 0.3  # of the autocorrelation
FIRST_PEAK = 0.6
# Shares of the length to each side of the middle, and how many of a, b, c, d are free there: each
# turn reaches a third farther, so that the last fit never misses by half a tick.
REACHES = (
    *((0.04, 2), (0.06, 2), (0.08, 3), (0.11, 3), (0.14, 4), (0.19, 4), (0.25, 4)),
    *((0.33, 4), (0.42, 4), (0.5, 4), (0.5, 4)),
)
LIKELY_PERSPECTIVE, LIKELY_LENS = 0.3, 0.05  # of c and d / a: keep short fits from bending
SPACING_REACH = 0.03  # relative, round the spacing that the autocorrelation shows
TYPICAL_OFF = 0.05  # of a tick
BEND_WEIGHT = 10.0
LARGEST_RESIDUAL = 0.12  # of a tick's spacing
LEAST_SHARE = 0.5  # of the ruler where ticks fit
U_LENS = 0.003  # a lens's radial term bends the ruler; 94 % of simulated rulers inside 1.96 u
LENS_NOTE = "uneven along the ruler by lens and tilt, for a fish beside its middle half"
U_TILT = 0.02  # tilt and depth between ruler and fish, as for a bar


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Number of ticks: (a s + b + d s³) / (1 + c s), s from −1 to 1 along the ruler.

    c is perspective, d the radial distortion of a lens.
    """

    parameters: Array
    residual: float
    share: float

    @property
    def counted(self) -> float:
        """Ticks between the two points."""
        ends = _count(self.parameters, np.array([-1.0, 1.0]))
        return abs(float(ends[1] - ends[0]))

    @property
    def unevenness(self) -> float:
        """Give the standard deviation of the local scale along the ruler, relative to its mean."""
        counts = _count(self.parameters, np.linspace(-1, 1, 41))
        steps = np.diff(counts)
        return float(np.std(steps) / np.abs(np.mean(steps)))


def ruler_scale(gray: NDArray[np.uint8], ruler: Ruler) -> Scale | NotFound:
    """Count the ticks between the two points and make the scale.

    The finest ticks give the spacing: the first high peak of the autocorrelation along the ruler.
    Their phase is then followed from the middle outwards with a one-dimensional projective fit, so
    that a tilted ruler, hidden ticks and digits do no harm. Upside-down rulers are the same.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo.

    Returns
    -------
    Scale or NotFound
    """
    ticks = ticks_between(gray, ruler)
    return ticks if isinstance(ticks, NotFound) else _scale_of(ruler, ticks)


def ticks_between(gray: NDArray[np.uint8], ruler: Ruler) -> Ticks | NotFound:
    """Count the ticks between the two points of a ruler; parameters as for `ruler_scale`."""
    length_px = ruler.length_px
    if length_px < SHORTEST_PX:
        return NotFound(
            f"The marked part of the ruler is {length_px:.0f} px long; at least {SHORTEST_PX:g} px "
            "are needed.",
            "Mark points farther apart.",
        )
    strips = _strips(gray, ruler)
    period_px = _finest_period(strips)
    if period_px is None:
        return NotFound(
            "No even row of ticks is found between the two points.",
            "Click on the row of the finest ticks, near both ends, or mark a known length.",
        )
    ticks = _follow(strips, period_px)
    if ticks is None or ticks.residual > LARGEST_RESIDUAL or ticks.share < LEAST_SHARE:
        return NotFound(
            "The ticks between the two points are not evenly spaced, or too many are hidden.",
            "Click on a part of the ruler that is straight and in view.",
        )
    counted = ticks.counted
    if counted < FEWEST_TICKS:
        return NotFound(
            f"Only {counted:.1f} ticks lie between the two points; at least {FEWEST_TICKS} are "
            "needed.",
            "Mark points farther apart.",
        )
    return ticks


def _scale_of(ruler: Ruler, ticks: Ticks) -> Scale:
    """Make the scale: the mean between the two points."""
    counted = ticks.counted
    middle = ((ruler.x1_px + ruler.x2_px) / 2, (ruler.y1_px + ruler.y2_px) / 2)
    mm_per_px = counted * ruler.tick_mm / ruler.length_px
    scale = Scale(
        method="ruler",
        pixel_to_mm=np.diag([mm_per_px, mm_per_px, 1.0]),
        u_rel=0.0,
        rectified=False,
        centre_px=middle,
        flags=("not_rectified",),
    )
    note = f"{counted:.1f} ticks of {ruler.tick_mm:g} mm counted, each {ticks.residual:.2f} off"
    lines = (
        BudgetLine("fit", math.sqrt(2) * ticks.residual / counted, note),
        BudgetLine("lens", max(U_LENS, 0.5 * ticks.unevenness), LENS_NOTE),
        BudgetLine("tilt", U_TILT, "tilt and depth between ruler and fish are not known"),
    )
    return budget.with_lines(scale, lines)


def _finest_period(strips: Array) -> float | None:
    """Spacing in px of the finest even ticks in the middle half of any strip."""
    quarter = strips.shape[1] // 4
    found = [_period(strip[quarter : len(strip) - quarter]) for strip in strips]
    highest = max(peak for _, peak in found)
    if highest < LEAST_PEAK:
        return None
    # Long ticks alone show a multiple of the spacing: among clear strips the finest counts.
    clear = [(period, peak) for period, peak in found if peak >= FIRST_PEAK * highest]
    finest = min(period for period, _ in clear)
    return max((peak, period) for period, peak in clear if period < 1.3 * finest)[1]


def _strips(gray: NDArray[np.uint8], ruler: Ruler) -> Array:
    """Brightness along lines beside the clicks, slow changes taken out, shape (strips, N)."""
    start = np.array([ruler.x1_px, ruler.y1_px])
    way = np.array([ruler.x2_px, ruler.y2_px]) - start
    length = ruler.length_px
    along = way / length
    across = np.array([-along[1], along[0]])
    reach = max(LEAST_STRIP_PX, STRIP_SHARE * length)
    offsets = np.arange(-reach, reach + 1)
    distance = np.arange(0, length, STEP_PX)
    places = (start + distance[None, :, None] * along + offsets[:, None, None] * across).astype(
        np.float32
    )
    levels = np.stack([_line(gray, line) for line in places])
    wide = max(3, round(0.003 * length))
    levels = cv2.blur(levels, (1, wide))[:: max(1, wide // 2)]
    slow = cv2.GaussianBlur(levels, (0, 0), sigmaX=length / STEP_PX / 40, sigmaY=0.1)
    return np.asarray(levels - slow)


def _line(gray: NDArray[np.uint8], places: NDArray[np.float32]) -> Array:
    """Brightness at the places of one line, in pieces that the public remapping can take."""
    pieces = np.array_split(places, 1 + len(places) // 30_000)
    levels = [
        cv2.remap(
            gray,
            np.ascontiguousarray(piece[:, :1]),
            np.ascontiguousarray(piece[:, 1:]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for piece in pieces
    ]
    return np.concatenate(levels).ravel().astype(float)


def _period(strip: Array) -> tuple[float, float]:
    """Spacing of ticks in px, and how high the autocorrelation peak is."""
    size = len(strip)
    power = np.abs(np.fft.rfft((strip - strip.mean()) * np.hanning(size), 2 * size)) ** 2
    likeness = np.fft.irfft(power)[: size // 3]
    if likeness[0] <= 0:
        return 1.0, 0.0
    likeness = likeness / likeness[0]
    inner = likeness[1:-1]
    tops = np.flatnonzero((inner >= likeness[:-2]) & (inner > likeness[2:])) + 1
    tops = tops[tops >= SMALLEST_PERIOD_PX / STEP_PX]
    if not len(tops) or likeness[tops].max() <= 0:
        return 1.0, 0.0
    first = tops[likeness[tops] >= FIRST_PEAK * likeness[tops].max()][0]
    low, top, high = likeness[first - 1 : first + 2]
    shift = (low - high) / (2 * (low - 2 * top + high)) if low - 2 * top + high < 0 else 0.0
    return float((first + shift) * STEP_PX), float(top)


def _follow(strips: Array, period_px: float) -> Ticks | None:
    """Fit the ticks' phase along the ruler.

    Phases are known up to whole ticks, so a hidden part can be bridged in several ways. Two fits
    are compared, and of those that agree with the ticks the one that needs less perspective and
    lens counts.
    """
    place, phase, weight = _phases(strips, period_px)
    ticks = strips.shape[1] * STEP_PX / 2 / period_px  # in each half
    middle = int(np.argmin(np.abs(place)))
    near_middle = np.array([ticks, phase[middle] - place[middle] * ticks, 0.0, 0.0])
    fits = (
        _grown(near_middle, place, phase, weight),
        _at_once(_most_even(ticks, place, phase, weight), place, phase, weight),
    )
    parameters = min(fits, key=lambda fit: _cost(fit, place, phase, weight))
    off = _off(parameters, place, phase)
    good = np.abs(off) < 2.5 * LARGEST_RESIDUAL
    if good.sum() < 2 * FEWEST_TICKS:
        return None
    return Ticks(parameters, float(np.sqrt(np.mean(off[good] ** 2))), float(good.mean()))


def _grown(start: Array, place: Array, phase: Array, weight: Array) -> Array:
    """Fit from the middle outwards: right where tilt changes the spacing along the ruler."""
    parameters = start
    for reach, free in REACHES:
        near = np.abs(place) <= 2 * reach
        parameters = _fitted(parameters, place[near], phase[near], weight[near], free=free)
    return parameters


def _most_even(ticks: float, place: Array, phase: Array, weight: Array) -> Array:
    """Find the even spacing near the one expected that most of the ruler agrees with."""
    trials = ticks * np.linspace(1 - SPACING_REACH, 1 + SPACING_REACH, 241)
    waves = np.exp(2j * np.pi * (phase - np.outer(trials, place)))
    agreed = waves @ weight
    best = int(np.argmax(np.abs(agreed)))
    return np.array([trials[best], np.angle(agreed[best]) / (2 * np.pi), 0.0, 0.0])


def _at_once(start: Array, place: Array, phase: Array, weight: Array) -> Array:
    """Fit all of the ruler: right where a part is hidden and the spacing is even."""
    parameters = start
    for free in (2, 3, 4):
        parameters = _fitted(parameters, place, phase, weight, free=free)
    return parameters


def _cost(parameters: Array, place: Array, phase: Array, weight: Array) -> float:
    """How badly the ticks fit, and how much perspective and lens it takes."""
    scaled = (weight * _off(parameters, place, phase) / TYPICAL_OFF) ** 2
    a, _, c, d = parameters
    bend = (c / LIKELY_PERSPECTIVE) ** 2 + (d / a / LIKELY_LENS) ** 2
    return float(np.sum(np.log1p(scaled)) + BEND_WEIGHT * bend)


def _phases(strips: Array, period_px: float) -> tuple[Array, Array, Array]:
    """Phase of the ticks, in ticks, twice per tick: places from −1 to 1, phases, weights.

    At each place the strip counts where the ticks are strongest there: a lens bends the ruler away
    from the straight line between the clicks.
    """
    size = strips.shape[1]
    frequency = np.fft.fftfreq(size, STEP_PX) * period_px
    band = np.exp(-0.5 * ((frequency - 1) / 0.3) ** 2) * (frequency > 0)
    waves = np.fft.ifft(np.fft.fft(strips) * band)
    around = cv2.GaussianBlur(np.abs(waves), (0, 0), sigmaX=4 * period_px / STEP_PX, sigmaY=0.1)
    every = max(1, round(period_px / STEP_PX / 2))
    chosen = np.arange(every, size - every, every)
    wave = waves[np.argmax(around[:, chosen], axis=0), chosen]
    strength = np.abs(wave)
    weight = np.minimum(1.0, strength / (np.median(strength) + 1e-9))
    place = np.asarray(2 * chosen / size - 1, float)
    return place, np.asarray(np.angle(wave) / (2 * np.pi), float), np.asarray(weight, float)


def _fitted(parameters: Array, place: Array, phase: Array, weight: Array, *, free: int) -> Array:
    """Least squares of the wrapped phases; hidden ticks and digits weigh little."""

    def residuals(trial: Array) -> Array:
        off = weight * _off(np.append(trial, parameters[free:]), place, phase)
        bend = [trial[2] / LIKELY_PERSPECTIVE] if free > 2 else []
        bend += [trial[3] / trial[0] / LIKELY_LENS] if free > 3 else []
        return np.append(off, [0.05 * part for part in bend])

    solution = least_squares(
        residuals, parameters[:free], loss="soft_l1", f_scale=0.05, x_scale="jac"
    )
    return np.append(solution.x, parameters[free:])


def _off(parameters: Array, place: Array, phase: Array) -> Array:
    """Difference of phase and fit in ticks; phases are known up to whole ticks."""
    away = phase - _count(parameters, place)
    return np.asarray(away - np.rint(away))


def _count(parameters: Array, place: Array) -> Array:
    a, b, c, d = parameters
    return np.asarray((a * place + b + d * place**3) / (1 + c * place))
