"""Fish whose pattern of landmarks is unlike that of the rest, and the points that make it so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from finmeasure.shipment.chances import leave_one_out_t
from finmeasure.shipment.odd_ones import FALSE_ALARMS_PER_BOX, STRAYS_AT_MOST
from finmeasure.shipment.shapes import aligned

FEW_POINTS = 2
MOST_OF_DISTANCE = 0.7
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OddShape:
    """One fish whose marks lie in another pattern.

    Parameters
    ----------
    row : int
        Row of the table.
    points : tuple of int
        The two points that make most of the (squared) distance, the farther first: marks
        to check. Empty where the whole fish differs.
    """

    row: int
    points: tuple[int, ...]


def find_odd_shapes(landmarks: ArrayLike, *, tests: int = 1) -> tuple[OddShape, ...]:
    """Find fish that lie far from the mean shape of the others, one after another.

    The logarithm of a fish's distance from the mean shape of the others is compared with those of
    the others by Student's t, upwards only. The main directions of shape are not used: with twenty
    fish three strays make these directions themselves, and so hide in them. As the ratios, fish
    are taken out up to a fifth of the box, and those up to the last that passes are odd.

    Parameters
    ----------
    landmarks : array_like of shape (N, L, 2)
        All fish facing the same way.
    tests : int
        How many such looks share the false alarms of a box.

    Returns
    -------
    tuple of OddShape
        The farthest first.
    """
    shapes, mean = aligned(landmarks)
    away = (shapes - mean).reshape(len(shapes), -1)
    if np.ptp(away, axis=0).max(initial=0.0) < 1e-9:
        return ()
    rows, taken, passed = list(range(len(away))), [], 0
    for _ in range(int(STRAYS_AT_MOST * len(away))):
        t = leave_one_out_t(_log_distances(away[rows])[:, None])[:, 0]
        worst = int(np.argmax(t))
        chance = stats.t.sf(t[worst], len(rows) - 2)
        passes = chance < FALSE_ALARMS_PER_BOX / len(rows) / tests
        taken.append(rows.pop(worst))
        passed = len(taken) if passes else passed
    rest = [row for row in range(len(away)) if row not in taken[:passed]]
    centre = shapes[rest].mean(axis=0)
    return tuple(OddShape(row, _few_points(shapes[row] - centre)) for row in taken[:passed])


def _log_distances(away: Table) -> Table:
    """Logarithm of the distance of each row from the mean of the others."""
    count = len(away)
    others = (away.sum(axis=0) - away) / (count - 1)
    return np.asarray(np.log(np.maximum(np.linalg.norm(away - others, axis=1), 1e-12)))


def _few_points(away: Table) -> tuple[int, ...]:
    """Name the points that make most of a distance, where they are two."""
    squares = (away**2).sum(axis=1)
    order = np.argsort(-squares)[:FEW_POINTS]
    few = squares[order].sum() > MOST_OF_DISTANCE * squares.sum()
    return tuple(int(point) for point in order) if few else ()
