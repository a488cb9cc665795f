"""Colours of a fish's flank: countershading, scales, markings, gill cover, mouth and eye."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from finmeasure.drawing.anatomy import FishGeometry, eye_height_mm
from finmeasure.drawing.fan import Array
from finmeasure.drawing.noise import Field, ramp, smooth_field, tripled
from finmeasure.drawing.spec import Colour, Pattern


@dataclass(frozen=True, slots=True, eq=False)
class Canvas:
    """Pixel grid laid over a straight fish: coordinates of columns and rows in mm."""

    x_mm: Field
    y_mm: Field
    px_per_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return len(self.y_mm), len(self.x_mm)

    def to_pixel(self, points_mm: Array) -> Array:
        """Fish millimetres, shape (N, 2), to pixels of this grid."""
        corner = [float(self.x_mm[0]), float(self.y_mm[0])]
        return np.asarray((np.asarray(points_mm) - corner) * self.px_per_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Flank:
    """Where each pixel lies on the body: `along` 0 snout to 1 tail, `across` −1 back to 1 belly."""

    along: Field
    across: Field
    canvas: Canvas


def paint_flank(fish: FishGeometry, canvas: Canvas) -> Field:
    """Colour of every pixel as if the whole grid were body, shape (h, w, 3), 0 to 1."""
    look = fish.spec.look
    rng = np.random.default_rng(look.seed)
    flank = _flank(fish, canvas)
    colour = _countershaded(fish, flank, rng)
    for pattern in look.patterns:
        _mix(colour, _marking(pattern, flank), pattern.colour)
    head = ramp(_gill_edge(fish, flank) - flank.along, -0.004, 0.008)
    colour *= tripled(np.float32(1.0) + _scales(fish, flank, rng) * (np.float32(1.0) - head))
    _draw_head(fish, flank, colour, head)
    colour *= tripled(_roundness(flank))
    colour += tripled(np.float32(look.gloss) * _sheen(flank, rng))
    _draw_eye(fish, *_round_eye(fish, canvas, colour))
    return np.clip(colour, 0.0, 1.0, out=colour)


def _flank(fish: FishGeometry, canvas: Canvas) -> Flank:
    x = np.clip(canvas.x_mm.astype(float), 0.0, None)
    smallest = 0.02 * fish.spec.depth_mm
    upper, lower = fish.profile.upper(x), fish.profile.lower(x)
    # The dark back and the light belly meet on a line that follows the middle of the body.
    middle = (upper * 0.5 + lower * 0.5) * np.clip(1 - x / fish.spec.deepest_mm, 0, 1)
    up = np.maximum(middle - upper, smallest).astype(np.float32)
    down = np.maximum(lower - middle, smallest).astype(np.float32)
    y = canvas.y_mm[:, None] - middle.astype(np.float32)
    across = np.where(y < 0, y / up, y / down)
    along = np.broadcast_to(canvas.x_mm / np.float32(fish.spec.standard_length_mm), across.shape)
    return Flank(along, np.clip(across, -1.3, 1.3), canvas)


def _countershaded(fish: FishGeometry, flank: Flank, rng: np.random.Generator) -> Field:
    look = fish.spec.look
    blotches = smooth_field(rng, flank.across.shape, 5)
    across = flank.across + 0.07 * blotches
    colour = np.empty((*across.shape, 3), np.float32)
    colour[:] = look.flank
    _mix(colour, 1.0 - ramp(across, -0.85, -0.15), look.back)
    _mix(colour, ramp(across, 0.1, 0.75), look.belly)
    grain = smooth_field(rng, flank.across.shape, 40, octaves=2)
    colour *= tripled(1.0 + 0.045 * blotches + 0.03 * grain)
    return colour


def _mix(colour: Field, share: Field, target: Colour) -> None:
    """Blend a colour in, in place."""
    for channel, tone in enumerate(target):
        colour[..., channel] += share * (np.float32(tone) - colour[..., channel])


def _marking(pattern: Pattern, flank: Flank) -> Field:
    rng = np.random.default_rng(pattern.seed)
    wobble = smooth_field(rng, flank.across.shape, 6) * np.float32(0.05)
    return np.asarray(_MARKINGS[pattern.kind](pattern, flank, wobble) * pattern.strength)


def _stripe(pattern: Pattern, flank: Flank, wobble: Field) -> Field:
    away = np.abs(flank.across - pattern.place + 0.5 * wobble)
    return (1.0 - ramp(away, 0.6 * pattern.size, pattern.size)) * ramp(flank.along, 0.05, 0.2)


def _bars(pattern: Pattern, flank: Flank, wobble: Field) -> Field:
    count = max(1.0 / max(pattern.size, 0.05), 2.0)
    wave = np.sin(2 * np.pi * (flank.along * count + pattern.place + wobble))
    return ramp(wave.astype(np.float32), 0.2, 0.75) * (1.0 - ramp(flank.across, 0.3, 0.95))


def _spots(pattern: Pattern, flank: Flank, wobble: Field) -> Field:
    rng = np.random.default_rng(pattern.seed)
    spots = np.zeros(flank.across.shape, np.float32)
    height, width = flank.canvas.shape
    radius = max(
        0.08 * pattern.size * flank.canvas.px_per_mm * float(np.ptp(flank.canvas.y_mm)), 0.7
    )
    for _ in range(90):
        centre = (int(rng.uniform(0, width) * 16), int(rng.uniform(0, height) * 16))
        size = int(radius * rng.uniform(0.5, 1.4) * 16)
        cv2.circle(spots, centre, size, 1.0, -1, cv2.LINE_AA, 4)
    return spots * (1.0 - ramp(flank.across + wobble, 0.35, 0.9))


def _blotch(pattern: Pattern, flank: Flank, wobble: Field) -> Field:
    away = np.hypot((flank.along - pattern.place) / pattern.size, flank.across * 0.45 + wobble)
    return 1.0 - ramp(away.astype(np.float32), 0.35, 0.6)


def _rear(pattern: Pattern, flank: Flank, wobble: Field) -> Field:
    return ramp(flank.along + wobble, pattern.place - pattern.size, pattern.place + pattern.size)


_MARKINGS = {"stripe": _stripe, "bars": _bars, "spots": _spots, "blotch": _blotch, "rear": _rear}


def _scales(fish: FishGeometry, flank: Flank, rng: np.random.Generator) -> Field:
    """Brightness of overlapping scales: a dark free edge, a lit middle, each a little different.

    Where scales are finer than the pixels they fade, as they do in a photo.
    """
    look = fish.spec.look
    rows = look.scale_rows * 2.0
    depth_px = fish.spec.depth_mm * flank.canvas.px_per_mm
    visible = np.clip((depth_px / rows - 1.5) / 3.0, 0.0, 1.0) * look.scale_contrast
    if not visible:
        return np.zeros(flank.across.shape, np.float32)
    height = np.arcsin(np.clip(flank.across, -1, 1)) * np.float32(rows / np.pi)
    row = np.floor(height)
    step = fish.spec.depth_mm / rows / fish.spec.standard_length_mm * 1.35
    place = flank.along / np.float32(step) + np.float32(0.5) * (row % 2)
    column = np.floor(place)
    ahead, beside = place - column - np.float32(0.5), height - row - np.float32(0.5)
    edge = np.exp(-(((ahead - 0.34 + 1.1 * beside**2) / np.float32(0.15)) ** 2))
    lit = np.exp(-(((ahead + 0.05) / 0.3) ** 2) - (beside / 0.35) ** 2)
    own = np.sin(row * np.float32(12.99) + column * np.float32(78.23)) * np.float32(43.76)
    own = own - np.floor(own) - np.float32(0.5)
    patchy = np.clip(0.7 + 0.35 * smooth_field(rng, flank.across.shape, 4), 0.15, 1.2)
    fade = patchy * (1.0 - 0.6 * ramp(flank.across, 0.35, 0.9)) * np.float32(visible)
    return np.asarray((0.45 * lit + 0.35 * own - 0.6 * edge) * fade, np.float32)


def _gill_edge(fish: FishGeometry, flank: Flank) -> Field:
    """Place of the gill cover's rear edge at each height."""
    spec = fish.spec
    rear = spec.operculum_mm / spec.standard_length_mm
    return np.asarray(rear - 0.085 * (flank.across - 0.1) ** 2, np.float32)


def _draw_head(fish: FishGeometry, flank: Flank, colour: Field, head: Field) -> None:
    """Paint gill cover, its shadow on the flank, cheek and mouth."""
    spec = fish.spec
    px = flank.canvas.px_per_mm * spec.standard_length_mm
    away = (flank.along - _gill_edge(fish, flank)) * np.float32(px)
    width = max(1.0, 0.0055 * px)
    span = ramp(flank.across, -0.5, -0.15) * (1.0 - ramp(flank.across, 0.5, 0.85))
    shadow = np.where(away > 0, np.exp(-away / (2.2 * width)), np.exp(-((away / width) ** 2)))
    colour *= tripled(1.0 - 0.30 * shadow * span)
    rim = np.exp(-(((away + 1.6 * width) / width) ** 2)) * span
    colour += tripled(0.07 * rim)
    fore = np.exp(-(((away + 0.07 * px) / (1.6 * width)) ** 2)) * span
    colour *= tripled(1.0 - 0.08 * fore)
    cheek = np.exp(-(((away + 0.03 * px) / (0.025 * px)) ** 2) - ((flank.across - 0.1) / 0.4) ** 2)
    _mix(colour, (0.35 * cheek).astype(np.float32), (0.8, 0.78, 0.7))
    _mix(colour, head * np.float32(0.16), _darker(spec.look.back))
    _draw_mouth(fish, flank.canvas, colour)


def _darker(colour: Colour) -> Colour:
    red, green, blue = (0.9 * tone + 0.05 for tone in colour)
    return red, green, blue


def _draw_mouth(fish: FishGeometry, canvas: Canvas, colour: Field) -> None:
    length = fish.spec.eye_diameter_mm * 0.75
    points = np.array([[0.0, 0.0], [0.5, 0.12], [1.0, 0.34]]) * length
    points[:, 1] += fish.profile.upper(np.zeros(1))[0]
    line = np.zeros(canvas.shape, np.float32)
    thick = max(1, round(canvas.px_per_mm * fish.spec.standard_length_mm * 0.004))
    pixels = np.rint(canvas.to_pixel(points) * 16).astype(np.int32)
    cv2.polylines(line, [pixels], False, 1.0, thick, cv2.LINE_AA, 4)
    colour *= tripled(1.0 - 0.5 * line)


def _roundness(flank: Flank) -> Field:
    """Light from above on a rounded flank; the belly gets some back from the ground."""
    normal = np.sqrt(np.clip(1.0 - flank.across**2, 0.0, 1.0))
    belly = 0.10 * ramp(flank.across, 0.3, 1.0)
    return np.asarray(0.58 + 0.46 * normal - 0.14 * flank.across + belly, np.float32)


def _sheen(flank: Flank, rng: np.random.Generator) -> Field:
    """Broken shine above the middle of the flank, and a streak along the lateral line."""
    shape = flank.across.shape
    broken = np.clip(0.5 + 0.45 * smooth_field(rng, shape, 22, octaves=2), 0, 1.6)
    band = np.exp(-(((flank.across + 0.3 + 0.06 * smooth_field(rng, shape, 3)) / 0.22) ** 2))
    streak = np.exp(-(((flank.across - 0.02) / 0.07) ** 2)) * ramp(flank.along, 0.25, 0.4)
    return np.asarray((0.40 * band + 0.16 * streak) * broken, np.float32)


def _round_eye(fish: FishGeometry, canvas: Canvas, colour: Field) -> tuple[Canvas, Field]:
    """Part of the grid, and the view of the picture on it, that the eye and its socket take."""
    eye = np.array([[fish.spec.eye_mm, eye_height_mm(fish.spec, fish.profile)]])
    reach = 0.8 * fish.spec.eye_diameter_mm * canvas.px_per_mm + 2
    x, y = canvas.to_pixel(eye)[0]
    left, right, top, bottom = (
        max(int(v), 0) for v in (x - reach, x + reach, y - reach, y + reach)
    )
    part = Canvas(canvas.x_mm[left:right], canvas.y_mm[top:bottom], canvas.px_per_mm)
    return part, colour[top:bottom, left:right]


def _draw_eye(fish: FishGeometry, canvas: Canvas, colour: Field) -> None:
    """Iris with a bright inner ring and a dark upper part, pupil, socket and the lamp's image."""
    spec = fish.spec
    radius = np.float32(spec.eye_diameter_mm / 2)
    x = (canvas.x_mm - np.float32(spec.eye_mm)) / radius
    y = (canvas.y_mm[:, None] - np.float32(eye_height_mm(spec, fish.profile))) / radius
    away = np.sqrt(x * x + y * y)
    soft = 1.0 / max(spec.eye_diameter_mm / 2 * canvas.px_per_mm, 1.0)
    colour *= (1.0 - 0.30 * np.exp(-(((away - 1.04) / 0.13) ** 2)))[..., None]
    inside = 1.0 - ramp(away, 1.0 - soft, 1.0 + soft)
    ring = np.exp(-(((away - 0.60) / 0.09) ** 2))
    shade = 0.62 + 0.55 * ring + 0.28 * np.clip(y, -1, 1) + 0.12 * np.sin(9 * np.arctan2(y, x))
    iris = np.array(spec.look.iris, np.float32) * shade[..., None]
    colour += inside[..., None] * (iris - colour)
    pupil = 1.0 - ramp(away, 0.52 - soft, 0.52 + soft)
    _mix(colour, pupil, (0.015, 0.015, 0.02))
    glint = np.hypot(x + 0.18, y + 0.26).astype(np.float32)
    _mix(colour, (1.0 - ramp(glint, 0.06, 0.08 + 2 * soft)) * np.float32(0.8), (0.97, 0.98, 1.0))
    lower = np.exp(-(((away - 0.42) / 0.08) ** 2)) * (y > 0.1)
    _mix(colour, (0.12 * lower).astype(np.float32), (0.55, 0.6, 0.7))
