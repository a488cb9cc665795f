"""Draw one fish's marks, its measured edges and the scale into a view of the photo."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.records import FinEdge
from finmeasure.photo.halving import halved
from finmeasure.reading import Outline, Reading
from finmeasure.report.canvas import Canvas
from finmeasure.report.colours import (
    ORANGE,
    PART_COLOURS,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILLION,
    WHITE,
    Rgb,
)
from finmeasure.scale.calibration import Scale

LABELLED_NOTCHES = 3
"""Only the deepest notches of a fin are written beside it; all are drawn."""

_SHAPE_OF_PART = {"dorsal": "triangle", "second_dorsal": "triangle", "caudal": "diamond",
                  "anal": "square", "adipose": "ring", "pelvic": "square",
                  "pectoral": "diamond"}  # fmt: skip
_UP = np.array([0.0, -1.0])
Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class OverlayFish:
    """One fish to draw: its marks and, where its edges were measured, its fins."""

    reading: Reading
    fins: Mapping[str, FinEdge] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A part of the photo at a size to look at.

    Parameters
    ----------
    canvas : Canvas
        What is drawn on.
    origin_px : tuple of int
        Photo coordinates of the view's upper left pixel's corner.
    factor : float
        View pixels per photo pixel.
    """

    canvas: Canvas
    origin_px: tuple[int, int]
    factor: float

    def place(self, points_px: Points) -> Points:
        """Map photo coordinates to the view; 0, 0 is a pixel's centre in both."""
        away = np.asarray(points_px, float) + 0.5 - np.asarray(self.origin_px, float)
        return np.asarray(away * self.factor - 0.5)


def view_of(
    pixels: NDArray[np.uint8],
    box_px: tuple[int, int, int, int],
    long_side_px: int,
    *,
    units: float = 700,
) -> View:
    """Cut a part out of the photo and bring it to a size.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        The photo; it is not changed.
    box_px : tuple of int
        Left, top, right, bottom, within the photo; right and bottom are the first outside.
    long_side_px : int
        Length of the longer side; a part is enlarged four times at most.
    units : float
        Widths of a plain line that the longer side holds; fewer make larger text.

    Returns
    -------
    View
        To draw on.
    """
    left, top, right, bottom = box_px
    part = pixels[top:bottom, left:right]
    factor = min(4.0, long_side_px / max(part.shape[:2]))
    drawn = np.ascontiguousarray(_resized(part, factor), np.uint8)
    return View(Canvas(drawn, max(drawn.shape[:2]) / units), (left, top), factor)


def _resized(part: NDArray[np.uint8], factor: float) -> NDArray[np.uint8]:
    """Enlarge or reduce; halving first costs a fifth of one step by the mean over odd areas."""
    rest = factor
    while rest <= 0.5 and min(part.shape[:2]) > 1:
        part, rest = halved(part), 2.0 * rest
    size = (max(round(part.shape[1] * rest), 1), max(round(part.shape[0] * rest), 1))
    way = cv2.INTER_LINEAR if rest < 1 else cv2.INTER_CUBIC
    same = size == (part.shape[1], part.shape[0])
    return part.copy() if same else np.asarray(cv2.resize(part, size, interpolation=way), np.uint8)


def draw_fish(view: View, fish: OverlayFish, *, labels: bool) -> None:
    """Draw one fish: outlines below, then what is missing, then landmarks and its name."""
    outlines = fish.reading.outlines.values()
    for outline in sorted(outlines, key=lambda one: one.part not in ("body", "fish")):
        _draw_outline(view, outline)
    for edge in fish.fins.values():
        draw_missing(view, edge, labels=labels)
    placed = [mark for mark in fish.reading.landmarks.values() if mark.state == "placed"]
    points = {mark.name: view.place(np.array(mark.point)) for mark in placed}
    if points:
        _draw_landmarks(view.canvas, points, fish.reading.fish, labels=labels)


def draw_missing(view: View, edge: FinEdge, *, labels: bool) -> None:
    """Draw what is missing from a fin; splits, which are no loss, in another colour and word."""
    deepest = sorted(edge.notches, key=lambda notch: -notch.depth_pct)
    for number, notch in enumerate(deepest):
        colour = VERMILLION if notch.kind == "notch" else REDDISH_PURPLE
        ring = view.place(notch.outline_px)
        if len(ring) > 2:
            view.canvas.area(ring, colour)
            view.canvas.line(ring, colour, closed=True)
        if labels and number < LABELLED_NOTCHES:
            place = view.place(notch.mouth_px)
            away = _unit(place - view.place(notch.deepest_px))
            view.canvas.label(f"{notch.kind} {notch.depth_pct:.0f} %", _pair(place), colour, away)


def draw_edge(view: View, edge: FinEdge) -> None:
    """Draw a fin's margin, its sectors, and dashed the whole fin that it is compared with."""
    colour = PART_COLOURS.get(edge.fin, WHITE)
    _draw_sectors(view, edge)
    for ring in edge.envelope_px:
        if len(ring) > 1:
            view.canvas.line(view.place(ring), WHITE, closed=True, dashed=True)
    if len(edge.margin_px) > 1:
        view.canvas.line(view.place(edge.margin_px), colour)
    draw_missing(view, edge, labels=True)


def _draw_sectors(view: View, edge: FinEdge) -> None:
    """Draw thin lines between the sectors that are followed over time, and number them."""
    for number, ring in enumerate(edge.sectors_px, start=1):
        placed = view.place(ring)
        # A ring runs along the base and back along the margin: its last ray is the border.
        border = placed[len(placed) // 2 - 1 : len(placed) // 2 + 1]
        if number < len(edge.sectors_px):
            view.canvas.thin_line(border, WHITE)
        view.canvas.text(str(number), _pair(placed.mean(axis=0) - 0.6 * view.canvas.text_px))


def draw_scale(view: View, scale: Scale | None) -> None:
    """Frame the reference and draw a bar of a round length, or say that there is no scale."""
    canvas = view.canvas
    height, width = canvas.pixels.shape[:2]
    corner = np.array([0.03 * width, height - 2.6 * canvas.text_px])
    if scale is None:
        canvas.text("no scale", _pair(corner))
        return
    if scale.region_px is not None and len(scale.region_px) > 2:
        canvas.line(view.place(scale.region_px), SKY_BLUE, closed=True, dashed=True)
    px_per_mm = scale.px_per_mm * view.factor
    length_mm = round_length_mm(0.2 * width / px_per_mm)
    start = corner + np.array([0.0, 1.8 * canvas.text_px])
    end = start + np.array([length_mm * px_per_mm, 0.0])
    canvas.line(np.array([start, end]), WHITE)
    for place in (start, end):
        canvas.line(place + np.array([[0.0, -0.4], [0.0, 0.4]]) * canvas.text_px, WHITE)
    canvas.text(f"{length_mm:g} mm", _pair(corner))


def round_length_mm(longest_mm: float) -> float:
    """Give the largest 1, 2 or 5 times a power of ten that is not longer.

    Examples
    --------
    >>> round_length_mm(34.0)
    20.0
    """
    power = 10.0 ** math.floor(math.log10(longest_mm))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= longest_mm * (1 + 1e-9))


def _draw_outline(view: View, outline: Outline) -> None:
    """Draw a traced line; the fish's and the body's dashed, a folded fin's dashed too."""
    if len(outline.points_px):
        view.canvas.line(
            view.place(outline.points_px),
            PART_COLOURS.get(outline.part, WHITE),
            closed=outline.closed,
            dashed=outline.part in ("body", "fish") or outline.spread != "spread",
        )


def _draw_landmarks(
    canvas: Canvas, points: Mapping[str, Points], fish: str, *, labels: bool
) -> None:
    """Draw the landmarks, then their labels, so that no label covers a mark if there is room."""
    colours = {name: _colour_and_shape(name) for name in points}
    for name, point in points.items():
        canvas.mark(_pair(point), *colours[name])
    centre = np.mean(list(points.values()), axis=0)
    for name, point in points.items() if labels else ():
        canvas.label(_short(name), _pair(point), colours[name][0], _unit(point - centre))
    top = min(points.values(), key=lambda point: float(point[1]))
    canvas.label(f"fish {fish}", _pair(top), WHITE, _UP)


def _colour_and_shape(landmark: str) -> tuple[Rgb, str]:
    """Colour and shape of a landmark: those of its fin, a ring on the body."""
    part = next((part for part in _SHAPE_OF_PART if landmark.startswith(part + "_")), "")
    colour = PART_COLOURS.get(part, ORANGE if landmark.startswith("eye") else WHITE)
    return colour, _SHAPE_OF_PART.get(part, "ring")


def _short(landmark: str) -> str:
    """Short label of a landmark: its words without what the picture shows anyway."""
    words = landmark.replace("_", " ").replace("operculum", "gill cover")
    return words.replace("insertion", "base")


def _pair(point: Points) -> tuple[float, float]:
    """Give a point of two coordinates as a tuple."""
    return float(point[0]), float(point[1])


def _unit(direction: Points) -> Points:
    """Give the direction length 1; upwards where it has none."""
    length = float(np.hypot(*direction))
    return direction / length if length > 1e-9 else _UP
