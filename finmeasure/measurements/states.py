"""Whether a measure can be had from a reading, and if not, why not."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from finmeasure.landmarks.scheme import (
    BodyForm,
    body_form,
    landmark_definitions,
    points_for,
)
from finmeasure.measurements.definitions import MEASURES, TAIL_TIPS, MeasureDefinition
from finmeasure.quantity import Measure
from finmeasure.reading import LandmarkState, Reading
from finmeasure.scale.calibration import Scale

EDGE_OF_PHOTO_PX = 0.5
"""The outermost pixel reaches half a pixel beyond its centre."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What decides whether a measure can be had.

    Parameters
    ----------
    reading : Reading
        Marks of one fish.
    form : BodyForm
        Its body form.
    scale : Scale, optional
        None without a scale.
    frame_px : tuple of int, optional
        Width and height of the photo.
    """

    reading: Reading
    form: BodyForm
    scale: Scale | None
    frame_px: tuple[int, int] | None

    def state_of(self, name: str) -> LandmarkState:
        """State of a landmark; one that the body form has not got is absent unless marked."""
        if name not in self.reading.landmarks and name in self.form.absent:
            return "absent"
        return self.reading.state_of(name)


@lru_cache(maxsize=64)
def rows_asked(question: str, form_id: str) -> tuple[MeasureDefinition, ...]:
    """Lengths and ratios that a question asks of a body form, in table order.

    Raises
    ------
    DefinitionError
        If the question or the body form is not known.
    """
    form, points = body_form(form_id), set(points_for(question, form_id))
    rows = [row for row in MEASURES.values() if row.landmarks and _fits(row, form)]
    if question == "full":
        return tuple(rows)
    return tuple(row for row in rows if points.issuperset(_always_needed(row, form)))


def _fits(row: MeasureDefinition, form: BodyForm) -> bool:
    """Whether a row makes sense for a body form at all."""
    return not row.body_forms or form.id.partition("+")[0] in row.body_forms


def _always_needed(row: MeasureDefinition, form: BodyForm) -> tuple[str, ...]:
    """Landmarks without which there is no result.

    Total length takes the farthest end of the tail fin: of its three ends only those are needed
    that can be the farthest in this body form, the ones that the question ``size`` asks for.
    """
    if "total_length" not in (row.id, *row.parts):
        return row.landmarks
    ends = set(TAIL_TIPS) - set(form.questions["size"])
    return tuple(name for name in row.landmarks if name not in ends)


def why_not(row: MeasureDefinition, given: Circumstances) -> Measure | None:
    """Give the row as absent, hidden or refused, or None where it can be measured."""
    state, lacking = _state_of_landmarks(row, given)
    if state != "placed":
        return Measure(row.id, row.unit, state, reason=_missing_in_words(state, lacking))
    outline = given.reading.outlines.get(row.fin)
    if row.needs_spread and outline is not None and outline.spread != "spread":
        return refused(row, "folded", "The fin is not spread. Photograph it again when it is.")
    if name := _outside(row, given):
        return refused(
            row, "out_of_frame", f"The mark of {name} lies outside the photo. Correct it."
        )
    if row.unit == "mm" and given.scale is None:
        reason = "There is no scale. Photograph the fish with the card, or give a length in it."
        return refused(row, "no_scale", reason)
    return None


def refused(row: MeasureDefinition, flag: str, reason: str) -> Measure:
    """Give the row as refused."""
    return Measure(row.id, row.unit, "refused", flags=(flag,), reason=reason)


_ENDS = {"total_length": TAIL_TIPS, "caudal_length": TAIL_TIPS[:2]}
"""Of these points the farthest counts; one that the fish has not got is left out."""


def _state_of_landmarks(
    row: MeasureDefinition, given: Circumstances
) -> tuple[LandmarkState, tuple[str, ...]]:
    """State of all landmarks of a row together, and the names of those that make it so."""
    ends = _ENDS.get(_length_of(row), ())
    needed = _always_needed(row, given.form)
    states = {name: given.state_of(name) for name in needed if name not in ends}
    if ends:
        usual = {name: given.state_of(name) for name in needed if name in ends}
        every = {name: given.state_of(name) for name in ends}
        # A rounded tail without tips still ends somewhere: then its middle rays count.
        states |= _not_absent(usual) or _not_absent(every) or every
    for state in _WORST_FIRST:
        if lacking := tuple(name for name, its in states.items() if its == state):
            return state, lacking
    return "placed", ()


_WORST_FIRST: tuple[LandmarkState, ...] = ("absent", "hidden")


def _not_absent(states: dict[str, LandmarkState]) -> dict[str, LandmarkState]:
    return {name: state for name, state in states.items() if state != "absent"}


@lru_cache(maxsize=256)
def _missing_in_words(state: LandmarkState, names: tuple[str, ...]) -> str:
    """Name the landmarks that a row lacks; few combinations stand on all photos of a batch."""
    shown = ", ".join(landmark_definitions()[name].shown for name in names)
    if state == "absent":
        return f"The fish has no such point: {shown}."
    return f"Not marked or not to be seen: {shown}."


def _length_of(row: MeasureDefinition) -> str:
    """Length behind a ratio, or the length itself."""
    return row.parts[0] if row.parts else row.id


def _outside(row: MeasureDefinition, given: Circumstances) -> str:
    """Name of a placed landmark of a row outside the photo, or empty."""
    if given.frame_px is None:
        return ""
    limit = np.asarray(given.frame_px, float) - EDGE_OF_PHOTO_PX
    for name in row.landmarks:
        if given.reading.state_of(name) == "placed":
            point = given.reading.point(name)
            if (point < -EDGE_OF_PHOTO_PX).any() or (point > limit).any():
                return name
    return ""
