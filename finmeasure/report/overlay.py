"""Pictures of a photo with everything drawn in: the whole photo, each fish, each fin edge."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence

import numpy as np
import simplejpeg
from numpy.typing import NDArray

from finmeasure.fins.records import FinEdge
from finmeasure.reading import Reading
from finmeasure.report.canvas import Canvas, wrapped
from finmeasure.report.colours import VERMILLION
from finmeasure.report.fish_drawing import (
    OverlayFish,
    View,
    draw_edge,
    draw_fish,
    draw_scale,
    view_of,
)
from finmeasure.scale.calibration import Scale

OVERLAY_PX = 1600
"""Overlays are no longer: enough to see what was found where; each fish has its own picture."""

FISH_PX = 1100
FIN_PX = 480
JPEG_QUALITY = 85
LABELS_FROM = 0.65
"""A fish that spans less of the photo gets its labels in its own picture only."""

CLOSE_UPS = "fish"
"""Folder inside the folder of overlays with a picture of each fish and each fin edge."""


def overlay_name(photo: str, *parts: str) -> str:
    """File name of a photo's overlay: readable, safe on every system, never the same twice.

    Parameters
    ----------
    photo : str
        The photo's name in the study.
    *parts : str
        The fish, and the fin, for the pictures of these.

    Returns
    -------
    str
        Without a folder.

    Examples
    --------
    >>> overlay_name("tank 4/=x.jpg")
    'tank_4_x_705c244d.jpg'
    """
    last = photo.rsplit("/", 1)[-1]
    stem = photo.removesuffix("." + last.rsplit(".", 1)[-1]) if "." in last else photo
    plain = re.sub(r"[^A-Za-z0-9-]+", "_", "_".join([stem[:80], *parts])).strip("_-")[:120]
    # "a b.jpg" and "a_b.png" must not share a file
    mark = hashlib.sha256("\n".join([photo, *parts]).encode()).hexdigest()[:8]
    return f"{plain or 'photo'}_{mark}.jpg"


def draw_overlay(
    pixels: NDArray[np.uint8],
    *,
    scale: Scale | None = None,
    fish: Sequence[OverlayFish] = (),
    refusal: str = "",
) -> bytes:
    """Draw what was marked and measured on a photo.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        The upright photo; it is not changed.
    scale : Scale, optional
        Its reference is framed and a bar of round length is drawn.
    fish : sequence of OverlayFish
        From left to right.
    refusal : str
        Reason to stamp on a photo that was refused.

    Returns
    -------
    bytes
        A JPEG file, at most `OVERLAY_PX` long.
    """
    height, width = pixels.shape[:2]
    view = view_of(pixels, (0, 0, width, height), min(OVERLAY_PX, max(height, width)))
    draw_scale(view, scale)
    for one in fish:
        box = fish_box(one.reading, (width, height))
        large = box is not None and max(box[2] - box[0], box[3] - box[1]) > LABELS_FROM * width
        draw_fish(view, one, labels=large)
    _stamp(view.canvas, refusal)
    return _jpeg(view)


def draw_close_up(
    pixels: NDArray[np.uint8], fish: OverlayFish, scale: Scale | None = None
) -> bytes | None:
    """Draw one fish large, with every label.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        The upright photo.
    fish : OverlayFish
        The fish.
    scale : Scale, optional
        For the bar.

    Returns
    -------
    bytes or None
        A JPEG file; None where no mark of the fish lies in the photo.
    """
    height, width = pixels.shape[:2]
    box = fish_box(fish.reading, (width, height))
    if box is None:
        return None
    view = view_of(pixels, box, FISH_PX, units=560)
    draw_scale(view, scale)
    draw_fish(view, fish, labels=True)
    return _jpeg(view)


def draw_fin(pixels: NDArray[np.uint8], edge: FinEdge) -> bytes | None:
    """Draw one fin's margin, its sectors, the whole fin it is compared with, what is missing.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        The upright photo.
    edge : FinEdge
        The fin.

    Returns
    -------
    bytes or None
        A JPEG file; None where the fin has no margin in the photo.
    """
    height, width = pixels.shape[:2]
    box = _box_round(edge.margin_px, (width, height), margin=0.15)
    if box is None:
        return None
    view = view_of(pixels, box, FIN_PX, units=220)
    draw_edge(view, edge)
    return _jpeg(view)


def fish_box(reading: Reading, size_px: tuple[int, int]) -> tuple[int, int, int, int] | None:
    """Box round all marks of a fish with some room, within the photo.

    Parameters
    ----------
    reading : Reading
        The marks.
    size_px : tuple of int
        Width and height of the photo.

    Returns
    -------
    tuple of int or None
        Left, top, right, bottom; None where no mark lies in the photo.
    """
    marks = [mark.point for mark in reading.landmarks.values() if mark.state == "placed"]
    lines = [outline.points_px for outline in reading.outlines.values()]
    return _box_round(np.vstack([np.array(marks).reshape(-1, 2), *lines]), size_px, margin=0.22)


def _box_round(
    points: NDArray[np.float64], size_px: tuple[int, int], *, margin: float
) -> tuple[int, int, int, int] | None:
    """Box round points, wider by a share of its longer side, within the photo."""
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return None
    low, high = points.min(axis=0), points.max(axis=0)
    room = margin * max(float((high - low).max()), 8.0)
    left, top = np.clip(np.floor(low - room), 0, np.array(size_px)).astype(int)
    right, bottom = np.clip(np.ceil(high + room), 0, np.array(size_px)).astype(int)
    return (int(left), int(top), int(right), int(bottom)) if right > left and bottom > top else None


def _stamp(canvas: Canvas, refusal: str) -> None:
    """Write the reason of a refusal across the top."""
    if not refusal:
        return
    width = canvas.pixels.shape[1]
    size_px = round(1.5 * canvas.text_px)
    lines = wrapped(f"REFUSED: {refusal}", 0.94 * width, size_px)
    tall = (1.4 * len(lines) + 0.8) * size_px
    band = np.array([[0.0, 0.0], [width, 0.0], [width, tall], [0.0, tall]])
    canvas.area(band, VERMILLION, opacity=0.8)
    for number, line in enumerate(lines):
        canvas.text(line, (0.03 * width, (0.4 + 1.4 * number) * size_px), size_px)


def _jpeg(view: View) -> bytes:
    """Write the texts and encode the picture."""
    encoded = simplejpeg.encode_jpeg(
        view.canvas.finish(), quality=JPEG_QUALITY, colorspace="RGB", colorsubsampling="420"
    )
    return bytes(encoded)
