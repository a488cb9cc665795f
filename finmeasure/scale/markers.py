"""Find the markers of our cards in a photo."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure import card_design
from finmeasure.card_design import SquaresDesign, WindowDesign
from finmeasure.photo.halving import halved
from finmeasure.scale.plane_fit import Frame, start_homography

Gray = NDArray[np.uint8]
SEARCH_PX = (1024, 2048)  # longer sides of the reduced pictures in which markers are looked for
SMALLEST_MARKER_PX = 11.0  # smaller ones cannot be read
ENOUGH = 0.6  # of one card's markers: no need to look closer
AGREE = 0.02  # markers agree on one card within this share of its width: leaves room for the lens
FEWEST_MARKERS = {"window": 4, "squares": 2}


@dataclass(frozen=True, slots=True, eq=False)
class Marker:
    """One marker: its id and its corners in the photo, shape (4, 2), clockwise."""

    number: int
    corners_px: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """Markers in a photo that agree on one card.

    Parameters
    ----------
    design : WindowDesign or SquaresDesign
        The card.
    markers : tuple of Marker
        Its markers that were seen, each id once.
    homography : ndarray of shape (3, 3)
        First mapping from unit pixels to mm of the card.
    """

    design: WindowDesign | SquaresDesign
    markers: tuple[Marker, ...]
    homography: NDArray[np.float64]

    def points(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Give the marker corners in the photo and on the card, shape (4 M, 2) each."""
        place = {number: index for index, number in enumerate(self.design.marker_ids)}
        corners = self.design.marker_corners_mm
        seen = np.concatenate([marker.corners_px for marker in self.markers])
        known = np.concatenate([corners[place[marker.number]] for marker in self.markers])
        return seen, known


def find_markers(gray: Gray) -> list[Marker]:
    """Find all markers; looks in reduced pictures first, which is fast and less noisy.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo.
    """
    coarse, fine = (max(1, round(max(gray.shape) / side_px)) for side_px in SEARCH_PX)
    found = _detect_reduced(gray, coarse, windows_px=(13, 13))
    if _enough(found):
        return found
    found = max(found, _detect_reduced(gray, fine), key=len)
    if fine == 1 or _enough(found):
        return found
    # Full size is slow, and finds more only where markers are small: look where there is a sign.
    return max(found, _detect(gray), key=len) if found else found


def find_small_markers(gray: Gray) -> list[Marker]:
    """Find markers that the first, most reduced look cannot read."""
    return _detect_reduced(gray, max(1, round(max(gray.shape) / SEARCH_PX[1])))


def sightings(markers: list[Marker], frame: Frame, kind: str | None) -> list[Sighting]:
    """Group markers into cards; one card lying twice in the photo gives two sightings.

    Parameters
    ----------
    kind : {"window", "squares"}, optional
        Only cards of this kind.
    """
    found = []
    for design in card_design.DESIGNS:
        if kind not in (None, design.kind):
            continue
        rest = [marker for marker in markers if marker.number in design.marker_ids]
        while (sighting := _largest(design, rest, frame)) is not None:
            found.append(sighting)
            taken = {id(marker) for marker in sighting.markers}
            rest = [marker for marker in rest if id(marker) not in taken]
    return found


def _largest(
    design: WindowDesign | SquaresDesign, markers: list[Marker], frame: Frame
) -> Sighting | None:
    """Find the largest set of markers that lie as they do on one card."""
    if len(markers) < FEWEST_MARKERS[design.kind]:
        return None
    trial = Sighting(design, tuple(markers), np.eye(3))
    seen, known = trial.points()
    start = start_homography(seen, known, frame, AGREE * design.size_mm[0])
    if start is None:
        return None
    whole = [bool(four.all()) for four in start[1].reshape(-1, 4)]
    agreeing = {marker.number: marker for marker, ok in zip(markers, whole, strict=True) if ok}
    if len(agreeing) < FEWEST_MARKERS[design.kind]:
        return None
    return Sighting(design, tuple(agreeing.values()), start[0])


def _enough(found: list[Marker]) -> bool:
    """Tell whether most markers of one card were found."""
    numbers = {marker.number for marker in found}
    return any(
        len(numbers.intersection(design.marker_ids)) >= max(3, ENOUGH * len(design.marker_ids))
        for design in card_design.DESIGNS
    )


def _detect_reduced(gray: Gray, factor: int, **how: tuple[int, int]) -> list[Marker]:
    """Look in the picture reduced by a whole number, and map back."""
    if factor == 1:
        return _detect(gray, **how)
    return [
        Marker(marker.number, (marker.corners_px + 0.5) * factor - 0.5)
        for marker in _detect(_reduced(gray, factor), **how)
    ]


def _reduced(gray: Gray, factor: int) -> Gray:
    """Average squares of pixels; in halves where that is the same, because it is faster."""
    while factor % 2 == 0:
        gray, factor = halved(gray), factor // 2
    height, width = (side // factor * factor for side in gray.shape)
    size = (width // factor, height // factor)
    small = cv2.resize(gray[:height, :width], size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _detect(gray: Gray, *, windows_px: tuple[int, int] = (3, 23)) -> list[Marker]:
    """Run the detector once.

    Parameters
    ----------
    windows_px : tuple of int
        Smallest and largest neighbourhood for the local threshold, in steps of 10.
    """
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = windows_px
    parameters.minMarkerPerimeterRate = 4 * SMALLEST_MARKER_PX / max(gray.shape)
    corners, numbers, _ = cv2.aruco.ArucoDetector(_dictionary(), parameters).detectMarkers(gray)
    if numbers is None:
        return []
    return [
        Marker(int(number), np.asarray(four, float).reshape(4, 2))
        for number, four in zip(numbers.ravel(), corners, strict=True)
    ]


@cache
def _dictionary() -> cv2.aruco.Dictionary:
    """Give the markers that our cards use: fewer to compare with is faster and safer."""
    whole = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, card_design.DICTIONARY_NAME))
    used = whole.bytesList[: card_design.NEXT_FREE_MARKER]
    return cv2.aruco.Dictionary(used, whole.markerSize, whole.maxCorrectionBits)
