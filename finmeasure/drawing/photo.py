"""Drawn photos of one fish before a card or another ground, with everything about them known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import unary_union
from shapely.geometry import Polygon

from finmeasure.drawing.anatomy import FinGeometry, FishGeometry, build_fish
from finmeasure.drawing.body import Posture
from finmeasure.drawing.camera import FOCAL_SHARE, Camera
from finmeasure.drawing.damage import TrueDamage
from finmeasure.drawing.fan import Array
from finmeasure.drawing.marks import LANDMARKS, landmarks_mm, lengths_mm
from finmeasure.drawing.noise import Field
from finmeasure.drawing.raster import coverage
from finmeasure.drawing.scene import CardRaster, cast_shadow, lay_ground, spoil
from finmeasure.drawing.spec import FishSpec
from finmeasure.drawing.sprite import Sprite, draw_fish
from finmeasure.geometry import polygon_area
from finmeasure.reading import PARTS, LandmarkState, Spread

_PAINT_ORDER = (
    "caudal", "anal", "dorsal", "second_dorsal", "adipose", "body", "pelvic", "pectoral",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class View:
    """How a fish is photographed.

    Parameters
    ----------
    width_px, height_px : int
        Size of the photo.
    px_per_mm : float
        Scale in the middle of the photo; 0 lets the fish fill 80 % of it.
    facing : {"left", "right"}
        Which way the fish looks before `fish_angle_deg` turns it; right shows its right side.
    fish_angle_deg : float
        Turn of the fish in the card's plane, clockwise; 180 puts it upside down.
    fish_at_mm : tuple of float
        Middle of the fish in the card's plane; 0, 0 is the card's middle and that of the photo.
    tilt_deg, tilt_axis_deg, turn_deg, radial, focal_share : float
        Camera, see :meth:`finmeasure.drawing.camera.Camera.aimed`.
    card : CardRaster, optional
        Card behind the fish, its middle at 0, 0.
    ground : str
        Background without a card, a key of :data:`finmeasure.drawing.grounds.GROUNDS`.
    blur_px : float
        Standard deviation of the lens blur.
    noise : float
        Standard deviation of the sensor noise, grey levels of 255.
    jpeg_quality : int
        0 leaves the pixels uncompressed.
    light_fall : float
        Share by which the light falls off across the photo.
    glare : float
        Strength of a lamp's reflection, 0 to 1.
    haze : float
        Share of veil by cloudy water, 0 to 1.
    shadow : float
        Strength of the fish's soft shadow on what is behind it, 0 to 1.
    """

    width_px: int = 400
    height_px: int = 300
    px_per_mm: float = 0.0
    facing: Literal["left", "right"] = "left"
    fish_angle_deg: float = 0.0
    fish_at_mm: tuple[float, float] = (0.0, 0.0)
    tilt_deg: float = 0.0
    tilt_axis_deg: float = 0.0
    turn_deg: float = 0.0
    radial: float = 0.0
    focal_share: float = FOCAL_SHARE
    card: CardRaster | None = None
    ground: str = "plain"
    blur_px: float = 0.7
    noise: float = 2.0
    jpeg_quality: int = 92
    light_fall: float = 0.1
    glare: float = 0.0
    haze: float = 0.0
    shadow: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """Where a straight fish's millimetres come to lie in the card's plane."""

    posture: Posture
    middle_mm: tuple[float, float]
    at_mm: tuple[float, float]
    angle_deg: float
    mirrored: bool

    def to_card(self, points: Array) -> Array:
        """Fish to card plane, shape (N, 2), mm."""
        away = self.posture.apply(points) - self.middle_mm
        if self.mirrored:
            away = away * [-1.0, 1.0]
        cos, sin = np.cos(np.radians(self.angle_deg)), np.sin(np.radians(self.angle_deg))
        return np.asarray(away @ np.array([[cos, sin], [-sin, cos]]) + self.at_mm)

    def to_fish(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Card plane to straight fish, arrays of any one shape."""
        x, y = x - float(self.at_mm[0]), y - float(self.at_mm[1])
        cos, sin = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        x, y = cos * x + sin * y, cos * y - sin * x
        x = -x if self.mirrored else x
        return self.posture.undo(x + self.middle_mm[0], y + self.middle_mm[1])


@dataclass(frozen=True, slots=True)
class TrueFin:
    """One fin's true size in the card's plane, posture included, mm and mm².

    Parameters
    ----------
    length_mm : float
        Longest distance from the middle of the base to the whole margin (S).
    area_mm2, whole_area_mm2 : float
        Closed by the straight base line, with and without the damage.
    """

    length_mm: float
    area_mm2: float
    whole_area_mm2: float


@dataclass(frozen=True, eq=False)
class DrawnPhoto:
    """A drawn photo and the truth about it.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        Red, green, blue.
    landmarks : mapping of str to (x, y)
        True places in pixels of the landmarks that the fish has.
    states : mapping of str to str
        ``placed`` or ``absent`` for every landmark of the contract; ``hidden`` outside the photo.
    outlines : mapping of str to ndarray of shape (N, 2)
        True edges in pixels: fins open from front to rear base point, body closed.
    lengths_mm : mapping of str to float
        Straight lengths in the card's plane, from the millimetre geometry, posture included.
    relaxed_lengths_mm : mapping of str to float
        The same for the fish held straight and side-on.
    damages : tuple of TrueDamage
        What each damage took.
    fins : mapping of str to TrueFin
    spread : mapping of str to str
        How each fin is held.
    """

    pixels: NDArray[np.uint8]
    spec: FishSpec
    view: View
    camera: Camera
    placement: Placement
    landmarks: Mapping[str, tuple[float, float]]
    states: Mapping[str, LandmarkState]
    outlines: Mapping[str, Array]
    lengths_mm: Mapping[str, float]
    relaxed_lengths_mm: Mapping[str, float]
    damages: tuple[TrueDamage, ...] = ()
    fins: Mapping[str, TrueFin] = field(default_factory=dict)
    spread: Mapping[str, Spread] = field(default_factory=dict)

    def true_mm(self, points_px: ArrayLike) -> Array:
        """Map pixels, shape (N, 2), to the card's plane in mm."""
        return self.camera.true_mm(points_px)

    def to_pixel(self, points_mm: ArrayLike) -> Array:
        """Map points of the card's plane, shape (N, 2) mm, to pixels."""
        return self.camera.to_pixel(points_mm)

    @cached_property
    def fish_outline(self) -> Array:
        """Closed edge of the whole fish, fins included, shape (N, 2), pixels."""
        shapes = [Polygon(edge).buffer(0.05) for edge in self.outlines.values()]
        whole = unary_union(shapes)
        parts = getattr(whole, "geoms", [whole])
        largest = max(parts, key=lambda part: part.area)
        return np.asarray(largest.exterior.coords)[:-1]

    @cached_property
    def part_mask(self) -> NDArray[np.uint8]:
        """Part that each pixel shows: 0 ground, else 1 + its index in `reading.PARTS`."""
        height, width = self.pixels.shape[:2]
        mask = np.zeros((height, width), np.uint8)
        for part in _PAINT_ORDER:
            if part in self.outlines:
                inside = coverage(self.outlines[part], (height, width)) > 0.5
                mask[inside] = 1 + PARTS.index(part)
        return mask


def draw_photo(spec: FishSpec, view: View, rng: np.random.Generator) -> DrawnPhoto:
    """Draw one photo of a fish.

    Parameters
    ----------
    spec : FishSpec
        The fish.
    view : View
        Camera, ground, light.
    rng : numpy Generator
        For ground texture and noise.

    Returns
    -------
    DrawnPhoto
        The picture and everything true about it.
    """
    return draw_several(((spec, view),), rng)[0]


def draw_several(
    fish_and_views: Sequence[tuple[FishSpec, View]], rng: np.random.Generator
) -> tuple[DrawnPhoto, ...]:
    """Draw several fish in one photo, later ones in front of earlier ones.

    Parameters
    ----------
    fish_and_views : sequence of (FishSpec, View)
        The first view gives camera, ground and light; of the others only `facing`,
        `fish_angle_deg` and `fish_at_mm` count.
    rng : numpy Generator

    Returns
    -------
    tuple of DrawnPhoto
        One per fish, all with the same pixels. What one fish hides of another is not told.
    """
    view = fish_and_views[0][1]
    all_fish = [build_fish(spec) for spec, _ in fish_and_views]
    placements = [
        _placement(fish, own) for fish, (_, own) in zip(all_fish, fish_and_views, strict=True)
    ]
    camera = _camera(all_fish[0], view, placements[0])
    picture = lay_ground(camera, (view.height_px, view.width_px), view.card, view.ground, rng)
    for fish, placement in zip(all_fish, placements, strict=True):
        sprite = draw_fish(fish, camera.px_per_mm_at(placement.at_mm))
        _lay_sprite(picture, sprite, camera, placement, shadow=view.shadow)
    pixels = spoil(picture, view, rng)
    return tuple(
        _with_truth(pixels, fish, own, camera, placement)
        for fish, placement, (_, own) in zip(all_fish, placements, fish_and_views, strict=True)
    )


def _extent(fish: FishGeometry) -> Array:
    """Points all round the fish; damage does not move it."""
    return np.concatenate([fish.body, *(fin.whole_margin for fin in fish.fins.values())])


def _placement(fish: FishGeometry, view: View) -> Placement:
    points = fish.posture.apply(_extent(fish))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return Placement(
        fish.posture,
        (float(middle[0]), float(middle[1])),
        view.fish_at_mm,
        view.fish_angle_deg,
        view.facing == "right",
    )


def camera_of(view: View) -> Camera:
    """Camera of a view whose scale is given."""
    return Camera.aimed(
        (view.width_px, view.height_px),
        view.px_per_mm,
        tilt_deg=view.tilt_deg,
        tilt_axis_deg=view.tilt_axis_deg,
        turn_deg=view.turn_deg,
        radial=view.radial,
        focal_share=view.focal_share,
    )


def _camera(fish: FishGeometry, view: View, placement: Placement) -> Camera:
    if view.px_per_mm:
        return camera_of(view)
    level = camera_of(replace(view, px_per_mm=1.0, tilt_deg=0.0, radial=0.0))
    spread = np.ptp(level.to_pixel(placement.to_card(_extent(fish))), axis=0)
    px_per_mm = 0.8 * min(view.width_px / spread[0], view.height_px / spread[1])
    return camera_of(replace(view, px_per_mm=float(px_per_mm)))


def _lay_sprite(
    ground: Field, sprite: Sprite, camera: Camera, placement: Placement, *, shadow: float
) -> None:
    """Lay the fish over the ground, in place; only the pixels that it can reach are worked on."""
    height, width = ground.shape[:2]
    canvas = sprite.canvas
    corners = np.array(
        [(x, y) for x in np.linspace(canvas.x_mm[0], canvas.x_mm[-1], 9)
         for y in np.linspace(canvas.y_mm[0], canvas.y_mm[-1], 9)]
    )  # fmt: skip
    reach = camera.to_pixel(placement.to_card(corners))
    border = 2 + (int(0.06 * np.ptp(reach[:, 0])) if shadow else 0)
    left, top = np.maximum(np.floor(reach.min(axis=0)).astype(int) - border, 0)
    right, bottom = np.minimum(np.ceil(reach.max(axis=0)).astype(int) + border + 1, (width, height))
    if right <= left or bottom <= top:
        return
    x, y = camera.plane_of(np.arange(left, right)[None, :], np.arange(top, bottom)[:, None])
    # Single precision holds a place to 0.0001 px
    x, y = placement.to_fish(x.astype(np.float32), y.astype(np.float32))
    map_x = ((x - canvas.x_mm[0]) * canvas.px_per_mm).astype(np.float32)
    map_y = ((y - canvas.y_mm[0]) * canvas.px_per_mm).astype(np.float32)
    layer = cv2.remap(sprite.pixels, map_x, map_y, cv2.INTER_LINEAR, borderValue=(0, 0, 0, 0))
    part = ground[top:bottom, left:right]
    if shadow:
        cast_shadow(part, layer[..., 3], shadow)
    left_over = 1.0 - layer[..., 3]
    for channel in range(3):
        under = part[..., channel]
        under *= left_over
        under += layer[..., channel]


def _with_truth(
    pixels: NDArray[np.uint8],
    fish: FishGeometry,
    view: View,
    camera: Camera,
    placement: Placement,
) -> DrawnPhoto:
    straight = landmarks_mm(fish)
    posed = dict(zip(straight, placement.to_card(np.stack([*straight.values()])), strict=True))
    places = dict(zip(posed, camera.to_pixel(np.array(list(posed.values()))), strict=True))
    shapes = {"body": fish.body} | {part: fin.margin for part, fin in fish.fins.items()}
    height, width = pixels.shape[:2]
    size = np.array([width - 0.5, height - 0.5])
    seen = {name for name, at in places.items() if (at >= -0.5).all() and (at <= size).all()}
    return DrawnPhoto(
        pixels, fish.spec, view, camera, placement,
        landmarks={name: (float(at[0]), float(at[1])) for name, at in places.items()},
        states={name: _state(name, places, seen) for name in LANDMARKS},
        outlines={part: camera.to_pixel(placement.to_card(s)) for part, s in shapes.items()},
        lengths_mm=lengths_mm(posed),
        relaxed_lengths_mm=lengths_mm(straight),
        fins={part: _true_fin(fin, placement) for part, fin in fish.fins.items()},
        damages=tuple(loss for fin in fish.fins.values() for loss in fin.damages),
        spread={part: fin.spec.spread for part, fin in fish.fins.items()},
    )  # fmt: skip


def _true_fin(fin: FinGeometry, placement: Placement) -> TrueFin:
    margin, whole = placement.to_card(fin.margin), placement.to_card(fin.whole_margin)
    middle = (whole[0] + whole[-1]) / 2
    reach = float(np.hypot(*(whole - middle).T).max())
    return TrueFin(reach, polygon_area(margin), polygon_area(whole))


def _state(name: str, places: Mapping[str, Array], seen: set[str]) -> LandmarkState:
    if name not in places:
        return "absent"
    return "placed" if name in seen else "hidden"
