"""The edge of a fin in the photo's grey values: how sharp, how visible, and where exactly."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from finmeasure.fins.closing import distance_to_zero, polygon_mask
from finmeasure.fins.level import zero_rings
from finmeasure.fins.outline import cut_ring
from finmeasure.fins.slits import with_hidden_slits
from finmeasure.fins.smoothing import resample
from finmeasure.geometry import polygon_area, polyline_length

Points = NDArray[np.float64]
Gray = NDArray[np.uint8]

#: Half length of the grey profiles across the edge: a share of the margin's length, within limits
#: in pixels, so that on a small fin the next ray or fin stays out.
REACH_SHARE, LEAST_REACH_PX, MOST_REACH_PX = 1.0 / 60.0, 4.0, 8.0
PROFILES, SAMPLES = 80, 33
#: Tried standard deviations of the blur, pixels, and places of the edge, shares of the half length.
BLURS_PX = np.geomspace(0.4, 5.0, 16)
SHIFTS = np.linspace(-0.5, 0.5, 17)
#: A profile shows an edge if its step is this high and this many times the scatter about the fit.
LEAST_STEP = 6.0
LEAST_STEP_PER_SCATTER = 2.0
#: Share of the margin at which an edge must show.
LEAST_VISIBLE = 0.4
#: Blur before the edge is followed. More would round off tips and teeth; the margin filter takes
#: the rest of the noise (tested on drawn fins).
TRACE_BLUR_PX = 0.7
#: Blur of the photo that is undone before the edge is followed, at most: beyond it noise grows
#: faster than what is won (tested on drawn fins).
MOST_UNDONE_PX = 2.0


@dataclass(frozen=True, slots=True)
class EdgeSight:
    """How well an edge shows in the photo.

    Parameters
    ----------
    blur_px : float
        Standard deviation of the blur across the edge, pixels, median over the margin.
    visible : float
        Share of the margin with a step of grey values.
    step : float
        Median height of the step, grey levels.
    """

    blur_px: float
    visible: float
    step: float


def edge_sight(gray: Gray, margin_px: Points) -> EdgeSight:
    """Fit error functions to grey profiles across a margin.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        Photo.
    margin_px : ndarray of shape (N, 2), pixels (x, y)
        Open line.

    Returns
    -------
    EdgeSight
        The blur is that of the best fitting error function of each profile.
    """
    reach = np.clip(polyline_length(margin_px) * REACH_SHARE, LEAST_REACH_PX, MOST_REACH_PX)
    offsets = np.linspace(-reach, reach, SAMPLES)
    profiles = _profiles(gray, margin_px, offsets)
    blur, step, scatter = _fitted(profiles, offsets)
    shows = np.abs(step) >= np.maximum(LEAST_STEP, LEAST_STEP_PER_SCATTER * scatter)
    typical = float(np.median(blur[shows])) if shows.any() else float(BLURS_PX[-1])
    return EdgeSight(typical, float(shows.mean()), float(np.median(np.abs(step))))


def _profiles(gray: Gray, margin_px: Points, offsets: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sample grey values across the margin, shape (PROFILES, K)."""
    line = resample(margin_px, polyline_length(margin_px) / (PROFILES + 1))
    run = line[2:] - line[:-2]
    across = np.column_stack([-run[:, 1], run[:, 0]]) / np.hypot(*run.T)[:, None]
    places = line[1:-1, None, :] + offsets[None, :, None] * across[:, None, :]
    x, y = places.astype(np.float32).transpose(2, 0, 1)
    return np.asarray(cv2.remap(gray, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
                      dtype=np.float64)  # fmt: skip


def _fitted(
    profiles: NDArray[np.float64], offsets: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Blur, step height and scatter of the best error function of each profile."""
    blurs, shifts = (
        grid.ravel() for grid in np.meshgrid(BLURS_PX, SHIFTS * offsets[-1], indexing="ij")
    )
    shapes = 0.5 * erf((offsets - shifts[:, None]) / (np.sqrt(2.0) * blurs[:, None]))
    shapes = shapes - shapes.mean(axis=1, keepdims=True)
    norms = np.sqrt((shapes**2).sum(axis=1))
    rest = profiles - profiles.mean(axis=1, keepdims=True)
    match = rest @ (shapes / norms[:, None]).T
    best = np.abs(match).argmax(axis=1)
    height = match[np.arange(len(match)), best]
    left = np.maximum((rest**2).sum(axis=1) - height**2, 0.0)
    return blurs[best], height / norms[best], np.sqrt(left / max(len(offsets) - 3, 1))


def refine_margin(gray: Gray, margin_px: Points, band_px: float) -> Points:
    """Move a rough margin to the sub-pixel edge in the photo.

    Grey values are compared with the level half-way between fin and background, taken from just
    inside and just outside of a band round the rough margin; where these hardly differ the rough
    margin stays. Blur of the photo is undone first: it rounds off lips and tips and fills slits.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        Photo at full size.
    margin_px : ndarray of shape (N, 2), pixels (x, y)
        From the front to the rear base point.
    band_px : float
        How far the true edge may lie from the rough one.

    Returns
    -------
    ndarray of shape (M, 2), pixels (x, y)
        From the same front to the same rear base point.
    """
    crop, corner = _crop(gray, margin_px, band_px)
    rough = margin_px - corner
    away = _signed_distance(rough, (crop.shape[0], crop.shape[1]))
    sight = edge_sight(gray, margin_px)
    soft = _without_blur(crop, sight)
    free = _clear_of_body(rough, away.shape, 3.0 * TRACE_BLUR_PX + 2.0)
    height = _height_above_edge(soft, away, free, band_px)
    line = _contour_between(height, rough) + corner
    return with_hidden_slits(gray, line, sight.blur_px) if sight.visible >= LEAST_VISIBLE else line


def _without_blur(crop: Gray, sight: EdgeSight) -> NDArray[np.float32]:
    """Take out noise by a small blur, then undo both blurs to first order.

    Blurring with a Gaussian of variance v adds v / 2 times the Laplacian (heat equation, textbook);
    taking that away leaves straight edges where they are and moves curved ones back.
    """
    soft = cv2.GaussianBlur(crop.astype(np.float32), (0, 0), TRACE_BLUR_PX)
    seen = sight.visible >= LEAST_VISIBLE
    undone_px = min(sight.blur_px, MOST_UNDONE_PX) if seen else 0.0
    variance = TRACE_BLUR_PX**2 + undone_px**2
    return np.asarray(soft - np.float32(0.5 * variance) * cv2.Laplacian(soft, cv2.CV_32F))


def _crop(gray: Gray, margin_px: Points, band_px: float) -> tuple[Gray, Points]:
    """Part of the photo round a margin, and its corner (x, y).

    Levels are means of what lies up to two bands from the places within one.
    """
    room = int(np.ceil(3.0 * band_px)) + 4
    low = np.maximum(np.floor(margin_px.min(axis=0)).astype(int) - room, 0)
    high = np.ceil(margin_px.max(axis=0)).astype(int) + room + 1
    return gray[low[1] : high[1], low[0] : high[0]], low.astype(float)


def _signed_distance(rough: Points, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Distance to the rough fin's outline, positive inside, pixels."""
    inside = polygon_mask(rough, shape)
    away = -distance_to_zero(~inside)
    low, high = np.floor(rough.min(axis=0)).astype(int), np.ceil(rough.max(axis=0)).astype(int)
    fin = tuple(slice(max(low[axis] - 1, 0), high[axis] + 2) for axis in (1, 0))
    away[fin] += distance_to_zero(np.ascontiguousarray(inside[fin]))
    return away


def _clear_of_body(rough: Points, shape: tuple[int, ...], room: float) -> NDArray[np.bool_]:
    """Places on the fin's side of the base line, some room away from it: no body shows there."""
    base = rough[-1] - rough[0]
    away = rough.mean(axis=0) - rough[0]
    side = np.sign(base[0] * away[1] - base[1] * away[0]) / np.hypot(*base)
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    distances = side * (base[0] * (rows - rough[0, 1]) - base[1] * (columns - rough[0, 0]))
    return np.asarray(distances > room)


def _height_above_edge(
    soft: NDArray[np.float32],
    away: NDArray[np.float32],
    free: NDArray[np.bool_],
    band_px: float,
) -> NDArray[np.float32]:
    """Grey values as height above the half-way level: about +0.5 in the fin, −0.5 outside.

    Beyond the band, near the body and where the levels hardly differ the rough outline decides.
    """
    reach = 2.0 * band_px
    # A lobe may be narrower than the band: its middle is fin all the same.
    deep = min(band_px, 0.5 * float(away.max()))
    inside = _local_mean(soft, free & (away > deep), reach)
    outside = _local_mean(soft, free & (away < -band_px) & (away > -3.0 * band_px), reach)
    step = inside - outside
    seen = free & (np.abs(step) >= LEAST_STEP)
    height = (soft - 0.5 * (inside + outside)) / np.where(seen, step, np.float32(1.0))
    height = np.where(seen & (np.abs(away) <= band_px), height, np.float32(0.25) * away)
    return np.asarray(np.clip(height, -0.5, 0.5), dtype=np.float32)


def _local_mean(
    soft: NDArray[np.float32], mask: NDArray[np.bool_], reach: float
) -> NDArray[np.float32]:
    """Mean of the masked grey values near each pixel."""
    window = 2 * int(np.ceil(reach)) + 1, 2 * int(np.ceil(reach)) + 1
    weight = cv2.blur(mask.astype(np.float32), window)
    total = cv2.blur(np.where(mask, soft, np.float32(0.0)), window)
    typical = np.float32(soft[mask].mean() if mask.any() else soft.mean())
    known = weight > 1e-4
    mean = np.divide(total, weight, out=np.full_like(total, typical), where=known)
    return np.asarray(mean)


def _largest_hill(height: NDArray[np.float32]) -> tuple[NDArray[np.float32], Points]:
    """Cut out the largest place above zero, and give its corner (x, y).

    All others are sunk: in noise there are hundreds, each a ring. Neighbours by their sides only,
    as the ring is followed: its course stays the same.
    """
    above = (height > 0).view(np.uint8)
    count, labels, sizes, _ = cv2.connectedComponentsWithStats(above, connectivity=4)
    if count < 2:
        return height, np.zeros(2)
    largest = 1 + int(sizes[1:, cv2.CC_STAT_AREA].argmax())
    column, row, width, rows = sizes[largest, : cv2.CC_STAT_AREA]
    corner = np.array([max(column - 1, 0), max(row - 1, 0)])
    held = slice(corner[1], row + rows + 1), slice(corner[0], column + width + 1)
    others = (labels[held] != largest) & (labels[held] != 0)
    return np.where(others, np.float32(-0.5), height[held]), corner.astype(float)


def _contour_between(height: NDArray[np.float32], rough: Points) -> Points:
    """Follow the zero level from the front to the rear base point."""
    hill, corner = _largest_hill(height)
    rings = zero_rings(np.pad(hill, 1, constant_values=-0.5))
    closed = [ring - 1.0 + corner for ring in rings if len(ring) > 2]
    if not closed:
        return rough
    line = cut_ring(max(closed, key=polygon_area), rough[[0, -1]])
    return np.vstack([rough[:1], line[1:-1], rough[-1:]])
