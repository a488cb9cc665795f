"""Measure one photo: file → scale → given marks → measures → overlay. Knows nothing of pools."""

from __future__ import annotations

import copyreg
import logging
import os
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from datetime import time as day_time
from pathlib import Path
from types import MappingProxyType

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.measurements.measure import Measures, measure_reading
from finmeasure.photo.metadata import sha256_of
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.reading import Reading
from finmeasure.report.overlay import OverlayFish, draw_overlay
from finmeasure.scale.calibration import Scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest
from finmeasure.study.records import FishResult, PhotoResult

NEEDS_LANDMARKS = (
    "needs landmarks: none are given for this photo. "
    "Mark the fish with `finmeasure open`, or give a table with --landmarks."
)
NOTHING_MEASURED = (
    "No measure can be formed from the landmarks given. Give at least the two ends of one length, "
    "for example snout_tip and caudal_base."
)

_log = logging.getLogger(__name__)


def _plain_mapping(mapping: MappingProxyType[object, object]) -> tuple[type, tuple[object, ...]]:
    return MappingProxyType, (dict(mapping),)


# Records hold read-only mappings, which Python cannot send to another process by itself
copyreg.pickle(MappingProxyType, _plain_mapping)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, eq=False)
class PhotoTask:
    """One photo and everything that is given for it.

    Parameters
    ----------
    path : Path
        The file.
    photo : str
        Its name in the study.
    given_digest : str
        Digest of everything given, recorded with the result.
    readings : tuple of Reading
        Marks of each fish.
    unopenable : str
        Why the file must not even be opened.
    problem : str
        Why the photo must be refused without measuring, for example a wrong row of its marks.
    scale_request : ScaleRequest
        How to find the scale.
    question : str
        ``size``, ``sex``, ``fin:<name>`` or ``full``.
    group : str
        Group of the fish, or empty.
    taken_on : datetime.date, optional
        Date from the photo's name; it wins over the camera's.
    overlay : Path, optional
        Where to write the overlay.
    """

    path: Path
    photo: str
    given_digest: str = ""
    readings: tuple[Reading, ...] = ()
    unopenable: str = ""
    problem: str = ""
    scale_request: ScaleRequest = field(default_factory=ScaleRequest)
    question: str = "full"
    group: str = ""
    taken_on: date | None = None
    overlay: Path | None = None


class _OverlayError(FinmeasureError):
    """The overlay cannot be written."""


def measure_photo(task: PhotoTask) -> PhotoResult:
    """Measure one photo; whatever is wrong with it becomes a refusal, never an exception.

    Parameters
    ----------
    task : PhotoTask
        The photo and what is given for it.

    Returns
    -------
    PhotoResult
        Ready to be recorded in a study. Its `given_digest` is empty where trying again may help.
    """
    start = time.perf_counter()
    try:
        result = _measured(task)
    except _OverlayError as error:
        result = refused(task, str(error), "Make room and run again.", again=True)
    except FinmeasureError as error:
        result = refused(task, str(error))
    except MemoryError:
        result = refused(task, "Not enough memory for this photo.", "Make it smaller.", again=True)
    except OSError as error:
        reason = f"The file cannot be read: {error.strerror or error}."
        result = refused(task, reason, "Check that it is still there and try again.", again=True)
    except Exception as error:  # one photo's trouble must not stop the others
        _log.debug("measuring %r failed", task.photo, exc_info=True)
        result = refused(task, f"The program failed on this photo ({_named(error)}).", again=True)
    return replace(result, seconds=time.perf_counter() - start)


def refused(task: PhotoTask, reason: str, remedy: str = "", *, again: bool = False) -> PhotoResult:
    """Give the result of a photo that is refused.

    Parameters
    ----------
    task : PhotoTask
        The photo.
    reason, remedy : str
        What was seen and what to do.
    again : bool
        True where the next run should try the photo again though nothing given has changed.
    """
    return PhotoResult(
        photo=task.photo,
        sha256="" if task.unopenable else _checksum(task.path),
        state="refused",
        given_digest="" if again else task.given_digest,
        reason=f"{reason} {remedy}".strip(),
        file=task.path,
    )


def _measured(task: PhotoTask) -> PhotoResult:
    """Read and measure the photo."""
    if task.unopenable:
        return refused(task, task.unopenable, again=True)
    photo = read_photo(task.path)
    metadata, flags = _dated(photo.metadata, task.taken_on)
    scale = find_scale(photo, task.scale_request, fish_region_px=_region(task.readings))
    fish = [] if task.problem else _measure_fish(task, photo, scale or None)
    reason = _refusal(task, [measures for _, measures in fish])
    _write_overlay(task, photo, scale or None, fish, reason)
    day = task.taken_on or (metadata.taken_at.date() if metadata.taken_at else None)
    return PhotoResult(
        photo=task.photo,
        sha256=photo.sha256,
        state="refused" if reason else "measured",
        given_digest=task.given_digest,
        metadata=metadata,
        reason=reason,
        scale=scale or None,
        scale_reason=str(scale) if isinstance(scale, NotFound) else "",
        fish=tuple(
            FishResult(reading, measures.rows, measures.side, visit=day, group=task.group)
            for reading, measures in fish
        ),
        file=task.path,
        flags=flags,
    )


def _dated(metadata: PhotoMetadata, taken_on: date | None) -> tuple[PhotoMetadata, tuple[str, ...]]:
    """Let a date from the name win over the camera's, and say so."""
    if taken_on is None:
        return metadata, ()
    camera = metadata.taken_at
    hour = camera.time() if camera is not None and camera.date() == taken_on else day_time()
    return replace(metadata, taken_at=datetime.combine(taken_on, hour)), ("date_from_name",)


def _measure_fish(
    task: PhotoTask, photo: Photo, scale: Scale | None
) -> list[tuple[Reading, Measures]]:
    """Measure every fish that is marked."""
    gray = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    size_px = (photo.metadata.width_px, photo.metadata.height_px)
    return [
        (
            reading,
            measure_reading(reading, scale, gray=gray, size_px=size_px, question=task.question),
        )
        for reading in task.readings
    ]


def _refusal(task: PhotoTask, measures: Sequence[Measures]) -> str:
    """Say why the photo is refused; empty if at least one fish gave one measure."""
    if task.problem:
        return task.problem
    if not task.readings:
        return NEEDS_LANDMARKS
    if any(row.state == "measured" for one in measures for row in one.rows):
        return ""
    told = [row.reason for one in measures for row in one.rows if row.reason]
    return told[0] if told else NOTHING_MEASURED


def _region(readings: Sequence[Reading]) -> NDArray[np.float64] | None:
    """All marks of all fish, (N, 2) pixels, so that the scale can tell whether it covers them."""
    marks = [
        np.array([mark.point for mark in reading.landmarks.values() if mark.state == "placed"])
        for reading in readings
    ]
    lines = [line.points_px for reading in readings for line in reading.outlines.values()]
    points = [part for part in (*marks, *lines) if len(part)]
    return np.vstack(points) if points else None


def _write_overlay(
    task: PhotoTask,
    photo: Photo,
    scale: Scale | None,
    fish: Sequence[tuple[Reading, Measures]],
    refusal: str,
) -> None:
    """Write the overlay as a whole file or not at all."""
    if task.overlay is None:
        return
    drawn = [OverlayFish(reading, measures.fins) for reading, measures in fish]
    picture = draw_overlay(photo.pixels, scale=scale, fish=drawn, refusal=refusal)
    try:
        write_whole(task.overlay, picture)
    except OSError as error:
        message = f"The picture of this photo cannot be written: {error.strerror}."
        raise _OverlayError(message) from error


def write_whole(file: Path, content: bytes) -> None:
    """Write a file so that it is never seen half-written.

    Parameters
    ----------
    file : Path
        An old file of this name is replaced.
    content : bytes
        The content.

    Raises
    ------
    OSError
        If the folder cannot be written to; no part is left behind.
    """
    part = file.with_name(f".{file.name[:80]}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, file)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def _checksum(path: Path) -> str:
    """Checksum of a file that was refused; empty where it cannot be read."""
    try:
        return sha256_of(path)
    except (OSError, FinmeasureError):
        return ""


def _named(error: Exception) -> str:
    """Name an unexpected error in one line."""
    return " ".join(f"{type(error).__name__}: {error}".split())[:200]
