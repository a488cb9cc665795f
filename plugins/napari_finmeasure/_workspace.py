"""A study on the bench: its photos, drafts and readings. No widgets here.

Preparing a photo may run in any thread; everything else is called from the window's own.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from qtpy.QtCore import QLockFile

from finmeasure.batch.run import plan_for_study
from finmeasure.errors import FinmeasureError, NotFound, StudyError
from finmeasure.marking.drafts import draft_from_dict, draft_to_dict
from finmeasure.marking.marks import Marks
from finmeasure.marking.prepare import PreparedPhoto, prepare_photo
from finmeasure.marking.queue import Queue, QueuePhoto
from finmeasure.marking.session import MarkingSession
from finmeasure.measurements.records import Measures
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale
from finmeasure.scale.request import ScaleRequest
from finmeasure.scale.storage import scale_from_json, scale_to_json
from finmeasure.study.records import Purpose
from finmeasure.study.store import STUDY_FILE, Study

OWN_FOLDER = "finmeasure study"
KIND_SETTING = "window.body_form"
LOCK_FILE = "window.lock"


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """A photo with the marks that are kept of it, and what went wrong with them."""

    prepared: PreparedPhoto
    session: MarkingSession
    scale: Scale | NotFound
    trouble: str = ""


class Workspace:
    """An open study with its queue.

    Parameters
    ----------
    study : Study
        Open.
    queue : Queue
        Its photos.
    person : str
        Who is marking.
    read_only : str
        Why nothing can be written; empty where all is well.
    """

    def __init__(
        self, study: Study, queue: Queue, *, person: str = "hand", read_only: str = ""
    ) -> None:
        self.study = study
        self.queue = queue
        self.person = person
        self.read_only = read_only
        self.question = "full"
        self.body_form = "plain"
        self.purpose: Purpose = "work"
        stated = study.setting(KIND_SETTING)
        self.kind_is_known = isinstance(stated, str)
        if isinstance(stated, str):
            self.body_form = stated
        self._lock: QLockFile | None = None
        self._recorded = set(study.recorded_photos())
        self._seen: dict[str, tuple[int, int]] = {}

    @classmethod
    def open(
        cls, sources: Sequence[Path], *, study_folder: Path | None = None, person: str = "hand"
    ) -> Workspace:
        """Open photos, a folder of photos or a study.

        Parameters
        ----------
        sources : sequence of pathlib.Path
            Photos and folders, or one study.
        study_folder : pathlib.Path, optional
            Where marks are kept. Default: the folder ``finmeasure study`` beside the photos.
        person : str
            Who is marking.

        Raises
        ------
        FinmeasureError
            If nothing can be opened.
        """
        if not sources:
            message = "Nothing was given to open. Choose photos, a folder or a study."
            raise FinmeasureError(message)
        known = _study_of(sources[0])
        folder = known or study_folder or _beside(sources[0])
        study, read_only = _opened(folder)
        lock, taken = _locked(folder, read_only)
        read_only = read_only or taken
        photos = [] if known is not None else _planned(study, sources)
        queue = Queue(_merged(study, photos))
        workspace = cls(study, queue, person=person, read_only=read_only)
        workspace._lock = lock
        return workspace

    def holds(self, sources: Sequence[Path]) -> bool:
        """Tell whether sources would be opened in this very study."""
        if not sources:
            return False
        folder = _study_of(sources[0]) or _beside(sources[0])
        return folder.resolve() == self.study.folder.resolve()

    def close(self) -> None:
        """Let go of the study."""
        self.study.close()
        if self._lock is not None:
            self._lock.unlock()

    def use_kind(self, form_id: str) -> None:
        """Let photos start with a kind of fish, from now on and when the study is opened again."""
        self.body_form, self.kind_is_known = form_id, True
        if not self.read_only:
            self.study.set_setting(KIND_SETTING, form_id)

    # -- photos -------------------------------------------------------------------------------

    def prepare(self, photo: str) -> PreparedPhoto:
        """Read a photo and find its scale; for any thread.

        Raises
        ------
        PhotoError
            If the file is gone or no photo.
        """
        request = ScaleRequest(print_checks=self.study.print_checks())
        return prepare_photo(self.queue[photo].file, request)

    def refuse(self, photo: str, reason: str) -> None:
        """Put a photo aside that cannot be opened."""
        self.queue.set_state(photo, "refused", reason)

    def fish_of(self, photo: str) -> tuple[str, ...]:
        """Give the fish on a photo that have marks: names, or numbers from left to right."""
        if photo not in self._recorded:
            return ("1",)
        known = [one.reading.fish for one in self.study.current_readings(photo)]
        known += list(self.study.drafts_of(photo, self.person))
        return tuple(dict.fromkeys(known)) or ("1",)

    def lay_out(self, photo: str, prepared: PreparedPhoto, fish: str | None = None) -> Place:
        """Give a photo with the marks that are kept of one fish, by default of the first."""
        self.queue.current = photo
        self.purpose = "work"
        self._seen[photo] = _stamp(prepared.file)
        trouble = self._take_in(photo, prepared)
        marks, scale = Marks(self._form_of(photo), self.question), prepared.scale
        try:
            fish = fish or self.fish_of(photo)[0]
            marks, scale = self._kept(photo, prepared, marks, fish)
        except FinmeasureError as error:
            trouble = str(error)
        return Place(prepared, self._begun(marks, prepared, fish or "1"), scale, trouble)

    def lay_out_again(self, photo: str, prepared: PreparedPhoto, fish: str) -> Place:
        """Give a fish without any marks, for a second marking that is blind to the first."""
        self.purpose = "repeat"
        first = self._newest_reading(photo, fish)
        form = first.body_form if first is not None else self._form_of(photo)
        marks = Marks(form, self.question)
        scale = self.study.scale_of(photo) or prepared.scale
        return Place(prepared, self._begun(marks, prepared, fish), scale)

    # -- marks --------------------------------------------------------------------------------

    def keep_draft(self, session: MarkingSession, scale: Scale | NotFound) -> bool:
        """Keep the present marks; True where the photo's state in the queue changed.

        Raises
        ------
        StudyError
            If the study cannot be written.
        """
        photo = self.queue.current
        if photo is None or self.read_only:
            return False
        untouched = not session.marks.landmarks and not session.marks.outlines
        if untouched and self.queue[photo].state != "begun":
            return False
        document = {
            "marks": draft_to_dict(session.marks),
            "scale": scale_to_json(scale) if isinstance(scale, Scale) else None,
        }
        self.study.save_draft(photo, session.fish, self.person, document, purpose=self.purpose)
        if self.purpose == "repeat" or self.queue[photo].state == "begun":
            return False
        self.queue.set_state(photo, "begun")
        return True

    def confirm(
        self, session: MarkingSession, scale: Scale | NotFound, measures: Measures, seconds: float
    ) -> str:
        """Make the marks a reading; give a sentence where the person should know something.

        Raises
        ------
        StudyError
            If the study cannot be written; the draft is kept.
        """
        photo = self.queue.current
        if photo is None:
            return ""
        if self.read_only:
            raise StudyError(self.read_only)
        if self.purpose == "work":
            reason = str(scale) if isinstance(scale, NotFound) else ""
            self.study.set_scale(photo, scale or None, reason=reason)
        self.study.confirm_reading(
            photo,
            session.reading(),
            measures=measures.rows,
            purpose=self.purpose,
            side=measures.side,
            group=self.queue[photo].group,
            visit=self.queue[photo].taken_on,
            seconds=seconds,
        )
        self.queue.set_state(photo, "confirmed")
        return self._changed_on_disk(photo)

    def _begun(self, marks: Marks, prepared: PreparedPhoto, fish: str) -> MarkingSession:
        """Begin a session with the marks given."""
        session = MarkingSession(marks, fish=fish, size_px=prepared.size_px, person=self.person)
        session.begin()
        return session

    # -- helpers ------------------------------------------------------------------------------

    def _take_in(self, photo: str, prepared: PreparedPhoto) -> str:
        """Note the photo's content in the study; give a sentence where that cannot be done."""
        taken = prepared.photo.metadata.taken_at
        entry = self.queue[photo]
        if entry.taken_on is None and taken is not None:
            self.queue.describe(photo, taken.date())
        if self.read_only:
            return self.read_only
        try:
            self.study.add_photo(
                photo,
                prepared.photo.sha256,
                metadata=prepared.photo.metadata,
                file=prepared.file,
            )
        except StudyError as error:
            return str(error)
        self._recorded.add(photo)
        return ""

    def _kept(
        self, photo: str, prepared: PreparedPhoto, fresh: Marks, fish: str
    ) -> tuple[Marks, Scale | NotFound]:
        """Give the draft of a photo, else its newest reading, else nothing."""
        if photo not in self._recorded:
            return fresh, prepared.scale
        draft = self.study.load_draft(photo, fish, self.person)
        if draft is not None:
            stored = draft["scale"]
            scale = scale_from_json(stored) if stored is not None else prepared.scale
            return draft_from_dict(draft["marks"]), scale
        reading = self._newest_reading(photo, fish)
        if reading is None:
            return fresh, prepared.scale
        marks = replace(
            fresh,
            body_form=reading.body_form,
            landmarks=dict(reading.landmarks),
            outlines=dict(reading.outlines),
        )
        return marks, self.study.scale_of(photo) or prepared.scale

    def _newest_reading(self, photo: str, fish: str) -> Reading | None:
        """Give the reading of a fish that counts now; None where there is none."""
        stored = self.study.current_readings(photo)
        return next((one.reading for one in stored if one.reading.fish == fish), None)

    def _form_of(self, photo: str) -> str:
        """Body form of a photo's group, else the one chosen last."""
        group = self.queue[photo].group
        stated = {row.group: row.body_form for row in self.study.groups()} if group else {}
        return stated.get(group) or self.body_form

    def _changed_on_disk(self, photo: str) -> str:
        """Say when the file is no longer what was seen."""
        if _stamp(self.queue[photo].file) == self._seen.get(photo):
            return ""
        return (
            f"{photo} was changed or removed while it was open. The reading is kept and belongs "
            "to the picture that you saw; open the photo again to mark the new one."
        )


def _study_of(source: Path) -> Path | None:
    """Give the study's folder where a source is a study."""
    if source.name == STUDY_FILE and source.is_file():
        return source.parent
    return source if (source / STUDY_FILE).is_file() else None


def _beside(source: Path) -> Path:
    """Give the folder for marks: beside the photos, or in the home folder if that is locked."""
    folder = source if source.is_dir() else source.parent
    own = folder / OWN_FOLDER
    if own.is_dir() or os.access(folder, os.W_OK):
        return own
    return Path.home() / OWN_FOLDER / folder.name


def _opened(folder: Path) -> tuple[Study, str]:
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


def _locked(folder: Path, read_only: str) -> tuple[QLockFile | None, str]:
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


def _planned(study: Study, sources: Sequence[Path]) -> list[QueuePhoto]:
    """List the photos of files and folders under their names in the study."""
    plan = plan_for_study(study, sources)
    return [QueuePhoto(photo.name, photo.path) for photo in plan.photos]


def _merged(study: Study, photos: Sequence[QueuePhoto]) -> list[QueuePhoto]:
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


def _stamp(file: Path) -> tuple[int, int]:
    """Size and time of a file; zeros where it is gone."""
    try:
        status = file.stat()
    except OSError:
        return 0, 0
    return status.st_size, status.st_mtime_ns
