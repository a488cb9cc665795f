"""What covers the landmarks of real fish and no drawn fish has: jaws, flesh on the tail, far fins.

Each was added after errors on the development photos; sizes are invented ranges.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.drawing.anatomy import FishGeometry, build_fish
from finmeasure.drawing.spec import FinSpec, FishSpec
from finmeasure.drawing.sprite import Sprite

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Jaw:
    """A lower jaw that reaches in front of the upper one; `ring` in straight fish mm."""

    ring: Array
    gap: Array


def more_like_life(spec: FishSpec, rng: np.random.Generator) -> FishSpec:
    """Hold paired fins low and flat, as most fish on photos; long anal fins, a stalk far back."""
    fins = tuple(_held(fin, spec, rng) for fin in spec.fins)
    stalk = spec.peduncle_mm + rng.uniform(0.0, 0.07) * spec.standard_length_mm
    return replace(spec, fins=fins, peduncle_mm=min(stalk, 0.97 * spec.standard_length_mm))


def _held(fin: FinSpec, spec: FishSpec, rng: np.random.Generator) -> FinSpec:
    length = spec.standard_length_mm
    if fin.part == "pectoral" and rng.random() < 0.75:
        return replace(
            fin,
            height_share=float(np.clip(rng.normal(-0.68, 0.2), -0.97, 0.1)),
            front_mm=spec.operculum_mm + rng.normal(0.005, 0.02) * length,
        )
    if fin.part == "pelvic" and fin.kind != "thread" and rng.random() < 0.5:
        low = rng.uniform(-2.0, 12.0)
        return replace(
            fin,
            first_ray_deg=low + rng.uniform(4.0, 14.0),
            last_ray_deg=low,
            length_mm=fin.length_mm * rng.uniform(0.9, 1.5),
        )
    if fin.part == "caudal" and fin.kind != "sword":
        return replace(fin, length_mm=fin.length_mm * rng.uniform(0.7, 1.05))
    if fin.part == "anal" and fin.kind != "rod" and rng.random() < 0.5:
        rear = min(fin.rear_mm + rng.uniform(0.0, 0.12) * length, 0.93 * length)
        return replace(fin, rear_mm=max(rear, fin.rear_mm))
    return fin


def far_pelvic(fish: FishGeometry, rng: np.random.Generator) -> FishGeometry | None:
    """Give the pelvic fin of the far side, as seen beside the near one; None without one."""
    near = fish.spec.fin("pelvic")
    if near is None or rng.random() < 0.5:
        return None
    shift = rng.normal(0, 0.015) * fish.spec.standard_length_mm
    turn = rng.normal(0, 9)
    fin = replace(
        near,
        front_mm=near.front_mm + shift,
        rear_mm=near.rear_mm + shift,
        first_ray_deg=near.first_ray_deg + turn,
        last_ray_deg=near.last_ray_deg + turn,
        length_mm=near.length_mm * rng.uniform(0.75, 1.1),
    )
    return build_fish(replace(fish.spec, fins=(fin,)))


def lower_jaw(fish: FishGeometry, rng: np.random.Generator) -> Jaw | None:
    """Draw up a lower jaw that is the foremost point of the fish; None for other mouths."""
    if rng.random() < 0.3:
        return None
    length = fish.spec.standard_length_mm
    out, rear = rng.uniform(0.002, 0.035) * length, rng.uniform(0.05, 0.11) * length
    opened = rng.uniform(0.0, 0.012) * length if rng.random() < 0.3 else 0.0
    top = float(fish.profile.upper(np.zeros(1))[0])
    thick = rng.uniform(0.012, 0.045) * length + opened
    lower = fish.profile.lower
    chin = np.linspace(0.25, 1.0, 6) * rear
    below = np.column_stack([chin, lower(chin) + 0.25 * out * (1 - chin / rear)])
    front = np.array([
        [0.25 * rear, top + opened + 0.003 * length],
        [0.0, top + opened + 0.002 * length],
        [-0.8 * out, top + opened + 0.1 * thick],
        [-out, top + opened + 0.45 * thick],
        [-0.5 * out, top + 0.9 * thick],
    ])  # fmt: skip
    gap = np.array([[0.3 * rear, top + 0.01 * length], [0.0, top], [-0.2 * out, top + opened]])
    return Jaw(np.concatenate([front, below]), gap)


def lay_jaw(sprite: Sprite, jaw: Jaw, rng: np.random.Generator) -> None:
    """Paint a lower jaw in the colour of the chin, in place."""
    colour = _colour_at(sprite, jaw.ring[-1] - [0.0, 0.15 * np.ptp(jaw.ring[:, 1])])
    shade = colour * rng.uniform(0.75, 1.15)
    pixels = sprite.pixels
    for ring, tone, opacity in ((jaw.ring, shade, 1.0), (jaw.gap, 0.35 * colour, 0.8)):
        cover = _cover(sprite, ring) * opacity
        pixels *= (1 - cover)[..., None]
        pixels[..., :3] += cover[..., None] * np.clip(tone, 0, 1)
        pixels[..., 3] += cover


def lay_cheek_edges(sprite: Sprite, fish: FishGeometry, rng: np.random.Generator) -> None:
    """Paint edges of cheek bones in front of the gill cover's own edge, in place."""
    spec, canvas = fish.spec, sprite.canvas
    height = np.linspace(-0.75, 0.8, 24)
    for _ in range(int(rng.choice([0, 1, 2], p=[0.35, 0.4, 0.25]))):
        place = rng.uniform(0.62, 0.9) * spec.operculum_mm
        x = place - rng.uniform(0.05, 0.2) * spec.operculum_mm * (height - 0.15) ** 2
        upper, lower = fish.profile.upper(x), fish.profile.lower(x)
        y = (upper + lower) / 2 + height * (lower - upper) / 2
        line = np.zeros(canvas.shape, np.uint8)
        points = np.rint(canvas.to_pixel(np.column_stack([x, y])) * 16).astype(np.int32)
        thick = max(
            1, round(rng.uniform(0.003, 0.014) * spec.standard_length_mm * canvas.px_per_mm)
        )
        cv2.polylines(line, [points], False, 255, thick, cv2.LINE_AA, 4)
        strength = rng.uniform(0.15, 0.5) * cv2.GaussianBlur(line, (0, 0), 0.6 * thick) / 255
        tone = 0.4 if rng.random() < 0.7 else 1.5
        sprite.pixels[..., :3] *= 1 + (tone - 1) * strength[..., None].astype(np.float32)


def lay_tail_flesh(sprite: Sprite, fish: FishGeometry, rng: np.random.Generator) -> None:
    """Let the flesh and scales reach over the foot of the caudal fin, in place."""
    reach = float(np.clip(rng.normal(0.013, 0.012), 0.0, 0.05)) * fish.spec.standard_length_mm
    canvas, strength = sprite.canvas, rng.uniform(0.5, 1.0)
    if reach * canvas.px_per_mm < 1 or "caudal" not in fish.fins:
        return
    edge = fish.profile.rear_edge(np.linspace(0, 1, 41))
    y = canvas.y_mm.astype(float)
    rear = np.interp(y, edge[:, 1], edge[:, 0], left=np.nan, right=np.nan)
    ragged = 1 + 0.25 * np.sin(y / np.ptp(edge[:, 1]) * rng.uniform(10, 40) + rng.uniform(0, 6))
    beyond = canvas.x_mm[None, :] - rear[:, None]
    share = np.clip((reach * ragged[:, None] - beyond) / (0.5 * reach), 0, 1)
    share = np.where((beyond > -0.2 * reach) & np.isfinite(beyond), share, 0) * strength
    map_x = rear[:, None] - np.abs(beyond) - 0.004 * fish.spec.standard_length_mm
    map_x = (np.nan_to_num(map_x) - canvas.x_mm[0]) * canvas.px_per_mm
    rows = np.broadcast_to(np.arange(len(y), dtype=np.float32)[:, None], map_x.shape)
    pixels = sprite.pixels
    body = cv2.remap(pixels, map_x.astype(np.float32), np.ascontiguousarray(rows),
                     cv2.INTER_LINEAR)  # fmt: skip
    cover = share.astype(np.float32)[..., None] * (body[..., 3:] > 0.9)
    pixels += cover * (body - pixels)


def _cover(sprite: Sprite, ring: Array) -> NDArray[np.float32]:
    cover = np.zeros(sprite.canvas.shape, np.uint8)
    points = np.rint(sprite.canvas.to_pixel(ring) * 16).astype(np.int32)
    cv2.fillPoly(cover, [points], 255, cv2.LINE_AA, 4)
    return np.asarray(cover / 255, np.float32)


def _colour_at(sprite: Sprite, place: Array) -> Array:
    x, y = np.rint(sprite.canvas.to_pixel(place[None])[0]).astype(int)
    height, width = sprite.canvas.shape
    pixel = sprite.pixels[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)]
    return np.asarray(pixel[:3] / max(float(pixel[3]), 0.2), float)
