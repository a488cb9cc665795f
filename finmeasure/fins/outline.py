"""From a traced outline to a fin's margin, front to rear; what cannot be used is refused."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.fins.records import BASE_POINTS, in_words
from finmeasure.geometry import along_axis, distance, signed_offset
from finmeasure.reading import Outline, Reading

Points = NDArray[np.float64]

FEWEST_POINTS = 6
#: How far a base point may lie from the traced line, as a share of the outline's longest side.
BASE_POINT_REACH = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Margin:
    """A fin's margin, from its front to its rear base point (caudal: upper to lower).

    Parameters
    ----------
    points_px : ndarray of shape (N, 2), pixels (x, y)
        The first and last point are the fin's base points.
    step_px : float
        Median distance of the traced points.
    """

    points_px: Points
    step_px: float

    @property
    def base_px(self) -> Points:
        """Front and rear base point, shape (2, 2)."""
        return self.points_px[[0, -1]]

    @property
    def base_middle_px(self) -> Points:
        """Middle of the base, shape (2,)."""
        return np.asarray(self.base_px.mean(axis=0))


def margin_of(
    fin: str, outline: Outline, reading: Reading, size_px: tuple[int, int] | None = None
) -> Margin | NotFound:
    """Cut, orient and check a fin's outline.

    Parameters
    ----------
    fin : str
        One of the median fins.
    outline : Outline
        An open line, or a closed ring that is cut at the base points.
    reading : Reading
        Gives the base points and the body axis.
    size_px : tuple of int, optional
        Width and height of the photo.

    Returns
    -------
    Margin or NotFound
        NotFound gives the reason in one line.
    """
    points = _without_repeats(np.asarray(outline.points_px, float))
    # NotFound is false in a truth test, hence the comparisons with None.
    if (problem := _problem_of_line(fin, outline, points, size_px)) is not None:
        return problem
    ends = _base_points(fin, reading)
    if outline.closed:
        if ends is None:
            return NotFound(
                f"The {in_words(fin)} outline is closed and cannot be cut.",
                f"Mark {' and '.join(BASE_POINTS[fin])}.",
            )
        cut = cut_ring(points, ends)
    else:
        cut = _oriented(points, ends, reading)
    if ends is not None and (problem := _problem_of_ends(fin, cut, ends)) is not None:
        return problem
    margin = Margin(cut, float(np.median(np.hypot(*np.diff(cut, axis=0).T))))
    problem = _problem_of_side(fin, margin, reading)
    return margin if problem is None else problem


def _without_repeats(points: Points) -> Points:
    """Drop points that repeat the one before, and a last point that repeats the first."""
    if len(points) < 2:
        return points
    kept = points[np.r_[True, np.any(np.diff(points, axis=0) != 0, axis=1)]]
    return kept[:-1] if len(kept) > 2 and np.array_equal(kept[0], kept[-1]) else kept


def _problem_of_line(
    fin: str, outline: Outline, points: Points, size_px: tuple[int, int] | None
) -> NotFound | None:
    """Check what does not need the landmarks."""
    if outline.part != fin:
        return NotFound(
            f"The outline is named {outline.part!r}, {fin!r} is to be measured.",
            "Correct the part's name.",
        )
    if len(points) < FEWEST_POINTS:
        return NotFound(
            f"The {in_words(fin)} outline has {len(points)} points, "
            f"at least {FEWEST_POINTS} are needed.",
            "Trace the edge with a point every twentieth of the fin's length.",
        )
    if not np.isfinite(points).all():
        return NotFound(
            f"The {in_words(fin)} outline holds a point without a number.", "Trace it again."
        )
    if size_px is not None and (outside := _outside(points, size_px)) is not None:
        x, y = outside
        return NotFound(
            f"The {in_words(fin)} outline reaches ({x:.0f}, {y:.0f}), outside the photo of "
            f"{size_px[0]} × {size_px[1]} pixels.",
            "Check which photo the outline belongs to.",
        )
    ring = points if not outline.closed else np.vstack([points, points[:1]])
    if not shapely.LineString(ring).is_simple:
        return NotFound(
            f"The {in_words(fin)} outline crosses itself.", "Trace the edge again, in one sweep."
        )
    return None


def _outside(points: Points, size_px: tuple[int, int]) -> Points | None:
    """First point beyond the photo's pixels."""
    wrong = np.any((points < -1.0) | (points > np.asarray(size_px, float)), axis=1)
    return points[int(np.argmax(wrong))] if wrong.any() else None


def _base_points(fin: str, reading: Reading) -> Points | None:
    """Front and rear base point where both are marked."""
    names = BASE_POINTS[fin]
    if not reading.placed(*names):
        return None
    return np.stack([reading.point(name) for name in names])


def cut_ring(ring: Points, ends: Points) -> Points:
    """Cut a ring at the places nearest to two base points; keep the arc away from the base.

    Parameters
    ----------
    ring : ndarray of shape (N, 2)
        The first point is not repeated.
    ends : ndarray of shape (2, 2)
        Front and rear base point.

    Returns
    -------
    ndarray of shape (M, 2)
        Open line from front to rear.
    """
    line = shapely.LinearRing(ring)
    places = [line.project(shapely.Point(end)) for end in ends]
    travelled = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    arcs = [
        _arc(ring, travelled, line, (places[0], places[1])),
        _arc(ring, travelled, line, (places[1], places[0]))[::-1],
    ]
    return max(arcs, key=_farthest_from_base)


def _arc(
    ring: Points, travelled: NDArray[np.float64], line: shapely.LinearRing, cut: tuple[float, float]
) -> Points:
    """Part of a ring from one place along it to another, in the ring's direction."""
    start, stop = cut
    tie = 1e-9
    stop_on = stop if stop > start else stop + line.length
    places = np.concatenate([travelled, travelled + line.length])
    inner = np.vstack([ring, ring])[(places > start + tie) & (places < stop_on - tie)]
    first, last = (np.array(line.interpolate(place).coords[0]) for place in (start, stop))
    return np.vstack([first, inner, last])


def _farthest_from_base(arc: Points) -> float:
    """Greatest distance of an arc from the straight line between its ends."""
    base, away = arc[-1] - arc[0], arc - arc[0]
    share = np.clip(away @ base / max(float(base @ base), 1e-12), 0.0, 1.0)
    return float(np.hypot(*(away - share[:, None] * base).T).max())


def _oriented(points: Points, ends: Points | None, reading: Reading) -> Points:
    """Turn an open margin so that it runs from front to rear."""
    if ends is not None:
        as_is = distance(points[0], ends[0]) + distance(points[-1], ends[1])
        turned = distance(points[-1], ends[0]) + distance(points[0], ends[1])
        return points if as_is <= turned else points[::-1]
    if not reading.placed("snout_tip"):
        return points
    snout = reading.point("snout_tip")
    return points if distance(points[0], snout) <= distance(points[-1], snout) else points[::-1]


def _problem_of_ends(fin: str, margin: Points, ends: Points) -> NotFound | None:
    """Check that the margin's ends lie at the base points."""
    allowed = BASE_POINT_REACH * float(np.ptp(margin, axis=0).max())
    for name, end, traced in zip(BASE_POINTS[fin], ends, margin[[0, -1]], strict=True):
        if (away := distance(end, traced)) > allowed:
            return NotFound(
                f"The {in_words(fin)} outline passes {away:.0f} px from {name}; "
                f"{allowed:.0f} px are allowed.",
                "Start and end the outline at the base points, or move these.",
            )
    if distance(margin[0], margin[-1]) < 1.0:
        return NotFound(
            f"Both base points of the {in_words(fin)} outline are the same.", "Move one of them."
        )
    return None


def _problem_of_side(fin: str, margin: Margin, reading: Reading) -> NotFound | None:
    """Check that the fin stands away from the body."""
    if not reading.placed("snout_tip", "caudal_base"):
        return None
    axis = reading.point("snout_tip"), reading.point("caudal_base")
    base, centre = margin.base_middle_px, margin.points_px.mean(axis=0)
    if fin == "caudal":
        wrong = along_axis(centre, *axis) < along_axis(base, *axis)
    else:
        side = signed_offset(base, *axis)
        wrong = (signed_offset(centre, *axis) - side) * np.sign(side) < 0
    if not wrong:
        return None
    return NotFound(
        f"The {in_words(fin)} outline lies on the body's side of its base points.",
        "Trace the free edge of the fin, not its base.",
    )
