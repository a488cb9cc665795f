"""Records of one measured fin. Pixels are (x, y); shares are percent of the fin's own length."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from finmeasure.quantity import Measure

Points = NDArray[np.float64]
NotchKind = Literal["notch", "split"]

MEDIAN_FINS = ("dorsal", "second_dorsal", "caudal", "anal")
#: First and last base point of each median fin; the tip of its last ray, where it has a name.
BASE_POINTS: Mapping[str, tuple[str, str]] = MappingProxyType({
    "dorsal": ("dorsal_origin", "dorsal_end"),
    "second_dorsal": ("second_dorsal_origin", "second_dorsal_end"),
    "caudal": ("caudal_upper_insertion", "caudal_lower_insertion"),
    "anal": ("anal_origin", "anal_end"),
})  # fmt: skip
LAST_RAY_TIPS: Mapping[str, str] = MappingProxyType({
    "dorsal": "dorsal_last_ray_tip",
    "second_dorsal": "second_dorsal_last_ray_tip",
    "anal": "anal_last_ray_tip",
})  # fmt: skip
#: Landmarks at natural indentations of a margin.
NATURAL_NOTCHES: Mapping[str, str] = MappingProxyType({
    "dorsal": "dorsal_dip", "caudal": "caudal_fork",
})  # fmt: skip
SECTORS = 5

#: Shown wherever an edge is shown.
EDGE_CAPTION = "New clear tissue at the edge is regrowth and easily missed."


def in_words(fin: str) -> str:
    """Name of a fin as it stands in a sentence."""
    return fin.replace("_", " ")


def _no_points() -> Points:
    return np.empty((0, 2))


@dataclass(frozen=True, slots=True, eq=False)
class Notch:
    """One place where tissue is missing from a margin.

    Parameters
    ----------
    kind : {"notch", "split"}
        A split is a narrow gap between rays, with hardly any tissue lost.
    depth_pct, width_pct : float
        Depth, and area divided by depth, % of the fin's length.
    area_pct : float
        % of the area of the whole envelope.
    deepest_px, mouth_px : ndarray of shape (2,), pixels (x, y)
        Deepest place, and the place of the envelope nearest to it.
    outline_px : ndarray of shape (K, 2), pixels (x, y)
        Ring round the missing area.
    """

    kind: NotchKind
    depth_pct: float
    width_pct: float
    area_pct: float
    deepest_px: Points
    mouth_px: Points
    outline_px: Points


@dataclass(frozen=True, slots=True, eq=False)
class RayProfile:
    """Lengths along a fin's rays, divided by the standard length, for comparisons over time.

    Parameters
    ----------
    fin : str
        Part.
    mean_to_sl : float
        Mean over the fan lines.
    u_rel : float
        Relative standard uncertainty of the mean, the standard length left out.
    sectors_to_sl : tuple of float
        Means of five equal bands from the first to the last ray.
    base_to_sl : tuple of float
        How far the rays begin beyond the straight base line, mean of each band: a tail's base
        bulges to the rear. The lengths above run from the straight line; comparisons take this
        away from both records alike. Zeros where it is not known.
    standard_length, u_standard_length : float
        In millimetres, or in pixels where the photo has no scale.
    flags : tuple of str
        E.g. ``two_point_profile``, ``free_tips``, ``bent``.
    u_marks_rel : float
        Relative standard uncertainty of the mean from the marks of this photo alone, the standard
        length left out: what is the same in every photo of the fish cancels in a comparison.
    """

    fin: str
    mean_to_sl: float
    u_rel: float
    sectors_to_sl: tuple[float, ...]
    standard_length: float
    u_standard_length: float
    flags: tuple[str, ...] = ()
    base_to_sl: tuple[float, ...] = (0.0,) * SECTORS
    u_marks_rel: float = math.nan


@dataclass(frozen=True, slots=True, eq=False)
class FinEdge:
    """Everything that was measured on one fin's edge, and what a picture of it needs.

    Parameters
    ----------
    fin : str
        Part.
    measures : tuple of Measure
        Area, notch area, notch depth, notch count, split count, relative length.
    profile : RayProfile, optional
        None where the standard length is not known or the fin gives no lengths.
    length_px : float
        The fin's length: from the middle of its base to the farthest place of the margin.
    margin_px : ndarray of shape (N, 2), pixels (x, y)
        Smoothed margin from the front to the rear base point; empty where refused.
    envelope_px : tuple of ndarray of shape (K, 2)
        Rings of the whole fin that the margin is compared with.
    natural_notches_px : ndarray of shape (J, 2)
        Where the envelope was split: fork point, dip.
    sectors_px : tuple of ndarray of shape (K, 2)
        Rings of the five sectors of the ray profile.
    blur_px : float, optional
        Standard deviation of the edge's blur, from the photo's grey values.
    """

    fin: str
    measures: tuple[Measure, ...]
    profile: RayProfile | None = None
    length_px: float = 0.0
    margin_px: Points = field(default_factory=_no_points)
    envelope_px: tuple[Points, ...] = ()
    notches: tuple[Notch, ...] = ()
    natural_notches_px: Points = field(default_factory=_no_points)
    sectors_px: tuple[Points, ...] = ()
    blur_px: float | None = None

    @property
    def by_id(self) -> dict[str, Measure]:
        """The measures by their id."""
        return {measure.id: measure for measure in self.measures}
