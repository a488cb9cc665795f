"""A straight fish as a picture with transparency, at a given number of pixels per mm."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from finmeasure.drawing.anatomy import FinGeometry, FishGeometry
from finmeasure.drawing.fan import Array, Curve
from finmeasure.drawing.noise import Field, ramp, smooth_field, tripled
from finmeasure.drawing.raster import coverage
from finmeasure.drawing.skin import Canvas, paint_flank
from finmeasure.drawing.spec import FinLook

_BEHIND = ("caudal", "anal", "dorsal", "second_dorsal", "adipose")
_BEFORE = ("pelvic", "pectoral")
FIELD_PX = 64  # the place-in-fin map is smooth: this many pixels along its longer side are enough


@dataclass(frozen=True, slots=True, eq=False)
class Sprite:
    """Premultiplied red, green, blue, opacity, shape (h, w, 4), and the grid it lies on."""

    pixels: Field
    canvas: Canvas


def draw_fish(fish: FishGeometry, px_per_mm: float) -> Sprite:
    """Draw a straight fish, all its fins included."""
    shapes = [fish.body, *(fin.margin for fin in fish.fins.values())]
    canvas = _canvas_for(shapes, px_per_mm, wide=fish.spec.barbels > 0)
    pixels = np.zeros((*canvas.shape, 4), np.float32)
    for part in _BEHIND:
        if part in fish.fins:
            _lay_fin(pixels, canvas, fish.fins[part], fish)
    _lay_body(pixels, canvas, fish)
    for number in range(fish.spec.barbels):
        _lay_barbel(pixels, canvas, fish, number)
    for part in _BEFORE:
        if part in fish.fins:
            _lay_fin(pixels, canvas, fish.fins[part], fish)
    return Sprite(pixels, canvas)


def draw_fin(fish: FishGeometry, part: str, px_per_mm: float) -> Sprite:
    """Draw one fin of a straight fish alone, as the fin of its far side is seen behind it."""
    fin = fish.fins[part]
    canvas = _canvas_for([fin.margin, fin.fan.base(np.linspace(0, 1, 9))], px_per_mm, wide=False)
    pixels = np.zeros((*canvas.shape, 4), np.float32)
    _lay_fin(pixels, canvas, fin, fish)
    return Sprite(pixels, canvas)


def _canvas_for(shapes: list[Array], px_per_mm: float, *, wide: bool) -> Canvas:
    points = np.concatenate(shapes)
    border = 3 / px_per_mm + (0.05 * np.ptp(points[:, 0]) if wide else 0.0)
    low, high = points.min(axis=0) - border, points.max(axis=0) + border
    count = np.ceil((high - low) * px_per_mm).astype(int) + 1
    x = (low[0] + np.arange(count[0]) / px_per_mm).astype(np.float32)
    y = (low[1] + np.arange(count[1]) / px_per_mm).astype(np.float32)
    return Canvas(x, y, px_per_mm)


def _lay_body(pixels: Field, canvas: Canvas, fish: FishGeometry) -> None:
    left, top, window = _window(canvas, fish.body)
    colour = paint_flank(fish, window)
    cover = coverage(window.to_pixel(fish.body), window.shape)
    _over(pixels, (left, top), colour, cover)


def _lay_barbel(pixels: Field, canvas: Canvas, fish: FishGeometry, number: int) -> None:
    """Draw one tapering barbel from the mouth; it belongs to no outline."""
    length = fish.spec.standard_length_mm
    share = np.linspace(0.0, 1.0, 16)
    start = fish.profile.places_mm.searchsorted(0.012 * length * (1 + number))
    root = [fish.profile.places_mm[start], fish.profile.lower_mm[start] - 0.004 * length]
    reach = length * (0.06 + 0.015 * number)
    turn = np.radians(-120 + 60 * share + 12 * number)
    steps = np.column_stack([np.cos(turn), -np.sin(turn)]) * reach / len(share)
    middle = root + np.cumsum(steps, axis=0)
    half = (0.005 * length * (1 - 0.85 * share))[:, None] * [0.8, 0.6]
    ring = np.concatenate([middle - half, (middle + half)[::-1]])
    left, top, window = _window(canvas, ring)
    colour = np.empty((*window.shape, 3), np.float32)
    colour[:] = np.array(fish.spec.look.flank) * 0.75
    _over(pixels, (left, top), colour, coverage(window.to_pixel(ring), window.shape) * 0.9)


def _window(canvas: Canvas, shape: Array) -> tuple[int, int, Canvas]:
    """Part of the grid that holds a shape, with its left and top pixel."""
    corner = canvas.to_pixel(np.array([shape.min(axis=0), shape.max(axis=0)]))
    left, top = np.maximum(np.floor(corner[0]).astype(int) - 2, 0)
    right, bottom = np.ceil(corner[1]).astype(int) + 3
    part = Canvas(canvas.x_mm[left:right], canvas.y_mm[top:bottom], canvas.px_per_mm)
    return int(left), int(top), part


def _over(pixels: Field, corner: tuple[int, int], colour: Field, opacity: Field) -> None:
    """Lay a coloured layer over what is there, in place."""
    left, top = corner
    height, width = opacity.shape
    there = pixels[top : top + height, left : left + width]
    left_over = 1.0 - opacity
    for channel in range(3):
        under = there[..., channel]
        under *= left_over
        under += colour[..., channel] * opacity
    there[..., 3] = there[..., 3] * left_over + opacity


def _lay_fin(pixels: Field, canvas: Canvas, fin: FinGeometry, fish: FishGeometry) -> None:
    ring = _ring_with_root(fin, fish)
    left, top, window = _window(canvas, ring)
    along, out = place_in_fin(fin, window.to_pixel, window.shape)
    colour, opacity = _fin_texture(fin, along, out, fish)
    cover = coverage(window.to_pixel(ring), window.shape)
    _over(pixels, (left, top), colour, opacity * cover)


def _ring_with_root(fin: FinGeometry, fish: FishGeometry) -> Array:
    """Close a fin's margin; median fins are rooted a little inside the body that covers them."""
    base = fin.fan.base(np.linspace(1, 0, 60))
    if fin.spec.part == "caudal":
        base = base * [1.0, 0.75] - [0.04 * fish.spec.standard_length_mm, 0.0]
    elif fin.spec.part not in _BEFORE:
        base = base * [1.0, 0.9]
    return np.concatenate([fin.margin, base[1:-1]])


def place_in_fin(fin: FinGeometry, to_pixel: Curve, shape: tuple[int, int]) -> tuple[Field, Field]:
    """For every pixel: place along the base and share of the ray, spread a little beyond the fin.

    Points of the fan are dropped on a coarse grid and the gaps between them filled by a
    normalised box filter.
    """
    height, width = shape
    shrink = min(1.0, FIELD_PX / max(height, width))
    size = (max(int(width * shrink), 2), max(int(height * shrink), 2))
    samples = int(1.3 * max(size)) + 12
    along = np.linspace(-0.05, 1.05, samples)
    out = np.linspace(-0.2, 1.1, samples)
    points = to_pixel(fin.fan.grid(along, out).reshape(-1, 2))
    column, row = np.floor((points.T + 0.5) * shrink).astype(np.int32)
    keep = (column >= 0) & (column < size[0]) & (row >= 0) & (row < size[1])
    index = row[keep] * size[0] + column[keep]
    length = size[0] * size[1]
    weights = (np.repeat(along, samples)[keep], np.tile(out, samples)[keep], None)
    layers = np.empty((*size[::-1], 3), np.float32)
    for number, weight in enumerate(weights):
        layers[..., number] = np.bincount(index, weight, length).reshape(size[::-1])
    layers[..., :2] /= np.maximum(layers[..., 2:], 1.0)
    layers[..., 2] = layers[..., 2] > 0
    layers[..., :2] *= layers[..., 2:]
    small = cv2.blur(layers, (3, 3))
    wide = cv2.blur(layers, (15, 15))
    layers = np.where(small[..., 2:] > 0.05, small, wide)
    layers = layers[..., :2] / np.maximum(layers[..., 2:], 1e-6)
    place = cv2.resize(layers, (width, height), interpolation=cv2.INTER_LINEAR)
    return place[..., 0], place[..., 1]


def _fin_texture(
    fin: FinGeometry, along: Field, out: Field, fish: FishGeometry
) -> tuple[Field, Field]:
    """Colour and opacity of a fin's pixels."""
    look = fin.spec.look or fish.spec.look.fins
    rng = np.random.default_rng(fish.spec.look.seed + len(fin.spec.part))
    ray = ray_share(fin, along, out) if fin.spec.part != "adipose" else np.zeros_like(along)
    cloud = smooth_field(rng, along.shape, 5)
    colour = np.empty((*along.shape, 3), np.float32)
    colour[:] = look.colour
    colour += tripled(ramp(out + 0.08 * cloud, 0.1, 1.0)) * (
        np.array(look.tip_colour, np.float32) - colour[0, 0]
    )
    _mark_fin(colour, along, out, look)
    colour *= tripled(1.0 + np.float32(look.ray_tone) * ray + 0.05 * cloud)
    # Pectoral fins are clearer than the rest in most fish (common practice, no source).
    share = 0.55 if fin.spec.part == "pectoral" else 1.0
    clear = share * look.membrane * (1.0 + 0.07 * cloud)
    opacity = clear + np.maximum(share * look.ray - clear, 0.0) * ray
    root = np.clip(1.0 - out, 0.0, 1.0) ** 3
    # Rods and threads are solid rays without a membrane.
    solid = 0.75 if fin.spec.kind in {"rod", "thread"} else 0.0
    opacity = np.maximum(opacity + (1.0 - opacity) * (0.5 * share * root), solid)
    return np.clip(colour, 0, 1, out=colour), np.clip(opacity, 0.03, 1.0).astype(np.float32)


def ray_share(fin: FinGeometry, along: Field, out: Field) -> Field:
    """How much of each pixel is ray: jointed lines that branch once, each of its own strength."""
    count = fin.spec.ray_count
    phase = along * np.float32(count)
    number = np.rint(phase)
    beside = np.abs(phase - number)
    own = np.sin(number * np.float32(7.31) + np.float32(count)) * np.float32(0.5) + np.float32(0.5)
    fork = np.float32(0.23) * ramp(out - 0.2 * own, 0.25, 0.85)
    width = np.float32(0.09) + np.float32(0.06) * np.clip(1 - out, 0, 1)
    ray = np.exp(-(((beside - fork) / width) ** 2)) * (np.float32(0.6) + np.float32(0.4) * own)
    joints = 1.0 + 0.15 * np.sin(out * np.float32(170.0) + 3 * own) * ramp(out, 0.25, 0.4)
    return np.asarray(np.clip(ray * joints * (1.0 - 0.4 * ramp(out, 0.45, 1.0)), 0, 1), np.float32)


def _mark_fin(colour: Field, along: Field, out: Field, look: FinLook) -> None:
    """Paint a coloured margin and rows of spots, in place."""
    mark = np.array(look.edge_colour, np.float32)
    if look.edge:
        colour += tripled(ramp(out, 0.8, 0.97) * np.float32(look.edge)) * (mark - colour)
    if look.spots:
        wave = np.sin(along * np.float32(40.0)) * np.sin(out * np.float32(26.0) + along * 9)
        share = ramp(wave.astype(np.float32), 0.35, 0.7) * np.float32(look.spots)
        colour += tripled(share) * (mark - colour)
