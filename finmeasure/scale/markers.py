"""Find the markers of our cards in a photo."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure import card_design
from finmeasure.card_design import SquaresDesign, WindowDesign
from finmeasure.scale.plane_fit import Frame, start_homography

Gray = NDArray[np.uint8]
SEARCH_PX = 2048  # the longer side of the picture in which markers are looked for
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
    """Find all markers; looks in a reduced picture first, and at full size where that fails.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo.
    """
    longer = max(gray.shape)
    if longer <= SEARCH_PX * 1.25:
        return _detect(gray)
    factor = SEARCH_PX / longer
    small = cv2.resize(gray, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    back = np.array([gray.shape[1] / small.shape[1], gray.shape[0] / small.shape[0]])
    found = [
        Marker(marker.number, (marker.corners_px + 0.5) * back - 0.5) for marker in _detect(small)
    ]
    if len(found) >= FEWEST_MARKERS["window"]:
        return found
    return _detect(gray) or found


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


def _detect(gray: Gray) -> list[Marker]:
    """Run the detector once."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, card_design.DICTIONARY_NAME))
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(gray)
    if numbers is None:
        return []
    return [
        Marker(int(number), np.asarray(four, float).reshape(4, 2))
        for number, four in zip(numbers.ravel(), corners, strict=True)
    ]
