"""Measure one photo: file → scale → given marks → measures → overlay. Knows nothing of pools."""

from __future__ import annotations

import copyreg
import logging
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from datetime import time as day_time
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from finmeasure.batch.pictures import PictureError, write_pictures
from finmeasure.errors import FinmeasureError, NotFound, PhotoError
from finmeasure.landmarks.placement import Placement, with_placement
from finmeasure.measurements.measure import measure_reading
from finmeasure.measurements.records import Measures
from finmeasure.photo.files import sha256_of
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.photo.remote import fetched
from finmeasure.proposals.group_prior import GroupPrior
from finmeasure.proposals.propose import propose
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.report.fish_drawing import OverlayFish
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
SMALLER = "Make it smaller, or allow more with --photo-memory-mb."

_log = logging.getLogger(__name__)


def _read_only(items: dict[object, object]) -> MappingProxyType[object, object]:
    return MappingProxyType(items)


# Records hold read-only mappings, which Python cannot send to another process by itself
copyreg.pickle(MappingProxyType, lambda mapping: (_read_only, (dict(mapping),)))


@dataclass(frozen=True, slots=True, eq=False)
class PhotoTask:
    """One photo and everything that is given for it.

    Parameters
    ----------
    path : Path
        The file.
    photo : str
        Its name in the study.
    url : str
        Where it is fetched, if it lies in a store; `path` then is no file.
    given_digest : str
        Digest of everything given, recorded with the result.
    readings : tuple of Reading
        Marks of each fish.
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
    overlays : Path, optional
        Folder of overlays; no pictures are written without it.
    proposing : bool
        Whether the program may mark the fish itself where nobody has.
    placement : mapping of str to Placement
        How exactly the study's people place landmarks, for marks that do not say it.
    body_form, fish : str
        Body form of proposed fish, and the name of the only fish; empty: ``plain`` and a number.
    prior : GroupPrior, optional
        What confirmed readings of the group taught.
    """

    path: Path
    photo: str
    given_digest: str = ""
    readings: tuple[Reading, ...] = ()
    problem: str = ""
    scale_request: ScaleRequest = field(default_factory=ScaleRequest)
    question: str = "full"
    group: str = ""
    taken_on: date | None = None
    overlays: Path | None = None
    proposing: bool = False
    placement: Mapping[str, Placement] = field(default_factory=dict)
    body_form: str = ""
    fish: str = ""
    prior: GroupPrior | None = None
    url: str = ""


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
        result = _fetched_and_measured(task) if task.url else _measured(task)
    except PictureError as error:
        result = refused(task, str(error), "Make room and run again.", again=True)
    except FinmeasureError as error:
        result = refused(task, str(error))
    except MemoryError:
        result = refused(task, "Not enough memory for this photo.", SMALLER, again=True)
    except Exception as error:  # one photo's trouble must not stop the others
        _log.debug("measuring %r failed", task.photo, exc_info=True)
        result = failed(task, error)
    return replace(result, seconds=time.perf_counter() - start)


def failed(task: PhotoTask, error: BaseException) -> PhotoResult:
    """Give the result of a photo on which the program itself failed; the next run tries again."""
    named = " ".join(f"{type(error).__name__}: {error}".split())[:200]
    reason = f"The program failed on this photo ({named})."
    return refused(task, reason, "Please report it; with --jobs 0 it can be followed.", again=True)


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
        sha256=_checksum(task.path),
        state="refused",
        given_digest="" if again else task.given_digest,
        reason=f"{reason} {remedy}".strip(),
        file=None if task.url else task.path,
    )


def _fetched_and_measured(task: PhotoTask) -> PhotoResult:
    """Measure a photo of a store; trouble with the store may be over at the next run."""
    try:
        with fetched(task.url) as path:
            return replace(measure_photo(replace(task, path=path, url="")), file=None)
    except PhotoError as error:
        return refused(task, str(error), again=True)


def _measured(task: PhotoTask) -> PhotoResult:
    """Read and measure the photo."""
    photo = read_photo(task.path)
    metadata, flags = _dated(photo.metadata, task.taken_on)
    gray = photo.gray()
    task, unseen = _with_proposals(task, photo, gray)
    region = _region(task.readings)
    found = find_scale(photo, task.scale_request, fish_region_px=region, gray=gray)
    scale = None if isinstance(found, NotFound) else found
    fish = [] if task.problem else _measure_fish(task, gray, scale)
    reason = unseen or _refusal(task, [measures for _, measures in fish])
    _write_pictures(task, photo, scale, fish, reason)
    day = task.taken_on or (metadata.taken_at.date() if metadata.taken_at else None)
    return PhotoResult(
        photo=task.photo,
        sha256=photo.sha256,
        state="refused" if reason else "measured",
        given_digest=task.given_digest,
        metadata=metadata,
        reason=reason,
        scale=scale,
        scale_reason=str(found) if isinstance(found, NotFound) else "",
        fish=tuple(
            FishResult(
                reading,
                measures.rows,
                measures.side,
                visit=day,
                group=task.group,
                source="program" if task.proposing else "file",
                confirmed=not task.proposing,  # a proposal waits for a person
            )
            for reading, measures in fish
        ),
        file=task.path,
        flags=flags,
    )


def _with_proposals(
    task: PhotoTask, photo: Photo, gray: NDArray[np.uint8]
) -> tuple[PhotoTask, str]:
    """Let the program mark the fish where nobody has; else say why it cannot."""
    if task.readings or task.problem or not task.proposing:
        return task, ""
    found = propose(photo, body_form=task.body_form or "plain", prior=task.prior, gray=gray)
    if isinstance(found, NotFound):
        return task, str(found)
    readings = [proposal.reading for proposal in found]
    if task.fish and len(readings) == 1:
        readings = [replace(readings[0], fish=task.fish)]
    return replace(task, readings=tuple(readings)), ""


def _dated(metadata: PhotoMetadata, taken_on: date | None) -> tuple[PhotoMetadata, tuple[str, ...]]:
    """Let a date from the name win over the camera's, and say so."""
    if taken_on is None:
        return metadata, ()
    camera = metadata.taken_at
    hour = camera.time() if camera is not None and camera.date() == taken_on else day_time()
    return replace(metadata, taken_at=datetime.combine(taken_on, hour)), ("date_from_name",)


def _measure_fish(
    task: PhotoTask, gray: NDArray[np.uint8], scale: Scale | None
) -> list[tuple[Reading, Measures]]:
    """Measure every fish that is marked."""
    size_px = (gray.shape[1], gray.shape[0])
    return [
        (
            reading,
            measure_reading(
                with_placement(reading, task.placement),
                scale,
                gray=gray,
                size_px=size_px,
                question=task.question,
            ),
        )
        for reading in task.readings
    ]


def _is_not_refused(row: Measure) -> bool:
    return row.state != "refused"


def _refusal(task: PhotoTask, measures: Sequence[Measures]) -> str:
    """Say why the photo is refused; empty if at least one fish gave one measure."""
    if task.problem:
        return task.problem
    if not task.readings:
        return NEEDS_LANDMARKS
    if any(row.state == "measured" for one in measures for row in one.rows):
        return ""
    # What is wrong with a mark helps more than that others were not set
    ranked = sorted((row for one in measures for row in one.rows), key=_is_not_refused)
    told = [row.reason for row in ranked if row.reason]
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


def _write_pictures(
    task: PhotoTask,
    photo: Photo,
    scale: Scale | None,
    fish: Sequence[tuple[Reading, Measures]],
    refusal: str,
) -> None:
    """Write overlay and close-ups, if they are wanted."""
    if task.overlays is not None:
        drawn = [OverlayFish(reading, measures.fins) for reading, measures in fish]
        write_pictures(
            task.overlays, task.photo, photo.pixels, scale=scale, fish=drawn, refusal=refusal
        )


def _checksum(path: Path) -> str:
    """Checksum of a file that was refused; empty where it cannot be read."""
    try:
        return sha256_of(path)
    except PhotoError:
        return ""
