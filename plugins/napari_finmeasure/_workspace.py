"""A study on the bench: its photos, drafts and readings. No widgets here.

Preparing a photo may run in any thread; everything else is called from the window's own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from qtpy.QtCore import QLockFile

from finmeasure.batch.priors import group_priors
from finmeasure.errors import FinmeasureError, NotFound, StudyError
from finmeasure.marking.drafts import draft_from_dict, draft_to_dict
from finmeasure.marking.marks import Marks
from finmeasure.marking.person import NAMELESS, person_name
from finmeasure.marking.prepare import PreparedPhoto, prepare_photo
from finmeasure.marking.proposed import all_agreed, with_proposal
from finmeasure.marking.queue import Queue
from finmeasure.marking.session import MarkingSession
from finmeasure.measurements.records import Measures
from finmeasure.proposals.group_prior import GroupPrior
from finmeasure.proposals.propose import propose
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale
from finmeasure.scale.request import ScaleRequest
from finmeasure.scale.storage import scale_from_json, scale_to_json
from finmeasure.study.records import Purpose, StoredReading
from finmeasure.study.store import Study
from napari_finmeasure._sources import beside, locked, merged, opened, planned, stamp, study_of

KIND_SETTING, PERSON_SETTING = "window.body_form", "window.person"
Proposals = tuple[Reading, ...] | NotFound


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
    read_only : str
        Why nothing can be written; empty where all is well.
    """

    def __init__(self, study: Study, queue: Queue, *, read_only: str = "") -> None:
        self.study = study
        self.queue = queue
        self.read_only = read_only
        self.person = str(study.setting(PERSON_SETTING) or NAMELESS)
        self.proposes = True
        self.question = "full"
        self.body_form = "plain"
        self.purpose: Purpose = "work"
        self._kinds = {row.group: row.body_form for row in study.groups() if row.body_form}
        chosen = study.setting(KIND_SETTING)
        if isinstance(chosen, dict):  # by group; photos of no group stand under ""
            self._kinds |= {str(group): str(form) for group, form in chosen.items()}
        self.body_form = self._kinds.get("", "plain")
        self._lock: QLockFile | None = None
        self._recorded = set(study.recorded_photos())
        self._seen: dict[str, tuple[int, int]] = {}
        self._proposals: dict[str, Proposals] = {}
        self._priors: Mapping[str, GroupPrior] | None = None

    @classmethod
    def open(cls, sources: Sequence[Path], *, study_folder: Path | None = None) -> Workspace:
        """Open photos, a folder of photos or a study.

        Parameters
        ----------
        sources : sequence of pathlib.Path
            Photos and folders, or one study.
        study_folder : pathlib.Path, optional
            Where marks are kept. Default: the folder ``finmeasure study`` beside the photos.

        Raises
        ------
        FinmeasureError
            If nothing can be opened.
        """
        if not sources:
            message = "Nothing was given to open. Choose photos, a folder or a study."
            raise FinmeasureError(message)
        known = study_of(sources[0])
        folder = known or study_folder or beside(sources[0])
        study, read_only = opened(folder)
        lock, taken = locked(folder, read_only)
        read_only = read_only or taken
        photos = [] if known is not None else planned(study, sources)
        queue = Queue(merged(study, photos))
        workspace = cls(study, queue, read_only=read_only)
        workspace._lock = lock
        return workspace

    def holds(self, sources: Sequence[Path]) -> bool:
        """Tell whether sources would be opened in this very study."""
        if not sources:
            return False
        folder = study_of(sources[0]) or beside(sources[0])
        return folder.resolve() == self.study.folder.resolve()

    def close(self) -> None:
        """Let go of the study."""
        self.study.close()
        if self._lock is not None:
            self._lock.unlock()

    @property
    def kind_is_known(self) -> bool:
        """Whether the kind of fish was said for the group of the present photo."""
        return self._group in self._kinds

    def use_kind(self, form_id: str) -> None:
        """Let photos of this group start with a kind of fish, now and when opened again."""
        self.body_form = self._kinds[self._group] = form_id
        if not self.read_only:
            self.study.set_setting(KIND_SETTING, self._kinds)

    @property
    def _group(self) -> str:
        """Group of the present photo; empty where it has none."""
        return "" if self.queue.current is None else self.queue[self.queue.current].group

    @property
    def person_is_known(self) -> bool:
        """Whether the person has said a name."""
        return self.person != NAMELESS

    def use_person(self, typed: str) -> str:
        """Let marks carry a name from now on; give it.

        Raises
        ------
        MarkingError
            If it is no name.
        """
        self.person = person_name(typed)
        if not self.read_only:
            self.study.set_setting(PERSON_SETTING, self.person)
        return self.person

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

    def wants_proposal(self, photo: str) -> bool:
        """Tell whether the program should look at a photo: nobody has, and it has not yet."""
        if not self.proposes or photo in self._proposals:
            return False
        if photo not in self._recorded:
            return True
        drafts = self.study.drafts_of(photo, self.person)
        return not drafts and not self.study.current_readings(photo)

    def propose(self, photo: str, prepared: PreparedPhoto) -> Proposals:
        """Let the program mark the fish of a photo, with what its group taught; for any thread."""
        group = self.queue[photo].group
        if group and self._priors is None:
            self._priors = group_priors(self.study)
        prior = (self._priors or {}).get(group)
        found = propose(prepared.photo, body_form=self._form_of(photo), prior=prior)
        return found if isinstance(found, NotFound) else tuple(one.reading for one in found)

    def keep_proposal(self, photo: str, seen: Proposals) -> None:
        """Remember what the program saw on a photo, and show it in the queue."""
        self._proposals[photo] = seen
        if self.queue[photo].state != "to_do":
            return
        if isinstance(seen, NotFound):
            self.queue.set_state(photo, "to_do", seen.reason)
        else:
            marks = [mark for reading in seen for mark in reading.landmarks.values()]
            sure = [mark.confidence for mark in marks if mark.confidence is not None]
            self.queue.set_state(photo, "proposal", confidence=min(sure, default=None))

    def proposal_of(self, photo: str, fish: str) -> Reading | NotFound | None:
        """Give what the program saw of one fish, or why it saw none; None where it did not look."""
        if self.purpose == "repeat":
            return None  # a second marking is blind
        seen = self._proposals.get(photo)
        if seen is None or isinstance(seen, NotFound):
            return seen
        return next((reading for reading in seen if reading.fish == fish), None)

    def refuse(self, photo: str, reason: str) -> None:
        """Put a photo aside that cannot be opened."""
        self.queue.set_state(photo, "refused", reason)

    def fish_of(self, photo: str) -> tuple[str, ...]:
        """Give the fish on a photo that have marks: names, or numbers from left to right."""
        known = [one.reading.fish for one in self._stored(photo)]
        if photo in self._recorded:
            known += list(self.study.drafts_of(photo, self.person))
        known += [reading.fish for reading in self._proposals.get(photo) or ()]
        return tuple(dict.fromkeys(known)) or ("1",)

    def fish_waiting(self, photo: str) -> tuple[str, ...]:
        """Give the fish on a photo that no person has confirmed yet."""
        done = {one.reading.fish for one in self._stored(photo) if one.confirmed}
        return tuple(fish for fish in self.fish_of(photo) if fish not in done)

    def lay_out(self, photo: str, prepared: PreparedPhoto, fish: str | None = None) -> Place:
        """Give a photo with the marks that are kept of one fish, by default of the first."""
        self.queue.current = photo
        self.purpose = "work"
        self._seen[photo] = stamp(prepared.file)
        trouble = self._take_in(photo, prepared)
        marks, scale = Marks(self._form_of(photo), self.question), prepared.scale
        try:
            fish = fish or next(iter((*self.fish_waiting(photo), *self.fish_of(photo))))
            marks, scale = self._kept(photo, prepared, marks, fish)
        except FinmeasureError as error:
            trouble = str(error)
        seen = self.proposal_of(photo, fish or "1")
        if isinstance(seen, Reading) and not marks.landmarks:
            marks = with_proposal(marks, seen)
        return Place(prepared, self._begun(marks, prepared, fish or "1"), scale, trouble)

    def lay_out_again(self, photo: str, prepared: PreparedPhoto, fish: str) -> Place:
        """Give a fish without any marks, for a second marking that is blind to the first."""
        self.purpose = "repeat"
        first = self._newest(photo, fish)
        form = first.reading.body_form if first is not None else self._form_of(photo)
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
        if not session.is_touched and self.queue[photo].state != "begun":
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

    def sign(self, session: MarkingSession, name: str, scale: Scale | NotFound) -> None:
        """Let marks that a nameless person made carry a name, and their draft too."""
        session.sign(name)
        photo = self.queue.current
        if photo in self._recorded and not self.read_only:
            assert photo is not None
            self.study.drop_draft(photo, session.fish, NAMELESS, purpose=self.purpose)
            self.keep_draft(session, scale)

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
        waits = self.purpose == "work" and bool(self.fish_waiting(photo))
        self.queue.set_state(photo, "proposal" if waits else "confirmed")
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
        stored = self._newest(photo, fish)
        if stored is None:
            return fresh, prepared.scale
        scale = self.study.scale_of(photo) or prepared.scale
        reading = stored.reading
        if not stored.confirmed:
            return with_proposal(fresh, reading), scale
        marks = replace(
            fresh,
            body_form=reading.body_form,
            landmarks=dict(reading.landmarks),
            outlines=dict(reading.outlines),
        )
        return all_agreed(marks), scale

    def _newest(self, photo: str, fish: str) -> StoredReading | None:
        """Give the reading of a fish that counts now; None where there is none."""
        return next((one for one in self._stored(photo) if one.reading.fish == fish), None)

    def _stored(self, photo: str) -> tuple[StoredReading, ...]:
        """Give the readings of a photo that count now."""
        return self.study.current_readings(photo) if photo in self._recorded else ()

    def _form_of(self, photo: str) -> str:
        """Body form of a photo's group, else the one chosen last."""
        return self._kinds.get(self.queue[photo].group, self.body_form)

    def _changed_on_disk(self, photo: str) -> str:
        """Say when the file is no longer what was seen."""
        if stamp(self.queue[photo].file) == self._seen.get(photo):
            return ""
        return (
            f"{photo} was changed or removed while it was open. The reading is kept and belongs "
            "to the picture that you saw; open the photo again to mark the new one."
        )
