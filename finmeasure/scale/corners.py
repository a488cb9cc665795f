"""Measure the corners of a card to a fraction of a pixel, and tell hidden ones."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.card_design import SquaresDesign, WindowDesign

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
STOP = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.005)
LEAST_CONTRAST = 12.0  # grey levels between light and dark round a corner
LEAST_SHARE = 0.2  # of the contrast that must lie between the darkest light and lightest dark
LARGEST_WINDOW_PX = 9
WINDOW_PER_LINE = 1.5  # in a narrower one each edge of a bold line passes for the line itself
QUADRANTS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
ARMS = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
PATCH = np.stack(np.meshgrid([-1.0, 0.0, 1.0], [-1.0, 0.0, 1.0]), axis=-1).reshape(-1, 2)


def refine(gray: Gray, places_px: Array, half_window_px: int) -> tuple[Array, NDArray[np.bool_]]:
    """Move each place to the nearest point where edges meet.

    Parameters
    ----------
    places_px : ndarray of shape (N, 2)
        Rough places, inside the photo.
    half_window_px : int
        Half the side of the neighbourhood that is looked at.

    Returns
    -------
    ndarray of shape (N, 2) and ndarray of bool, shape (N,)
        The places, and which of them were found: where edges meet nowhere near, the public
        refinement leaves the place exactly as it was.
    """
    points = places_px.reshape(-1, 1, 2).astype(np.float32)
    half = (half_window_px, half_window_px)
    moved = cv2.cornerSubPix(gray, points.copy(), half, (-1, -1), STOP)
    found = (moved != points).any(axis=(1, 2))
    return np.asarray(moved.reshape(-1, 2), float), found


def half_window(clear_px: float, line_px: float = 0.0) -> int:
    """Half side of the neighbourhood.

    Parameters
    ----------
    clear_px : float
        Room to the next other edge.
    line_px : float
        Width of the lines that cross there; 0 where edges do.
    """
    largest = max(LARGEST_WINDOW_PX, WINDOW_PER_LINE * line_px)
    return int(np.clip(np.floor(0.75 * clear_px), 2, largest))


def inside(gray: Gray, places_px: Array, margin_px: float) -> NDArray[np.bool_]:
    """Tell which places lie in the photo with a margin."""
    height, width = gray.shape
    limit = np.array([width - 1, height - 1]) - margin_px
    return np.asarray(((places_px >= margin_px) & (places_px <= limit)).all(axis=1))


def clear_mm(design: WindowDesign | SquaresDesign) -> float:
    """Room between a corner and the next edge that does not pass through it."""
    if isinstance(design, WindowDesign):
        return (design.pitch_mm - design.marker_mm) / 2
    return 0.45 * design.pitch_mm


def line_mm(design: WindowDesign | SquaresDesign) -> float:
    """Width of the lines that cross at the corners; 0 where squares meet."""
    return design.bold_mm if isinstance(design, SquaresDesign) else 0.0


def looks_right(
    gray: Gray,
    design: WindowDesign | SquaresDesign,
    index: NDArray[np.intp],
    points_px: Array,
    px_per_mm: Array,
) -> NDArray[np.bool_]:
    """Tell which corners show the pattern that the card has there; a fish before them does not.

    Parameters
    ----------
    index : ndarray of int, shape (N,)
        Rows of ``design.corners_mm``.
    points_px : ndarray of shape (N, 2)
        Their refined places.
    px_per_mm : ndarray of shape (N, 2, 2)
        Local derivative of photo pixels with card millimetres.
    """
    if isinstance(design, SquaresDesign):
        return crossings_look_right(gray, points_px, px_per_mm * 0.25 * design.pitch_mm)
    steps = np.rint((design.corners_mm[index] - design.origin_mm) / design.pitch_mm)
    black_first = steps.sum(axis=1) % 2 == 0
    levels = _levels(gray, points_px, px_per_mm * 0.55 * clear_mm(design), QUADRANTS)
    first, second = levels[:, [0, 2]], levels[:, [1, 3]]
    dark = np.where(black_first[:, None], first, second)
    light = np.where(black_first[:, None], second, first)
    return _separated(light.min(axis=1), dark.max(axis=1), levels)


def sample(gray: Gray, places_px: Array) -> Array:
    """Mean grey level of 3 × 3 pixels round each place, shape (N,) of (N, 2)."""
    spread = (places_px[:, None, :] + PATCH).astype(np.float32)
    parts = np.array_split(spread, 1 + len(spread) // 30_000)  # remap takes at most 32767 rows
    return np.concatenate([_bilinear(gray, part).mean(axis=1) for part in parts]).astype(float)


def _bilinear(gray: Gray, places: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Grey levels at places of any shape (N, M, 2)."""
    x, y = places[..., 0], places[..., 1]
    levels = cv2.remap(gray, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(levels, np.uint8)


def crossings_look_right(gray: Gray, points_px: Array, step: Array) -> NDArray[np.bool_]:
    """Tell where two dark lines cross between four light squares.

    Parameters
    ----------
    points_px : ndarray of shape (N, 2)
        Refined crossings.
    step : ndarray of shape (N, 2, 2)
        Columns: a quarter of a square along each line, pixels.
    """
    light = _levels(gray, points_px, step, QUADRANTS)
    dark = _levels(gray, points_px, step, ARMS)
    return _separated(light.min(axis=1), dark.max(axis=1), np.hstack([light, dark]))


def _levels(gray: Gray, points_px: Array, step: Array, directions: Array) -> Array:
    """Grey levels one step away from each point in each direction, shape (N, directions)."""
    away = np.einsum("nij,kj->nki", step, directions)
    places = points_px[:, None, :] + away
    return sample(gray, places.reshape(-1, 2)).reshape(len(points_px), len(directions))


def _separated(light: Array, dark: Array, levels: Array) -> NDArray[np.bool_]:
    contrast = levels.max(axis=1) - levels.min(axis=1)
    enough = (contrast > LEAST_CONTRAST) & (light - dark > LEAST_SHARE * contrast)
    return np.asarray(enough)
