"""A picture of one measured fin edge: margin, envelope, notches with depth, sectors.

Colours are of the Okabe–Ito set (M. Okabe, K. Ito, "Color Universal Design", 2008); each line also
has a style of its own and each number its words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from finmeasure.fins.records import FinEdge, Notch

Points = NDArray[np.float64]
Rgb = tuple[int, int, int]

ORANGE: Rgb = (230, 159, 0)
SKY_BLUE: Rgb = (86, 180, 233)
VERMILLION: Rgb = (213, 94, 0)
YELLOW: Rgb = (240, 228, 66)
BLACK: Rgb = (0, 0, 0)
WHITE: Rgb = (255, 255, 255)

#: Drawn at this many times the final size and made smaller, for smooth lines.
OVERSAMPLING = 2
#: Room round the fin as a share of its length, and length of dashes in final pixels.
BORDER = 0.2
DASH_PX = 9.0
FONT_PX = 17
LEGEND_ROW_PX = 22


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """What is drawn on: the enlarged crop of the photo."""

    image: Image.Image
    draw: ImageDraw.ImageDraw
    origin_px: Points
    factor: float

    def places(self, points_px: Points) -> list[tuple[float, float]]:
        """Photo points, shape (N, 2), in pixels of the sheet."""
        moved = (np.atleast_2d(points_px) - self.origin_px + 0.5) * self.factor
        return [(float(x), float(y)) for x, y in moved]


def fin_picture(
    pixels: NDArray[np.uint8], edge: FinEdge, *, width_px: int = 720
) -> NDArray[np.uint8]:
    """Draw a measured fin edge on a crop of its photo.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        Upright photo.
    edge : FinEdge
        Measured on this photo.
    width_px : int
        Width of the picture.

    Returns
    -------
    ndarray of shape (h, width_px, 3), uint8, RGB
        The crop with margin (solid), whole envelope (dashed), natural notches (cross), sectors
        (dotted, numbered) and missing tissue (filled, with its depth), and a legend below. Where
        the outline could not be used, the whole photo without lines.
    """
    sheet = _sheet(pixels, edge, width_px)
    for number, ring in enumerate(edge.sectors_px, start=1):
        _sector(sheet, ring, number)
    for ring in edge.envelope_px:
        closed = np.vstack([ring, ring[:1]])
        _line(sheet, closed, SKY_BLUE, dash=DASH_PX)
    for notch in edge.notches:
        _fill(sheet, notch)
    if len(edge.margin_px):
        _line(sheet, edge.margin_px, ORANGE)
    for place in edge.natural_notches_px:
        _cross(sheet, place)
    written: list[tuple[float, float, float]] = []
    for notch in edge.notches:
        _depth(sheet, notch, written)
    size = sheet.image.width // OVERSAMPLING, sheet.image.height // OVERSAMPLING
    picture = sheet.image.resize(size, Image.Resampling.LANCZOS)
    return np.vstack([np.asarray(picture), _legend(edge, picture.width)])


def _sheet(pixels: NDArray[np.uint8], edge: FinEdge, width_px: int) -> _Sheet:
    """Crop the photo round the fin and enlarge it."""
    height, width = pixels.shape[:2]
    low, high = np.zeros(2), np.array([width, height])
    if len(edge.margin_px):
        shown = np.vstack([edge.margin_px, *edge.envelope_px])
        room = BORDER * edge.length_px + 2.0
        low = np.clip(np.floor(shown.min(axis=0) - room), 0, high - 2)
        high = np.clip(np.ceil(shown.max(axis=0) + room), low + 2, high)
    left, top, right, bottom = (int(value) for value in (*low, *high))
    factor = OVERSAMPLING * width_px / (right - left)
    size = OVERSAMPLING * width_px, max(1, round((bottom - top) * factor))
    crop = Image.fromarray(pixels[top:bottom, left:right])
    image = crop.resize(size, Image.Resampling.BICUBIC)
    return _Sheet(image, ImageDraw.Draw(image), low.astype(float), factor)


def _line(
    sheet: _Sheet, points_px: Points, colour: Rgb, *, dash: float = 0.0, width: float = 2.0
) -> None:
    """Draw a line with a dark rim, dashed where a dash length is given."""
    pieces = [sheet.places(points_px)]
    if dash:
        pieces = _dashes(np.array(pieces[0]), dash * OVERSAMPLING)
    for rim, shade in ((2.0, BLACK), (0.0, colour)):
        for piece in pieces:
            sheet.draw.line(piece, shade, round((width + rim) * OVERSAMPLING), joint="curve")


def _dashes(places: Points, dash: float) -> list[list[tuple[float, float]]]:
    """Cut a line into dashes with gaps of the same length."""
    travelled = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
    marks = np.arange(0.0, travelled[-1], dash)
    pieces = []
    for start, stop in list(pairwise(marks))[::2]:
        along = np.linspace(start, stop, 5)
        x, y = (np.interp(along, travelled, axis) for axis in places.T)
        pieces.append([(float(a), float(b)) for a, b in zip(x, y, strict=True)])
    return pieces


def _sector(sheet: _Sheet, ring: Points, number: int) -> None:
    """Outline one sector with fine dots and write its number in the middle."""
    closed = np.vstack([ring, ring[:1]])
    for piece in _dashes(np.array(sheet.places(closed)), 4.0 * OVERSAMPLING):
        sheet.draw.line(piece, WHITE, OVERSAMPLING)
    _text(sheet, ring.mean(axis=0), str(number), [])


def _fill(sheet: _Sheet, notch: Notch) -> None:
    """Lay a half clear colour over the missing tissue; a split is yellow, a notch vermillion."""
    shade = Image.new("RGB", sheet.image.size, YELLOW if notch.kind == "split" else VERMILLION)
    mask = Image.new("L", sheet.image.size, 0)
    ImageDraw.Draw(mask).polygon(sheet.places(notch.outline_px), fill=140)
    sheet.image.paste(shade, mask=mask)


def _cross(sheet: _Sheet, place_px: Points) -> None:
    """Mark where the envelope was split at a natural notch."""
    (x, y) = sheet.places(place_px)[0]
    arm = 8.0 * OVERSAMPLING
    for rim, shade in ((2, BLACK), (0, SKY_BLUE)):
        for bar in (((x - arm, y - arm), (x + arm, y + arm)),
                    ((x - arm, y + arm), (x + arm, y - arm))):  # fmt: skip
            sheet.draw.line(bar, shade, (2 + rim) * OVERSAMPLING)


def _depth(sheet: _Sheet, notch: Notch, written: list[tuple[float, float, float]]) -> None:
    """Draw the depth of a notch as a bar from the envelope inwards and write it outside."""
    _line(sheet, np.stack([notch.mouth_px, notch.deepest_px]), WHITE)
    outward = notch.mouth_px - notch.deepest_px
    outward = outward / max(float(np.hypot(*outward)), 1e-9)
    place = notch.mouth_px + outward * 20.0 * OVERSAMPLING / sheet.factor
    word = "split " if notch.kind == "split" else ""
    _text(sheet, place, f"{word}{notch.depth_pct:.1f} %", written)


def _text(
    sheet: _Sheet, place_px: Points, words: str, written: list[tuple[float, float, float]]
) -> None:
    """Write white words with a dark rim, inside the picture and clear of what was written."""
    font = ImageFont.load_default(FONT_PX * OVERSAMPLING)
    row = 1.2 * FONT_PX * OVERSAMPLING
    (x, y) = sheet.places(place_px)[0]
    half = sheet.draw.textlength(words, font=font) / 2 + 4 * OVERSAMPLING
    x = min(max(x, half), sheet.image.width - half)
    y = min(max(y, row), sheet.image.height - row)
    while any(abs(x - a) < half + b and abs(y - c) < row for a, b, c in written):
        y += 0.5 * row
    written.append((x, half, y))
    sheet.draw.text((x, y), words, WHITE, font, "mm",
                    stroke_width=2 * OVERSAMPLING, stroke_fill=BLACK)  # fmt: skip


def _legend(edge: FinEdge, width: int) -> NDArray[np.uint8]:
    """Rows that say what each line means; only what is in the picture."""
    rows: Sequence[tuple[str, Rgb, str]] = [
        ("line", ORANGE, "edge as measured"),
        *([("dashes", SKY_BLUE, "whole edge to compare with")] if edge.envelope_px else []),
        *([("block", VERMILLION, "missing tissue, with its depth in % of the fin's length")]
          if any(notch.kind == "notch" for notch in edge.notches) else []),
        *([("block", YELLOW, "split between rays")]
          if any(notch.kind == "split" for notch in edge.notches) else []),
        *([("cross", SKY_BLUE, "natural notch, not counted")]
          if len(edge.natural_notches_px) else []),
        *([("dots", WHITE, "the five sectors that are followed over time")]
          if edge.sectors_px else []),
    ]  # fmt: skip
    image = Image.new("RGB", (width, LEGEND_ROW_PX * len(rows) + 8), (40, 40, 40))
    draw = ImageDraw.Draw(image)
    font = ImageFont.load_default(14)
    for number, (kind, colour, words) in enumerate(rows):
        y = 4 + LEGEND_ROW_PX * number + LEGEND_ROW_PX // 2
        _sample(draw, kind, colour, y)
        draw.text((56, y), words, WHITE, font, "lm")
    return np.asarray(image)


def _sample(draw: ImageDraw.ImageDraw, kind: str, colour: Rgb, y: int) -> None:
    """Short sample of a line style at the left of a legend row."""
    if kind == "block":
        draw.rectangle((14, y - 7, 42, y + 7), colour)
    elif kind == "cross":
        draw.line((21, y - 7, 35, y + 7), colour, 3)
        draw.line((21, y + 7, 35, y - 7), colour, 3)
    else:
        step = {"line": 34, "dashes": 9, "dots": 4}[kind]
        for x in range(10, 44, 2 * step):
            draw.line((x, y, min(x + step, 44), y), colour, 1 if kind == "dots" else 3)
