"""The marks of one fish, its scale and its numbers. No widgets and no study here.

The panels and the canvas listen to the signals; every change goes through a method and is
measured anew.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from qtpy.QtCore import QObject, Signal

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.marking.edge_path import snapped_margin
from finmeasure.marking.prepare import PreparedPhoto
from finmeasure.marking.session import MarkingSession
from finmeasure.measurements.measure import measure_reading
from finmeasure.measurements.records import Measures
from finmeasure.reading import LandmarkState, Spread
from finmeasure.report.counter import answer_of, picture_of, ring_round_fin
from finmeasure.scale.calibration import Scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.paper import FoundPaper, find_paper
from finmeasure.scale.request import ScaleRequest
from finmeasure.shipment.sex_rules import SexAnswer

NO_MEASURES = Measures(())
RING_ROOM_PX = 20.0


class MarkedFish(QObject):
    """One fish on one photo, and everything that a person can change about its marks.

    Signals
    -------
    photo_changed
        Another photo (or none) is on the bench.
    marks_changed
        Landmarks, edges, scale or what is asked for changed; `measures` is up to date.
    live_changed
        A point is being dragged; `live` holds its numbers.
    chosen_changed
        Another point or measure was chosen.
    said
        A sentence for the person, and whether it tells of trouble.
    """

    photo_changed = Signal()
    marks_changed = Signal()
    live_changed = Signal()
    chosen_changed = Signal()
    said = Signal(str, bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.prepared: PreparedPhoto | None = None
        self.session: MarkingSession | None = None
        self.scale: Scale | NotFound = NotFound("No photo is open.")
        self.measures = NO_MEASURES
        self.live: Measures | None = None
        self.sex_answer: SexAnswer | None = None
        self.chosen_point: str | None = None
        self.chosen_measure: str | None = None

    # -- the answer about the sex -------------------------------------------------------------

    @property
    def ring_round_fin(self) -> NDArray[np.float64]:
        """Circle round the fin that tells the sex, as placed or as proposed, shape (N, 2)."""
        if self.session is None or self.sex_answer is None or not self.sex_answer.fin:
            return np.empty((0, 2))
        ring = ring_round_fin(self.session.reading(), self.sex_answer.fin, room_px=RING_ROOM_PX)
        proposal = self.session.marks.proposal
        if len(ring) or proposal is None:
            return ring
        return ring_round_fin(proposal, self.sex_answer.fin, room_px=RING_ROOM_PX)

    def picture_to_send(self) -> bytes:
        """Draw the answer of "Is it a male?" on the photo, as a JPEG file; empty without one."""
        if self.session is None or self.prepared is None or self.sex_answer is None:
            return b""
        return picture_of(self.prepared.photo.pixels, self.session.reading(), self.sex_answer)

    # -- changes ------------------------------------------------------------------------------

    def place(self, point: ArrayLike, zoom: float) -> None:
        """Place the point asked for."""
        self._change(lambda s: s.place(point, zoom=zoom, time_s=time.monotonic()))

    def move(self, name: str, point: ArrayLike, zoom: float) -> None:
        """Put a point elsewhere."""
        self.live = None
        self._change(lambda s: s.move(name, point, zoom=zoom))

    def drag(self, name: str, point: ArrayLike, zoom: float) -> None:
        """Give live numbers for a point that is under the mouse; nothing is changed."""
        if self.session is None or self.prepared is None:
            return
        reading = self.session.reading(moved=(name, point), zoom=zoom)
        self.live = measure_reading(
            reading,
            self.scale or None,
            size_px=self.prepared.size_px,
            question=self.session.marks.question,
            edges=False,
        )
        self.live_changed.emit()

    def answer(self, state: LandmarkState) -> None:
        """Call the point asked for absent or hidden."""
        self._change(lambda s: s.set_state(state))

    def skip(self) -> None:
        """Ask for the next point and come back to this one later."""
        self._change(lambda s: s.skip())

    def back(self) -> None:
        """Ask for the point before again."""
        self._change(lambda s: s.back())

    def ask_for(self, name: str) -> None:
        """Ask for one point now."""
        self._change(lambda s: s.ask_for(name))

    def remove(self, name: str) -> None:
        """Take a point away."""
        self._change(lambda s: s.remove(name))

    def agree(self, name: str | None = None) -> None:
        """Find a proposed point right: the one named, or the one asked for."""
        self._change(lambda s: s.agree(name or s.at or ""))

    def agree_with_all(self) -> None:
        """Find everything that is proposed right."""
        self._change(lambda s: s.agree_with_all())

    def drop_proposal(self) -> None:
        """Throw the program's marks away."""
        self._change(lambda s: s.drop_proposal())

    def rename(self, name: str, new_name: str) -> None:
        """Give a point another name."""
        self._change(lambda s: s.rename(name, new_name))

    def undo(self) -> None:
        """Take the last change back."""
        self._change(lambda s: s.undo() or self.said.emit("There is nothing to undo.", False))

    def redo(self) -> None:
        """Do again what was undone."""
        self._change(lambda s: s.redo() or self.said.emit("There is nothing to redo.", False))

    def set_margin(self, part: str, points: ArrayLike) -> None:
        """Set the edge of a fin."""
        self._change(lambda s: s.set_margin(part, points))

    def remove_margin(self, part: str) -> None:
        """Take the edge of a fin away."""
        self._change(lambda s: s.remove_margin(part))

    def pull_to_edge(self, part: str, reach_px: float) -> None:
        """Pull the traced margin of a fin to the edge beside it."""
        if self.session is None or self.prepared is None:
            return
        outline = self.session.marks.outlines.get(part)
        if outline is None or len(outline.points_px) < 2:
            self.said.emit("Trace the fin roughly first, then pull the line to the edge.", True)
            return
        gray, points = self.prepared.gray, outline.points_px
        self._change(lambda s: s.set_margin(part, snapped_margin(gray, points, reach_px)))

    def set_spread(self, part: str, spread: Spread) -> None:
        """Say how a fin is held."""
        self._change(lambda s: s.set_spread(part, spread))

    def set_edge(self, part: str, edge: str) -> None:
        """Say what a fin's edge looks like."""
        self._change(lambda s: s.set_edge(part, edge))

    def set_body_form(self, form_id: str) -> None:
        """Change the kind of fish."""
        self._change(lambda s: s.set_body_form(form_id))

    def set_question(self, question: str) -> None:
        """Change the question."""
        self._change(lambda s: s.set_question(question))

    def set_scale(self, make_request: Callable[[], ScaleRequest]) -> bool:
        """Use a scale that the person states; False where it cannot be."""
        if self.prepared is None:
            return False
        try:
            found = find_scale(self.prepared.photo, make_request())
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return False
        if isinstance(found, NotFound):
            self.said.emit(str(found), True)
            return False
        self.scale = found
        self._changed()
        return True

    def look_for_paper(self, make_request: Callable[[], ScaleRequest]) -> FoundPaper | None:
        """Look for square paper, for a person to check its lines; None where there is none."""
        if self.prepared is None:
            return None
        try:
            square_mm = make_request().square_mm
            assert square_mm is not None
            found = find_paper(self.prepared.photo.pixels, square_mm)
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return None
        if isinstance(found, NotFound):
            self.said.emit(str(found), True)
            return None
        return found

    # -- choosing -----------------------------------------------------------------------------

    def choose_point(self, name: str | None) -> None:
        """Choose a point, so that the table shows what hangs on it."""
        self.chosen_point, self.chosen_measure = name, None
        self.chosen_changed.emit()

    def choose_measure(self, measure_id: str | None) -> None:
        """Choose a measure, so that the photo shows what it measures."""
        self.chosen_point, self.chosen_measure = None, measure_id
        self.chosen_changed.emit()

    # -- helpers ------------------------------------------------------------------------------

    def _change(self, change: Callable[[MarkingSession], object]) -> None:
        """Do one change; say in one sentence why it cannot be done."""
        if self.session is None:
            return
        before = self.session.marks
        try:
            change(self.session)
        except FinmeasureError as error:
            self.said.emit(str(error), True)
            return
        if self.session.marks is not before:
            self._changed()

    def _changed(self) -> None:
        """Measure anew and tell everybody."""
        self._measure()
        self.marks_changed.emit()

    def _measure(self) -> None:
        """Measure the present marks with the present scale."""
        self.sex_answer = None
        if self.session is None or self.prepared is None:
            self.measures = NO_MEASURES
            return
        reading = self.session.reading()
        if self.session.marks.question == "sex":
            self.sex_answer = answer_of(reading, self.scale or None)
        self.measures = measure_reading(
            reading,
            self.scale or None,
            gray=self.prepared.gray,
            question=self.session.marks.question,
        )
