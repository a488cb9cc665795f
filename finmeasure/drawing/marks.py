"""Landmarks and lengths of a drawn fish, from its millimetre geometry."""

from __future__ import annotations

import numpy as np

from finmeasure.drawing.anatomy import FinGeometry, FishGeometry, eye_height_mm
from finmeasure.drawing.fan import Array
from finmeasure.geometry import along_axis, distance, signed_offset

LANDMARKS = (
    "snout_tip", "eye_front", "eye_back", "eye_centre", "operculum_end",
    "dorsal_origin", "dorsal_end", "dorsal_tip", "dorsal_last_ray_tip", "dorsal_dip",
    "second_dorsal_origin", "second_dorsal_end", "second_dorsal_tip",
    "second_dorsal_last_ray_tip", "adipose_origin", "adipose_tip",
    "caudal_base", "caudal_upper_insertion", "caudal_lower_insertion", "caudal_upper_tip",
    "caudal_lower_tip", "caudal_fork", "sword_tip",
    "anal_origin", "anal_end", "anal_tip", "anal_last_ray_tip",
    "pelvic_origin", "pelvic_end", "pelvic_tip", "pelvic_thread_tip",
    "pectoral_origin", "pectoral_end", "pectoral_tip",
    "body_top", "body_bottom", "peduncle_top", "peduncle_bottom",
)  # fmt: skip

_DISTANCES = {
    "standard_length": ("snout_tip", "caudal_base"),
    "fork_length": ("snout_tip", "caudal_fork"),
    "head_length": ("snout_tip", "operculum_end"),
    "snout_length": ("snout_tip", "eye_front"),
    "eye_diameter": ("eye_front", "eye_back"),
    "body_depth": ("body_top", "body_bottom"),
    "predorsal_length": ("snout_tip", "dorsal_origin"),
    "prepelvic_length": ("snout_tip", "pelvic_origin"),
    "preanal_length": ("snout_tip", "anal_origin"),
    "peduncle_depth": ("peduncle_top", "peduncle_bottom"),
    "peduncle_length": ("anal_end", "caudal_base"),
    "dorsal_base_length": ("dorsal_origin", "dorsal_end"),
    "dorsal_height": ("dorsal_origin", "dorsal_tip"),
    "anal_base_length": ("anal_origin", "anal_end"),
    "anal_height": ("anal_origin", "anal_tip"),
    "pelvic_length": ("pelvic_origin", "pelvic_tip"),
    "pectoral_length": ("pectoral_origin", "pectoral_tip"),
    "caudal_span": ("caudal_upper_tip", "caudal_lower_tip"),
}

Points = dict[str, Array]


def landmarks_mm(fish: FishGeometry) -> Points:
    """Landmarks that the fish has, by name, each shape (2,), in straight fish millimetres."""
    points = _body_points(fish)
    for fin in fish.fins.values():
        points.update(fin_landmarks_mm(fin))
    return points


def fin_landmarks_mm(fin: FinGeometry) -> Points:
    """Landmarks of one fin by contract name."""
    return _FIN_POINTS.get(fin.spec.part, _median_points)(fin)


def _body_points(fish: FishGeometry) -> Points:
    spec, profile = fish.spec, fish.profile
    x = np.linspace(0.05, 0.9, 400) * spec.standard_length_mm
    deepest = x[np.argmax(profile.lower(x) - profile.upper(x))]
    eye_y = eye_height_mm(spec, profile)
    points = {
        "snout_tip": np.array([0.0, profile.upper(np.zeros(1))[0]]),
        "eye_front": np.array([spec.eye_mm - spec.eye_diameter_mm / 2, eye_y]),
        "eye_centre": np.array([spec.eye_mm, eye_y]),
        "eye_back": np.array([spec.eye_mm + spec.eye_diameter_mm / 2, eye_y]),
        "operculum_end": np.array([spec.operculum_mm, 0.06 * spec.depth_mm]),
        "caudal_base": profile.rear_edge(np.array([0.5]))[0],
        "caudal_upper_insertion": profile.rear_edge(np.array([0.0]))[0],
        "caudal_lower_insertion": profile.rear_edge(np.array([1.0]))[0],
    }
    for name, place in (("body", deepest), ("peduncle", spec.peduncle_mm)):
        at = np.array([place])
        points[f"{name}_top"] = np.array([place, profile.upper(at)[0]])
        points[f"{name}_bottom"] = np.array([place, profile.lower(at)[0]])
    return points


def _median_points(fin: FinGeometry) -> Points:
    part = fin.spec.part
    points = {
        f"{part}_origin": fin.margin[0],
        f"{part}_end": fin.margin[-1],
        f"{part}_tip": fin.end_of(fin.longest()),
        f"{part}_last_ray_tip": fin.end_of(1.0),
    }
    if part == "dorsal" and fin.spec.kind == "lobed":
        middle = (fin.along > 0.3) & (fin.along < 0.85)
        lengths = fin.kept * fin.fan.length_mm(fin.along)
        dip = fin.along[np.argmin(np.where(middle, lengths, np.inf))]
        points["dorsal_dip"] = fin.end_of(float(dip))
    return points


def _adipose_points(fin: FinGeometry) -> Points:
    return {"adipose_origin": fin.margin[0], "adipose_tip": fin.end_of(fin.longest())}


def _paired_points(fin: FinGeometry) -> Points:
    part = fin.spec.part
    points = {f"{part}_origin": fin.margin[0], f"{part}_end": fin.margin[-1]}
    if fin.spec.kind == "thread":
        points[f"{part}_tip"] = fin.end_of(fin.longest(0.4, 1.0))
        points[f"{part}_thread_tip"] = fin.end_of(fin.longest(0.0, 0.4))
    else:
        points[f"{part}_tip"] = fin.end_of(fin.longest())
    return points


def _caudal_points(fin: FinGeometry) -> Points:
    has_sword = fin.spec.kind == "sword"
    points = {
        "caudal_upper_tip": fin.end_of(_lobe_tip(fin, 0.0, 0.5)),
        "caudal_lower_tip": fin.end_of(_lobe_tip(fin, 0.5, 0.78 if has_sword else 1.0)),
        "caudal_fork": fin.end_of(_middle_end(fin)),
    }
    if has_sword:
        points["sword_tip"] = fin.end_of(fin.longest(0.85, 1.0))
    return points


def _lobe_tip(fin: FinGeometry, low: float, high: float) -> float:
    """Place of the longest ray of a lobe; in a rounded tail the corner, seen at 45 degrees."""
    if fin.spec.kind in {"forked", "emarginate", "truncate"}:
        return fin.longest(low, high)
    along = fin.along[(fin.along >= low) & (fin.along <= high)]
    ends = fin.fan.points(along, np.interp(along, fin.along, fin.kept))
    return float(along[np.argmax(ends[:, 0] + np.abs(ends[:, 1] - ends[:, 1].mean()))])


def _middle_end(fin: FinGeometry) -> float:
    """Place of the middle ray; in a notched tail of the deepest point of the notch."""
    if fin.spec.kind not in {"forked", "emarginate"}:
        return 0.5
    along = np.linspace(0.4, 0.6, 201)
    return float(along[np.argmin(fin.fan.length_mm(along))])


_FIN_POINTS = {
    "adipose": _adipose_points,
    "caudal": _caudal_points,
    "pelvic": _paired_points,
    "pectoral": _paired_points,
}


def lengths_mm(points: Points) -> dict[str, float]:
    """Straight lengths between landmarks that lie in one plane.

    Parameters
    ----------
    points : dict of str to ndarray of shape (2,)
        Landmarks in mm.

    Returns
    -------
    dict of str to float, mm
        Only those whose landmarks are there.
    """
    lengths = {
        name: distance(points[first], points[second])
        for name, (first, second) in _DISTANCES.items()
        if first in points and second in points
    }
    return lengths | _caudal_lengths(points)


def _caudal_lengths(points: Points) -> dict[str, float]:
    names = ("caudal_upper_tip", "caudal_lower_tip", "caudal_fork")
    if any(name not in points for name in names):
        return {}
    snout, base = points["snout_tip"], points["caudal_base"]
    upper, lower, fork = (points[name] for name in names)
    lengths = {
        "total_length": max(along_axis(points[name], snout, base) for name in names),
        "caudal_length": max(distance(base, upper), distance(base, lower)),
    }
    towards_base = np.sign(signed_offset(base, upper, lower))
    depth = float(signed_offset(fork, upper, lower) * towards_base)
    return lengths | ({"caudal_fork_depth": depth} if depth > 0 else {})
