"""Series of drawn card photos: how each is drawn, and how far the measured lengths are off."""

from __future__ import annotations

import cv2
import numpy as np

from finmeasure.card.raster import card_raster
from finmeasure.card_design import card_design
from finmeasure.photo.record import Photo, PhotoMetadata

from .drawn import Camera, Conditions, draw

SHEET_PX_PER_MM = {"A4": 16.0, "letter": 16.0, "A5": 22.0, "A6": 32.0, "ID1": 48.0}


def as_photo(pixels, **metadata):
    rgb = pixels if pixels.ndim == 3 else cv2.cvtColor(pixels, cv2.COLOR_GRAY2RGB)
    height, width = rgb.shape[:2]
    return Photo(np.ascontiguousarray(rgb), "0" * 64, PhotoMetadata(width, height, **metadata))


def random_camera(rng, design, *, tilt_deg=(0.0, 20.0), fill=(0.55, 0.85), **size):
    """A camera that has the whole card in view, at any rotation."""
    width, height = size.get("width", 2000), size.get("height", 1500)
    focal = 1550.0 * width / 2000
    card_width, card_height = design.size_mm
    roll = rng.uniform(0, 360)
    c, s = abs(np.cos(np.radians(roll))), abs(np.sin(np.radians(roll)))
    box = card_width * c + card_height * s, card_width * s + card_height * c
    per_mm = rng.uniform(*fill) * min(width / box[0], height / box[1])
    per_mm = max(per_mm, 6 / design.module_mm)  # smaller ones are refused as too small
    return Camera(
        width=width,
        height=height,
        focal_px=focal,
        radial=float(rng.choice([-0.1, -0.04, 0.0, 0.05])),
        distance_mm=focal / per_mm,
        tilt_deg=rng.uniform(*tilt_deg),
        tilt_direction_deg=rng.uniform(0, 360),
        roll_deg=roll,
        aim_mm=(card_width / 2 + rng.normal(0, 4), card_height / 2 + rng.normal(0, 4)),
    )


def random_conditions(rng, camera, design, *, blur_px=(0.7, 1.5)):
    """Light, lens and file of an ordinary to poor photo; often a fish hides part of the card."""
    field = design.field
    wide, high = field.right - field.left, field.bottom - field.top
    glare = None
    if rng.random() < 0.3:
        glare = (
            rng.uniform(0, camera.width),
            rng.uniform(0, camera.height),
            rng.uniform(0.02, 0.06) * camera.width,
        )
    size = rng.choice([0.0, 0.33, 0.46])  # half the length: 0, 25 or 50 % of the field hidden
    fish = None
    if size:
        fish = (
            (field.left + field.right) / 2 + rng.normal(0, 0.08) * wide,
            (field.top + field.bottom) / 2 + rng.normal(0, 0.08) * high,
            size * wide,
            size * high * rng.uniform(0.5, 0.9),
            rng.uniform(-15, 15),
        )
    return Conditions(
        blur_px=rng.uniform(*blur_px),
        noise=rng.uniform(2, 8),
        jpeg=int(rng.integers(70, 96)),
        uneven=rng.uniform(0, 0.6),
        uneven_direction_deg=rng.uniform(0, 360),
        glare_px=glare,
        fish_mm=fish,
        background=rng.uniform(20, 200),
        seed=int(rng.integers(2**31)),
    )


def draw_card(kind, paper, camera, conditions, ground="white"):
    design = card_design(kind, paper)
    per_mm = SHEET_PX_PER_MM[paper]
    return draw(card_raster(design, per_mm, ground), per_mm, camera, conditions)


def random_lengths_mm(rng, design, count=15, camera=None):
    """Ends of random lengths in the field, shape (count, 2, 2), none shorter than a sixth of it.

    With a camera only lengths that are in the photo.
    """
    field = design.field
    low, high = np.array([field.left, field.top]), np.array([field.right, field.bottom])
    ends = low + rng.random((20 * count, 2, 2)) * (high - low)
    long = np.hypot(*(ends[:, 1] - ends[:, 0]).T) > (high - low)[0] / 6
    if camera is not None:
        places = camera.to_pixel(ends.reshape(-1, 2))
        seen = ((places > 0) & (places < [camera.width, camera.height])).all(axis=1)
        long &= seen.reshape(-1, 2).all(axis=1)
    return ends[long][:count]


def length_errors(scale, camera, ends_mm):
    """Relative errors of measured lengths whose truth is known, shape (N,)."""
    seen = camera.to_pixel(ends_mm.reshape(-1, 2))
    measured = scale.to_mm(seen).reshape(-1, 2, 2)
    length = np.hypot(*(measured[:, 1] - measured[:, 0]).T)
    return length / np.hypot(*(ends_mm[:, 1] - ends_mm[:, 0]).T) - 1
