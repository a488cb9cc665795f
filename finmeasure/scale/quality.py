"""Quality gate of a card in a photo: refuse with a reason and a remedy.

The limits are those of our simulated photos (docs/method/scale.md) where tested, else proposals.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from finmeasure.card_design import SquaresDesign, WindowDesign
from finmeasure.errors import NotFound
from finmeasure.scale import corners
from finmeasure.scale.calibration import Scale
from finmeasure.scale.card_fit import CardFit, sides_covered
from finmeasure.scale.markers import FEWEST_MARKERS

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
SMALLEST_MODULE_PX = 5.0
LARGEST_BLUR_MODULES = 0.35
LARGEST_RESIDUAL_PX = 1.5
# Where thin lines cross: 1.37 px gave 3.5 % in one of 150 poor photos, below 1 px at most 0.2 %.
LARGEST_RESIDUAL_OF_LINES_PX = 1.0
MARKERS_OFF_PX = 3.0  # markers are found roughly, in reduced pictures
MARKERS_OFF_MODULES = 0.15
# Markers of a half hidden card: 22 corners gave 2.2 % in one of 300 drawn photos.
FEWEST_MARKER_CORNERS = 24
LARGEST_TILT_DEG = 30.0
LARGEST_SHARE_OUTSIDE = 0.2
FEWEST_SIDES = 2
PARALLEL = 5  # lines across one edge that are averaged against noise
STEPS = 65


def refusal(gray: Gray, card: CardFit) -> NotFound | None:
    """Check a fitted card.

    Returns
    -------
    NotFound or None
        The first reason to refuse, or None where the card is good.
    """
    mapping = card.fit.mapping()
    checks: tuple[Callable[[], NotFound | None], ...] = (
        lambda: _too_few_sides(card),
        lambda: _no_lines(card),
        lambda: _too_few_markers(card),
        lambda: _too_small(card, mapping),
        lambda: _bent(card),
        lambda: tilt_refusal(mapping),
        lambda: _blurred(gray, card, mapping),
    )
    for check in checks:
        found = check()
        if found is not None:  # a NotFound is false in a truth test
            return found
    return None


def tilt_deg(mapping: Scale) -> float:
    """Angle between the card's plane and the photo's, degrees.

    On the optical axis a plane tilted by t is shortened by cos t in one direction only.
    """
    stretch = np.linalg.svd(mapping.mm_per_px_at([mapping.optical_centre_px])[0], compute_uv=False)
    return math.degrees(math.acos(min(1.0, stretch[1] / stretch[0])))


def px_per_mm(card: CardFit, mapping: Scale) -> float:
    """Resolution at the median point of the card that was used."""
    places = mapping.to_px(card.points_mm)
    areas = np.abs(np.linalg.det(mapping.mm_per_px_at(places)))
    return float(1 / np.sqrt(np.median(areas)))


def share_outside(region_px: Array, fish_px: Array) -> float:
    """Share of a fish's area (or of its points, where they span no area) outside the card."""
    card, fish = _hull(region_px), _hull(fish_px)
    if fish.area == 0:
        return 0.0 if card.covers(fish) else 1.0
    return float(fish.difference(card).area / fish.area)


def _hull(points: Array) -> BaseGeometry:
    """Convex hull of points; through one line, because thousands of single points take long."""
    return LineString(np.vstack([points, points[:1]])).convex_hull


def blur_px(gray: Gray, card: CardFit, mapping: Scale) -> float:
    """Estimate the standard deviation of the blur across the card's own edges, pixels.

    An edge blurred by a normal distribution of standard deviation s has the steepest slope
    contrast / (s √(2π)).

    Returns
    -------
    float
        NaN where no edge with enough contrast lies in the photo.
    """
    middle, half = _edges_mm(card.design)
    along = half[:, ::-1] * (0.5, -0.5)
    tracks = np.linspace(-1, 1, PARALLEL)[:, None, None] * along + middle
    ends = mapping.to_px(np.stack([tracks - half, tracks + half]).reshape(-1, 2))
    ends = ends.reshape(2, PARALLEL, len(middle), 2)
    near = [corners.inside(gray, ends[i, j], 2) for i in (0, 1) for j in range(PARALLEL)]
    ends = ends[:, :, np.logical_and.reduce(near)]
    share = np.linspace(0, 1, STEPS)[None, None, :, None]
    places = (ends[0][:, :, None] * (1 - share) + ends[1][:, :, None] * share).astype(np.float32)
    flat = places.reshape(-1, STEPS, 2)
    if not len(flat):
        return math.nan
    levels = cv2.remap(gray, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR).astype(float)
    length = np.hypot(*(ends[1] - ends[0]).mean(axis=0).T)
    return _blur_of_profiles(levels.reshape(PARALLEL, -1, STEPS).mean(axis=0), length / (STEPS - 1))


def _blur_of_profiles(profiles: Array, step_px: Array) -> float:
    """Median blur of profiles, shape (N, STEPS), that each run across one edge, pixels."""
    contrast = np.abs(profiles[:, -6:].mean(axis=1) - profiles[:, :6].mean(axis=1))
    good = contrast > 2 * corners.LEAST_CONTRAST
    if not good.any():
        return math.nan
    blurs = []
    for row, step, height in zip(profiles[good], step_px[good], contrast[good], strict=True):
        wide = max(1, round(1.0 / step))
        slope = np.abs(row[wide:] - row[:-wide]).max() / (wide * step)
        blurs.append(height / slope / math.sqrt(2 * math.pi))
    return float(np.median(blurs))


def _edges_mm(design: WindowDesign | SquaresDesign) -> tuple[Array, Array]:
    """Middles of plain black-white edges of a card, and half lines across them, shape (N, 2)."""
    if isinstance(design, WindowDesign):
        return _ring_edges_mm(design)
    squares, centres = design.marker_corners_mm, design.marker_centres_mm[:, None, :]
    middle = (squares + np.roll(squares, -1, axis=1)) / 2
    half = (middle - centres) * (0.9 * design.module_mm / (design.marker_mm / 2))
    return middle.reshape(-1, 2), half.reshape(-1, 2)


def _ring_edges_mm(design: WindowDesign) -> tuple[Array, Array]:
    """Edges between the squares of the ring's inner row, which holds no markers."""
    pitch, edge = design.pitch_mm, design.pattern
    x = edge.left + pitch * np.arange(2, design.columns - 1)
    y = edge.top + pitch * np.arange(2, design.rows - 1)
    upright = [(a, b) for a in x for b in (edge.top + 1.5 * pitch, edge.bottom - 1.5 * pitch)]
    level = [(a, b) for b in y for a in (edge.left + 1.5 * pitch, edge.right - 1.5 * pitch)]
    half = np.array([[0.3 * pitch, 0.0]] * len(upright) + [[0.0, 0.3 * pitch]] * len(level))
    return np.array(upright + level), half


def _too_few_sides(card: CardFit) -> NotFound | None:
    sides = sides_covered(card.design, card.points_mm)
    if sides >= FEWEST_SIDES and card.markers_seen >= FEWEST_MARKERS[card.design.kind]:
        return None
    return NotFound(
        f"Only {card.markers_seen} markers of the {card.design.paper} card can be seen, "
        f"on {sides} of its sides; at least {FEWEST_MARKERS[card.design.kind]} on two sides "
        "are needed.",
        "Get the whole card into the photo and keep the fish off its border.",
    )


def _no_lines(card: CardFit) -> NotFound | None:
    if not (card.by_markers and isinstance(card.design, SquaresDesign)):
        return None
    return NotFound(
        f"Only {card.markers_seen} corner tags of the squares card can be used; too few crossings "
        "of its lines can be seen.",
        "Get the whole card sharp into the photo; the fish may hide half of it.",
    )


def _too_few_markers(card: CardFit) -> NotFound | None:
    used = int(card.fit.used.sum())
    if not (card.by_markers and card.partly_hidden and used < FEWEST_MARKER_CORNERS):
        return None
    return NotFound(
        f"The card is half hidden, and only {used} corners of its markers could be measured; at "
        f"least {FEWEST_MARKER_CORNERS} are needed.",
        "Get the whole card sharp and large into the photo and keep the fish off its border.",
    )


def _too_small(card: CardFit, mapping: Scale) -> NotFound | None:
    module = card.design.module_mm * px_per_mm(card, mapping)
    if module >= SMALLEST_MODULE_PX:
        return None
    return NotFound(
        f"The smallest square of the card's markers is {module:.1f} px wide; at least "
        f"{SMALLEST_MODULE_PX:g} px are needed.",
        "Go nearer, zoom in or use a smaller card, so that the card fills the photo.",
    )


def _bent(card: CardFit) -> NotFound | None:
    off_px, limit = card.fit.residual_px, LARGEST_RESIDUAL_PX
    if isinstance(card.design, SquaresDesign):
        limit = LARGEST_RESIDUAL_OF_LINES_PX
    if off_px <= limit:
        module_px = card.design.module_mm * px_per_mm(card, card.fit.mapping())
        off_px = card.markers_off_px()
        limit = max(MARKERS_OFF_PX, MARKERS_OFF_MODULES * module_px)
    if off_px <= limit:
        return None
    return NotFound(
        f"The card's corners lie {off_px:.1f} px off a flat card; at most {limit:.1f} px are "
        "allowed.",
        "Flatten or reprint the card: it is bent, wet or seen through curved glass.",
    )


def tilt_refusal(mapping: Scale) -> NotFound | None:
    """Refuse a reference that is tilted too much."""
    tilt = tilt_deg(mapping)
    if tilt <= LARGEST_TILT_DEG:
        return None
    return NotFound(
        f"The reference is tilted by {tilt:.0f}° against the camera; at most {LARGEST_TILT_DEG:g}° "
        "are allowed.",
        "Hold the camera straight in front of it.",
    )


def _blurred(gray: Gray, card: CardFit, mapping: Scale) -> NotFound | None:
    blur = blur_px(gray, card, mapping)
    limit = LARGEST_BLUR_MODULES * card.design.module_mm * px_per_mm(card, mapping)
    if math.isnan(blur) or blur <= limit:
        return None
    return NotFound(
        f"The card is blurred over {blur:.1f} px; at most {limit:.1f} px are allowed at this size.",
        "Focus on the card, steady the camera and give more light.",
    )
