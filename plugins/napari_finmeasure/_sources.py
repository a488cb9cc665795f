"""From what a person opens to a study and its photos."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from qtpy.QtCore import QLockFile

from finmeasure.batch.run import plan_for_study
from finmeasure.errors import StudyError
from finmeasure.marking.queue import QueuePhoto
from finmeasure.study.store import STUDY_FILE, Study

OWN_FOLDER = "finmeasure study"
LOCK_FILE = "window.lock"


def study_of(source: Path) -> Path | None:
    """Give the study's folder where a source is a study."""
    if source.name == STUDY_FILE and source.is_file():
        return source.parent
    return source if (source / STUDY_FILE).is_file() else None


def beside(source: Path) -> Path:
    """Give the folder for marks: beside the photos, or in the home folder if that is locked."""
    folder = source if source.is_dir() else source.parent
    own = folder / OWN_FOLDER
    if own.is_dir() or os.access(folder, os.W_OK):
        return own
    return Path.home() / OWN_FOLDER / folder.name


def opened(folder: Path) -> tuple[Study, str]:
    """Open a study for writing; only for reading where that cannot be."""
    try:
        return Study.open(folder, create=True), ""
    except StudyError as error:
        if not (folder / STUDY_FILE).is_file():
            raise
        with contextlib.suppress(StudyError):
            study = Study.open(folder, read_only=True)
            return study, f"This study can only be looked at: {error} Nothing will be saved."
        raise


def locked(folder: Path, read_only: str) -> tuple[QLockFile | None, str]:
    """Claim the study for this window; say where another window has it."""
    if read_only:
        return None, ""
    lock = QLockFile(str(folder / LOCK_FILE))
    lock.setStaleLockTime(0)
    if lock.tryLock(50):
        return lock, ""
    return None, (
        "This study is open in another window. Close it there to mark here; "
        "until then nothing is saved."
    )


def planned(study: Study, sources: Sequence[Path]) -> list[QueuePhoto]:
    """List the photos of files and folders under their names in the study."""
    plan = plan_for_study(study, sources)
    return [QueuePhoto(photo.name, photo.path) for photo in plan.photos]


def merged(study: Study, photos: Sequence[QueuePhoto]) -> list[QueuePhoto]:
    """Give photos with what the study knows of them; all of the study's where none are given."""
    known = {one.photo: one for one in study.standings()}
    if not photos:
        photos = [QueuePhoto(n, one.file) for n, one in known.items() if one.file is not None]
    return [
        photo
        if (one := known.get(photo.photo)) is None
        else replace(
            photo,
            state=one.state,
            reason=one.reason,
            group=one.group,
            taken_on=date.fromisoformat(one.taken_at[:10]) if one.taken_at else None,
            confidence=one.confidence,
        )
        for photo in photos
    ]


def stamp(file: Path) -> tuple[int, int]:
    """Size and time of a file; zeros where it is gone."""
    try:
        status = file.stat()
    except OSError:
        return 0, 0
    return status.st_size, status.st_mtime_ns
