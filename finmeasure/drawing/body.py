"""Body profile and posture of a drawn fish, in mm: x to the rear from the snout, y down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finmeasure.drawing.fan import Array
from finmeasure.drawing.spec import FishSpec

BEND_START = 0.3  # share of standard length in front of which the body stays straight


@dataclass(frozen=True, slots=True, eq=False)
class BodyProfile:
    """Upper and lower edge of a fish's body as functions of the place along its axis.

    The edges are tabulated once, densely at the snout, and interpolated between.
    """

    spec: FishSpec
    places_mm: Array
    upper_mm: Array
    lower_mm: Array

    @classmethod
    def of(cls, spec: FishSpec) -> BodyProfile:
        """Tabulate the edges that a fish's measures give."""
        length = spec.standard_length_mm
        x = 1.1 * length * np.linspace(0.0, 1.0, 900) ** 1.7
        ahead = np.clip(1.0 - x / spec.deepest_mm, 0.0, 1.0)
        middle = spec.mouth_drop * spec.depth_mm * ahead**1.6
        deepest_below = spec.deepest_mm + 0.06 * length * (1 - 2 * spec.back_share)
        above = _half_depth(spec, x, spec.depth_mm * spec.back_share, spec.deepest_mm)
        below = _half_depth(spec, x, spec.depth_mm * (1 - spec.back_share), deepest_below)
        return cls(spec, x, middle - above, middle + below)

    def upper(self, x_mm: Array) -> Array:
        """Height coordinate of the back (negative: above the axis)."""
        return np.asarray(np.interp(x_mm, self.places_mm, self.upper_mm))

    def lower(self, x_mm: Array) -> Array:
        """Height coordinate of the belly (positive)."""
        return np.asarray(np.interp(x_mm, self.places_mm, self.lower_mm))

    def rear_edge(self, share: Array) -> Array:
        """Rear edge of the flesh, from the upper (0) to the lower (1) caudal insertion."""
        length = self.spec.standard_length_mm
        bow = 0.02 * length * (1.0 - (2 * share - 1) ** 2)
        x = length - 0.02 * length + bow
        ends = np.array([length - 0.02 * length])
        upper, lower = self.upper(ends)[0], self.lower(ends)[0]
        return np.column_stack([x, upper + (lower - upper) * share])

    def ring(self, count: int = 300) -> Array:
        """Trace the body closed: back from the snout, rear edge, belly; shape (N, 2)."""
        end = float(self.rear_edge(np.zeros(1))[0, 0])
        # Denser at the snout, where the outline turns.
        x = end * np.linspace(0.0, 1.0, count) ** 1.8
        back = np.column_stack([x, self.upper(x)])
        belly = np.column_stack([x, self.lower(x)])[::-1]
        rear = self.rear_edge(np.linspace(0, 1, 41))[1:-1]
        return np.concatenate([back, rear, belly[:-1]])


def _half_depth(spec: FishSpec, x: Array, depth: float, deepest: float) -> Array:
    """Distance of one edge from the middle: a rounded head, then a cosine to the tail stalk."""
    stalk = spec.peduncle_depth_mm / 2
    power = 1.55 + 0.9 * spec.bluntness
    ahead = np.clip(1.0 - x / deepest, 0.0, 1.0)
    head = depth * (1.0 - ahead**power) ** (0.82 - 0.34 * spec.bluntness)
    share = np.clip((x - deepest) / (spec.peduncle_mm - deepest), 0.0, 1.0)
    rear = stalk + (depth - stalk) * (0.5 + 0.5 * np.cos(np.pi * share**1.05))
    beyond = np.clip(x - spec.peduncle_mm, 0.0, None)
    flare = 0.45 * beyond**2 / max(spec.standard_length_mm - spec.peduncle_mm, 1e-9)
    return np.asarray(np.where(x < deepest, head, rear + flare))


@dataclass(frozen=True, slots=True)
class Posture:
    """Bend (a circular arc behind the head) and yaw of a fish, invertible exactly."""

    start_mm: float
    curvature: float
    squeeze: float

    @classmethod
    def of(cls, spec: FishSpec) -> Posture:
        """Posture that a fish's bend and yaw angles give."""
        start = BEND_START * spec.standard_length_mm
        turn = np.radians(spec.bend_deg) / (spec.standard_length_mm - start)
        return cls(start, float(turn), float(np.cos(np.radians(spec.yaw_deg))))

    def apply(self, points: Array) -> Array:
        """Straight fish to posed fish, both (N, 2) mm."""
        x, y = np.asarray(points, float).T
        if self.curvature:
            angle = np.clip(x - self.start_mm, 0, None) * self.curvature
            front = np.minimum(x, self.start_mm)
            radius = 1.0 / self.curvature
            x = front + (radius - y) * np.sin(angle)
            y = radius - (radius - y) * np.cos(angle)
        return np.column_stack([x * self.squeeze, y])

    def undo(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Posed to straight coordinates, arrays of any one shape."""
        x = x / self.squeeze
        if not self.curvature:
            return x, y
        radius = 1.0 / self.curvature
        behind = x - self.start_mm
        away = np.hypot(behind, radius - y) * np.sign(radius)
        angle = np.arctan2(behind * np.sign(radius), (radius - y) * np.sign(radius))
        bent = behind > 0
        return (
            np.where(bent, self.start_mm + angle * radius, x),
            np.where(bent, radius - away, y),
        )
