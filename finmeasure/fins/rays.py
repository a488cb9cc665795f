"""Lengths along a fan of lines from a fin's base: what erosion shortens and opening does not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.records import SECTORS

Points = NDArray[np.float64]

LINES = 181
#: The fan lines leave out the outermost twentieth at both edges.
FIRST_LINE, LAST_LINE = 0.05, 0.95
#: Where an edge's direction is read from the margin, as shares of the fin's length.
EDGE_FROM, EDGE_TO = 0.05, 0.35


@dataclass(frozen=True, slots=True, eq=False)
class Fan:
    """Lines from the base of a fin towards its margin.

    Parameters
    ----------
    front, rear : ndarray of shape (2,)
        Base points.
    front_angle, opening : float
        Direction of the first ray, and the turn from it to the last ray, radians.
    """

    front: Points
    rear: Points
    front_angle: float
    opening: float

    @property
    def places(self) -> NDArray[np.float64]:
        """Share of the base at which each line starts."""
        return np.linspace(FIRST_LINE, LAST_LINE, LINES)

    @property
    def starts(self) -> Points:
        """Start of each line on the base, shape (LINES, 2)."""
        return np.asarray(self.front + self.places[:, None] * (self.rear - self.front))

    @property
    def directions(self) -> Points:
        """Unit vector of each line, shape (LINES, 2)."""
        angles = self.front_angle + self.places * self.opening
        return np.column_stack([np.cos(angles), np.sin(angles)])

    def turned(self, by_front: float, by_rear: float) -> Fan:
        """Give the fan with its first and last ray turned by small angles, radians."""
        return Fan(
            self.front, self.rear, self.front_angle + by_front, self.opening + by_rear - by_front
        )


def fan_between(front: Points, front_tip: Points, rear: Points, rear_tip: Points) -> Fan:
    """Fan from the first ray (front → its tip) to the last ray; only their directions count."""
    first, last = front_tip - front, rear_tip - rear
    angle = float(np.arctan2(first[1], first[0]))
    turn = float(np.arctan2(last[1], last[0])) - angle
    return Fan(front, rear, angle, float((turn + np.pi) % (2.0 * np.pi) - np.pi))


def edge_tip(margin: Points, fin_length: float, *, at_front: bool) -> Points:
    """Point that the fin's straight front or rear edge runs to, from the margin alone.

    The direction is that from the near to the far half of the edge: the base point itself is
    clicked and may lie beside it.

    Parameters
    ----------
    margin : ndarray of shape (N, 2)
        Front to rear base point, evenly spaced.
    fin_length : float
        In the unit of `margin`.
    at_front : bool
        Which edge.

    Returns
    -------
    ndarray of shape (2,)
        From the base point in the direction of the edge.
    """
    line = margin if at_front else margin[::-1]
    away = np.hypot(*(line - line[0]).T) / fin_length
    beyond = int(np.argmax(away > EDGE_TO)) or len(line) - 1
    edge = line[:beyond][away[:beyond] >= EDGE_FROM]
    if len(edge) < 4:
        return np.asarray(line[beyond])
    half = len(edge) // 2
    return np.asarray(line[0] + edge[half:].mean(axis=0) - edge[:half].mean(axis=0))


def ray_lengths(margin: Points, fan: Fan) -> NDArray[np.float64]:
    """Length of each fan line to its farthest crossing with the margin.

    Parameters
    ----------
    margin : ndarray of shape (N, 2)
        Open line.
    fan : Fan
        Lines.

    Returns
    -------
    ndarray of shape (LINES,)
        In the unit of `margin`; NaN where a line misses the margin.
    """
    starts, directions = fan.starts, fan.directions
    across = np.column_stack([-directions[:, 1], directions[:, 0]])
    offset = across @ margin.T - np.sum(across * starts, axis=1)[:, None]
    outside = offset > 0
    line, place = np.divmod(np.flatnonzero(outside[:, :-1] != outside[:, 1:]), len(margin) - 1)
    before, after = offset[line, place], offset[line, place + 1]
    share = before / (before - after)
    crossing = margin[place] + share[:, None] * (margin[place + 1] - margin[place])
    reach = np.sum(directions[line] * (crossing - starts[line]), axis=1)
    farthest = np.zeros(len(starts))
    np.maximum.at(farthest, line, reach)
    return np.where(farthest > 0, farthest, np.nan)


def rays_through(points: Points, fan: Fan) -> tuple[Points, NDArray[np.float64]]:
    """Find the ray of a fan through each point.

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        Between the first and the last ray, in the unit of the fan.
    fan : Fan
        Rays.

    Returns
    -------
    directions : ndarray of shape (N, 2)
        Unit vectors away from the base.
    reach : ndarray of shape (N,)
        Distance of each point from the base along its ray.
    """
    base = fan.rear - fan.front
    share = np.full(len(points), 0.5)
    for _ in range(6):  # Newton's method; starts and angles are linear in the share of the base
        angle = fan.front_angle + share * fan.opening
        cos, sin = np.cos(angle), np.sin(angle)
        away = points - fan.front - share[:, None] * base
        beside = cos * away[:, 1] - sin * away[:, 0]
        slope = -fan.opening * (cos * away[:, 0] + sin * away[:, 1]) - (
            cos * base[1] - sin * base[0]
        )
        share = np.clip(share - beside / np.where(slope == 0.0, 1.0, slope), 0.0, 1.0)
    angle = fan.front_angle + share * fan.opening
    directions = np.column_stack([np.cos(angle), np.sin(angle)])
    away = points - fan.front - share[:, None] * base
    return directions, np.asarray(np.sum(directions * away, axis=1))


def base_bulge(fan: Fan, middle: Points) -> NDArray[np.float64]:
    """How far a curved base lies beyond the straight one along each fan line.

    Parameters
    ----------
    fan : Fan
        Lines from the straight base.
    middle : ndarray of shape (2,)
        Place of the base half-way between its ends; the base is taken for a parabola.

    Returns
    -------
    ndarray of shape (LINES,)
        In the unit of the fan; positive towards the margin.
    """
    bow = middle - 0.5 * (fan.front + fan.rear)
    return np.asarray(4.0 * fan.places * (1.0 - fan.places) * (fan.directions @ bow))


def sector_means(lengths: NDArray[np.float64]) -> tuple[float, ...]:
    """Mean lengths of five equal bands of lines, first to last ray."""
    return tuple(float(np.nanmean(band)) for band in np.array_split(lengths, SECTORS))


def sector_rings(fan: Fan, lengths: NDArray[np.float64]) -> tuple[Points, ...]:
    """Rings of the five sectors, each from the base out to the margin and back."""
    ends = fan.starts + fan.directions * lengths[:, None]
    good = np.isfinite(lengths)
    bands = np.array_split(np.arange(len(lengths)), SECTORS)
    joined = [np.r_[band, band[-1] + 1] if band[-1] + 1 < len(lengths) else band for band in bands]
    kept = [band[good[band]] for band in joined]
    return tuple(np.vstack([fan.starts[band], ends[band][::-1]]) for band in kept)


def without_splits(margin: Points, walls: list[NDArray[np.bool_]]) -> Points:
    """Bridge narrow splits with a straight line, so that a split is not taken for lost length.

    Parameters
    ----------
    margin : ndarray of shape (N, 2)
        Open line.
    walls : list of ndarray of bool, shape (N,)
        Margin points inside each split.

    Returns
    -------
    ndarray of shape (M, 2)
        Without the points inside the splits.
    """
    inside = np.zeros(len(margin), bool)
    for wall in walls:
        places = np.flatnonzero(wall)
        inside[places[1:-1]] = True
    return margin[~inside]
