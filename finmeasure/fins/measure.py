"""All figures of one fin's edge from its outline: the door of this package."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import DefinitionError, NotFound
from finmeasure.fins.edge import LEAST_VISIBLE, edge_sight
from finmeasure.fins.figures import ALL_MEASURES, KnownFin, edge_of, refused
from finmeasure.fins.marks import base_u_px, standard_length
from finmeasure.fins.natural import is_at_margin, looks_forked, snapped
from finmeasure.fins.outline import Margin, margin_of
from finmeasure.fins.plane import Plane
from finmeasure.fins.posture import is_bent
from finmeasure.fins.records import BASE_POINTS, MEDIAN_FINS, NATURAL_NOTCHES, FinEdge, in_words
from finmeasure.fins.shape import FinShape, fin_shape
from finmeasure.fins.uncertainty import boundary_u_px
from finmeasure.landmarks.scheme import body_form
from finmeasure.quantity import Measure
from finmeasure.reading import Outline, Reading
from finmeasure.scale.calibration import Scale

Points = NDArray[np.float64]
Gray = NDArray[np.uint8]

#: Traced points farther apart than this share of the fin's length miss small notches.
COARSE_STEP = 0.05
#: A line followed in the photo has a point at least this often.
FOLLOWED_STEP_PX = 2.0
#: Edge figures are weak with fewer pixels along the fin.
WEAK_BELOW_PX = 150.0
#: A reference may be so many times as long as the fin that is left, or the other way round.
MOST_STRETCH = 4.0


def measure_fin(
    fin: str,
    outline: Outline | None,
    reading: Reading,
    scale: Scale | None,
    *,
    gray: Gray | None = None,
    size_px: tuple[int, int] | None = None,
    reference_length_mm: float | None = None,
) -> FinEdge:
    """Measure one median fin's edge.

    Parameters
    ----------
    fin : str
        ``dorsal``, ``second_dorsal``, ``caudal`` or ``anal``.
    outline : Outline, optional
        Traced edge; None where the fin was not traced.
    reading : Reading
        Landmarks of the same fish.
    scale : Scale, optional
        Without it the area is refused; percentages and ratios are measured in pixels.
    gray : ndarray of shape (H, W), uint8, optional
        Photo at full size; blur and contrast of the edge are taken from it.
    size_px : tuple of int, optional
        Width and height of the photo, where `gray` is not given.
    reference_length_mm : float, optional
        Length of the same fin in the record that a series is compared with, so that limits do
        not shrink with the fin. Default: this fin's own length.

    Returns
    -------
    FinEdge
        Measures ``<fin>_area`` (mm²), ``<fin>_notch_area`` (% of the whole fin),
        ``<fin>_notch_depth`` (% of the fin's length), ``<fin>_notch_count``,
        ``<fin>_split_count``, ``<fin>_relative_length`` (fin length / standard length).

    Raises
    ------
    DefinitionError
        If `fin` is not a median fin, or the reference length is not that of such a fin.
    """
    if fin not in MEDIAN_FINS:
        message = f"Fin {fin!r} has no edge figures. Allowed: {', '.join(MEDIAN_FINS)}."
        raise DefinitionError(message)
    if outline is None:
        return _without_outline(fin, reading)
    if outline.spread != "spread":
        reason = (
            f"The {in_words(fin)} fin is not spread. Photograph it again when the fish spreads it."
        )
        return FinEdge(fin, refused(fin, ALL_MEASURES, {"folded"}, reason))
    if gray is not None:
        size_px = gray.shape[1], gray.shape[0]
    margin = margin_of(fin, outline, reading, size_px)
    if isinstance(margin, NotFound):
        return FinEdge(fin, refused(fin, ALL_MEASURES, {"outline_invalid"}, str(margin)))
    plane = Plane(scale, margin.points_px.mean(axis=0))
    shape = fin_shape(margin, plane, reference_length_mm if scale else None)
    if not shape.length / MOST_STRETCH <= shape.share <= MOST_STRETCH * shape.length:
        message = (
            f"Reference length {shape.share:.3g} mm given for a fin of {shape.length:.3g} mm; "
            f"between a quarter and {MOST_STRETCH:.0f} times of it is allowed. Compare like fins."
        )
        raise DefinitionError(message)
    sight = None if gray is None else edge_sight(gray, margin.points_px)
    visible = sight is None or sight.visible >= LEAST_VISIBLE
    blur_px = None if sight is None else sight.blur_px
    natural = _natural_notches(fin, shape, reading)
    known = KnownFin(
        name=fin,
        shape=shape,
        scale=scale,
        natural=natural,
        followed=margin.step_px <= FOLLOWED_STEP_PX,
        standard_length=standard_length(reading, plane),
        flags=frozenset(_flags(fin, shape, reading, margin))
        | (frozenset() if visible else {"edge_not_visible"}),
        u_click=base_u_px(reading, BASE_POINTS[fin]) * shape.unit_per_px,
        u_boundary=boundary_u_px(blur_px, margin.step_px) * shape.unit_per_px,
        blur_px=blur_px,
    )
    return edge_of(known, reading)


def _without_outline(fin: str, reading: Reading) -> FinEdge:
    """Tell a fin that the fish has not got from one that was not traced."""
    absent = reading.state_of(BASE_POINTS[fin][0]) == "absent"
    reason = "" if absent else f"The {in_words(fin)} fin was not traced."
    measures = tuple(
        Measure(f"{fin}_{name}", unit, "absent" if absent else "hidden", reason=reason)
        for name, unit in ALL_MEASURES
    )
    return FinEdge(fin, measures)


def _natural_notches(fin: str, shape: FinShape, reading: Reading) -> Points:
    """Give the marked fork point or dip, moved to the margin; shape (J, 2) in the plane."""
    name = NATURAL_NOTCHES.get(fin, "")
    if not name or not reading.placed(name):
        return np.empty((0, 2))
    place = snapped(shape.margin, _in_plane(name, shape, reading), shape.share)
    return np.empty((0, 2)) if place is None else place[None]


def _in_plane(name: str, shape: FinShape, reading: Reading) -> Points:
    """Bring a placed landmark to the plane of measurement, shape (2,)."""
    return np.asarray(shape.plane.from_px(reading.point(name)[None])[0])


def _flags(fin: str, shape: FinShape, reading: Reading, margin: Margin) -> set[str]:
    """Find the flags that follow from the marks alone."""
    coarse = margin.step_px > COARSE_STEP * shape.length_px
    told = {
        "low_resolution": shape.length_px < WEAK_BELOW_PX or coarse,
        "free_tips": fin in body_form(reading.body_form).free_tips,
        "fork_not_marked": fin == "caudal" and _fork_is_open(shape, reading),
        "bent": is_bent(reading),
    }
    return {flag for flag, holds in told.items() if holds}


def _fork_is_open(shape: FinShape, reading: Reading) -> bool:
    """Whether a tail looks forked and nobody marked its fork point, or marked it elsewhere."""
    state = reading.state_of("caudal_fork")
    if state == "placed":
        marked = _in_plane("caudal_fork", shape, reading)
        if is_at_margin(shape.margin, marked, shape.share):
            return False
    return state != "absent" and looks_forked(shape.margin, shape.share)
