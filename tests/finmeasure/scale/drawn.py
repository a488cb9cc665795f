"""Draw photos of flat references whose millimetres are known exactly.

A pinhole camera with Brown's radial term looks at a plane: independent of the mapping that the
program fits (homography and inverse radial term).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np


@dataclass(frozen=True)
class Camera:
    """A pinhole camera before a tilted plane; the plane's origin is the aimed-at point."""

    width: int = 2000
    height: int = 1500
    focal_px: float = 1550.0
    radial: float = 0.0
    distance_mm: float = 400.0
    tilt_deg: float = 0.0
    tilt_direction_deg: float = 0.0
    roll_deg: float = 0.0
    aim_mm: tuple[float, float] = (0.0, 0.0)
    shift_px: tuple[float, float] = (0.0, 0.0)

    @property
    def _rotation(self):
        tilt, way, roll = np.radians([self.tilt_deg, self.tilt_direction_deg, self.roll_deg])

        def turn(angle):
            c, s = np.cos(angle), np.sin(angle)
            return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])

        c, s = np.cos(tilt), np.sin(tilt)
        lean = np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
        return turn(roll) @ turn(way) @ lean @ turn(-way)

    def to_pixel(self, points_mm):
        flat = np.asarray(points_mm, float) - self.aim_mm
        space = np.column_stack([flat, np.zeros(len(flat))]) @ self._rotation.T
        space[:, 2] += self.distance_mm
        ideal = space[:, :2] / space[:, 2:] + np.array(self.shift_px) / self.focal_px
        bent = ideal * (1 + self.radial * (ideal**2).sum(axis=1, keepdims=True))
        return bent * self.focal_px + [(self.width - 1) / 2, (self.height - 1) / 2]

    def to_mm(self, points_px):
        bent = (points_px - np.array([(self.width - 1) / 2, (self.height - 1) / 2])) / self.focal_px
        target = np.hypot(bent[:, 0], bent[:, 1])
        radius = target.copy()
        for _ in range(10):
            radius -= (radius * (1 + self.radial * radius**2) - target) / (
                1 + 3 * self.radial * radius**2
            )
        ratio = np.divide(radius, target, out=np.ones_like(target), where=target > 0)
        ideal = bent * ratio[:, None] - np.array(self.shift_px) / self.focal_px
        rays = np.column_stack([ideal, np.ones(len(ideal))])
        # Points of the plane are R (x, y, 0) + (0, 0, D): solve for the ray that hits them.
        normal = self._rotation[:, 2]
        depth = normal[2] * self.distance_mm / (rays @ normal)
        space = rays * depth[:, None] - [0, 0, self.distance_mm]
        return (space @ self._rotation)[:, :2] + self.aim_mm


@dataclass(frozen=True)
class Conditions:
    """What happens to the light between the reference and the file."""

    blur_px: float = 1.0
    noise: float = 3.0
    jpeg: int = 90
    uneven: float = 0.0
    uneven_direction_deg: float = 0.0
    glare_px: tuple[float, float, float] | None = None
    fish_mm: tuple[float, float, float, float, float] | None = None
    background: float = 90.0
    seed: int = 0
    fish_gray: tuple[float, ...] = field(default=(70.0,))


def draw(sheet, sheet_px_per_mm, camera, conditions):
    """Photograph a grey picture of the plane, whose upper left corner is (0, 0) mm."""
    image = _warp(sheet, sheet_px_per_mm, camera, conditions)
    rng = np.random.default_rng(conditions.seed)
    y, x = np.mgrid[0 : camera.height, 0 : camera.width].astype(np.float32)
    if conditions.uneven:
        way = np.radians(conditions.uneven_direction_deg)
        along = (x / camera.width - 0.5) * np.cos(way) + (y / camera.height - 0.5) * np.sin(way)
        image *= 1 - conditions.uneven * (along + 0.5)
    if conditions.glare_px is not None:
        gx, gy, size = conditions.glare_px
        image += 260 * np.exp(-((x - gx) ** 2 + (y - gy) ** 2) / (2 * size**2))
    image = cv2.GaussianBlur(image, (0, 0), conditions.blur_px)
    image += rng.standard_normal(image.shape, np.float32) * conditions.noise
    pixels = image.clip(0, 255).astype(np.uint8)
    coded = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, conditions.jpeg])[1]
    return cv2.imdecode(coded, cv2.IMREAD_COLOR)


def _warp(sheet, sheet_px_per_mm, camera, conditions):
    """Look up every photo pixel on the sheet; a coarse exact grid is interpolated linearly."""
    step = 4
    gx = np.arange(-step, camera.width + 2 * step, step, dtype=float)
    gy = np.arange(-step, camera.height + 2 * step, step, dtype=float)
    grid = np.stack(np.meshgrid(gx, gy), axis=-1)
    mm = camera.to_mm(grid.reshape(-1, 2)).reshape(grid.shape).astype(np.float32)
    y, x = np.mgrid[0 : camera.height, 0 : camera.width].astype(np.float32)
    full = cv2.remap(mm, x / step + 1, y / step + 1, cv2.INTER_LINEAR)
    place = full * sheet_px_per_mm - 0.5
    image = cv2.remap(
        sheet.astype(np.float32),
        place[..., 0],
        place[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=conditions.background,
    )
    image = 20 + 0.84 * image
    if conditions.fish_mm is not None:
        cx, cy, a, b, turn = conditions.fish_mm
        dx, dy = full[..., 0] - cx, full[..., 1] - cy
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        u, v = dx * c + dy * s, dy * c - dx * s
        inside = (u / a) ** 2 + (v / b) ** 2 < 1
        scales = 25 * np.sin(u * 4) * np.sin(v * 4)
        image = np.where(inside, 80 + scales, image)
    return image
