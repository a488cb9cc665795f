"""Narrow slits that blur hides from the edge: looked for along the rays, just inside of it.

A slit narrower than the blur is grey, not as light as the ground, so that no level between fin and
ground follows it. Yet it runs along the rays: averaged along them it stands out from the noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, grey_closing, median_filter
from scipy.signal import find_peaks

from finmeasure.fins.rays import Fan, edge_tip, fan_between, rays_through
from finmeasure.fins.smoothing import resample, smooth
from finmeasure.geometry import polyline_length

Points = NDArray[np.float64]
Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

#: Spacing of the samples, a share of the fin's length and at least so many pixels.
SAMPLE_SHARE, LEAST_SAMPLE_PX = 0.004, 0.5
#: How deep the fin is looked at from its edge, and where a line that goes on is no slit, shares of
#: the fin's length. Shorter rays are left out.
LOOK_SHARE, BEYOND_SHARE, LEAST_RAY_SHARE = 0.30, 0.20, 0.35
#: Stretch of the rays that is averaged, a share of the fin's length; a slit is at least 0.06 deep.
MEAN_SHARE, LEAST_DEPTH_SHARE = 0.08, 0.06
#: A slit is lighter than the fin on both sides by this share of the step to the ground, and by so
#: many times the scatter along the edge: gaps between the rays are lighter too, but all alike. On
#: drawn whole fins the largest is 0.13 at 100 px and 0.17 at 150 px, with 6 times the scatter.
LEAST_DIP, LEAST_DIP_PER_SCATTER = 0.18, 5.0
#: A slit must end within what was looked at.
MOST_DEPTH_SHARE = 0.28
#: Narrower slits would fall through the grid on which the fin is closed.
LEAST_WIDTH_SAMPLES = 2.0
#: Gaps between rays go on towards the base with at least this share of their dip.
MOST_GOING_ON = 0.5
#: Blur by pixels and sampling, pixels. Wider slits than so many of both blurs together reach the
#: ground's grey value, and the edge follows them: what looks like one is a stripe. On fins longer
#: than so many a slit of a fiftieth of their length is that wide.
SAMPLE_BLUR_PX, WIDEST, MOST_LENGTH = 0.8, 2.0, 130.0
#: Half width of a slit's blurred image and its flanks, standard deviations of the blur.
FLANK_BLURS = 2.5
#: A slit that the line follows to this share of its depth is left as it is.
FOLLOWED_SHARE = 0.6
#: Cut-off of the filter for the edge, as for all margins; fewest rows to look at.
EDGE_CUTOFF, LEAST_CUTOFF_PX, LEAST_ROWS = 0.03, 3.0, 24
#: Where the edge stays behind its surroundings, so wide, by this share of the fin's length, it was
#: bitten: what is seen inside of it is the bite's own bottom.
BITE_SHARE, MOST_DENT_SHARE = 0.25, 0.025
#: Smallest step of grey values between fin and ground.
LEAST_STEP = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """The fin inside of its edge, straightened: a row is one line along the rays.

    Parameters
    ----------
    values : ndarray of shape (N, K)
        0 is the fin's grey value, 1 the ground's.
    edge_px, inwards : ndarray of shape (N, 2)
        Place on the edge in the photo, and unit vector along the ray towards the base.
    dented : ndarray of bool, shape (N,)
        Whether the row begins in a bite.
    depths_px : ndarray of shape (K,)
        Distance from the edge, negative outside.
    step_px, flank_px : float
        Spacing of rows and columns; half width of a slit's image.
    """

    values: Array
    edge_px: Points
    inwards: Points
    dented: NDArray[np.bool_]
    depths_px: Array
    step_px: float
    flank_px: float

    def mean_between(self, low_px: float, high_px: float) -> Array:
        """Mean over a stretch of the rays, row by row."""
        kept = (self.depths_px >= low_px) & (self.depths_px <= high_px)
        return np.asarray(self.values[:, kept].mean(axis=1))

    @property
    def flank(self) -> int:
        """Rows from the middle of a slit to its flank."""
        return _rows_between(self.flank_px, self.step_px)


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Places on the edge in the photo, unit vectors away from the base, shape (N, 2), and bites."""

    edge: Points
    outwards: Points
    dented: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Slit:
    """One slit: its row in the strip, its depth along the ray and its width, pixels."""

    row: int
    depth_px: float
    width_px: float


def with_hidden_slits(gray: Gray, line_px: Points, blur_px: float) -> Points:
    """Add the slits to a followed edge that are too narrow for the photo's blur.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        Photo at full size.
    line_px : ndarray of shape (N, 2), pixels (x, y)
        Followed edge from the front to the rear base point.
    blur_px : float
        Standard deviation of the photo's blur at the edge.

    Returns
    -------
    ndarray of shape (M, 2), pixels (x, y)
        The width of a slit is that of its image by its contrast, which blur does not change.
    """
    length = float(np.hypot(*(line_px - line_px[[0, -1]].mean(axis=0)).T).max())
    spread = float(np.hypot(blur_px, SAMPLE_BLUR_PX))
    strip = _strip(gray, line_px, blur_px, length) if length <= MOST_LENGTH * spread else None
    if strip is None:
        return line_px
    for slit in _slits(strip, blur_px, length):
        line_px = _with_slit(line_px, strip, slit)
    return line_px


def _strip(gray: Gray, line_px: Points, blur_px: float, length: float) -> _Strip | None:
    """Straighten the fin along its rays; None where no ray is long enough."""
    step = max(SAMPLE_SHARE * length, LEAST_SAMPLE_PX)
    flank = FLANK_BLURS * float(np.hypot(blur_px, SAMPLE_BLUR_PX))
    rows = _rows(line_px, length, step, flank)
    if len(rows.edge) < LEAST_ROWS:
        return None
    depths = np.arange(-4.0 * blur_px, LOOK_SHARE * length, step)
    seen = (rows.edge[:, None] - depths[None, :, None] * rows.outwards[:, None]).astype(np.float32)
    grey = cv2.remap(gray, seen[..., 0], seen[..., 1], cv2.INTER_LINEAR,
                     borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    values = _between_levels(np.asarray(grey, float), depths, blur_px)
    return _Strip(values, rows.edge, -rows.outwards, rows.dented, depths, step, flank)


def _rows_between(flank_px: float, step_px: float) -> int:
    return max(2, round(flank_px / step_px))


def _fan(margin: Points, length: float) -> Fan:
    """Rays from the margin alone."""
    tips = (edge_tip(margin, length, at_front=front) for front in (True, False))
    return fan_between(margin[0], next(tips), margin[-1], next(tips))


def _rows(line_px: Points, length: float, step: float, flank_px: float) -> _Rows:
    """Lay rows evenly across the rays; notches narrower than a slit's image are bridged.

    Walls that run along the rays, as those of notches, vanish.
    """
    even = resample(line_px, step)
    spacing = polyline_length(line_px) / (len(even) - 1)
    margin = smooth(even, spacing, max(EDGE_CUTOFF * length, LEAST_CUTOFF_PX))
    directions, reach = rays_through(margin, _fan(margin, length))
    run = np.gradient(margin, axis=0)
    across = directions[:, 0] * run[:, 1] - directions[:, 1] * run[:, 0]
    across *= np.sign(across.sum())
    long_enough = reach >= LEAST_RAY_SHARE * length
    travelled = np.maximum.accumulate(np.cumsum(np.where(long_enough, across, 0.0)))
    travelled += 1e-6 * np.arange(len(margin))
    rows = np.arange(0.5 * step, travelled[-1], step)
    edge, outwards = (
        np.column_stack([np.interp(rows, travelled, axis) for axis in both.T])
        for both in (margin, directions)
    )
    ends = np.interp(rows, travelled, reach)
    bridged = grey_closing(ends, (2 * _rows_between(flank_px, step) + 1,), mode="nearest")
    whole = grey_closing(bridged, (max(3, round(BITE_SHARE * length / step)),), mode="nearest")
    dented = whole - bridged > MOST_DENT_SHARE * length
    return _Rows(edge + (bridged - ends)[:, None] * outwards, outwards, dented)


def _between_levels(grey: Array, depths: Array, blur_px: float) -> Array:
    """Grey values as shares of the step from the fin to the ground; 0 where there is hardly one."""
    window = max(9, len(grey) // 8)
    ground, fin = (
        median_filter(grey[:, kept].mean(axis=1), window, mode="nearest")[:, None]
        for kept in (depths < -2.5 * blur_px, depths > 2.0 * blur_px)
    )
    seen = np.abs(ground - fin) >= LEAST_STEP
    return np.where(seen, (grey - fin) / np.where(seen, ground - fin, 1.0), 0.0)


def _slits(strip: _Strip, blur_px: float, length: float) -> list[_Slit]:
    """Find slits from front to rear."""
    smoothing = 0.75 / strip.step_px
    last_px = blur_px + MEAN_SHARE * length
    near = gaussian_filter1d(strip.mean_between(blur_px, last_px), smoothing)
    deep = gaussian_filter1d(strip.mean_between(BEYOND_SHARE * length, np.inf), smoothing)
    dips = _dips(near, strip.flank)
    stray = near - median_filter(near, max(9, round(0.1 * length / strip.step_px)), mode="nearest")
    least = max(LEAST_DIP, LEAST_DIP_PER_SCATTER * 1.4826 * float(np.median(np.abs(stray))))
    rows, _ = find_peaks(dips, height=least, distance=2 * strip.flank)
    going_on = _dips(deep, strip.flank)[rows] > MOST_GOING_ON * dips[rows]
    slits = [
        _measured(strip, int(row), (near, deep), blur_px)
        for row in rows[~going_on & ~strip.dented[rows]]
    ]
    low, high = LEAST_DEPTH_SHARE * length, MOST_DEPTH_SHARE * length
    widest = WIDEST * float(np.hypot(blur_px, SAMPLE_BLUR_PX))
    return [slit for slit in slits if low <= slit.depth_px <= high and slit.width_px <= widest]


def _dips(profile: Array, flank: int) -> Array:
    """How much lighter each place is than the lighter one of its two flanks."""
    dips = np.zeros_like(profile)
    dips[flank:-flank] = profile[flank:-flank] - np.maximum(
        profile[: -2 * flank], profile[2 * flank :]
    )
    return dips


def _measured(strip: _Strip, row: int, profiles: tuple[Array, Array], blur_px: float) -> _Slit:
    """Depth and width of the slit in a row.

    The depth is where the slit's image falls half-way to what the ray gap is like beyond it; the
    width is its contrast summed across. `profiles` are those near the edge and beyond.
    """
    flank = strip.flank
    image, beyond = (_against_flanks(profile, row, flank) for profile in profiles)
    width = float(image.sum()) * strip.step_px
    along = _against_flanks(strip.values, row, flank)[flank - 1 : flank + 2].mean(axis=0)
    inside = strip.depths_px >= blur_px
    gain = np.cumsum(along[inside] - 0.5 * (image[flank] + max(float(beyond[flank]), 0.0)))
    depth = float(strip.depths_px[inside][int(gain.argmax())])
    return _Slit(row, depth, max(width, LEAST_WIDTH_SAMPLES * strip.step_px))


def _against_flanks(profile: Array, row: int, flank: int) -> Array:
    """Give the surroundings of a row, lightness against the mean of both flanks."""
    near = profile[row - flank : row + flank + 1]
    return np.asarray(near - 0.5 * (near[0] + near[-1]))


def _with_slit(line_px: Points, strip: _Strip, slit: _Slit) -> Points:
    """Cut one slit into a line, unless the line follows most of it already."""
    inwards, start = strip.inwards[slit.row], strip.edge_px[slit.row]
    across = np.array([-inwards[1], inwards[0]])
    away = line_px - start
    beside, along = away @ across, away @ inwards
    near = (np.abs(beside) <= 0.5 * slit.width_px + 1.0) & (along <= slit.depth_px + strip.flank_px)
    if along[near].max(initial=0.0) >= FOLLOWED_SHARE * slit.depth_px:
        return line_px
    ends = np.array([strip.depths_px[0], slit.depth_px])[[0, 1, 1, 0]]
    sides = 0.5 * slit.width_px * np.array([-1.0, -1.0, 1.0, 1.0])
    gap = shapely.Polygon(start + ends[:, None] * inwards + sides[:, None] * across)
    return _without(line_px, gap)


def _without(line_px: Points, gap: shapely.Polygon) -> Points:
    """Take a gap out of the fin inside of a line; the line stays where that cannot be done."""
    fin = shapely.Polygon(line_px)
    if not fin.is_valid:
        return line_px
    left = fin.difference(gap)
    largest = max(getattr(left, "geoms", [left]), key=lambda part: part.area)
    ring = shapely.get_coordinates(largest.exterior)[:-1]
    first, last = (np.flatnonzero((ring == end).all(axis=1)) for end in line_px[[0, -1]])
    if not (len(first) and len(last)):
        return line_px
    ring = np.roll(ring, -first[0], axis=0)
    place = (last[0] - first[0]) % len(ring)
    if place == len(ring) - 1:
        return ring
    return np.roll(ring[::-1], 1, axis=0) if place == 1 else line_px
