"""Read our printed number labels ("tags") in a photo."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.card_design import DIGIT_MARKERS
from finmeasure.scale.markers import Marker, find_markers, find_small_markers, sightings
from finmeasure.scale.plane_fit import Frame
from finmeasure.tag_design import marker_corners_mm, number_of

Gray = NDArray[np.uint8]
AGREE = 0.3  # of a marker's side: how far a corner may lie from where the first marker puts it


@dataclass(frozen=True, slots=True)
class TagsInPhoto:
    """Numbers of the tags in a photo, ascending, and whether one of our cards is there too."""

    numbers: tuple[int, ...]
    with_card: bool


def find_tags(gray: Gray) -> TagsInPhoto:
    """Read all tags of a photo.

    A tag counts where all four of its markers are seen, lie as they do on the tag, and the check
    digit is right.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The upright photo.
    """
    markers = find_markers(gray)
    numbers = _numbers(markers)
    frame = Frame.of_size(gray.shape[1], gray.shape[0])
    with_card = bool(sightings(markers, frame, None))
    if not numbers and with_card:  # a tag beside a large card may be too small for the first look
        numbers = _numbers(find_small_markers(gray))
    return TagsInPhoto(tuple(sorted(numbers)), with_card)


def _numbers(markers: list[Marker]) -> set[int]:
    """Numbers of the whole tags among the markers."""
    digits = [marker for marker in markers if marker.number in DIGIT_MARKERS]
    found = (_number_from(first, digits) for first in digits)
    return {number for number in found if number is not None}


def _number_from(first: Marker, digits: list[Marker]) -> int | None:
    """Read the tag whose hundreds a marker is; None where it is no such marker."""
    corners_mm = marker_corners_mm()
    matrix = cv2.getPerspectiveTransform(
        corners_mm[0].astype(np.float32), first.corners_px.astype(np.float32)
    )
    expected = cv2.perspectiveTransform(corners_mm.reshape(-1, 1, 2), matrix).reshape(4, 4, 2)
    side_px = float(np.hypot(*np.diff(first.corners_px, axis=0).T).mean())
    block = [first]
    for place in expected[1:]:
        near = [
            (float(away.max()), marker.number, marker)
            for marker in digits
            if (away := np.hypot(*(marker.corners_px - place).T)).max() < AGREE * side_px
        ]
        if not near:
            return None
        block.append(min(near, key=lambda one: one[:2])[2])
    return number_of(tuple(marker.number - DIGIT_MARKERS[0] for marker in block))
