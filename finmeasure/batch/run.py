"""Measure the photos of a plan into a study: skip what is as before, record the rest one by one."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from finmeasure.batch.cluster import measure_on_cluster
from finmeasure.batch.given import Given
from finmeasure.batch.plan import KnownPhoto, Plan, PlannedPhoto, plan_photos
from finmeasure.batch.runner import Limits, measure_all
from finmeasure.errors import PhotoError, StudyError
from finmeasure.photo.files import sha256_of
from finmeasure.report.overlay import CLOSE_UPS

if TYPE_CHECKING:
    from finmeasure.batch.measure_photo import PhotoTask
    from finmeasure.landmarks.placement import Placement
    from finmeasure.study.records import PhotoResult, RecordedPhoto
    from finmeasure.study.store import Study

OVERLAYS = "overlays"


class Progress(Protocol):
    """Something that is told how a run goes on."""

    def start(self, total: int) -> None:
        """Take note of the number of photos."""

    def skipped(self) -> None:
        """Take note of a photo that is as before."""

    def done(self, result: PhotoResult) -> None:
        """Take note of a photo that was recorded."""


@dataclass(slots=True)
class Summary:
    """What a run did, counted in photos.

    Parameters
    ----------
    measured, refused : int
        Of all photos of the plan, skipped ones included.
    skipped : int
        Photos that were as before.
    """

    measured: int = 0
    refused: int = 0
    skipped: int = 0

    def count(self, state: str) -> None:
        """Add one photo."""
        if state == "refused":
            self.refused += 1
        else:
            self.measured += 1


@dataclass(slots=True)
class _Run:
    """One run in progress."""

    study: Study
    given: Given
    known: dict[str, RecordedPhoto]
    progress: Progress
    run_id: uuid.UUID
    placement: Mapping[str, Placement] = field(default_factory=dict)
    summary: Summary = field(default_factory=Summary)

    def tasks(self, photos: Sequence[PlannedPhoto]) -> Iterator[PhotoTask]:
        """Give the photos to measure; count those that are as before."""
        for photo in photos:
            task = self.given.task(photo, self.study.folder / OVERLAYS)
            before = self.known.get(photo.name)
            if before is not None and _is_as_before(before, task):
                self.summary.skipped += 1
                self.summary.count(before.state)
                self.progress.skipped()
                continue
            yield replace(task, placement=self.placement)

    def record(self, result: PhotoResult) -> None:
        """Record one photo; a contradiction with what the study knows refuses only that photo."""
        _refuse_vanished(self.study.folder)
        try:
            self.study.record_photo_result(result, run_id=self.run_id)
        except StudyError as error:
            result = replace(result, state="refused", reason=str(error), fish=(), given_digest="")
            self.study.record_photo_result(result, run_id=self.run_id)
        self.summary.count(result.state)
        self.progress.done(result)


def _refuse_vanished(folder: Path) -> None:
    """Stop where the study's folder is gone: an open file would go on swallowing results."""
    from finmeasure.study.store import STUDY_FILE

    if not (folder / STUDY_FILE).is_file():
        message = (
            f"The study {folder} is no longer there: its folder was moved, deleted or unplugged "
            "during the run. Put it back and give the same command again."
        )
        raise StudyError(message)


def plan_for_study(study: Study, sources: Sequence[Path | str]) -> Plan:
    """List photos under the names that they have, or will have, in the study."""
    known = {
        name: KnownPhoto("" if photo.file is None else str(photo.file), photo.sha256)
        for name, photo in study.recorded_photos().items()
    }
    return plan_photos(sources, known=known)


def measure_into_study(
    study: Study,
    plan: Plan,
    given: Given,
    *,
    progress: Progress,
    jobs: int | None = None,
    limits: Limits | None = None,
    cluster: str | None = None,
) -> Summary:
    """Measure every photo of a plan that is not as before, and record each as it is done.

    Stopping at any moment loses at most the photos being measured; the same call goes on where
    it stopped.

    Parameters
    ----------
    study : Study
        Open for writing.
    plan : Plan
        The photos.
    given : Given
        Marks and options.
    progress : Progress
        Told of every photo.
    jobs : int, optional
        Photos at a time; one per processor core if None.
    limits : Limits, optional
        Time and memory of one photo.
    cluster : str, optional
        Address of a Dask scheduler, whose workers measure instead of processes of this computer.

    Returns
    -------
    Summary
        Counts.

    Raises
    ------
    StudyError
        If the study cannot be written to.
    """
    (study.folder / OVERLAYS / CLOSE_UPS).mkdir(parents=True, exist_ok=True)
    run_id = study.start_run(_options(given, jobs))
    run = _Run(study, given, study.recorded_photos(), progress, run_id, study.own_placement())
    progress.start(len(plan.photos))
    tasks = run.tasks(plan.photos)
    if cluster is None:
        results = measure_all(tasks, jobs=jobs, limits=limits)
    else:
        results = measure_on_cluster(tasks, cluster)
    for result in results:
        run.record(result)
    study.end_run(run_id)
    return run.summary


def _options(given: Given, jobs: int | None) -> dict[str, object]:
    """Options of a run as the study keeps them."""
    options = given.options
    pattern = options.name_pattern
    request = {name: value for name, value in asdict(options.scale_request).items() if value}
    return {
        "command": "measure",
        "question": options.question,
        "body_form": options.body_form,
        "group": options.group,
        "name_pattern": None if pattern is None else pattern.text,
        "scale": request,
        "jobs": jobs,
    }


def _is_as_before(before: RecordedPhoto, task: PhotoTask) -> bool:
    """Whether the checksum and everything given are as they were when the photo was recorded."""
    if before.state == "to_do" or before.given_digest != task.given_digest:
        return False
    if task.url:  # its stamp is in the digest
        return True
    try:
        return sha256_of(task.path) == before.sha256
    except PhotoError:
        return False
