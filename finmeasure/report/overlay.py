"""The picture of one photo with everything drawn in: scale, outlines, landmarks, notches."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.records import FinEdge
from finmeasure.reading import Outline, Reading
from finmeasure.report.canvas import Canvas, wrapped
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

LONG_SIDE_PX = 2000
"""Overlays are no larger: enough to judge every mark, a tenth of the photo's file."""

JPEG_QUALITY = 85

_SHAPE_OF_PART = {"dorsal": "triangle", "second_dorsal": "triangle", "caudal": "diamond",
                  "anal": "square", "adipose": "ring", "pelvic": "square",
                  "pectoral": "diamond"}  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class OverlayFish:
    """One fish to draw: its marks and, where its edges were measured, its fins."""

    reading: Reading
    fins: Mapping[str, FinEdge] = field(default_factory=dict)


def overlay_name(photo: str) -> str:
    """File name of a photo's overlay: readable, safe on every system, never the same twice.

    Parameters
    ----------
    photo : str
        The photo's name in the study.

    Returns
    -------
    str
        Without a folder.

    Examples
    --------
    >>> overlay_name("tank 4/=x.jpg")
    'tank_4_x_705c244d.jpg'
    """
    import hashlib

    stem = photo.rsplit(".", 1)[0] if "." in photo.rsplit("/", 1)[-1] else photo
    plain = re.sub(r"[^A-Za-z0-9-]+", "_", stem).strip("_-")[:80]
    # "a b.jpg" and "a_b.png" must not share a file
    mark = hashlib.sha256(photo.encode()).hexdigest()[:8]
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
        A JPEG file, at most `LONG_SIDE_PX` long.
    """
    height, width = pixels.shape[:2]
    factor = min(1.0, LONG_SIDE_PX / max(height, width))
    size = (max(round(width * factor), 1), max(round(height * factor), 1))
    canvas = Canvas(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), max(size) / 700)
    _draw_scale(canvas, scale, factor)
    for one in fish:
        _draw_fish(canvas, one, factor)
    _stamp(canvas, refusal)
    bgr = cv2.cvtColor(canvas.finish(), cv2.COLOR_RGB2BGR)
    _, encoded = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return encoded.tobytes()


def _scaled(points_px: NDArray[np.float64], factor: float) -> NDArray[np.float64]:
    """Photo coordinates to overlay coordinates; 0, 0 is the centre of the first pixel in both."""
    return (np.asarray(points_px, float) + 0.5) * factor - 0.5


def _draw_fish(canvas: Canvas, fish: OverlayFish, factor: float) -> None:
    """Draw one fish: outlines below, then notches, then landmarks and its name."""
    outlines = fish.reading.outlines.values()
    for outline in sorted(outlines, key=lambda one: one.part not in ("body", "fish")):
        _draw_outline(canvas, outline, factor)
    for edge in fish.fins.values():
        _draw_edge(canvas, edge, factor)
    placed = [mark for mark in fish.reading.landmarks.values() if mark.state == "placed"]
    points = {mark.name: _scaled(np.array(mark.point), factor) for mark in placed}
    if points:
        _draw_landmarks(canvas, points, fish.reading.fish)


def _draw_landmarks(canvas: Canvas, points: Mapping[str, NDArray[np.float64]], fish: str) -> None:
    """Draw the landmarks, then their labels, so that no label covers a mark if there is room."""
    colours = {name: _colour_and_shape(name) for name in points}
    for name, point in points.items():
        canvas.mark(_pair(point), *colours[name])
    centre = np.mean(list(points.values()), axis=0)
    for name, point in points.items():
        canvas.label(_short(name), _pair(point), colours[name][0], _unit(point - centre))
    top = min(points.values(), key=lambda point: float(point[1]))
    canvas.label(f"fish {fish}", _pair(top), WHITE, np.array([0.0, -1.0]))


def _draw_outline(canvas: Canvas, outline: Outline, factor: float) -> None:
    """Draw a traced line; the fish's and the body's dashed, a folded fin's dashed too."""
    whole = outline.part in ("body", "fish")
    points = _scaled(outline.points_px, factor)
    if len(points):
        canvas.line(
            points,
            PART_COLOURS.get(outline.part, WHITE),
            closed=outline.closed,
            dashed=whole or outline.spread != "spread",
        )


def _draw_edge(canvas: Canvas, edge: FinEdge, factor: float) -> None:
    """Draw what is missing from a fin; splits, which are no loss, in another colour and word."""
    for notch in edge.notches:
        colour = VERMILLION if notch.kind == "notch" else REDDISH_PURPLE
        ring = _scaled(notch.outline_px, factor)
        if len(ring) > 2:
            canvas.area(ring, colour)
            canvas.line(ring, colour, closed=True)
        place = _scaled(notch.mouth_px, factor)
        away = _unit(place - _scaled(notch.deepest_px, factor))
        canvas.label(
            f"{notch.kind} {notch.depth_pct:.0f} %",
            _pair(place),
            colour,
            away,
        )


def _colour_and_shape(landmark: str) -> tuple[Rgb, str]:
    """Colour and shape of a landmark: those of its fin, a ring on the body."""
    part = next((part for part in _SHAPE_OF_PART if landmark.startswith(part + "_")), "")
    colour = PART_COLOURS.get(part, ORANGE if landmark.startswith("eye") else WHITE)
    return colour, _SHAPE_OF_PART.get(part, "ring")


def _pair(point: NDArray[np.float64]) -> tuple[float, float]:
    """Give a point of two coordinates as a tuple."""
    return float(point[0]), float(point[1])


def _short(landmark: str) -> str:
    """Short label of a landmark: its words without what the picture shows anyway."""
    return (
        landmark.replace("_", " ").replace("insertion", "base").replace("operculum", "gill cover")
    )


def _unit(direction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the direction length 1; upwards where it has none."""
    length = float(np.hypot(*direction))
    return direction / length if length > 1e-9 else np.array([0.0, -1.0])


def _draw_scale(canvas: Canvas, scale: Scale | None, factor: float) -> None:
    """Frame the reference and draw a bar of a round length, or say that there is no scale."""
    height, width = canvas.pixels.shape[:2]
    corner = np.array([0.03 * width, height - 2.6 * canvas.text_px])
    if scale is None:
        canvas.text("no scale", _pair(corner))
        return
    if scale.region_px is not None and len(scale.region_px) > 2:
        canvas.line(_scaled(scale.region_px, factor), SKY_BLUE, closed=True, dashed=True)
    px_per_mm = scale.px_per_mm * factor
    length_mm = _round_length_mm(0.2 * width / px_per_mm)
    start = corner + np.array([0.0, 1.8 * canvas.text_px])
    end = start + np.array([length_mm * px_per_mm, 0.0])
    canvas.line(np.array([start, end]), WHITE)
    for place in (start, end):
        tick = np.array([[0.0, -0.4], [0.0, 0.4]]) * canvas.text_px
        canvas.line(place + tick, WHITE)
    label = f"{length_mm:g} mm  ({scale.px_per_mm:.2f} ± {scale.px_per_mm_u:.2g} px/mm)"
    canvas.text(label, _pair(corner))


def _round_length_mm(longest_mm: float) -> float:
    """Largest 1, 2 or 5 times a power of ten that is not longer.

    Examples
    --------
    >>> _round_length_mm(34.0)
    20.0
    """
    power = 10.0 ** math.floor(math.log10(longest_mm))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= longest_mm * (1 + 1e-9))


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
