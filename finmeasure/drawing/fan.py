"""A fin as a fan of rays: from a place on the base and a share of the ray to a point, in mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Curve = Callable[[Array], Array]
_SIDE_RAY = np.linspace(0.0, 1.0, 24)[:-1]


@dataclass(frozen=True, slots=True, eq=False)
class Fan:
    """Rays that leave a base curve.

    Points are x to the rear, y down, in mm; directions are degrees from the rear, upwards
    positive. A ray is an arc that turns by `curl_deg` along its length.

    Parameters
    ----------
    base : callable
        Place along the base, shape (N,), to base points, shape (N, 2).
    direction_deg : callable
        Place to direction of the ray.
    length_mm : callable
        Place to length of the whole ray.
    curl_deg : float
        Turn from base to tip.
    ray_count : int
        Number of rays that are seen.
    """

    base: Curve
    direction_deg: Curve
    length_mm: Curve
    curl_deg: float
    ray_count: int

    def points(self, along: Array, out: Array) -> Array:
        """Points at shares `out` of the rays at places `along`, both shape (N,) → (N, 2)."""
        turn = np.radians(self.curl_deg)
        angle = np.radians(self.direction_deg(along))
        reach = self.length_mm(along) * out
        # The chord of an arc: length times sinc of half its turn, turned by that half.
        half = turn * out / 2
        chord = reach * np.sinc(half / np.pi)
        heading = angle + half
        steps = np.column_stack([np.cos(heading), -np.sin(heading)]) * chord[:, None]
        return np.asarray(self.base(along) + steps)

    def grid(self, along: Array, out: Array) -> Array:
        """Points at every place `along`, shape (N,), and share `out`, shape (M,) → (N, M, 2)."""
        half = np.radians(self.curl_deg) * out / 2
        # In complex numbers the place along the base and the share of the ray are two factors.
        rays = np.exp(1j * np.radians(self.direction_deg(along))) * self.length_mm(along)
        steps = np.outer(rays, out * np.sinc(half / np.pi) * np.exp(1j * half))
        return np.asarray(self.base(along)[:, None, :] + np.stack([steps.real, -steps.imag], 2))

    def margin(self, along: Array, kept: Array | None = None) -> Array:
        """Open edge from front to rear base point: first ray, tips, last ray; shape (M, 2)."""
        share = np.ones_like(along) if kept is None else kept
        side = _SIDE_RAY
        places = np.concatenate([np.full(23, along[0]), along, np.full(23, along[-1])])
        out = np.concatenate([side * share[0], share, side[::-1] * share[-1]])
        return self.points(places, out)

    @property
    def reach_mm(self) -> float:
        """Longest distance from the middle of the base to the whole margin (S)."""
        ends = self.base(np.array([0.0, 1.0]))
        edge = self.points(np.linspace(0, 1, 200), np.ones(200))
        return float(np.hypot(*(edge - ends.mean(axis=0)).T).max())


def smooth_step(values: Array, low: float, high: float) -> Array:
    """Rise from 0 at `low` to 1 at `high` with level ends."""
    share = np.clip((values - low) / (high - low), 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share))


def _rounded(along: Array, _ray_count: int, depth: float) -> Array:
    return np.asarray(1.0 - max(depth, 0.12) * np.abs(2 * along - 1) ** 2.4)


def _truncate(along: Array, _ray_count: int, _depth: float) -> Array:
    return np.asarray(np.cos(0.45) / np.cos(0.45 * (2 * along - 1)))


def _emarginate(along: Array, ray_count: int, depth: float) -> Array:
    hollow = 1.0 - depth * (1.0 - (2 * along - 1) ** 2)
    return np.asarray(_truncate(along, ray_count, 0) * hollow)


def _forked(along: Array, _ray_count: int, depth: float) -> Array:
    away = np.abs(2 * along - 1)
    return np.asarray((1.0 - depth * (1.0 - away**1.25)) * _rounded_corners(along, 0.14))


def _triangular(along: Array, _ray_count: int, depth: float) -> Array:
    rise = 0.72 + 0.28 * smooth_step(along, -0.02, 0.14)
    fall = 1.0 - max(depth, 0.3) * smooth_step(along, 0.02, 1.1) * (1.1 - 0.1 * along)
    return np.asarray(rise * fall)


def _scalloped(along: Array, ray_count: int, depth: float) -> Array:
    between = np.abs(np.sin(np.pi * along * ray_count))
    return np.asarray(_rounded(along, ray_count, 0.3) * (1.0 - depth * between))


def _lobed(along: Array, ray_count: int, depth: float) -> Array:
    """Spiny front with lappets, a dip, then a soft rear lobe."""
    spiny = 0.55 + 0.12 * smooth_step(along, 0.0, 0.2) - 0.18 * smooth_step(along, 0.35, 0.64)
    lappets = 1.0 - 0.12 * np.abs(np.sin(np.pi * along * ray_count)) ** 1.5
    soft = np.exp(-(((along - 0.84) / 0.15) ** 2)) * (1.0 - 0.4 * (1 - depth))
    front = 1.0 - smooth_step(along, 0.6, 0.72)
    return np.asarray(np.maximum(spiny * lappets * front + 0.36 * (1 - front), soft))


def _long_rayed(along: Array, _ray_count: int, depth: float) -> Array:
    short = _rounded(along, 0, 0.3) * (1.0 - depth)
    return np.asarray(short + depth * np.exp(-(((along - 0.2) / 0.09) ** 2)))


def _comb(along: Array, ray_count: int, depth: float) -> Array:
    """Free ray tips: deep round gaps between the rays."""
    gap = np.abs(np.sin(np.pi * along * ray_count)) ** 0.7
    return np.asarray(_rounded(along, ray_count, 0.2) * (1.0 - depth * gap))


def _rod(along: Array, _ray_count: int, _depth: float) -> Array:
    return np.asarray(0.9 + 0.1 * np.sin(np.pi * np.clip(along, 0, 1)))


def _thread(along: Array, _ray_count: int, depth: float) -> Array:
    fan = (1.0 - depth) * _rounded(along, 0, 0.5)
    return np.asarray(fan + depth * np.exp(-(((along - 0.16) / 0.07) ** 4)))


def _sword(along: Array, ray_count: int, depth: float) -> Array:
    fan = (1.0 - depth) * _rounded(along, ray_count, 0.15)
    return np.asarray(fan + depth * np.exp(-(((along - 0.93) / 0.05) ** 2)))


def _rounded_corners(along: Array, loss: float) -> Array:
    away = np.abs(2 * along - 1)
    return np.asarray(1.0 - loss * smooth_step(away, 0.84, 1.0) ** 2)


LENGTH_PROFILES: dict[str, Callable[[Array, int, float], Array]] = {
    "rounded": _rounded,
    "truncate": _truncate,
    "emarginate": _emarginate,
    "forked": _forked,
    "triangular": _triangular,
    "scalloped": _scalloped,
    "lobed": _lobed,
    "long_rayed": _long_rayed,
    "comb": _comb,
    "rod": _rod,
    "thread": _thread,
    "sword": _sword,
}
