"""From a fish's specification to its parts, landmarks and true lengths, in mm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from finmeasure.drawing.body import BodyProfile, Posture
from finmeasure.drawing.damage import Damage, TrueDamage, break_points, kept_share
from finmeasure.drawing.fan import LENGTH_PROFILES, Array, Curve, Fan
from finmeasure.drawing.spec import FinSpec, FishSpec
from finmeasure.geometry import polygon_area

MARGIN_SAMPLES = 420
_SCAN = np.linspace(0.0, 1.0, 801)
_VENTRAL = frozenset({"anal", "pelvic"})


@dataclass(frozen=True, slots=True, eq=False)
class FinGeometry:
    """One fin's true shape.

    `margin` is the open edge from front to rear base point, `whole_margin` the same without
    damage, both (N, 2) mm; `kept` the share of each of the rays at `along` that is left.
    """

    spec: FinSpec
    fan: Fan
    along: Array
    kept: Array
    margin: Array
    whole_margin: Array
    damages: tuple[TrueDamage, ...]

    def end_of(self, along: float) -> Array:
        """Where the ray at a place along the base ends, shape (2,)."""
        place = np.array([along])
        end = self.fan.points(place, np.interp(place, self.along, self.kept))[0]
        return np.asarray(end)

    def longest(self, low: float = 0.0, high: float = 1.0) -> float:
        """Place of the ray that reaches farthest between two places."""
        inside = (self.along >= low) & (self.along <= high)
        lengths = np.where(inside, self.kept * self.fan.length_mm(self.along), -1.0)
        return float(self.along[np.argmax(lengths)])


@dataclass(frozen=True, slots=True, eq=False)
class FishGeometry:
    """A fish's parts in mm, straight: x to the rear from the snout, y down."""

    spec: FishSpec
    profile: BodyProfile
    body: Array
    fins: Mapping[str, FinGeometry]

    @property
    def posture(self) -> Posture:
        """How the fish is held."""
        return Posture.of(self.spec)


def eye_height_mm(spec: FishSpec, profile: BodyProfile) -> float:
    """Height coordinate of the eye's centre, between the snout's height and the back."""
    snout = float(profile.upper(np.zeros(1))[0])
    back = float(profile.upper(np.array([spec.eye_mm]))[0])
    return snout * 0.6 + spec.eye_height_share * (back - snout * 0.6)


def build_fish(spec: FishSpec) -> FishGeometry:
    """Work out the body and all fins of a fish."""
    profile = BodyProfile.of(spec)
    fins = {fin.part: build_fin(fin, _fan_on_body(fin, profile)) for fin in spec.fins}
    return FishGeometry(spec, profile, profile.ring(), fins)


def build_fin(fin: FinSpec, fan: Fan) -> FinGeometry:
    """Work out a fin's margin and what each damage took from it."""
    along = np.sort(np.concatenate([np.linspace(0, 1, MARGIN_SAMPLES), break_points(fin.damages)]))
    kept = kept_share(fan, along, fin.damages)
    whole = fan.margin(along)
    margin = fan.margin(along, kept) if fin.damages else whole
    true = tuple(_true_damage(fin.part, fan, along, damage) for damage in fin.damages)
    return FinGeometry(fin, fan, along, kept, margin, whole, true)


def _true_damage(part: str, fan: Fan, along: Array, damage: Damage) -> TrueDamage:
    whole = polygon_area(fan.margin(along))
    left = polygon_area(fan.margin(along, kept_share(fan, along, (damage,))))
    area_pct = 100.0 * (whole - left) / whole
    return TrueDamage(part, damage.kind, damage.at, 100.0 * damage.depth, area_pct)


def _fan_on_body(fin: FinSpec, profile: BodyProfile) -> Fan:
    return fan_of(fin, partial(_base_points, fin, profile), slope_deg=_slope_deg(fin, profile))


def fan_of(fin: FinSpec, base: Curve, *, slope_deg: float = 0.0) -> Fan:
    """Fan of rays of a fin.

    Parameters
    ----------
    fin : FinSpec
    base : callable
        Place along the base, shape (N,), to points, shape (N, 2) mm.
    slope_deg : float
        Direction of the body's edge there, upwards positive; the rays turn with it.
    """
    length_of = LENGTH_PROFILES[fin.kind]
    longest = float(length_of(_SCAN, fin.ray_count, fin.depth).max())

    def length_mm(along: Array) -> Array:
        inside = np.clip(along, 0.0, 1.0)
        shares = length_of(inside, fin.ray_count, fin.depth) / longest
        return np.maximum(shares, 0.02) * fin.length_mm

    side = -1.0 if fin.part in _VENTRAL else 1.0
    direction = partial(_direction_deg, fin, side, slope_deg)
    return Fan(base, direction, length_mm, -side * fin.curl_deg, fin.ray_count)


def _direction_deg(fin: FinSpec, side: float, slope_deg: float, along: Array) -> Array:
    first, last = fin.first_ray_deg, fin.last_ray_deg
    middle, half = (first + last) / 2, (first - last) / 2 * fin.opening
    angle = middle + half * (1.0 - 2.0 * along)
    flat = (middle if fin.part == "pectoral" else 0.0) + half * (1.0 - 2.0 * along) * 0.12
    flat = flat if fin.part in {"caudal", "pectoral"} else flat + 6.0
    return side * (angle * (1 - fin.folded) + flat * fin.folded) + slope_deg


def _slope_deg(fin: FinSpec, profile: BodyProfile) -> float:
    """Direction of the body's edge under the fin, upwards positive."""
    if fin.part in {"caudal", "pectoral"}:
        return 0.0
    edge = profile.lower if fin.part in _VENTRAL else profile.upper
    front, rear = edge(np.array([fin.front_mm, fin.rear_mm]))
    return float(np.degrees(np.arctan2(front - rear, fin.rear_mm - fin.front_mm))) * 0.8


def _base_points(fin: FinSpec, profile: BodyProfile, along: Array) -> Array:
    if fin.part == "caudal":
        return profile.rear_edge(along)
    if fin.part == "pectoral":
        middle = _pectoral_height(fin, profile)
        # The base leans back, its upper end being nearer to the gill cover.
        y = middle + (along - 0.5) * fin.rear_mm
        return np.column_stack([fin.front_mm + 0.25 * fin.rear_mm * along, y])
    x = fin.front_mm + (fin.rear_mm - fin.front_mm) * along
    edge = profile.lower if fin.part in _VENTRAL else profile.upper
    return np.column_stack([x, edge(x)])


def _pectoral_height(fin: FinSpec, profile: BodyProfile) -> float:
    place = np.array([fin.front_mm])
    up, down = float(profile.upper(place)[0]), float(profile.lower(place)[0])
    return -fin.height_share * (-up if fin.height_share > 0 else down)
