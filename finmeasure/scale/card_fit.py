"""Fit one card that was sighted: measure its corners and map the photo to its plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.card_design import MARKER_CELLS, SquaresDesign, WindowDesign
from finmeasure.scale import corners
from finmeasure.scale.markers import Sighting
from finmeasure.scale.plane_fit import Frame, PlaneFit, fit_plane

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
LEAST_SHARE_REFINED = 0.5
ROOM_ROUND_MARKER = 0.5  # in cells of the marker, to the next black square or line
FEWEST_CORNERS = {"window": 12, "squares": 20}
SEEN_WHOLE = 0.75  # share of its corners or markers
RADIAL_MARKERS = 8
RADIAL_CORNERS = 16
RADIAL_SIDES = 3
GROW_MM = {"window": (np.inf, np.inf), "squares": (25.0, 50.0, 100.0, np.inf, np.inf)}


@dataclass(frozen=True, slots=True, eq=False)
class CardFit:
    """A card in a photo, fitted.

    Parameters
    ----------
    design : WindowDesign or SquaresDesign
        The card.
    fit : PlaneFit
        Mapping to millimetres of the card.
    points_mm : ndarray of shape (N, 2)
        Points of the card that the fit kept.
    by_markers : bool
        True where too few corners could be measured and the markers' own corners were used.
    with_radial : bool
        Whether the lens's radial term could be fitted.
    markers_px : ndarray of shape (4 M, 2)
        Corners of the markers in the photo; found without a prediction, they show a bent card.
    markers_mm : ndarray of shape (4 M, 2)
        The same corners on the card.
    """

    design: WindowDesign | SquaresDesign
    fit: PlaneFit
    points_mm: Array
    by_markers: bool
    with_radial: bool
    markers_px: Array
    markers_mm: Array

    @property
    def markers_seen(self) -> int:
        """Number of markers that were seen."""
        return len(self.markers_px) // 4

    @property
    def partly_hidden(self) -> bool:
        """Whether more than a quarter of what could be measured on the card was not."""
        if self.by_markers:
            return self.markers_seen < SEEN_WHOLE * len(self.design.marker_ids)
        return len(self.points_mm) < SEEN_WHOLE * len(self.design.corners_mm)

    def markers_off_px(self) -> float:
        """Distance from its place that four fifths of the markers' centres keep within."""
        seen = self.markers_px.reshape(-1, 4, 2).mean(axis=1)
        known = self.markers_mm.reshape(-1, 4, 2).mean(axis=1)
        away = np.hypot(*(self.fit.mapping().to_px(known) - seen).T)
        return float(np.quantile(away, 0.8))


def fit_card(gray: Gray, sighting: Sighting, frame: Frame) -> CardFit | None:
    """Measure corners and fit; None where even the markers do not fit a plane.

    The corners of a grid are measured outwards from the tags, each turn with a better fit, because
    lines look alike: a prediction must never be a whole square off.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo at full size.
    """
    markers = _marker_points(gray, sighting)
    best = _fit_markers(sighting, markers, frame)
    if best is None:
        return None
    found: dict[int, Array] = {}
    tried: set[int] = set()
    reaches = GROW_MM[sighting.design.kind]
    for turn, reach_mm in enumerate(reaches):
        if turn == len(reaches) - 1:
            tried.clear()
        near = _candidates(sighting, found, reach_mm, tried)
        tried.update(int(i) for i in near)
        found |= _measure(gray, sighting.design, best.fit, near)
        grown = _fit_corners(sighting, found, best.fit, frame)
        best = _fit_both(sighting, found, markers, best) if grown is None else grown
    return best


def sides_covered(design: WindowDesign | SquaresDesign, points_mm: Array) -> int:
    """Count the sides of the card near which points lie."""
    edge = design.pattern
    x = (points_mm[:, 0] - edge.left) / (edge.right - edge.left)
    y = (points_mm[:, 1] - edge.top) / (edge.bottom - edge.top)
    near = 0.25
    return sum(int(side.any()) for side in (x < near, x > 1 - near, y < near, y > 1 - near))


def _marker_points(gray: Gray, sighting: Sighting) -> tuple[Array, Array]:
    """Corners of the markers, refined at full size, in the photo and on the card."""
    seen, known = sighting.points()
    sides = np.hypot(*np.diff(seen.reshape(-1, 4, 2), axis=1).reshape(-1, 2).T)
    half = corners.half_window(ROOM_ROUND_MARKER * float(np.median(sides)) / MARKER_CELLS)
    keep = corners.inside(gray, seen, half + 1)
    refined, sharp = corners.refine(gray, seen[keep], half)
    if sharp.mean() < LEAST_SHARE_REFINED:
        sharp[:] = True  # too small to refine: rough corners still tell how small the card is
    return refined[sharp], known[keep][sharp]


def _fit_markers(sighting: Sighting, markers: tuple[Array, Array], frame: Frame) -> CardFit | None:
    """Fit the markers' corners alone."""
    with_radial = len(sighting.markers) >= RADIAL_MARKERS
    start = sighting.homography
    fit = fit_plane(*markers, frame, start=start, with_radial=with_radial)
    if fit is None:
        return None
    points = markers[1][fit.used]
    return CardFit(sighting.design, fit, points, True, with_radial, *sighting.points())


def _fit_both(
    sighting: Sighting, found: dict[int, Array], markers: tuple[Array, Array], so_far: CardFit
) -> CardFit:
    """Fit the markers' corners and the few corners measured so far together."""
    if not found:
        return so_far
    index = np.array(list(found))
    seen = np.concatenate([markers[0], np.array(list(found.values()))])
    known = np.concatenate([markers[1], sighting.design.corners_mm[index]])
    with_radial = so_far.with_radial or len(index) >= FEWEST_CORNERS[sighting.design.kind] // 2
    start = so_far.fit.parameters
    fit = fit_plane(seen, known, so_far.fit.frame, start=start, with_radial=with_radial)
    if fit is None:
        return so_far
    for number in index[~fit.used[len(markers[0]) :]]:
        del found[int(number)]
    points = known[fit.used]
    return CardFit(sighting.design, fit, points, True, with_radial, *sighting.points())


def _candidates(
    sighting: Sighting, found: dict[int, Array], reach_mm: float, tried: set[int]
) -> NDArray[np.intp]:
    """Corners to measure: not yet tried, near markers or corners already measured."""
    places = sighting.design.corners_mm
    missing = np.setdiff1d(np.arange(len(places)), [*found, *tried])
    known = np.concatenate([sighting.points()[1], places[list(found)]])
    away = np.min(np.hypot(*(places[missing, None] - known[None]).transpose(2, 0, 1)), axis=1)
    return np.asarray(missing[away <= reach_mm])


def _measure(
    gray: Gray, design: WindowDesign | SquaresDesign, fit: PlaneFit, index: NDArray[np.intp]
) -> dict[int, Array]:
    """Measure the corners asked for; hidden ones are left out."""
    if not len(index):
        return {}
    mapping = fit.mapping()
    places = mapping.to_px(design.corners_mm[index])
    per_mm = np.asarray(np.linalg.inv(mapping.mm_per_px_at(places)), float)
    scale = float(np.median(np.sqrt(np.abs(np.linalg.det(per_mm)))))
    half = corners.half_window(corners.clear_mm(design) * scale, corners.line_mm(design) * scale)
    keep = corners.inside(gray, places, half + 1)
    index, places, per_mm = index[keep], places[keep], per_mm[keep]
    if not len(index):
        return {}
    refined, good = corners.refine(gray, places, half)
    good &= corners.looks_right(gray, design, index, refined, per_mm)
    good &= np.hypot(*(refined - places).T) <= half
    return {int(i): point for i, point in zip(index[good], refined[good], strict=True)}


def _fit_corners(
    sighting: Sighting, found: dict[int, Array], start: PlaneFit, frame: Frame
) -> CardFit | None:
    """Fit the corners measured so far; forget those that do not fit."""
    design = sighting.design
    if len(found) < FEWEST_CORNERS[design.kind]:
        return None
    index = np.array(list(found))
    known = design.corners_mm[index]
    with_radial = len(index) >= RADIAL_CORNERS and sides_covered(design, known) >= RADIAL_SIDES
    fit = fit_plane(
        np.array(list(found.values())),
        known,
        frame,
        start=start.parameters,
        with_radial=with_radial,
    )
    if fit is None or fit.used.sum() < FEWEST_CORNERS[design.kind]:
        return None
    for number in index[~fit.used]:
        del found[int(number)]
    return CardFit(design, fit, known[fit.used], False, with_radial, *sighting.points())
