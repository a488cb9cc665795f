"""One fin drawn large on a plain ground, for measuring what edge figures can and cannot see."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from finmeasure.drawing.anatomy import FinGeometry, build_fin, fan_of
from finmeasure.drawing.damage import TrueDamage
from finmeasure.drawing.fan import Array
from finmeasure.drawing.marks import fin_landmarks_mm
from finmeasure.drawing.noise import sensor_noise, smooth_field
from finmeasure.drawing.raster import coverage
from finmeasure.drawing.scene import developed
from finmeasure.drawing.spec import FinSpec
from finmeasure.drawing.sprite import place_in_fin, ray_share


@dataclass(frozen=True, slots=True)
class FinView:
    """How one fin is photographed.

    Parameters
    ----------
    length_px : float
        The whole fin's length S (middle of the base to the farthest point of the margin).
    angle_deg : float
        Turn of the fin in the photo, clockwise; 0 has the fish's head on the left.
    ground : float
        Grey level of the ground.
    contrast : float
        Grey levels by which the fin is darker than the ground (lighter where negative).
    ray_contrast : float
        Grey levels by which the rays are darker still.
    blur_px, noise, jpeg_quality
        As for :class:`finmeasure.drawing.photo.View`.
    body : bool
        Whether the dark edge of the body is drawn along the base.
    """

    length_px: float = 200.0
    angle_deg: float = 0.0
    ground: float = 170.0
    contrast: float = 70.0
    ray_contrast: float = 18.0
    blur_px: float = 0.8
    noise: float = 3.0
    jpeg_quality: int = 92
    body: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class DrawnFin:
    """A drawn fin and the truth about it.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
    margin_px, whole_margin_px : ndarray of shape (N, 2)
        True edge from front to rear base point, with and without the damage.
    landmarks : mapping of str to (x, y)
        Pixels: the fin's own landmarks by contract name.
    first_ray_tip_px : tuple of float
        End of the first ray.
    px_per_mm : float
    length_mm : float
        The whole fin's length S.
    """

    pixels: NDArray[np.uint8]
    spec: FinSpec
    margin_px: Array
    whole_margin_px: Array
    landmarks: Mapping[str, tuple[float, float]]
    first_ray_tip_px: tuple[float, float]
    px_per_mm: float
    length_mm: float
    damages: tuple[TrueDamage, ...]
    origin_px: tuple[float, float]
    angle_deg: float

    def true_mm(self, points_px: ArrayLike) -> Array:
        """Map pixels, shape (N, 2), to the fin's own millimetres (x to the rear, y down)."""
        away = np.asarray(points_px, float).reshape(-1, 2) - self.origin_px
        return np.asarray(away @ _turn(-self.angle_deg) / self.px_per_mm)

    def to_pixel(self, points_mm: ArrayLike) -> Array:
        """Map the fin's millimetres, shape (N, 2), to pixels."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        return np.asarray(points @ _turn(self.angle_deg) * self.px_per_mm + self.origin_px)


def draw_fin_photo(fin: FinSpec, view: FinView, rng: np.random.Generator) -> DrawnFin:
    """Draw one fin on a straight base of ``rear_mm − front_mm``.

    Parameters
    ----------
    fin : FinSpec
        The base of a caudal or pectoral fin stands upright, that of the others lies level.
    view : FinView
    rng : numpy Generator
        For place within a pixel, unevenness of the ground and noise.
    """
    shape = build_fin(fin, fan_of(fin, partial(_base, fin)))
    px_per_mm = view.length_px / shape.fan.reach_mm
    turned = shape.whole_margin @ _turn(view.angle_deg) * px_per_mm
    border = 0.12 * view.length_px + 8
    low, spread = turned.min(axis=0), np.ptp(turned, axis=0)
    origin = border - low + rng.uniform(0, 1, 2)
    width, height = np.ceil(spread + 2 * border + 1).astype(int)
    drawn = _without_picture(shape, view, px_per_mm, (float(origin[0]), float(origin[1])))
    return replace(drawn, pixels=_painted(drawn, shape, view, (int(height), int(width)), rng))


def _base(fin: FinSpec, along: Array) -> Array:
    place = (along - 0.5) * (fin.rear_mm - fin.front_mm)
    still = np.zeros_like(along)
    return np.column_stack([still, place] if _is_upright(fin) else [place, still])


def _is_upright(fin: FinSpec) -> bool:
    return fin.part in {"caudal", "pectoral"}


def _body_bar(shape: FinGeometry) -> Array:
    """Ring of the piece of body that the fin stands on."""
    base = shape.fan.base(np.array([0.0, 1.0]))
    over = 0.08 * (base[1] - base[0])
    thick = 0.3 * shape.fan.reach_mm
    inwards = np.array([-thick, 0.0])
    if not _is_upright(shape.spec):
        inwards = np.array([0.0, -thick if shape.spec.part in {"anal", "pelvic"} else thick])
    front, rear = base[0] - over, base[1] + over
    return np.array([front, rear, rear + inwards, front + inwards])


def _turn(angle_deg: float) -> Array:
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[cos, sin], [-sin, cos]])


def _without_picture(
    shape: FinGeometry, view: FinView, px_per_mm: float, origin_px: tuple[float, float]
) -> DrawnFin:
    matrix = _turn(view.angle_deg) * px_per_mm
    named = {name: point @ matrix + origin_px for name, point in fin_landmarks_mm(shape).items()}
    first = shape.end_of(0.0) @ matrix + origin_px
    return DrawnFin(
        pixels=np.zeros((0, 0, 3), np.uint8),
        spec=shape.spec,
        margin_px=shape.margin @ matrix + origin_px,
        whole_margin_px=shape.whole_margin @ matrix + origin_px,
        landmarks={name: (float(at[0]), float(at[1])) for name, at in named.items()},
        first_ray_tip_px=(float(first[0]), float(first[1])),
        px_per_mm=px_per_mm,
        length_mm=shape.fan.reach_mm,
        damages=shape.damages,
        origin_px=origin_px,
        angle_deg=view.angle_deg,
    )


def _painted(
    drawn: DrawnFin,
    shape: FinGeometry,
    view: FinView,
    size: tuple[int, int],
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    grey = np.full(size, view.ground, np.float32) + np.float32(1.5) * smooth_field(rng, size, 2)
    cover = coverage(drawn.margin_px, size)
    grey -= cover * np.float32(view.contrast)
    if view.ray_contrast:
        rays = ray_share(shape, *place_in_fin(shape, drawn.to_pixel, size))
        grey -= cover * rays * np.float32(view.ray_contrast)
    if view.body:
        bar = coverage(drawn.to_pixel(_body_bar(shape)), size)
        grey += bar * (np.float32(45.0) - grey)
    if view.blur_px:
        grey = cv2.GaussianBlur(grey, (0, 0), view.blur_px, borderType=cv2.BORDER_REPLICATE)
    picture = grey[..., None] * np.array([1.01, 1.0, 0.98], np.float32)
    picture += sensor_noise(rng, picture.shape, view.noise)
    return developed(picture, view.jpeg_quality)
