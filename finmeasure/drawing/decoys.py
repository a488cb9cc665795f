"""Things that are no fish in side view: flatfish, winged insects, front views, tubes, stones."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import ArrayLike

from finmeasure.drawing.noise import Field, ramp, smooth_field
from finmeasure.drawing.wild import wild_colour

Layer = tuple[Field, Field]


def draw_decoy(size_px: int, rng: np.random.Generator) -> Field:
    """Draw something that must not be measured.

    Parameters
    ----------
    size_px : int
        Side of the square picture; the thing nearly fills it.
    rng : numpy Generator

    Returns
    -------
    ndarray of shape (size_px, size_px, 4), 0 to 1
        Premultiplied red, green, blue and opacity.
    """
    layer = np.zeros((size_px, size_px, 4), np.float32)
    _DECOYS[int(rng.integers(len(_DECOYS)))](layer, rng)
    cover = layer[..., 3:]
    blotches = smooth_field(rng, (size_px, size_px), rng.uniform(3, 25), octaves=4)
    tint = np.array(wild_colour(rng), np.float32)
    share = ramp(blotches, 0.2, 1.2)[..., None] * rng.uniform(0, 0.8)
    colour = layer[..., :3] + share * (tint * cover - layer[..., :3])
    colour *= (1.0 + 0.12 * blotches)[..., None]
    return np.concatenate([np.clip(colour, 0, 1), cover], axis=2).astype(np.float32)


def _fill(
    layer: Field, ring: ArrayLike, colour: tuple[float, float, float], opacity: float
) -> None:
    """Lay a filled ring over the layer; coordinates are shares of the side from the middle."""
    size = layer.shape[0]
    cover = np.zeros((size, size), np.float32)
    points = np.rint((np.asarray(ring) + 0.5) * size * 16).astype(np.int32)
    cv2.fillPoly(cover, [points], opacity, cv2.LINE_AA, 4)
    layer *= 1.0 - cover[..., None]
    layer[..., :3] += cover[..., None] * np.array(colour, np.float32)
    layer[..., 3] += cover


def _oval(x: float, y: float, half_x: float, half_y: float, power: float = 1.0) -> Field:
    turn = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    cos, sin = np.cos(turn), np.sin(turn)
    away = np.sign(sin) * np.abs(sin) ** power
    return np.column_stack([x + half_x * cos, y + half_y * away]).astype(np.float32)


def _eye(layer: Field, x: float, y: float, radius: float, rng: np.random.Generator) -> None:
    _fill(layer, _oval(x, y, radius, radius), wild_colour(rng), 1.0)
    _fill(layer, _oval(x, y, 0.55 * radius, 0.55 * radius), (0.02, 0.02, 0.02), 1.0)


def _flatfish(layer: Field, rng: np.random.Generator) -> None:
    """Draw an oval with a fringe of fins all round and both eyes on one side."""
    colour = wild_colour(rng)
    depth = rng.uniform(0.17, 0.3)
    fringe = tuple(float(tone * rng.uniform(0.6, 1.1)) for tone in colour)
    _fill(layer, _oval(0.02, 0, 0.37, depth + rng.uniform(0.05, 0.1)),
          (fringe[0], fringe[1], fringe[2]), rng.uniform(0.5, 1.0))  # fmt: skip
    _fill(layer, _oval(-0.02, 0, 0.4, depth, rng.uniform(1.0, 1.3)), colour, 1.0)
    tail = np.array([[0.34, -0.05], [0.48, -0.1], [0.49, 0.1], [0.34, 0.05]])
    _fill(layer, tail, (fringe[0], fringe[1], fringe[2]), 0.9)
    radius = rng.uniform(0.015, 0.03)
    across = rng.uniform(-0.08, 0.02)
    _eye(layer, -0.34, across, radius, rng)
    _eye(layer, -0.33, across + 3.2 * radius, radius, rng)


def _insect(layer: Field, rng: np.random.Generator) -> None:
    """Draw two pairs of wings on either side of a narrow body."""
    colour, second = wild_colour(rng), wild_colour(rng)
    for side in (-1, 1):
        fore = np.array(
            [[0.02, -0.02], [0.46, -rng.uniform(0.25, 0.42)], [0.42, -0.05], [0.1, 0.08]]
        )
        hind = np.array([[0.02, 0.02], [0.32, 0.04], [0.3, rng.uniform(0.2, 0.36)], [0.06, 0.22]])
        for wing, tint in ((hind, second), (fore, colour)):
            _fill(layer, _rounded_ring(wing) * [side, 1], tint, rng.uniform(0.85, 1.0))
    _fill(layer, _oval(0, 0.03, 0.03, 0.22), wild_colour(rng), 1.0)


def _rounded_ring(corners: ArrayLike) -> Field:
    """Round the corners of a ring off by cutting them four times (Chaikin)."""
    ring = np.asarray(corners, np.float32)
    for _ in range(4):
        after = np.roll(ring, -1, axis=0)
        ring = np.stack([0.75 * ring + 0.25 * after, 0.25 * ring + 0.75 * after], 1).reshape(-1, 2)
    return np.asarray(ring, np.float32)


def _front_view(layer: Field, rng: np.random.Generator) -> None:
    """Draw a fish that looks at the camera: two eyes, a mouth between, fins to both sides."""
    colour = wild_colour(rng)
    half_x, half_y = rng.uniform(0.12, 0.34), rng.uniform(0.2, 0.34)
    for side in (-1, 1):
        fin = np.array([[0.8 * half_x, 0.02], [half_x + 0.14, -0.05], [half_x + 0.12, 0.12]])
        _fill(layer, _rounded_ring(fin) * [side, 1], wild_colour(rng), rng.uniform(0.3, 0.9))
    _fill(layer, _oval(0, 0, half_x, half_y), colour, 1.0)
    shift, spread = rng.uniform(-0.3, 0.3) * half_x, rng.uniform(0.5, 0.85) * half_x
    for side in (-1, 1):
        _eye(layer, shift + side * spread, -0.2 * half_y, rng.uniform(0.15, 0.3) * half_x, rng)
    mouth = _oval(shift, 0.25 * half_y, 0.3 * half_x, rng.uniform(0.03, 0.15) * half_y)
    _fill(layer, mouth, (0.1, 0.05, 0.05), 0.8)


def _tube(layer: Field, rng: np.random.Generator) -> None:
    """Draw a tapering body with a bunch of arms or roots at one end."""
    colour, half = wild_colour(rng), rng.uniform(0.05, 0.11)
    ring = np.array([[-0.47, 0], [-0.3, -half], [0.1, -half], [0.14, 0], [0.1, half], [-0.3, half]])
    for _ in range(int(rng.integers(5, 10))):
        end, bend = rng.uniform(-0.22, 0.22), rng.normal(0, 0.06)
        elbow = end / 2 + bend
        arm = np.array(
            [[0.1, -0.015], [0.3, elbow], [0.48, end], [0.3, elbow + 0.02], [0.1, 0.015]]
        )
        _fill(layer, _rounded_ring(arm), colour, 1.0)
    _fill(layer, _rounded_ring(ring), colour, 1.0)
    if rng.random() < 0.6:
        sail = np.array([[-0.45, 0], [-0.25, -0.2], [-0.22, 0], [-0.25, 0.2]])
        _fill(layer, _rounded_ring(sail), wild_colour(rng), 0.9)
    _eye(layer, 0.12, 0.0, 0.02, rng)


def _stone(layer: Field, rng: np.random.Generator) -> None:
    turn = np.linspace(0, 2 * np.pi, 9, endpoint=False)
    reach = rng.uniform(0.15, 0.48, 9)
    flat = rng.uniform(0.3, 1.0)
    ring = np.column_stack([reach * np.cos(turn), flat * reach * np.sin(turn)])
    _fill(layer, _rounded_ring(ring), wild_colour(rng), 1.0)


def _leaf(layer: Field, rng: np.random.Generator) -> None:
    _fill(layer, _oval(0, 0, 0.46, rng.uniform(0.05, 0.25), rng.uniform(1.0, 2.0)),
          wild_colour(rng), rng.uniform(0.7, 1.0))  # fmt: skip
    _fill(layer, _oval(0, 0, 0.48, 0.006), wild_colour(rng), 0.8)
    if rng.random() < 0.3:
        _eye(layer, rng.uniform(-0.3, 0.3), 0, 0.03, rng)


_DECOYS: tuple[Callable[[Field, np.random.Generator], None], ...] = (
    _flatfish, _insect, _front_view, _tube, _stone, _leaf,
)  # fmt: skip
