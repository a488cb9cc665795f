"""Judge photos as they come into a folder, and bring the good ones into a study."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from finmeasure.batch.arrivals import Arrivals
from finmeasure.batch.given import Given
from finmeasure.batch.measure_photo import measure_photo
from finmeasure.batch.plan import Plan, PlannedPhoto
from finmeasure.batch.priors import group_priors
from finmeasure.batch.run import measure_into_study, plan_for_study
from finmeasure.batch.verdict import Verdict, judge
from finmeasure.errors import PhotoError
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.proposals.propose import propose
from finmeasure.report.html import write_table_report
from finmeasure.study.records import PhotoResult
from finmeasure.study.store import Study


@dataclass(slots=True)
class Watch:
    """A folder, the study that its good photos go into, and what is given for them.

    Parameters
    ----------
    folder : Path
    study : Study
        Open for writing.
    given : Given
    arrivals : Arrivals
    there_before : int
        Photos in the folder when the watch began.
    """

    folder: Path
    study: Study
    given: Given
    arrivals: Arrivals
    there_before: int = 0

    def ready(self) -> list[Path]:
        """Give photos that have come in whole since the last call."""
        return self.arrivals.ready()

    def judged(self, path: Path) -> tuple[str, Verdict]:
        """Measure one photo without recording anything; give its name and the verdict."""
        photo = self._planned(path)
        if photo is None:
            return path.name, Verdict(False, "The photo is gone again.", "Take it again.")
        result = measure_photo(self.given.task(photo))
        wanted = not self.given.options.scale_request.through_curved
        return photo.name, judge(result, _gray(path, result), scale_wanted=wanted)

    def keep(self, path: Path) -> str:
        """Measure a photo into the study as `measure` does; say why that failed, or nothing."""
        photo = self._planned(path)
        plan = Plan(() if photo is None else (photo,))
        told = _Told()
        summary = measure_into_study(self.study, plan, self.given, progress=told, jobs=0)
        return "" if summary.measured else told.reason or "The photo is gone again."

    def write_out(self) -> None:
        """Write the tables and the report of the study."""
        self.study.export("csv")
        write_table_report(self.study, self.study.folder / "report.html")

    def _planned(self, path: Path) -> PlannedPhoto | None:
        """Give the photo under the name that it has, or will have, in the study."""
        plan = plan_for_study(self.study, [self.folder])
        return next((photo for photo in plan.photos if photo.path == path), None)


@contextmanager
def opened_watch(folder: Path, study_folder: Path, given: Given) -> Iterator[Watch]:
    """Open the study and get everything ready, so that the first photo does not wait.

    Parameters
    ----------
    folder : Path
        Where the photos come in.
    study_folder : Path
        Made where it is missing.
    given : Given
        Options of the run.

    Raises
    ------
    StudyError
        If the study cannot be used.
    """
    cv2.setNumThreads(1)
    propose(Photo(np.full((64, 64, 3), 128, np.uint8), "", PhotoMetadata(64, 64)))  # loads weights
    with Study.open(study_folder, create=True) as study:
        given = replace(given, priors=group_priors(study))
        given = given.with_calibration(study.print_checks(), study.lenses())
        arrivals = Arrivals(folder)
        yield Watch(folder, study, given, arrivals, arrivals.begin())


@dataclass(slots=True)
class _Told:
    """Keeps why a photo was refused."""

    reason: str = ""

    def start(self, total: int) -> None:
        """Take note of the number of photos."""

    def skipped(self) -> None:
        """Take note of a photo that is as before."""

    def done(self, result: PhotoResult) -> None:
        """Keep the reason of a refusal."""
        self.reason = result.reason


def _gray(path: Path, result: PhotoResult) -> np.ndarray | None:
    """Grey values of a photo in which fish were measured."""
    if not result.fish:
        return None
    try:
        return read_photo(path).gray()
    except PhotoError:
        return None
