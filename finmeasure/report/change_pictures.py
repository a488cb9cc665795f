"""Pictures of change: sectors of a fin on the fish, and the same fin before and after."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.records import BASE_POINTS, FinEdge
from finmeasure.reading import Reading
from finmeasure.report.canvas import Canvas
from finmeasure.report.colours import BLUE, ORANGE, SKY_BLUE, VERMILLION, WHITE, Rgb
from finmeasure.timeseries.change import Change

Points = NDArray[np.float64]
Pixels = NDArray[np.uint8]
#: Side of one picture, and the share of it that the fin's base takes.
SIDE_PX = 460
JPEG_QUALITY = 84


@dataclass(frozen=True, slots=True, eq=False)
class FinPhoto:
    """A fin on its photo: pixels (RGB), marks, edge, and a caption."""

    pixels: Pixels
    reading: Reading
    edge: FinEdge
    caption: str


def before_and_after(first: FinPhoto, last: FinPhoto) -> bytes:
    """Put one fin of two visits side by side, its two base points at the same places.

    Parameters
    ----------
    first, last : FinPhoto
        The same fin; a fish that faces the other way is mirrored.

    Returns
    -------
    bytes
        JPEG, both at the same size relative to the fin's base, the margin drawn in.
    """
    length = max(_reach(first), _reach(last))
    panels = [_aligned(one, length) for one in (first, last)]
    return _jpeg(np.hstack([panels[0], np.full((SIDE_PX, 8, 3), 255, np.uint8), panels[1]]))


def sector_map(photo: FinPhoto, changes: tuple[Change, ...], words: str) -> bytes:
    """Colour the five sectors of a fin on the fish by their change.

    Parameters
    ----------
    photo : FinPhoto
        The newest visit.
    changes : tuple of Change
        Of the five sectors.
    words : str
        What the numbers are.

    Returns
    -------
    bytes
        JPEG; each sector carries its number, so that colour does not stand alone.
    """
    view = _view(photo, _reach(photo))
    for ring, change in zip(photo.edge.sectors_px, changes, strict=False):
        colour = _colour(change)
        placed = view.place(ring)
        view.canvas.area(placed, colour, opacity=0.45)
        view.canvas.line(placed, colour, closed=True)
        middle = 0.25 * placed[[0, -1]].mean(axis=0) + 0.75 * placed[len(placed) // 2]
        view.canvas.text(f"{change.percent:+.0f}", _pair(middle - 0.6 * view.canvas.text_px))
    view.canvas.text(f"{photo.caption}", (10.0, 8.0))
    view.canvas.text(words, (10.0, SIDE_PX - 1.8 * view.canvas.text_px))
    return _jpeg(view.canvas.finish())


def _colour(change: Change) -> Rgb:
    """Shorter warm, longer cool; strong where the 95 % interval leaves zero out."""
    low, high = change.interval
    sure = low > 0 or high < 0
    if change.percent < 0:
        return VERMILLION if sure else ORANGE
    return BLUE if sure else SKY_BLUE


def _base(photo: FinPhoto) -> Points:
    front, rear = BASE_POINTS[photo.edge.fin]
    return np.stack([photo.reading.point(front), photo.reading.point(rear)])


def _reach(photo: FinPhoto) -> float:
    """Greatest distance of the margin from the middle of the base, in lengths of the base."""
    base = _base(photo)
    margin = photo.edge.margin_px if len(photo.edge.margin_px) else base
    away = np.hypot(*(margin - base.mean(axis=0)).T).max()
    return float(max(away / np.hypot(*(base[1] - base[0])), 0.6))


def _is_mirrored(photo: FinPhoto) -> bool:
    """Whether the fish faces right: such photos are mirrored, so that all face left."""
    reading = photo.reading
    if not reading.placed("snout_tip", "caudal_base"):
        return False
    return bool(reading.point("snout_tip")[0] > reading.point("caudal_base")[0])


def _similarity(photo: FinPhoto, reach: float) -> NDArray[np.float64]:
    """Matrix (2, 3) that brings photo pixels to the picture, base points to fixed places."""
    flip = -1.0 if _is_mirrored(photo) else 1.0
    base = _base(photo) * [flip, 1.0]
    middle, run = base.mean(axis=0), base[1] - base[0]
    margin = photo.edge.margin_px * [flip, 1.0]
    away = (margin.mean(axis=0) - middle) if len(margin) else np.array([1.0, 0.0])
    # The direction of the base in the picture: as in the photo for a level fish.
    factor = 0.40 * SIDE_PX / (reach * float(np.hypot(*run)))
    angle = float(np.arctan2(run[1], run[0]))
    wanted = np.pi / 2 if photo.edge.fin == "caudal" else 0.0
    cos, sin = np.cos(wanted - angle), np.sin(wanted - angle)
    turn = factor * np.array([[cos, -sin], [sin, cos]])
    side = turn @ away
    centre = np.full(2, SIDE_PX / 2) - 0.36 * SIDE_PX * side / max(float(np.hypot(*side)), 1e-9)
    matrix = turn * [flip, 1.0]
    return np.column_stack([matrix, centre - turn @ middle])


@dataclass(frozen=True, slots=True, eq=False)
class _Aligned:
    canvas: Canvas
    matrix: NDArray[np.float64]

    def place(self, points_px: Points) -> Points:
        return np.asarray(points_px @ self.matrix[:, :2].T + self.matrix[:, 2])


def _view(photo: FinPhoto, reach: float) -> _Aligned:
    matrix = _similarity(photo, reach)
    small = matrix
    warped = cv2.warpAffine(
        photo.pixels, small, (SIDE_PX, SIDE_PX), flags=cv2.INTER_AREA, borderValue=(200, 200, 200)
    )
    return _Aligned(Canvas(np.ascontiguousarray(warped, np.uint8), SIDE_PX / 280), matrix)


def _aligned(photo: FinPhoto, reach: float) -> Pixels:
    view = _view(photo, reach)
    if len(photo.edge.margin_px):
        view.canvas.line(view.place(photo.edge.margin_px), WHITE)
    for point in view.place(_base(photo)):
        view.canvas.mark(_pair(point), ORANGE, "square")
    view.canvas.text(photo.caption, (10.0, 8.0))
    return np.asarray(view.canvas.finish(), np.uint8)


def _pair(point: Points) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _jpeg(rgb: Pixels) -> bytes:
    _, encoded = cv2.imencode(
        ".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    )
    return encoded.tobytes()
