"""Drawn fish, decoys and grounds for training, made by worker processes without end."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.drawing.anatomy import FishGeometry, build_fish
from finmeasure.drawing.clutter import cluttered_ground
from finmeasure.drawing.decoys import draw_decoy
from finmeasure.drawing.marks import landmarks_mm
from finmeasure.drawing.noise import Field
from finmeasure.drawing.skin import Canvas
from finmeasure.drawing.sprite import Sprite, draw_fin, draw_fish
from finmeasure.drawing.wild import wild_spec
from finmeasure.proposals.layout import LANDMARKS, MASK_PARTS
from finmeasure.proposals.training.flesh import (
    Jaw,
    far_pelvic,
    lay_cheek_edges,
    lay_jaw,
    lay_tail_flesh,
    lower_jaw,
    more_like_life,
)

SPRITE_PX, GROUND_PX = 416, 512
SPRITES_PER_FILE, GROUNDS_PER_FILE, DECOYS_PER_FILE = 32, 8, 3
MOST_FILES = 120  # workers wait when so many lie unread
FOREMOST_RAYS = 0.027  # share of standard length, from the development photos
_PAINT_ORDER = (
    "caudal", "anal", "dorsal", "second_dorsal", "adipose", "jaw", "body", "pelvic", "pectoral",
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class TrainingSprite:
    """A level fish that faces left, in the middle of a square.

    `pixels` (C, C, 4) premultiplied uint8, `mask` (C, C) class per pixel, `landmarks` (L, 2)
    pixels, NaN where the fish has none.
    """

    pixels: NDArray[np.uint8]
    mask: NDArray[np.uint8]
    landmarks: NDArray[np.float32]


def draw_sprite(rng: np.random.Generator) -> TrainingSprite:
    """Draw one random fish so that it just fills the square."""
    fish = build_fish(more_like_life(wild_spec(rng), rng))
    jaw, far = lower_jaw(fish, rng), far_pelvic(fish, rng)
    edges = _shapes(fish) | ({"jaw": jaw.ring} if jaw else {})
    shapes = [fish.posture.apply(points) for points in edges.values()]
    points = np.concatenate(shapes)
    low, high = points.min(axis=0), points.max(axis=0)
    px_per_mm = (SPRITE_PX - 14) / float((high - low).max())
    corner = (low + high) / 2 - (SPRITE_PX - 1) / 2 / px_per_mm
    sprite = _with_room(draw_fish(fish, px_per_mm), jaw)
    lay_tail_flesh(sprite, fish, rng)
    lay_cheek_edges(sprite, fish, rng)
    if jaw:
        lay_jaw(sprite, jaw, rng)
    pixels = _posed(sprite, fish, corner)
    if far:
        behind = _posed(draw_fin(far, "pelvic", px_per_mm), fish, corner)
        pixels = pixels + (1 - pixels[..., 3:]) * behind
    mask = np.zeros((SPRITE_PX, SPRITE_PX), np.uint8)
    for part in (part for part in _PAINT_ORDER if part in edges):
        ring = (fish.posture.apply(edges[part]) - corner) * px_per_mm
        value = 1 + MASK_PARTS.index("body" if part == "jaw" else part)
        cv2.fillPoly(mask, [np.rint(ring).astype(np.int32)], value)
    whole = np.asarray(np.clip(pixels, 0, 1) * 255 + 0.5, np.uint8)
    return TrainingSprite(whole, mask, _landmarks(fish, corner, px_per_mm))


def _with_room(sprite: Sprite, jaw: Jaw | None) -> Sprite:
    """Widen a picture in front of the snout so that a jaw fits."""
    if jaw is None:
        return sprite
    canvas = sprite.canvas
    more = max(int((canvas.x_mm[0] - jaw.ring[:, 0].min()) * canvas.px_per_mm) + 4, 0)
    ahead = canvas.x_mm[0] - np.arange(more, 0, -1, dtype=np.float32) / canvas.px_per_mm
    wider = Canvas(np.concatenate([ahead, canvas.x_mm]), canvas.y_mm, canvas.px_per_mm)
    pixels = cv2.copyMakeBorder(sprite.pixels, 0, 0, more, 0, cv2.BORDER_CONSTANT)
    return Sprite(pixels, wider)


def _shapes(fish: FishGeometry) -> dict[str, NDArray[np.float64]]:
    return {"body": fish.body} | {part: fin.margin for part, fin in fish.fins.items()}


def _posed(sprite: Sprite, fish: FishGeometry, corner: NDArray[np.float64]) -> Field:
    """Bend and turn a straight fish's picture as its posture says."""
    grid = np.arange(SPRITE_PX) / sprite.canvas.px_per_mm
    x, y = np.meshgrid(corner[0] + grid, corner[1] + grid)
    x, y = fish.posture.undo(x, y)
    canvas = sprite.canvas
    map_x = ((x - canvas.x_mm[0]) * canvas.px_per_mm).astype(np.float32)
    map_y = ((y - canvas.y_mm[0]) * canvas.px_per_mm).astype(np.float32)
    posed = cv2.remap(sprite.pixels, map_x, map_y, cv2.INTER_LINEAR, borderValue=(0, 0, 0, 0))
    return np.asarray(posed, np.float32)


def _landmarks(
    fish: FishGeometry, corner: NDArray[np.float64], px_per_mm: float
) -> NDArray[np.float32]:
    points = landmarks_mm(fish)
    for side, edge in (("upper", fish.profile.upper), ("lower", fish.profile.lower)):
        # Short foremost rays, which are not drawn, begin in front of the fan on real fish.
        name = f"caudal_{side}_insertion"
        ahead = points[name][0] - FOREMOST_RAYS * fish.spec.standard_length_mm
        points[name] = np.array([ahead, edge(np.array([ahead]))[0]])
    nowhere = np.full(2, np.nan)
    placed = [
        (fish.posture.apply(points[name][None])[0] - corner) * px_per_mm
        if name in points
        else nowhere
        for name in LANDMARKS
    ]
    return np.array(placed, np.float32)


def make_files(folder: Path, seed: int, worker: int) -> None:
    """Write files of sprites, decoys and grounds until the process is ended."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, worker])
    number = 0
    while True:
        if len(os.listdir(folder)) > MOST_FILES:
            time.sleep(0.2)
            continue
        write_file(folder / f"{worker}_{number}", rng)
        number += 1


def write_file(path: Path, rng: np.random.Generator) -> None:
    """Write one file; it gets its final name when it is complete."""
    sprites = [draw_sprite(rng) for _ in range(SPRITES_PER_FILE)]
    decoys = [draw_decoy(SPRITE_PX, rng) for _ in range(DECOYS_PER_FILE)]
    grounds = [cluttered_ground((GROUND_PX, GROUND_PX), rng) for _ in range(GROUNDS_PER_FILE)]
    unfinished = path.with_suffix(".tmp.npz")
    np.savez(
        unfinished,
        pixels=np.stack([sprite.pixels for sprite in sprites]),
        masks=np.stack([sprite.mask for sprite in sprites]),
        landmarks=np.stack([sprite.landmarks for sprite in sprites]),
        decoys=np.stack([(decoy * 255 + 0.5).astype(np.uint8) for decoy in decoys]),
        grounds=np.stack([(ground * 255 + 0.5).astype(np.uint8) for ground in grounds]),
    )
    unfinished.rename(path.with_suffix(".ready"))
