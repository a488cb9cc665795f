"""One person marks one fish on one photo: what is asked next, and everything can be taken back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from finmeasure.errors import MarkingError
from finmeasure.landmarks.scheme import body_form, landmark_definitions, points_for
from finmeasure.marking import proposed
from finmeasure.marking.double_click import DoubleClickGuard
from finmeasure.marking.fin_marking import FinMarking
from finmeasure.marking.history import History
from finmeasure.marking.margin import with_base_lines, with_end_moved
from finmeasure.marking.marks import Marks
from finmeasure.marking.order import one_before, still_open
from finmeasure.marking.uncertainty import with_click_uncertainty
from finmeasure.reading import Landmark, LandmarkState, Reading


class MarkingSession(FinMarking):
    """The marks of one fish, with the next landmark to ask for and full undo.

    Parameters
    ----------
    marks : Marks
        Where to begin; :meth:`start` makes an empty one.
    fish : str
        The fish's name or number in the photo.
    size_px : tuple of int
        Width and height of the photo, pixels.
    person : str
        Who is marking.
    """

    def __init__(
        self, marks: Marks, *, fish: str, size_px: tuple[int, int], person: str = "hand"
    ) -> None:
        """Begin with the marks given."""
        super().__init__(marks, size_px=size_px, person=person)
        self.fish = fish
        self._guard = DoubleClickGuard()

    @classmethod
    def start(
        cls,
        form_id: str,
        question: str,
        *,
        fish: str = "1",
        size_px: tuple[int, int],
        person: str = "hand",
    ) -> MarkingSession:
        """Begin an unmarked fish.

        Raises
        ------
        DefinitionError
            If the body form or the question is not known.
        """
        session = cls(Marks(form_id, question), fish=fish, size_px=size_px, person=person)
        session.begin()
        return session

    def begin(self) -> None:
        """Ask for the first landmark; this is where undo ends."""
        first = proposed.next_asked(self.marks, self.order, None)
        self._history = History(replace(self.marks, at=first))

    # -- what there is ------------------------------------------------------------------------

    @property
    def order(self) -> tuple[str, ...]:
        """Landmarks of the question in the order of asking."""
        return points_for(self.marks.question, self.marks.body_form)

    @property
    def at(self) -> str | None:
        """The landmark asked for now; None when all are decided."""
        return self.marks.at

    @property
    def open_points(self) -> tuple[str, ...]:
        """Landmarks of the question that are not decided yet."""
        return still_open(self.order, self.marks.landmarks)

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return self._history.can_undo

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to do again."""
        return self._history.can_redo

    @property
    def to_check(self) -> tuple[str, ...]:
        """Proposed landmarks of the question that nobody has agreed with, the least sure first."""
        return proposed.unsure_first(self.marks, self.order)

    @property
    def is_touched(self) -> bool:
        """Whether a person has decided anything."""
        marks = self.marks
        return any(not self.is_proposed(name) for name in (*marks.landmarks, *marks.outlines))

    def is_proposed(self, name: str) -> bool:
        """Whether a landmark or outline stands as proposed, not yet agreed with."""
        return proposed.is_proposed(self.marks, name)

    # -- landmarks ----------------------------------------------------------------------------

    def place(self, point: ArrayLike, *, zoom: float, time_s: float = math.inf) -> bool:
        """Place the landmark asked for and go on to the next.

        Parameters
        ----------
        point : array_like of shape (2,), pixels (x, y)
            Where the person clicked.
        zoom : float
            Screen pixels per photo pixel.
        time_s : float
            Any steady clock; the second click of a double click places nothing, see
            :mod:`finmeasure.marking.double_click`.

        Returns
        -------
        bool
            False where the click was dropped.

        Raises
        ------
        MarkingError
            If the point lies outside the photo.
        """
        x, y = self._inside(point)
        if self.at is None or self._guard.drops((x, y), zoom, time_s):
            return False
        self._go_on(self._placed(self.at, (x, y), zoom))
        return True

    def move(self, name: str, point: ArrayLike, *, zoom: float) -> None:
        """Put a placed landmark elsewhere; a fin's traced edge that ends there comes along.

        Raises
        ------
        MarkingError
            If the point lies outside the photo or the landmark is not placed.
        """
        self._require_placed(name)
        marks = self._placed(name, self._inside(point), zoom)
        if name == self.at:
            self._go_on(marks)
        else:
            self._history.push(marks)

    def set_state(self, state: LandmarkState) -> None:
        """Call the landmark asked for absent or hidden and go on.

        Absent at the front of a fin means that the fish has no such fin, so all of its points
        are absent.
        """
        if self.at is None:
            return
        marks = self.marks
        for name in self._answered_together(self.at, state):
            marks = marks.with_landmark(Landmark(name, state=state, placed_by=self.person))
        self._go_on(marks)

    def skip(self) -> None:
        """Leave the landmark for later and ask for the next one."""
        if self.at is not None:
            self._ask(proposed.next_asked(self.marks, self.order, self.at) or self.at)

    def back(self) -> None:
        """Ask for the landmark before this one again."""
        self._ask(one_before(self.order, self.at))

    def ask_for(self, name: str) -> None:
        """Ask for one landmark now, decided or not.

        Raises
        ------
        MarkingError
            If the question does not ask for it.
        """
        if name not in self.order:
            message = f"{name!r} is not asked for here. Asked for: {', '.join(self.order)}."
            raise MarkingError(message)
        self._ask(name)

    def remove(self, name: str) -> None:
        """Take a landmark away and ask for it again."""
        marks = self.marks.without(name)
        self._history.push(replace(marks, at=name if name in self.order else marks.at))

    def rename(self, name: str, new_name: str) -> None:
        """Give a placed point another name; where that one is placed too, they change places.

        Raises
        ------
        MarkingError
            If the point is not placed or the new name is not of this body form.
        """
        self._require_placed(name)
        allowed = points_for("full", self.marks.body_form)
        if new_name not in allowed:
            message = f"{new_name!r} is no point of this fish. Allowed: {', '.join(allowed)}."
            raise MarkingError(message)
        if new_name == name:
            return
        old, other = self.marks.landmarks[name], self.marks.landmarks.get(new_name)
        marks = self._renamed(self.marks.without(name), old, new_name)
        if other is not None and other.state == "placed":
            marks = self._renamed(marks, other, name)
        self._go_on(marks)

    # -- whole fish ---------------------------------------------------------------------------

    def set_body_form(self, form_id: str) -> None:
        """Change the body form; what is marked already stays where the new form has it.

        Raises
        ------
        DefinitionError
            If the body form is not known.
        """
        body_form(form_id)
        self._go_on(proposed.with_question_answered(replace(self.marks, body_form=form_id)))

    def set_question(self, question: str) -> None:
        """Change the question; marks stay.

        Raises
        ------
        DefinitionError
            If the question is not known.
        """
        points_for(question, self.marks.body_form)
        self._go_on(proposed.with_question_answered(replace(self.marks, question=question)))

    # -- the program's proposal ---------------------------------------------------------------

    def accept_proposal(self, reading: Reading) -> None:
        """Take over the program's marks wherever no person has decided; ask for the least sure."""
        self._ask_anew(proposed.with_proposal(self.marks, reading))

    def agree(self, name: str) -> None:
        """Find a proposed point right as it stands and go on."""
        if self.is_proposed(name):
            marks = proposed.with_agreed(self.marks, name)
            self._go_on(proposed.with_stations_followed(marks))

    def agree_with_all(self) -> None:
        """Find everything that is proposed right as it stands."""
        self._ask_anew(proposed.all_agreed(self.marks))

    def drop_proposal(self) -> None:
        """Throw the proposal away and mark by hand."""
        self._ask_anew(proposed.without_proposal(self.marks))

    def sign(self, person: str) -> None:
        """Let the present person's marks carry another name, as when the name was not known."""
        before, self.person = self.person, person
        self._history.rewrite(lambda marks: marks.signed(before, person))

    def undo(self) -> bool:
        """Take the last change back; False where there is none."""
        self._guard.forget()
        return self._history.undo()

    def redo(self) -> bool:
        """Do again what was taken back; False where there is nothing."""
        return self._history.redo()

    def reading(
        self, *, moved: tuple[str, ArrayLike] | None = None, zoom: float | None = None
    ) -> Reading:
        """Give the present marks as a reading.

        Parameters
        ----------
        moved : tuple of str and array_like of shape (2,), optional
            A landmark under the mouse and where it is now; for live numbers while dragging.
        zoom : float, optional
            Screen pixels per photo pixel while dragging.
        """
        marks = self.marks
        if moved is not None:
            x, y = (float(value) for value in np.asarray(moved[1], float))
            marks = marks.with_landmark(self._landmark(moved[0], x, y), zoom)
        return Reading(
            self.fish,
            with_click_uncertainty(marks.landmarks, marks.zooms),
            with_base_lines(marks.outlines, marks.landmarks),
            body_form=marks.body_form,
            placed_by=self.person,
        )

    # -- helpers ------------------------------------------------------------------------------

    def _landmark(self, name: str, x: float, y: float) -> Landmark:
        """Make a landmark placed by the person."""
        return Landmark(name, x, y, placed_by=self.person)

    def _renamed(self, marks: Marks, landmark: Landmark, name: str) -> Marks:
        """Give the marks with a landmark of the present ones under another name."""
        fresh = replace(landmark, name=name, placed_by=self.person)
        return marks.with_landmark(fresh, self.marks.zooms.get(landmark.name))

    def _placed(self, name: str, place: tuple[float, float], zoom: float) -> Marks:
        """Give the marks with a landmark placed; what hangs on it comes along."""
        marks, before = self.marks, self.marks.landmarks.get(name)
        if before is not None and before.state == "placed":
            marks = replace(marks, outlines=with_end_moved(marks.outlines, before, place))
        marks = marks.with_landmark(self._landmark(name, *place), zoom)
        return proposed.with_stations_followed(marks)

    def _go_on(self, marks: Marks) -> None:
        """Make marks the present ones; ask for the next landmark once this one is decided."""
        order = points_for(marks.question, marks.body_form)
        decided = marks.at in marks.landmarks and not proposed.is_proposed(marks, str(marks.at))
        at = marks.at
        if at not in order or decided:
            at = proposed.next_asked(marks, order, at)
        self._history.push(replace(marks, at=at))

    def _ask_anew(self, marks: Marks) -> None:
        """Make marks the present ones and ask for what most needs a person."""
        order = points_for(marks.question, marks.body_form)
        self._history.push(replace(marks, at=proposed.next_asked(marks, order, None)))

    def _ask(self, name: str) -> None:
        """Change only what is asked for."""
        if name != self.at:
            self._history.push(replace(self.marks, at=name))

    def _answered_together(self, name: str, state: LandmarkState) -> Sequence[str]:
        """Landmarks that one answer decides: all of a fin when its origin is absent."""
        if state != "absent" or not name.endswith("_origin"):
            return (name,)
        definitions = landmark_definitions()
        return [n for n in self.order if definitions[n].fin == definitions[name].fin]

    def _require_placed(self, name: str) -> None:
        """Refuse a landmark that is not placed."""
        landmark = self.marks.landmarks.get(name)
        if landmark is None or landmark.state != "placed":
            message = f"{name!r} is not placed, so it cannot be moved or renamed. Place it first."
            raise MarkingError(message)

    def _inside(self, point: ArrayLike) -> tuple[float, float]:
        """Refuse a point outside the photo."""
        x, y = (float(value) for value in np.asarray(point, float))
        width, height = self.size_px
        if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
            message = (
                f"The point ({x:.0f}, {y:.0f}) lies outside the photo of {width} × {height} "
                "pixels. Click on the fish, or say hidden where the part is cut off."
            )
            raise MarkingError(message)
        return x, y
