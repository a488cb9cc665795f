"""One fin's margin in the plane of measurement, even and smooth, with its lengths."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.outline import Margin
from finmeasure.fins.plane import Plane
from finmeasure.fins.rays import Fan, edge_tip, fan_between
from finmeasure.fins.records import LAST_RAY_TIPS
from finmeasure.fins.smoothing import resample, smooth
from finmeasure.reading import Reading

Points = NDArray[np.float64]

#: Spacing of margin points as a share of the fin's length.
MARGIN_STEP = 0.004
#: Cut-off wavelength of the margin's filter as a share of the fin's length.
MARGIN_CUTOFF = 0.03


@dataclass(frozen=True, slots=True, eq=False)
class FinShape:
    """A fin in the plane of measurement.

    Parameters
    ----------
    plane : Plane
        Millimetres, or pixels where there is no scale.
    traced : ndarray of shape (N, 2)
        Margin as traced.
    margin : ndarray of shape (M, 2)
        Even and smooth.
    length : float
        From the middle of the base to the farthest place of the margin.
    length_px : float
        The same in the photo.
    share : float
        Length that grid, disc and limits are shares of: `length`, or the reference's.
    """

    plane: Plane
    traced: Points
    margin: Points
    length: float
    length_px: float
    share: float

    @property
    def unit_per_px(self) -> float:
        """Length of a pixel at the fin."""
        return self.plane.unit_per_px

    @property
    def base_length(self) -> float:
        """Distance of the base points."""
        return float(np.hypot(*(self.margin[-1] - self.margin[0])))


def fin_shape(margin: Margin, plane: Plane, reference_length: float | None = None) -> FinShape:
    """Bring a margin to the plane of measurement and smooth it.

    Parameters
    ----------
    margin : Margin
        In pixels.
    plane : Plane
        Plane of measurement.
    reference_length : float, optional
        Length of the same fin in the record it is compared with, in the plane's unit.

    Returns
    -------
    FinShape
    """
    traced = plane.from_px(margin.points_px)
    length = _reach(traced)
    share = reference_length or length
    return FinShape(
        plane=plane,
        traced=traced,
        margin=_even_and_smooth(traced, share),
        length=length,
        length_px=_reach(margin.points_px),
        share=share,
    )


def with_moved_ends(shape: FinShape, front: Points, rear: Points) -> FinShape:
    """Give a fin as it would be, had its margin been begun and ended elsewhere.

    Parameters
    ----------
    shape : FinShape
        As traced.
    front, rear : ndarray of shape (2,)
        Shift of the first and the last point, in the plane's unit.
    """
    traced = shape.traced.copy()
    traced[0] += front
    traced[-1] += rear
    margin = _even_and_smooth(traced, shape.share)
    return replace(shape, traced=traced, margin=margin, length=_reach(traced))


def _even_and_smooth(traced: Points, share: float) -> Points:
    """Space a traced margin evenly and take the finest waves out."""
    even = resample(traced, MARGIN_STEP * share)
    spacing = float(np.hypot(*(even[1] - even[0])))
    return smooth(even, spacing, MARGIN_CUTOFF * share)


def _reach(points: Points) -> float:
    """Longest distance from the middle of the base to the margin."""
    return float(np.hypot(*(points - points[[0, -1]].mean(axis=0)).T).max())


def fin_fan(fin: str, shape: FinShape, reading: Reading) -> tuple[Fan, bool]:
    """Fan of lines from the first to the last ray.

    The first ray runs along the front edge of the margin: ``<fin>_tip`` is the end of the longest
    ray, which may be another one, and would make an opening fin seem to change.

    Returns
    -------
    fan : Fan
        In the plane of measurement.
    marked : bool
        Whether the last ray's tip was marked; else its direction is that of the rear edge.
    """
    name = LAST_RAY_TIPS.get(fin, "")
    first = edge_tip(shape.margin, shape.length, at_front=True)
    last = edge_tip(shape.margin, shape.length, at_front=False)
    if marked := bool(name) and reading.placed(name):
        last = shape.plane.from_px(reading.point(name)[None])[0]
    return fan_between(shape.margin[0], first, shape.margin[-1], last), marked
