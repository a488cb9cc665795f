"""Damage to fins as the share of each ray that is kept, with its true depth and area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from finmeasure.drawing.fan import Array, Fan

DamageKind = Literal["bite", "slit", "fray", "shortening"]


@dataclass(frozen=True, slots=True)
class Damage:
    """One loss of fin tissue.

    Parameters
    ----------
    kind : {"bite", "slit", "fray", "shortening"}
        A half disc on the margin, a cut along the rays, a torn stretch with ragged tips, or all
        rays shortened alike.
    at : float
        Place along the base, 0 front (caudal: upper) to 1 rear.
    depth : float
        Share of the fin's length S (longest distance from the base's middle to the whole margin):
        radius of a bite, cut-off length of a slit or fray; for a shortening the share of each ray.
    width : float
        Share of the base that a slit or fray takes; not used by the others.
    seed : int
        Pattern of a fray.
    """

    kind: DamageKind
    at: float = 0.5
    depth: float = 0.1
    width: float = 0.02
    seed: int = 0


@dataclass(frozen=True, slots=True)
class TrueDamage:
    """What one damage took, from the fin's millimetre geometry.

    Parameters
    ----------
    part : str
        Fin.
    kind : str
        Kind of damage.
    depth_pct : float
        Depth in % of the whole fin's length S.
    area_pct : float
        Area lost to this damage alone in % of the whole fin's area.
    """

    part: str
    kind: str
    at: float
    depth_pct: float
    area_pct: float


def kept_share(fan: Fan, along: Array, damages: tuple[Damage, ...]) -> Array:
    """Share of each whole ray that is left.

    Parameters
    ----------
    fan : Fan
        The whole fin.
    along : ndarray of shape (N,)
        Places along the base, 0 to 1.
    damages : tuple of Damage
        All act on the whole fin; the deepest wins.

    Returns
    -------
    ndarray of shape (N,), 0.02 to 1
    """
    kept = np.ones_like(along)
    for damage in damages:
        kept = np.minimum(kept, _KEPT[damage.kind](fan, along, damage))
    return np.maximum(kept, 0.02)


def break_points(damages: tuple[Damage, ...]) -> Array:
    """Places along the base where the margin jumps (walls of slits), to be sampled twice."""
    places = [
        place + side * 1e-7
        for damage in damages
        if damage.kind == "slit"
        for place in (damage.at - damage.width / 2, damage.at + damage.width / 2)
        for side in (-1, 1)
    ]
    return np.asarray(np.clip(np.array(places, float), 0.0, 1.0))


def _shortened(_fan: Fan, along: Array, damage: Damage) -> Array:
    return np.full(along.shape, 1.0 - damage.depth)


def _slit(fan: Fan, along: Array, damage: Damage) -> Array:
    lost = damage.depth * fan.reach_mm / fan.length_mm(along)
    return np.where(np.abs(along - damage.at) < damage.width / 2, 1.0 - lost, 1.0)


def _frayed(fan: Fan, along: Array, damage: Damage) -> Array:
    """Ragged tips of uneven length, fading out to both ends of the torn stretch."""
    rng = np.random.default_rng(damage.seed)
    teeth = max(int(damage.width * fan.ray_count * 1.5), 3)
    heights = rng.uniform(0.25, 1.0, teeth + 1)
    across = (along - damage.at) / damage.width + 0.5
    place = np.clip(across, 0, 1) * teeth
    tooth = np.clip(np.floor(place).astype(int), 0, teeth - 1)
    within = place - tooth
    depth = heights[tooth] * (1 - within) + heights[tooth + 1] * within
    depth *= 0.55 + 0.45 * np.abs(2 * within - 1) ** 0.7
    depth *= np.clip(np.minimum(across, 1 - across) * 6, 0, 1)
    return np.asarray(1.0 - depth * damage.depth * fan.reach_mm / fan.length_mm(along))


def _bitten(fan: Fan, along: Array, damage: Damage) -> Array:
    """Cut every ray where it enters a disc round the whole margin's point at the bite's place."""
    centre = fan.points(np.array([damage.at]), np.ones(1))[0]
    radius = damage.depth * fan.reach_mm
    out = np.linspace(0.0, 1.0, 161)
    away = fan.grid(along, out) - centre
    beyond = np.hypot(away[..., 0], away[..., 1]) - radius
    last_outside = len(out) - 1 - np.argmax((beyond > 0)[:, ::-1], axis=1)
    never = ~(beyond > 0).any(axis=1)
    step = np.clip(last_outside, 0, len(out) - 2)
    rows = np.arange(len(along))
    before, after = beyond[rows, step], beyond[rows, step + 1]
    share = np.clip(before / np.where(before == after, 1.0, before - after), 0, 1)
    cut = (step + share) * (out[1] - out[0])
    whole = last_outside == len(out) - 1
    return np.asarray(np.where(never, 0.0, np.where(whole, 1.0, cut)))


_KEPT = {"bite": _bitten, "slit": _slit, "fray": _frayed, "shortening": _shortened}
