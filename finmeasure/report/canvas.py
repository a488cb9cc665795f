"""Drawing on a photo: lines with a dark rim, marks of several shapes, text that can be read."""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from finmeasure.report.colours import BLACK, WHITE, Rgb

_SHIFT = 4  # cv2 takes places as whole numbers of 1/16 pixel
_UNSEEN_PX, _WORTH_THINNING = 0.25, 30
Points = NDArray[np.float64]
Cover = NDArray[np.uint16]
Box = tuple[float, float, float, float]


class Canvas:
    """A picture that is drawn on.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        Drawn on in place.
    unit : float
        Width of a plain line in pixels; every size of the picture follows from it.
    """

    def __init__(self, pixels: NDArray[np.uint8], unit: float) -> None:
        self.pixels = pixels
        self.unit = unit
        self._texts: list[tuple[str, tuple[float, float], Rgb, int]] = []
        self._boxes: list[Box] = []

    @property
    def text_px(self) -> int:
        """Height of the text in pixels."""
        return max(round(7 * self.unit), 9)

    def line(
        self, points: Points, colour: Rgb, *, closed: bool = False, dashed: bool = False
    ) -> None:
        """Draw a line with a dark rim, so that it shows on any ground."""
        pieces = _dashes(points, 8 * self.unit, closed=closed) if dashed else _thinned(points)[None]
        for rgb, width in ((BLACK, 2.4), (colour, 1.0)):
            self._polylines(pieces, rgb, width * self.unit, closed=closed and not dashed)

    def thin_line(self, points: Points, colour: Rgb) -> None:
        """Draw a fine line without a rim, for what only divides."""
        self._polylines(points[None], colour, 0.5 * self.unit)

    def area(self, ring: Points, colour: Rgb, *, opacity: float = 0.45) -> None:
        """Tint the inside of a ring."""
        left, top = np.floor(ring.min(axis=0)).astype(int)
        right, bottom = np.ceil(ring.max(axis=0)).astype(int) + 1
        left, top = max(left, 0), max(top, 0)
        window = self.pixels[top:bottom, left:right]
        if not window.size:
            return
        tinted = window.copy()
        cv2.fillPoly(tinted, [_fixed(ring - (left, top))], colour, cv2.LINE_AA, _SHIFT)
        window[:] = cv2.addWeighted(tinted, opacity, window, 1 - opacity, 0)

    def mark(self, point: tuple[float, float], colour: Rgb, shape: str) -> None:
        """Draw a landmark: a ring, square, diamond or triangle with a dot in its middle."""
        side, dot = _SHAPES[shape], _SHAPES["ring"]
        reach = 3.2 * self.unit
        # Half the width of a line, measured towards the corner
        half = np.array([2.4, 1.0]) * max(self.unit, 1.0) * 0.5 / np.cos(np.pi / len(side))
        bands = self._rings(side, point, [reach - half[0], reach + half[0],
                                          reach - half[1], reach + half[1]])  # fmt: skip
        dots = self._rings(dot, point, [self.unit, 0.5 * self.unit])
        for rings, rgb in ((bands[:2], BLACK), (bands[2:], colour), (dots[:1], BLACK),
                           (dots[1:], WHITE)):  # fmt: skip
            cv2.fillPoly(self.pixels, list(rings), rgb, cv2.LINE_AA, _SHIFT)
        corners = side * reach + point
        low, high = corners.min(axis=0), corners.max(axis=0)
        self._boxes.append((float(low[0]), float(low[1]), float(high[0]), float(high[1])))

    def _rings(
        self, shape: Points, middle: tuple[float, float], radii_px: Sequence[float]
    ) -> NDArray[np.int32]:
        """Give a shape at several sizes; filling between two is quicker than a thick line."""
        return _fixed(shape * np.asarray(radii_px)[:, None, None] + middle)

    def label(self, text: str, point: tuple[float, float], colour: Rgb, away: Points) -> None:
        """Write a label beside a point, away from the fish, clear of other labels if possible."""
        box = self._free_place(text, np.asarray(point, float), away)
        self._boxes.append(box)
        self._texts.append((text, (box[0], box[1]), WHITE, self.text_px))
        middle = np.array([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2])
        gap = np.hypot(*(middle - point))
        if gap > 6 * self.text_px:
            self._polylines(np.array([[point, middle]]), colour, 0.5 * self.unit)

    def text(self, text: str, corner: tuple[float, float], size_px: int | None = None) -> None:
        """Write text with its upper left corner at a place."""
        self._texts.append((text, corner, WHITE, size_px or self.text_px))

    def finish(self) -> NDArray[np.uint8]:
        """Write the texts and give the picture."""
        rim = max(round(0.9 * self.unit), 1)
        for text, corner, colour, size_px in self._texts:
            left, top, kept, cover = _lettering(text, size_px, rim)
            self._blend(kept, cover, (round(corner[0]) + left, round(corner[1]) + top), colour)
        return self.pixels

    def _blend(self, kept: Cover, cover: Cover, place: tuple[int, int], colour: Rgb) -> None:
        """Lay letters and their dark rim over the picture; what lies outside is cut off."""
        (left, top), (height, width) = place, cover.shape[:2]
        if top + height <= 0 or left + width <= 0:
            return
        window = self.pixels[max(top, 0) : top + height, max(left, 0) : left + width]
        shown = slice(max(-top, 0), None), slice(max(-left, 0), None)
        kept, cover = (part[shown][: window.shape[0], : window.shape[1]] for part in (kept, cover))
        window[:] = (window * kept + cover * np.asarray(colour, np.uint16) + 127) // 255

    def _polylines(
        self, pieces: Points, colour: Rgb, width: float, *, closed: bool = False
    ) -> None:
        """Draw pieces of equally many points, shape (K, N, 2)."""
        fixed = list(_fixed(pieces[np.isfinite(pieces).all(axis=(1, 2))]))
        thick = max(round(width), 1)
        if fixed:
            cv2.polylines(self.pixels, fixed, closed, colour, thick, cv2.LINE_AA, _SHIFT)

    def _free_place(self, text: str, point: Points, away: Points) -> Box:
        """Find the place for a label that covers least of what stands there already."""
        wide, tall = _text_size(text, self.text_px)
        size = np.array([wide, 1.25 * tall])
        places = _places_round(point, away, size, self.text_px)
        height, width = self.pixels.shape[:2]
        outside = (places[:, :2] < 0).any(axis=1) | (places[:, 2:] > (width, height)).any(axis=1)
        costs = 3.0 * outside + 0.02 * np.arange(len(places))
        if self._boxes:
            costs = costs + _overlaps(places, np.array(self._boxes)).sum(axis=1)
        best = places[int(np.argmin(costs))]
        return float(best[0]), float(best[1]), float(best[2]), float(best[3])


_GAPS, _ANGLES = (
    axis.ravel()
    for axis in np.meshgrid(
        [1.1, 2.0, 2.9, 4.0, 5.5], [0.0, 0.6, -0.6, 1.2, -1.2, 1.9, -1.9, np.pi], indexing="ij"
    )
)
_COS, _SIN = np.cos(_ANGLES), np.sin(_ANGLES)


def _places_round(point: Points, away: Points, size: Points, text_px: int) -> Points:
    """Give boxes for a label round its point, shape (N, 4), the most wanted first."""
    ways = np.column_stack([_COS * away[0] - _SIN * away[1], _SIN * away[0] + _COS * away[1]])
    middles = point + ways * (_GAPS[:, None] * text_px + size / 2)
    return np.hstack([middles - size / 2, middles + size / 2])


def _overlaps(places: Points, boxes: Points) -> Points:
    """Overlap of each place with each box as a share of the smaller one's area."""
    left, top, right, bottom = places.T[:, :, None]
    wide = np.minimum(right, boxes[:, 2]) - np.maximum(left, boxes[:, 0])
    tall = np.minimum(bottom, boxes[:, 3]) - np.maximum(top, boxes[:, 1])
    areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    smaller = np.minimum((right - left) * (bottom - top), areas)
    return np.asarray(np.maximum(wide, 0) * np.maximum(tall, 0) / np.maximum(smaller, 1.0))


def _fixed(points: Points) -> NDArray[np.int32]:
    """Coordinates as cv2 wants them; far outside is cut off, because cv2's numbers overflow."""
    return np.asarray(np.clip(points, -8_000, 60_000) * 2**_SHIFT).round().astype(np.int32)


def _thinned(points: Points) -> Points:
    """Leave out points of a line where nobody could see a difference."""
    if len(points) < _WORTH_THINNING or not np.isfinite(points).all():
        return points
    return np.asarray(cv2.approxPolyDP(points.astype(np.float32), _UNSEEN_PX, False)[:, 0], float)


def _dashes(points: Points, length: float, *, closed: bool) -> Points:
    """Cut a line into dashes, shape (K, N, 2)."""
    path = np.vstack([points, points[:1]]) if closed else points
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    starts = np.arange(0.0, along[-1], 2 * length)
    places = np.minimum(starts[:, None] + np.linspace(0, length, 4), along[-1])
    return np.stack([np.interp(places, along, path[:, axis]) for axis in (0, 1)], axis=-1)


def _ring(corners: int, turn: float) -> Points:
    """Regular polygon of radius 1."""
    angles = turn + np.arange(corners) * 2 * np.pi / corners
    return np.column_stack([np.cos(angles), np.sin(angles)])


_SHAPES: dict[str, Points] = {
    "ring": _ring(20, 0.0),
    "square": _ring(4, np.pi / 4),
    "diamond": _ring(4, 0.0),
    "triangle": _ring(3, -np.pi / 2),
}


@lru_cache(maxsize=8)
def font(size_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Font that knows most of the world's letters; it comes with matplotlib."""
    found = importlib.util.find_spec("matplotlib")
    if found is not None and found.origin is not None:
        file = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
        if file.is_file():
            return ImageFont.truetype(str(file), size_px)
    return ImageFont.load_default(size_px)


@lru_cache(maxsize=512)
def _text_size(text: str, size_px: int) -> tuple[float, float]:
    """Width and height of a text in pixels."""
    left, top, right, bottom = font(size_px).getbbox(text)
    return right - left, bottom - top


# The same few names stand on every photo of a batch
@lru_cache(maxsize=512)
def _lettering(text: str, size_px: int, rim: int) -> tuple[int, int, Cover, Cover]:
    """Draw a text once: offset, and shares of 255 of ground that stays and that letters cover."""
    pen = ImageDraw.Draw(Image.new("L", (1, 1)))
    left, top, right, bottom = pen.textbbox((0, 0), text, font(size_px), stroke_width=rim)
    left, top = int(np.floor(left)) - 1, int(np.floor(top)) - 1
    size = max(int(np.ceil(right)) - left + 1, 1), max(int(np.ceil(bottom)) - top + 1, 1)
    covers = []
    for width in (rim, 0):
        picture = Image.new("L", size)
        ImageDraw.Draw(picture).text(
            (-left, -top), text, fill=255, font=font(size_px), stroke_width=width
        )
        covers.append(np.asarray(picture, np.uint16)[..., None])
    rimmed, letters = covers
    return left, top, (255 - rimmed) * (255 - letters) // 255, letters


def wrapped(text: str, width_px: float, size_px: int) -> Sequence[str]:
    """Break text into lines that fit a width."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font(size_px).getlength(longer) > width_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
