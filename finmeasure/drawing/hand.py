"""Marks on a drawn photo as a careful person would place them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from shapely.geometry import LineString

from finmeasure.drawing.fan import Array
from finmeasure.drawing.photo import DrawnPhoto
from finmeasure.landmarks.scheme import landmark_definition
from finmeasure.reading import Landmark, Outline, Reading, Spread

HAND_TRACE_PX = 0.4  # scatter of a vertex that is placed at high zoom (common practice)
EXACT_U_PX = 0.02  # what a mark taken from the truth is said to be good for


def true_reading(photo: DrawnPhoto, *, fish: str = "1") -> Reading:
    """Place marks exactly at the truth, with a standard uncertainty of 0.02 px."""
    landmarks = {
        name: Landmark(name, *at, u_px=EXACT_U_PX, placed_by="truth")
        if photo.states[name] == "placed"
        else Landmark(name, state=photo.states[name], placed_by="truth")
        for name, at in _with_missing(photo).items()
    }
    return _reading(photo, fish, landmarks, "truth")


def careful_reading(
    photo: DrawnPhoto, rng: np.random.Generator, *, fish: str = "1", u_share: float = 1.0
) -> Reading:
    """Scatter marks as a careful person's are, each saying so in its `u_px`.

    Outlines are the true ones; :func:`traced_edge` scatters them.

    Parameters
    ----------
    photo : DrawnPhoto
    rng : numpy Generator
    fish : str
        Name of the fish in the reading.
    u_share : float
        Factor on the repeatability table (per landmark, along and across the body).
    """
    along, across = _body_axes(photo)
    length_px = float(np.hypot(*along))
    landmarks: dict[str, Landmark] = {}
    for name, at in _with_missing(photo).items():
        state = photo.states[name]
        if state != "placed":
            landmarks[name] = Landmark(name, state=state)
            continue
        definition = landmark_definition(name)
        u_along = u_share * definition.u_along_pct_sl * length_px / 100
        u_across = u_share * definition.u_across_pct_sl * length_px / 100
        slip = rng.normal(0, u_along) * along / length_px + rng.normal(0, u_across) * across
        x, y = np.asarray(at) + slip
        landmarks[name] = Landmark(name, float(x), float(y), "placed", u_along, u_across)
    return _reading(photo, fish, landmarks, "hand")


def traced_edge(edge: Array, rng: np.random.Generator, scatter_px: float = HAND_TRACE_PX) -> Array:
    """Trace an edge by hand: as many vertices as its shape needs, each a little off.

    Parameters
    ----------
    edge : ndarray of shape (N, 2), pixels
        True edge.
    rng : numpy Generator
    scatter_px : float
        Standard deviation of a vertex per axis.
    """
    vertices = np.asarray(LineString(edge).simplify(0.25).coords)
    return np.asarray(vertices + rng.normal(0, scatter_px, vertices.shape))


def _with_missing(photo: DrawnPhoto) -> dict[str, tuple[float, float]]:
    nowhere = (float("nan"), float("nan"))
    return {name: photo.landmarks.get(name, nowhere) for name in photo.states}


def _body_axes(photo: DrawnPhoto) -> tuple[Array, Array]:
    """Vector from snout to tail base, and the unit vector across it."""
    along = np.subtract(photo.landmarks["caudal_base"], photo.landmarks["snout_tip"])
    across = np.array([-along[1], along[0]]) / np.hypot(*along)
    return along, across


def _reading(
    photo: DrawnPhoto, fish: str, landmarks: Mapping[str, Landmark], placed_by: str
) -> Reading:
    outlines = {
        part: Outline(part, points, part == "body", placed_by, spread=_spread(photo, part))
        for part, points in photo.outlines.items()
    }
    return Reading(
        fish,
        MappingProxyType(dict(landmarks)),
        MappingProxyType(outlines),
        photo.spec.body_form,
        placed_by,
    )


def _spread(photo: DrawnPhoto, part: str) -> Spread:
    return photo.spread.get(part, "spread")
