"""Every fish of a study in one list: a small picture, what was measured, what is known of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import PhotoError
from finmeasure.photo.reading import read_photo
from finmeasure.quantity import Measure
from finmeasure.reading import Landmark
from finmeasure.report.condition_box import labels_by_fish, measures_by_fish

if TYPE_CHECKING:
    from finmeasure.study.store import Study

ROOM = 0.06  # of the fish's length, round what is marked
REDUCED = 4  # a step that JPEG decoders take in their stride
Pixels = NDArray[np.uint8]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class SheetFish:
    """One line of the contact sheet: a fish, or a photo on which none is marked yet.

    Parameters
    ----------
    photo, fish : str
        Photo, and the fish's name or number; no fish where none is marked.
    state : str
        How far it is, as in :class:`finmeasure.study.records.PhotoStanding`.
    reason : str
        Why the photo was refused.
    group : str
        Group, or empty.
    file : pathlib.Path, optional
        The photo, where it is known.
    box_px : tuple of float, optional
        Left, top, right, bottom of what is marked.
    measures : mapping of str to Measure
        By id.
    labels : mapping of str to str
        What a person said of it, by character.
    """

    photo: str
    fish: str
    state: str
    reason: str
    group: str
    file: Path | None
    box_px: Box | None
    measures: Mapping[str, Measure]
    labels: Mapping[str, str]

    def value(self, measure: str) -> float | None:
        """Value of a measure; None where it was not measured."""
        found = self.measures.get(measure)
        return found.value if found is not None and found.state == "measured" else None


def contact_sheet(study: Study) -> tuple[SheetFish, ...]:
    """Give all fish of a study by photo, and the photos that have none yet.

    Parameters
    ----------
    study : Study
        Open.
    """
    standings = {one.photo: one for one in study.standings()}
    labels, measures = labels_by_fish(study), measures_by_fish(study, set(standings))
    found = []
    for one in study.current_readings():
        fish, standing = one.reading.fish, standings.get(one.photo)
        found.append(
            SheetFish(
                photo=one.photo,
                fish=fish,
                state="confirmed" if one.confirmed else "proposal",
                reason="",
                group=one.group,
                file=standing.file if standing is not None else None,
                box_px=_box(np.array(_places(one.reading.landmarks), float)),
                measures=measures.get((one.photo, fish), {}),
                labels=labels.get((one.photo if fish.isdecimal() else "", fish), {}),
            )
        )
    marked = {one.photo for one in found}
    for name, standing in standings.items():
        if name not in marked:
            found.append(
                SheetFish(name, "", standing.state, standing.reason, standing.group,
                          standing.file, None, {}, {})
            )  # fmt: skip
    return tuple(sorted(found, key=lambda one: (one.photo, one.fish)))


def fish_picture(one: SheetFish, size_px: tuple[int, int]) -> Pixels:
    """Cut a fish out of its photo as a small picture.

    Parameters
    ----------
    one : SheetFish
        The fish; the whole photo is taken where nothing is marked.
    size_px : tuple of int
        Width and height that the picture fits into.

    Returns
    -------
    ndarray of shape (h, w, 3), uint8
        Empty, (0, 0, 3), where the photo cannot be read.
    """
    if one.file is None:
        return np.empty((0, 0, 3), np.uint8)
    try:
        pixels, shrunk = _read_fast(one.file)
    except (PhotoError, OSError):
        return np.empty((0, 0, 3), np.uint8)
    if one.box_px is not None:
        height, width = pixels.shape[:2]
        left, top, right, bottom = (value / shrunk for value in one.box_px)
        room = ROOM * max(right - left, bottom - top)
        rows = slice(max(int(top - room), 0), min(int(bottom + room) + 1, height))
        columns = slice(max(int(left - room), 0), min(int(right + room) + 1, width))
        pixels = pixels[rows, columns]
    factor = min(1.0, size_px[0] / pixels.shape[1], size_px[1] / pixels.shape[0])
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(small, np.uint8)


def _read_fast(file: Path) -> tuple[Pixels, int]:
    """Read a photo upright; a JPEG file at a quarter of its size, which takes a tenth of the time.

    Returns
    -------
    tuple of ndarray of shape (H, W, 3), uint8, RGB, and int
        Pixels, and how many times smaller than the photo they are.
    """
    if file.suffix.lower() in (".jpg", ".jpeg", ".jpe"):
        stored = np.fromfile(file, np.uint8)
        pixels = cv2.imdecode(stored, cv2.IMREAD_REDUCED_COLOR_4) if stored.size else None
        if pixels is not None:
            return np.ascontiguousarray(pixels[..., ::-1], np.uint8), REDUCED
    return read_photo(file).pixels, 1


def _places(landmarks: Mapping[str, Landmark]) -> list[tuple[float, float]]:
    """Give the points that are placed."""
    return [mark.point for mark in landmarks.values() if mark.state == "placed"]


def _box(points: NDArray[np.float64]) -> Box | None:
    """Give the box round points; None where there are fewer than two."""
    if len(points) < 2:
        return None
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return float(left), float(top), float(right), float(bottom)
