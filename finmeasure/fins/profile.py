"""The ray profile of one fin, relative to the standard length, with its uncertainty."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.rays import (
    EDGE_TO,
    Fan,
    base_bulge,
    ray_lengths,
    sector_means,
    sector_rings,
    without_splits,
)
from finmeasure.fins.records import SECTORS, RayProfile
from finmeasure.fins.shape import FinShape, fin_fan
from finmeasure.fins.slips import marks_u
from finmeasure.reading import Reading

Points = NDArray[np.float64]

#: Share of the fan lines that must meet the margin.
LEAST_MET = 0.95
#: Standard uncertainty of a ray direction that is taken from the margin's edge, radians, beside
#: that of the base point (assumed; coverage tested on drawn fins).
DIRECTION_U = float(np.radians(1.5))
#: Landmark at the middle of the tail's base.
MIDDLE_OF_BASE = "caudal_base"
_PROFILE_FLAGS = frozenset({"low_resolution", "edge_not_visible", "free_tips", "bent"})


def ray_profile(
    fin: str,
    shape: FinShape,
    reading: Reading,
    *,
    splits: list[NDArray[np.bool_]],
    standard_length: tuple[float, float] | None,
    u_click: float,
    flags: frozenset[str],
) -> tuple[RayProfile | None, tuple[Points, ...]]:
    """Measure a fin along 181 lines between its first and last ray.

    Parameters
    ----------
    fin : str
        Part.
    shape : FinShape
        Margin in the plane of measurement.
    reading : Reading
        Ray tips, where marked.
    splits : list of ndarray of bool
        Margin points inside narrow splits, which are bridged.
    standard_length : tuple of float, optional
        Value and standard uncertainty, in the plane's unit.
    u_click : float
        Standard uncertainty of a base point per axis, in the plane's unit.
    flags : frozenset of str
        Flags of the fin.

    Returns
    -------
    profile : RayProfile or None
        None without standard length, or where the lines miss the margin.
    sectors : tuple of ndarray of shape (K, 2)
        Rings of the five sectors in the plane.
    """
    margin = without_splits(shape.margin, splits)
    fan, marked = fin_fan(fin, shape, reading)
    lengths = ray_lengths(margin, fan)
    if np.isfinite(lengths).mean() < LEAST_MET:
        return None, ()
    sectors = sector_rings(fan, lengths)
    if standard_length is None:
        return None, sectors
    mean = float(np.nanmean(lengths))
    u_rel = float(
        np.hypot(u_click / shape.length, _direction_u(margin, fan, marked, (mean, u_click)))
    )
    kept = flags & _PROFILE_FLAGS | (frozenset() if marked else {"two_point_profile"})
    profile = RayProfile(
        fin=fin,
        mean_to_sl=mean / standard_length[0],
        u_rel=u_rel,
        sectors_to_sl=tuple(value / standard_length[0] for value in sector_means(lengths)),
        standard_length=standard_length[0],
        u_standard_length=standard_length[1],
        flags=tuple(sorted(kept)),
        base_to_sl=_base_to_sl(fin, fan, shape, reading, standard_length[0]),
        u_marks_rel=marks_u(fin, shape, reading) / mean,
    )
    return profile, sectors


def _base_to_sl(
    fin: str, fan: Fan, shape: FinShape, reading: Reading, standard_length: float
) -> tuple[float, ...]:
    """How far a tail's rays begin behind the line between its insertions, by sector."""
    if fin != "caudal" or not reading.placed(MIDDLE_OF_BASE):
        return (0.0,) * SECTORS
    middle = shape.plane.from_px(reading.point(MIDDLE_OF_BASE)[None])[0]
    return tuple(bulge / standard_length for bulge in sector_means(base_bulge(fan, middle)))


def _direction_u(margin: Points, fan: Fan, marked: bool, known: tuple[float, float]) -> float:
    """Relative uncertainty of the mean from the directions of the first and last ray.

    `known` holds the mean and the uncertainty of a base point.
    """
    length, u_click = known
    from_edge = float(np.hypot(DIRECTION_U, u_click / (EDGE_TO * length)))
    turns = (from_edge, 0.0), (0.0, u_click / length if marked else from_edge)
    means = [float(np.nanmean(ray_lengths(margin, fan.turned(*turn)))) for turn in turns]
    return float(np.hypot(*(np.array(means) / length - 1.0)))
