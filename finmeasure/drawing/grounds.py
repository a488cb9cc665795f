"""Backgrounds of drawn photos where no card fills the picture."""

from __future__ import annotations

import colorsys
from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.drawing.fan import Array
from finmeasure.drawing.noise import Field, ramp, smooth_field

Shape = tuple[int, int]


def _colour(hue: float, saturation: float, value: float) -> Field:
    return np.array(colorsys.hsv_to_rgb(hue % 1.0, saturation, value), np.float32)


def _unsharp(picture: Field, blur_px: float) -> Field:
    """Put a layer out of focus; worked on smaller where the blur leaves no detail."""
    height, width = picture.shape[:2]
    shrink = max(int(blur_px / 2), 1)
    small = (max(width // shrink, 1), max(height // shrink, 1))
    less = cv2.resize(picture, small, interpolation=cv2.INTER_AREA) if shrink > 1 else picture
    less = cv2.GaussianBlur(less, (0, 0), blur_px / shrink)
    return np.asarray(cv2.resize(less, (width, height)) if shrink > 1 else less, np.float32)


def _blank(shape: Shape, _rng: np.random.Generator) -> Field:
    return np.full((*shape, 3), 0.85, np.float32)


def _graded(shape: Shape, rng: np.random.Generator, one: Field, other: Field) -> Field:
    """Blend two colours across the picture at a random angle, with a little unevenness."""
    # A gradient has no detail: it is made small and enlarged.
    height, width = (max(side // max(max(shape) // 96, 1), 2) for side in shape)
    angle = rng.uniform(0, 2 * np.pi)
    x = np.linspace(-0.5, 0.5, width, dtype=np.float32)[None, :]
    y = np.linspace(-0.5, 0.5, height, dtype=np.float32)[:, None]
    share = 0.5 + np.float32(np.cos(angle)) * x + np.float32(np.sin(angle)) * y
    uneven = np.float32(0.04) * smooth_field(rng, (height, width), 2, octaves=2)
    share = np.clip(share + uneven, 0, 1)[..., None]
    picture = np.asarray(one + share * (other - one), np.float32)
    return np.asarray(cv2.resize(picture, shape[::-1], interpolation=cv2.INTER_LINEAR))


def _plain(shape: Shape, rng: np.random.Generator) -> Field:
    tone = _colour(rng.uniform(0, 1), rng.uniform(0, 0.1), rng.uniform(0.5, 0.9))
    return _graded(shape, rng, tone * np.float32(0.95), tone)


def _dark(shape: Shape, rng: np.random.Generator) -> Field:
    tone = _colour(rng.uniform(0.5, 0.75), rng.uniform(0.1, 0.4), rng.uniform(0.06, 0.2))
    return _graded(shape, rng, tone * np.float32(0.6), tone)


def _water(shape: Shape, rng: np.random.Generator) -> Field:
    hue = rng.uniform(0.3, 0.55)
    deep = _colour(hue, rng.uniform(0.2, 0.5), rng.uniform(0.15, 0.4))
    return _graded(shape, rng, deep, deep * np.float32(1.6))


def _plants(shape: Shape, rng: np.random.Generator) -> Field:
    """Leaves and stems out of focus, one layer behind the other."""
    picture = _water(shape, rng)
    height, width = shape
    for blur in (0.03, 0.015, 0.006):
        layer = np.zeros((*shape, 4), np.float32)
        for _ in range(int(rng.integers(6, 22))):
            tint = _colour(rng.uniform(0.17, 0.33), rng.uniform(0.4, 0.9), rng.uniform(0.15, 0.7))
            colour = (*(float(tone) for tone in tint), 1.0)
            foot = np.array([rng.uniform(0, width), height * rng.uniform(0.6, 1.2)])
            lean = np.array([rng.normal(0, 0.25) * height, -height * rng.uniform(0.3, 1.1)])
            cv2.fillPoly(layer, [_blade(foot, lean, rng)], colour, cv2.LINE_AA, 4)
        layer = _unsharp(layer, max(blur * width, 0.5))
        picture = picture * (1 - layer[..., 3:]) + layer[..., :3]
    return picture


def _blade(foot: Array, lean: Array, rng: np.random.Generator) -> NDArray[np.int32]:
    """Ring of one bent leaf, 1/16 pixels."""
    share = np.linspace(0, 1, 14)[:, None]
    sway = rng.normal(0, 0.2) * np.hypot(*lean)
    middle = foot + share * lean + sway * share**2 * [1.0, 0.0]
    half = rng.uniform(0.006, 0.03) * np.hypot(*lean) * np.sin(np.pi * np.clip(share, 0.08, 1))
    ring = np.concatenate([middle - half * [1.0, 0.2], (middle + half * [1.0, 0.2])[::-1]])
    return np.asarray(np.rint(ring * 16), np.int32)


def _gravel(shape: Shape, rng: np.random.Generator) -> Field:
    """Put stones on the floor of a tank."""
    picture = _plain(shape, rng) if rng.random() < 0.5 else _water(shape, rng)
    height, width = shape
    floor = height * rng.uniform(0.55, 0.85)
    tone = _colour(rng.uniform(0.03, 0.15), rng.uniform(0, 0.4), rng.uniform(0.2, 0.8))
    stones = np.empty_like(picture)
    stones[:] = tone * np.float32(0.4)
    size = width * rng.uniform(0.008, 0.03)
    for _ in range(700):
        at = (int(rng.uniform(0, width) * 16), int(rng.uniform(floor - size, height) * 16))
        axes = (int(size * rng.uniform(5, 14)), int(size * rng.uniform(4, 10)))
        colour = tuple(float(value) for value in np.clip(tone * rng.uniform(0.5, 1.5), 0, 1))
        cv2.ellipse(stones, at, axes, rng.uniform(0, 180), 0, 360, colour, -1, cv2.LINE_AA, 4)
    stones = _unsharp(stones, max(width * rng.uniform(0.001, 0.006), 0.4))
    y = np.arange(height, dtype=np.float32)[:, None] - np.float32(floor)
    share = ramp(y + 0.01 * height * smooth_field(rng, shape, 20), 0.0, 3.0)[..., None]
    return picture + share * (stones - picture)


def _stone(shape: Shape, rng: np.random.Generator) -> Field:
    tone = _colour(rng.uniform(0.04, 0.14), rng.uniform(0.1, 0.5), rng.uniform(0.25, 0.6))
    rough = smooth_field(rng, shape, 3, octaves=6)
    picture = tone * (1.0 + 0.28 * rough[..., None]).astype(np.float32)
    return _unsharp(picture, rng.uniform(0.3, 0.012 * shape[1]))


def _cloth(shape: Shape, rng: np.random.Generator) -> Field:
    tone = _colour(rng.uniform(0, 1), rng.uniform(0.05, 0.5), rng.uniform(0.4, 0.85))
    x = np.sin(np.arange(shape[1], dtype=np.float32) * np.float32(rng.uniform(0.8, 2.2)))
    y = np.sin(np.arange(shape[0], dtype=np.float32) * np.float32(rng.uniform(0.8, 2.2)))
    weave = 0.05 * np.outer(y, x) + 0.06 * smooth_field(rng, shape, 3)
    return tone * (1.0 + weave[..., None]).astype(np.float32)


def _glow(shape: Shape, rng: np.random.Generator) -> Field:
    """Lights far out of focus."""
    picture = _water(shape, rng)
    height, width = shape
    for _ in range(int(rng.integers(8, 30))):
        layer = picture.copy()
        at = (int(rng.uniform(0, width)), int(rng.uniform(0, height)))
        colour = _colour(rng.uniform(0, 1), rng.uniform(0, 0.7), rng.uniform(0.3, 0.9))
        radius = int(width * rng.uniform(0.02, 0.12))
        cv2.circle(layer, at, radius, tuple(float(tone) for tone in colour), -1, cv2.LINE_AA)
        share = np.float32(rng.uniform(0.1, 0.4))
        picture += share * (layer - picture)
    return _unsharp(picture, 0.008 * width + 0.5)


GROUNDS: dict[str, Callable[[Shape, np.random.Generator], Field]] = {
    "blank": _blank,
    "plain": _plain,
    "dark": _dark,
    "water": _water,
    "plants": _plants,
    "gravel": _gravel,
    "stone": _stone,
    "cloth": _cloth,
    "glow": _glow,
}


def lay_plain_ground(shape: Shape, ground: str, rng: np.random.Generator) -> Field:
    """Draw a background, shape (H, W, 3), 0 to 1.

    Parameters
    ----------
    shape : tuple of int
        Height and width.
    ground : str
        Key of :data:`GROUNDS`.
    rng : numpy Generator
    """
    picture = np.asarray(GROUNDS[ground](shape, rng), np.float32)
    return np.clip(picture, 0, 1, out=picture)
