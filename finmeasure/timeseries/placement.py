"""How exactly the people of a study place each landmark, from photos that were marked twice."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.placement import Placement
from finmeasure.landmarks.scheme import landmark_definition
from finmeasure.reading import Reading

#: Degrees of freedom that the general table counts for beside the study's own repeats, so that two
#: lucky clicks promise nothing (as for posture; common practice, no source).
TABLE_REPEATS = 10
Array = NDArray[np.float64]


def own_placement(repeated: Iterable[Sequence[Reading]]) -> dict[str, Placement]:
    """Estimate the uncertainty of placing each landmark, along and across the body.

    Parameters
    ----------
    repeated : iterable of sequence of Reading
        For each fish on one photo, its readings by one or several people. Readings that agree in
        every mark count once: they are copies.

    Returns
    -------
    dict of str to Placement
        Landmarks that were placed twice on some photo. Pooled standard deviation about the mean of
        each photo; the general table counts as much as ten repeats.
    """
    squares: dict[str, list[Array]] = {}
    for readings in repeated:
        for name, part in _deviations(readings).items():
            squares.setdefault(name, []).append(part)
    return {name: _blended(name, parts) for name, parts in squares.items()}


def _deviations(readings: Sequence[Reading]) -> dict[str, Array]:
    """Sum the squares about the mean place of each landmark, with their degrees of freedom.

    Returns
    -------
    dict of str to ndarray of shape (2, 2)
        First row: sums of squares along and across the body, (% of standard length)²; second row:
        n − 1, twice.
    """
    bodied = [one for one in _without_copies(readings) if one.placed("snout_tip", "caudal_base")]
    if len(bodied) < 2:
        return {}
    lines = np.array([one.point("caudal_base") - one.point("snout_tip") for one in bodied])
    line = lines.mean(axis=0)
    length = float(np.hypot(*line))
    if length == 0.0:
        return {}
    axes = np.array([line, [-line[1], line[0]]]) / length
    found = {}
    for name in bodied[0].landmarks:
        places = _places(name, bodied)
        if len(places) > 1:
            away = (places - places.mean(axis=0)) @ axes.T * (100.0 / length)
            found[name] = np.vstack([(away**2).sum(axis=0), np.full(2, len(places) - 1.0)])
    return found


def _without_copies(readings: Sequence[Reading]) -> list[Reading]:
    """Leave out readings whose marks all lie where those of an earlier one lie."""
    kept = {
        tuple(sorted((name, *mark.point) for name, mark in one.landmarks.items()
                     if mark.state == "placed")): one
        for one in reversed(readings)
    }  # fmt: skip
    return list(kept.values())


def _places(name: str, readings: Sequence[Reading]) -> Array:
    """Places of a landmark in all readings that have it, shape (N, 2)."""
    places = [one.landmarks[name].point for one in readings if one.placed(name)]
    return np.array(places, float).reshape(-1, 2)


def _blended(name: str, parts: list[Array]) -> Placement:
    """Pool the photos with the general table."""
    squares, freedom = np.sum(parts, axis=0)
    table = landmark_definition(name)
    known = TABLE_REPEATS * np.square([table.u_along_pct_sl, table.u_across_pct_sl])
    along, across = np.sqrt((known + squares) / (TABLE_REPEATS + freedom))
    return Placement(float(along), float(across), math.floor(freedom[0]))
