"""Changes to a fish: another size, another individual, another posture, damaged fins."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from finmeasure.drawing.damage import Damage
from finmeasure.drawing.spec import FinSpec, FishSpec


def with_fin(spec: FishSpec, part: str, **changes: Any) -> FishSpec:
    """Change fields of one fin; a fish without that fin stays as it is."""
    fins = tuple(replace(fin, **changes) if fin.part == part else fin for fin in spec.fins)
    return replace(spec, fins=fins)


def resized(spec: FishSpec, length_mm: float, *, depth_to_sl: float | None = None) -> FishSpec:
    """Bring a fish to a standard length, all its parts in proportion.

    Parameters
    ----------
    spec : FishSpec
    length_mm : float
        New standard length.
    depth_to_sl : float, optional
        New body depth as a share of it.
    """
    share = length_mm / spec.standard_length_mm
    fins = tuple(
        replace(
            fin,
            length_mm=fin.length_mm * share,
            front_mm=fin.front_mm * share,
            rear_mm=fin.rear_mm * share,
        )
        for fin in spec.fins
    )
    return replace(
        spec,
        standard_length_mm=length_mm,
        depth_mm=spec.depth_mm * share if depth_to_sl is None else depth_to_sl * length_mm,
        deepest_mm=spec.deepest_mm * share,
        peduncle_depth_mm=spec.peduncle_depth_mm * share,
        peduncle_mm=spec.peduncle_mm * share,
        operculum_mm=spec.operculum_mm * share,
        eye_mm=spec.eye_mm * share,
        eye_diameter_mm=spec.eye_diameter_mm * share,
        fins=fins,
    )


def varied(spec: FishSpec, rng: np.random.Generator, spread: float = 0.03) -> FishSpec:
    """Make another individual of the kind.

    Parameters
    ----------
    spec : FishSpec
    rng : numpy Generator
    spread : float
        Standard deviation of fin lengths between individuals, share of the length.
    """
    fins = tuple(replace(fin, length_mm=fin.length_mm * rng.normal(1, spread)) for fin in spec.fins)
    look = replace(spec.look, seed=int(rng.integers(2**31)))
    return replace(spec, fins=fins, look=look)


def posed(spec: FishSpec, rng: np.random.Generator, looseness: float = 1.0) -> FishSpec:
    """Hold a fish as live fish are held: fins more or less open, slightly bent and turned.

    Parameters
    ----------
    spec : FishSpec
    rng : numpy Generator
    looseness : float
        Factor on 5 % of opening, 3° of yaw and 1.5° of bend (standard deviations).
    """
    fins = tuple(
        replace(fin, opening=fin.opening * rng.normal(1, 0.05 * looseness)) for fin in spec.fins
    )
    yaw, bend = looseness * rng.normal(0, 3.0), looseness * rng.normal(0, 1.5)
    return replace(spec, fins=fins, yaw_deg=yaw, bend_deg=bend)


def folded(spec: FishSpec, rng: np.random.Generator, share: float = 0.45) -> FishSpec:
    """Let some fins lie more or less flat.

    Parameters
    ----------
    spec : FishSpec
    rng : numpy Generator
    share : float
        Probability that a fin is folded.
    """
    fins = tuple(
        replace(fin, folded=rng.uniform(0.1, 1.0)) if rng.random() < share else fin
        for fin in spec.fins
    )
    return replace(spec, fins=fins)


def random_damages(rng: np.random.Generator, *, largest: float = 0.3) -> tuple[Damage, ...]:
    """Draw one to four damages of one fin.

    Parameters
    ----------
    rng : numpy Generator
    largest : float
        Largest depth, share of the fin's length.
    """
    found = []
    for _ in range(int(rng.integers(1, 5))):
        kind = str(rng.choice(["bite", "slit", "fray", "shortening"], p=[0.4, 0.25, 0.25, 0.1]))
        width = rng.uniform(0.1, 0.5) if kind == "fray" else rng.uniform(0.01, 0.05)
        depth = rng.uniform(0.03, largest * (0.6 if kind == "bite" else 1.0))
        seed = int(rng.integers(2**31))
        found.append(Damage(kind, rng.uniform(0.05, 0.95), depth, width, seed))  # type: ignore[arg-type]
    return tuple(found)


def damaged(spec: FishSpec, rng: np.random.Generator, share: float = 0.4) -> FishSpec:
    """Damage some fins of a fish at random.

    Parameters
    ----------
    spec : FishSpec
    rng : numpy Generator
    share : float
        Probability that a fin is damaged; rods and threads stay whole.
    """
    fins = tuple(
        replace(fin, damages=random_damages(rng))
        if rng.random() < share and not _is_narrow(fin)
        else fin
        for fin in spec.fins
    )
    return replace(spec, fins=fins)


def _is_narrow(fin: FinSpec) -> bool:
    """Tell rods and threads: a bite as wide as they are would only cut them off."""
    return fin.kind in {"rod", "thread"} or (fin.part == "pelvic" and fin.kind == "long_rayed")
