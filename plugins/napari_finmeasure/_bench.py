"""On the bench: a photo of the open study and the marks of one of its fish. No widgets here.

Every change of the marks is saved as a draft at once.
"""

from __future__ import annotations

import time

from qtpy.QtCore import QObject, Signal

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.exchange.inputs import LabelRow
from finmeasure.reading import Reading
from finmeasure.shipment.box import BoxFish
from finmeasure.shipment.fin_formula import LATERAL_LINE, formulas_of
from finmeasure.shipment.group_range import GroupRange, group_ranges
from finmeasure.shipment.reference_table import fits_in_words, species_of
from napari_finmeasure._marked_fish import NO_MEASURES, MarkedFish
from napari_finmeasure._workspace import Place, Workspace


class Bench(MarkedFish):
    """The present photo, and how its marks come from the study and go back there.

    Signals
    -------
    queue_changed
        States in the queue changed.
    """

    queue_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.workspace: Workspace | None = None
        self.ranges: dict[str, GroupRange] = {}
        self._began_s = time.monotonic()

    # -- photos -------------------------------------------------------------------------------

    def open_workspace(self, workspace: Workspace) -> None:
        """Put another study on the bench; the old one is closed."""
        self.close_workspace()
        self.workspace = workspace
        self.queue_changed.emit()

    def close_workspace(self) -> None:
        """Close the study and clear the bench."""
        if self.workspace is not None:
            self.workspace.close()
        self.workspace = self.prepared = self.session = None
        self.measures = NO_MEASURES

    def put(self, place: Place) -> None:
        """Put a prepared photo on the bench, with the draft or reading that is kept of it."""
        self.prepared = place.prepared
        self.session = place.session
        self.scale = place.scale
        self.live = self.chosen_point = self.chosen_measure = None
        self._began_s = time.monotonic()
        self._see_group()
        self._measure()
        self.photo_changed.emit()
        self.marks_changed.emit()
        if place.trouble:
            self.said.emit(place.trouble, True)

    @property
    def unseen(self) -> str:
        """Why the program has not marked this photo; empty where it has, or has not looked."""
        workspace, session = self.workspace, self.session
        if workspace is None or session is None or workspace.queue.current is None:
            return ""
        seen = workspace.proposal_of(workspace.queue.current, session.fish)
        return str(seen) if isinstance(seen, NotFound) else ""

    def show_proposal(self) -> bool:
        """Show what the program sees of the present fish; False where it sees nothing."""
        if self.workspace is None or self.session is None or self.workspace.queue.current is None:
            return False
        seen = self.workspace.proposal_of(self.workspace.queue.current, self.session.fish)
        if isinstance(seen, NotFound):
            self.said.emit(f"{seen} Marking by hand goes on as usual.", False)
            self.marks_changed.emit()
        if not isinstance(seen, Reading):
            return False
        self._change(lambda s: s.accept_proposal(seen))
        return True

    def use_person(self, typed: str) -> bool:
        """Let marks carry a name from now on; False where it is no name.

        Who was nameless so far signs the present marks; another person gets a sheet of their own.
        """
        if self.workspace is None:
            return False
        nameless = not self.workspace.person_is_known
        try:
            name = self.workspace.use_person(typed)
            if self.session is not None and self.prepared is not None:
                self._hand_over(name, signs=nameless)
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return False
        self.marks_changed.emit()
        return True

    def set_body_form(self, form_id: str) -> None:
        """Change the kind of fish; the photos that follow start with it."""
        super().set_body_form(form_id)
        self._see_group()
        self.marks_changed.emit()
        if self.workspace is not None:
            self.workspace.use_kind(form_id)

    def set_question(self, question: str) -> None:
        """Change the question; the photos that follow start with it."""
        super().set_question(question)
        if self.workspace is not None:
            self.workspace.question = question

    def keep_label(self, character: str, value: str) -> bool:
        """Keep what a person says of the present fish; False where that cannot be done."""
        workspace, session = self.workspace, self.session
        if workspace is None or session is None or workspace.queue.current is None:
            return False
        if workspace.read_only:
            self.said.emit(workspace.read_only, True)
            return False
        photo = "" if not session.fish.isdecimal() else workspace.queue.current
        row = LabelRow(session.fish, character, value, workspace.person, photo)
        try:
            workspace.study.add_labels([row])
        except FinmeasureError as error:
            self.said.emit(f"{error} Confirm the fish first, then keep its counts.", True)
            return False
        return True

    @property
    def counts(self) -> tuple[str, ...]:
        """What was counted on the present fish: fin formulas, and scales of the lateral line."""
        mine = self._labels
        scales = mine.get(LATERAL_LINE)
        written = [str(one) for one in formulas_of(mine)]
        return (*written, f"lateral line {scales}") if scales else tuple(written)

    @property
    def fitting_rows(self) -> tuple[str, ...]:
        """Rows of the reference table that fit the present fish, and what rules others out."""
        workspace, session = self.workspace, self.session
        if workspace is None or session is None:
            return ()
        fish = BoxFish("", session.fish, session.reading(), self.measures.by_id, self._labels)
        try:
            rows, problems = species_of(workspace.study.folder)
        except FinmeasureError as error:
            return (str(error),)
        return (*problems, *fits_in_words(fish, rows))

    @property
    def _labels(self) -> dict[str, str]:
        """What a person says of the present fish, by character."""
        workspace, session = self.workspace, self.session
        if workspace is None or session is None:
            return {}
        photo = workspace.queue.current if session.fish.isdecimal() else ""
        return {
            row.character: row.value
            for row in workspace.study.labels()
            if (row.fish, row.photo) == (session.fish, photo)
        }

    # -- finishing ----------------------------------------------------------------------------

    def confirm(self) -> bool:
        """Make the marks a reading in the study; False where that cannot be done."""
        if self.workspace is None or self.session is None or self.prepared is None:
            return False
        if not any(m.state == "placed" for m in self.session.marks.landmarks.values()):
            self.said.emit("Nothing is marked yet. Click the point that the card names.", True)
            return False
        try:
            told = self.workspace.confirm(
                self.session, self.scale, self.measures, time.monotonic() - self._began_s
            )
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return False
        self.session.agree_with_all()
        self._measure()
        self.marks_changed.emit()
        self.queue_changed.emit()
        if told:
            self.said.emit(told, True)
        return True

    # -- helpers ------------------------------------------------------------------------------

    def _hand_over(self, name: str, *, signs: bool) -> None:
        """Let the present fish be marked under another name."""
        assert self.workspace is not None
        assert self.session is not None
        assert self.prepared is not None
        if signs:
            self.workspace.sign(self.session, name, self.scale)
        else:
            photo = self.workspace.queue.current or ""
            self.put(self.workspace.lay_out(photo, self.prepared, self.session.fish))

    def _see_group(self) -> None:
        """Learn what the other confirmed fish of the group show."""
        self.ranges = {}
        workspace, session = self.workspace, self.session
        if workspace is None or session is None or workspace.queue.current is None:
            return
        photo, form = workspace.queue.current, session.marks.body_form
        try:
            known = workspace.study.confirmed_measures(form, group=workspace.queue[photo].group)
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return
        known.pop((photo, session.fish), None)
        self.ranges = group_ranges(known.values())

    def _changed(self) -> None:
        """Measure anew, tell everybody, keep the draft."""
        super()._changed()
        if self.workspace is None or self.session is None:
            return
        try:
            state_changed = self.workspace.keep_draft(self.session, self.scale)
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return
        if state_changed:
            self.queue_changed.emit()
