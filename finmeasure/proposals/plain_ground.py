"""Outline of one fish before a plain ground, without any training: the fallback of the network.

The ground is what the border of the window shows: a smooth surface per colour channel is fitted to
the border, robustly, and whatever differs from it by more than the border's own scatter is no
ground. Only the outline is found, no landmarks.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure

from finmeasure.card_design import DESIGNS, WindowDesign
from finmeasure.errors import NotFound
from finmeasure.photo.record import Photo
from finmeasure.reading import Outline
from finmeasure.scale.calibration import Scale

WORK_PX = 1000
"""Longer side on which the fish is looked for; the edge is then placed between these pixels."""

BORDER_SHARE = 0.06
"""Width of the border that shows the ground, share of the shorter side."""

DIFFERENCE = 6.0
"""Border scatters that a pixel must differ by; 5 and 8 change the outline little (our choice)."""

LEAST_SCATTER = 1.5
"""Grey levels: a drawn ground without any noise must not make every level a difference."""

SMALLEST_SHARE = 0.003
"""Share of the window that a fish must cover; less is dirt or a snail (our choice)."""

ROOM_FOR_TILT = 1.12
"""Factor on the thickness of the card's ring, so that a tilted ring stays outside."""

Array = NDArray[np.float64]
_REMEDY = "Photograph one fish alone before the plain field of the card, clear of its edge."


@dataclass(frozen=True, slots=True)
class _Window:
    """The part of the photo that is looked at: upper left corner and pixels per photo pixel."""

    left: int
    top: int
    factor: float
    pixels: NDArray[np.uint8]

    def to_photo(self, points: Array) -> Array:
        """Map window coordinates (x, y) to photo coordinates."""
        corner = np.array([self.left, self.top], float)
        return np.asarray((points + 0.5) / self.factor - 0.5 + corner)


def fish_outline_on_plain_ground(photo: Photo, scale: Scale | None = None) -> Outline | NotFound:
    """Find the outline of one fish, fins included, before a plain ground.

    Parameters
    ----------
    photo : Photo
        Upright.
    scale : Scale, optional
        A window card limits where the fish is looked for: the box of its ring, less the ring's
        thickness all round.

    Returns
    -------
    Outline or NotFound
        A closed outline of the part ``fish`` in photo pixels; NotFound where there is nothing,
        or where what there is touches the border of the window.
    """
    window = _window(photo, scale)
    if min(window.pixels.shape[:2]) < 32:
        return NotFound("The photo is too small to find a fish in.", _REMEDY)
    difference = _difference(window.pixels)
    mask = _largest_inside(difference > DIFFERENCE)
    if mask is None:
        return NotFound("No fish stands clear of the edges before a plain ground.", _REMEDY)
    contour = _contour(difference, mask)
    return Outline("fish", window.to_photo(contour), closed=True, placed_by="finmeasure")


def _window(photo: Photo, scale: Scale | None) -> _Window:
    """Cut the field out and bring it to the working size."""
    height, width = photo.pixels.shape[:2]
    left, top, right, bottom = 0, 0, width, height
    if scale is not None and scale.region_px is not None and scale.method == "window_card":
        low, high = scale.region_px.min(axis=0), scale.region_px.max(axis=0)
        inset = ROOM_FOR_TILT * _ring_share(scale) * (high - low).min()
        left, top = (max(int(value), 0) for value in low + inset)
        right, bottom = (int(value) for value in high - inset)
        right, bottom = min(right, width), min(bottom, height)
    part = photo.pixels[top:bottom, left:right]
    if not part.size:
        return _Window(0, 0, 1.0, np.zeros((1, 1, 3), np.uint8))
    factor = min(1.0, WORK_PX / max(part.shape[:2]))
    size = (max(round(part.shape[1] * factor), 1), max(round(part.shape[0] * factor), 1))
    small = np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.uint8)
    return _Window(left, top, factor, small)


def _ring_share(scale: Scale) -> float:
    """Thickness of the ring as a share of its shorter side, from the card of that size."""
    shorter_mm = float(np.ptp(scale.to_mm(scale.region_px), axis=0).min())  # type: ignore[arg-type]
    rings = [
        (pattern.bottom - pattern.top, design.field.top - pattern.top)
        for design in DESIGNS
        if isinstance(design, WindowDesign)
        for pattern in (design.pattern,)
    ]
    side_mm, thick_mm = min(rings, key=lambda ring: abs(ring[0] - shorter_mm))
    return thick_mm / side_mm


def _difference(pixels: NDArray[np.uint8]) -> Array:
    """Distance of each pixel from the ground, in scatters of the border, shape (H, W)."""
    smooth = cv2.GaussianBlur(pixels, (0, 0), 1.0).astype(np.float64)
    border = _border(pixels.shape[:2])
    surface = _ground(smooth, border)
    away = smooth - surface
    # 1.4826 times the median absolute deviation is the standard deviation of normal scatter
    scatter = 1.4826 * np.median(np.abs(away[border]), axis=0)
    return np.asarray(np.sqrt(((away / np.maximum(scatter, LEAST_SCATTER)) ** 2).sum(axis=2)))


def _border(shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Mask of the border of the window."""
    width = max(round(BORDER_SHARE * min(shape)), 2)
    border = np.ones(shape, bool)
    border[width:-width, width:-width] = False
    return border


def _ground(smooth: Array, border: NDArray[np.bool_]) -> Array:
    """Fit a second-degree surface per channel to the border; what stands out is left out."""
    height, width = smooth.shape[:2]
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    design, values = terms[border], smooth[border]
    kept = np.ones(len(values), bool)
    fit = np.zeros((6, 3))
    for _ in range(4):
        fit, *_ = np.linalg.lstsq(design[kept], values[kept], rcond=None)
        off = np.abs(values - design @ fit).max(axis=1)
        kept = off <= max(3 * 1.4826 * float(np.median(off)), LEAST_SCATTER)
    return np.asarray(terms @ fit)


def _largest_inside(mask: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Give the largest thing without holes, if it is large enough and clear of the border."""
    closed = ndimage.binary_closing(np.pad(mask, 3), iterations=2)[3:-3, 3:-3]
    labels, count = ndimage.label(closed)
    if not count:
        return None
    sizes = np.bincount(labels.ravel())[1:]
    largest = labels == 1 + int(np.argmax(sizes))
    edges = (largest[0], largest[-1], largest[:, 0], largest[:, -1])
    if sizes.max() < SMALLEST_SHARE * mask.size or any(edge.any() for edge in edges):
        return None
    return np.asarray(ndimage.binary_fill_holes(largest))


def _contour(difference: Array, mask: NDArray[np.bool_]) -> Array:
    """Place the outline between pixels where the difference passes the limit, shape (N, 2)."""
    inside = ndimage.binary_erosion(mask, iterations=2)
    near = ndimage.binary_dilation(mask, iterations=2)
    # holes are filled and everything that is not this fish is levelled, only the edge is left
    level = np.where(inside, np.maximum(difference, 2 * DIFFERENCE), difference)
    level = np.where(near, level, 0.0)
    rings = measure.find_contours(level, DIFFERENCE)
    longest = max(rings, key=len)
    return np.asarray(longest[:-1, ::-1], np.float64)
