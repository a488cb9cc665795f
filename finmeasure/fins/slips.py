"""How far a fin's mean length changes when the marks that its lines start from slip."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.marks import click_steps
from finmeasure.fins.rays import ray_lengths
from finmeasure.fins.records import BASE_POINTS, LAST_RAY_TIPS
from finmeasure.fins.shape import FinShape, fin_fan, with_moved_ends
from finmeasure.reading import Reading

Points = NDArray[np.float64]
NOWHERE = np.zeros(2)


def marks_u(fin: str, shape: FinShape, reading: Reading) -> float:
    """Give the uncertainty of a fin's mean length from the marks of one photo.

    The fin is measured anew with each mark moved along and across the body by its uncertainty: a
    base point that slips along the base of a back fin hardly changes its rays, one of a tail
    changes all of them. Where the edge's direction is read from the margin, it follows the mark.

    Parameters
    ----------
    fin : str
        Part.
    shape : FinShape
        The fin.
    reading : Reading
        Its marks.

    Returns
    -------
    float
        In the plane's unit; NaN where a moved fin gives no lengths.
    """
    front, rear = (click_steps(reading, name, shape.plane) for name in BASE_POINTS[fin])
    lengths = [_mean_length(fin, with_moved_ends(shape, step, NOWHERE), reading) for step in front]
    lengths += [_mean_length(fin, with_moved_ends(shape, NOWHERE, step), reading) for step in rear]
    slips = np.array(lengths) - _mean_length(fin, shape, reading)
    return float(np.linalg.norm([*slips, *_tip_slips(fin, shape, reading)]))


def _mean_length(fin: str, shape: FinShape, reading: Reading) -> float:
    return float(np.nanmean(ray_lengths(shape.margin, fin_fan(fin, shape, reading)[0])))


def _tip_slips(fin: str, shape: FinShape, reading: Reading) -> list[float]:
    """How far the mean length changes when the mark of the last ray's tip slips."""
    fan, marked = fin_fan(fin, shape, reading)
    if not marked:
        return []
    name = LAST_RAY_TIPS[fin]
    ray = shape.plane.from_px(reading.point(name)[None])[0] - fan.rear
    mean = float(np.nanmean(ray_lengths(shape.margin, fan)))
    return [
        float(np.nanmean(ray_lengths(shape.margin, fan.turned(0.0, _turn(ray, ray + step))))) - mean
        for step in click_steps(reading, name, shape.plane)
    ]


def _turn(before: Points, after: Points) -> float:
    """Give the angle from one direction to another, radians."""
    across = before[0] * after[1] - before[1] * after[0]
    return float(np.arctan2(across, before @ after))
