"""Draw a card into an array of pixels, exactly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.card_design import Rectangle, SquaresDesign, WindowDesign

GROUND_GRAY: dict[str, int] = {"white": 255, "grey": 128, "black": 0, "cut-out": 255}


def card_raster(
    design: WindowDesign | SquaresDesign, px_per_mm: float, ground: str = "white"
) -> NDArray[np.uint8]:
    """Draw a card so that every pixel holds the mean brightness of its area.

    Parameters
    ----------
    design : WindowDesign or SquaresDesign
        From :func:`finmeasure.card_design.card_design`.
    px_per_mm : float
        Resolution. The point (x, y) mm of the card lies at pixel
        (x * px_per_mm - 0.5, y * px_per_mm - 0.5).
    ground : {"white", "grey", "black", "cut-out"}
        Colour of the blank field of a window card.

    Returns
    -------
    ndarray of shape (H, W), uint8
        Grey levels, black 0 to white 255.
    """
    width, height = (round(side * px_per_mm) for side in design.size_mm)
    ink = np.zeros((height, width), np.float32)
    for rectangle in design.rectangles():
        _add(ink, rectangle, px_per_mm, 1.0)
    if isinstance(design, WindowDesign):
        _add(ink, design.field, px_per_mm, 1.0 - GROUND_GRAY[ground] / 255)
    return np.asarray(np.rint(255 * (1 - ink.clip(0, 1))), np.uint8)


def _add(ink: NDArray[np.float32], part: Rectangle, px_per_mm: float, amount: float) -> None:
    """Add the area share that a rectangle covers of each pixel."""
    x, across = _covered(part.left * px_per_mm, part.right * px_per_mm, ink.shape[1])
    y, down = _covered(part.top * px_per_mm, part.bottom * px_per_mm, ink.shape[0])
    ink[y, x] += (amount * np.outer(down, across)).astype(np.float32)


def _covered(start: float, stop: float, size: int) -> tuple[slice, NDArray[np.float64]]:
    """Pixels that an interval touches, and the share of each that it covers."""
    first, last = max(int(np.floor(start)), 0), min(int(np.ceil(stop)), size)
    edges = np.arange(first, last, dtype=float)
    share = np.minimum(edges + 1, stop) - np.maximum(edges, start)
    return slice(first, last), share
