"""The program's proposal among a person's marks: what is unsure, agreed with, or follows.

A point that the person corrects tells where its neighbours are, but not all of them. On the 11
development photos of which a proposal is made, points that stand at one station of the body (the
deepest place, the narrowest place, the base of the tail) are wrong by much the same along the body;
a falloff with distance moved other points away from their true places as often as towards them
(table in docs/method/window.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.scheme import body_form, points_for
from finmeasure.marking.margin import with_end_moved
from finmeasure.marking.marks import Marks
from finmeasure.marking.order import next_open
from finmeasure.reading import Landmark, Reading

PROGRAM = "finmeasure"  # how `placed_by` of what the program proposed begins
#: Points of one place along the body.
STATIONS = (
    ("body_top", "body_bottom"),
    ("peduncle_top", "peduncle_bottom"),
    ("caudal_base", "caudal_upper_insertion", "caudal_lower_insertion"),
)
#: Share of a correction along the body that its station follows, chosen on the development photos.
FOLLOWS = 0.5


def is_proposed(marks: Marks, name: str) -> bool:
    """Whether a landmark or outline stands as the program proposed it, not yet agreed with."""
    mark = marks.landmarks.get(name) or marks.outlines.get(name)
    return mark is not None and mark.placed_by.startswith(PROGRAM) and name not in marks.agreed


def unsure_first(marks: Marks, order: Sequence[str]) -> tuple[str, ...]:
    """Give the proposed landmarks that nobody has agreed with, the least sure first.

    Parameters
    ----------
    marks : Marks
        Of one fish.
    order : sequence of str
        Landmarks of the question; equally sure ones keep this order.
    """
    waiting = [name for name in order if is_proposed(marks, name)]
    return tuple(sorted(waiting, key=lambda name: marks.landmarks[name].confidence or 0.0))


def next_asked(marks: Marks, order: Sequence[str], after: str | None) -> str | None:
    """Give the landmark to ask for next: proposed ones, the least sure first, then open ones.

    Parameters
    ----------
    marks : Marks
        Of one fish.
    order : sequence of str
        Landmarks of the question in the order of asking.
    after : str, optional
        What is asked for now; it is not given again.

    Returns
    -------
    str or None
        None when every one is decided.
    """
    waiting = unsure_first(marks, order)
    turned = waiting
    if after in waiting:
        place = waiting.index(after) + 1
        turned = (*waiting[place:], *waiting[: place - 1])
    decided = {*marks.landmarks} if after is None else {*marks.landmarks, after}
    return turned[0] if turned else next_open(order, decided, after)


def with_proposal(marks: Marks, reading: Reading) -> Marks:
    """Take the program's marks of a fish over wherever no person has decided.

    Points that the program calls hidden are left open: the person is asked for them.

    Parameters
    ----------
    marks : Marks
        Of the fish.
    reading : Reading
        What the program sees.
    """
    return with_question_answered(replace(marks, proposal=_by_program(reading)))


def with_question_answered(marks: Marks) -> Marks:
    """Give the marks with the proposed points and edges of the present question, no others."""
    proposal = marks.proposal
    if proposal is None:
        return marks
    names = points_for(marks.question, marks.body_form)
    parts = _parts(marks.question, marks.body_form)
    landmarks = {
        n: m for n, m in marks.landmarks.items() if n in names or not is_proposed(marks, n)
    }
    outlines = {p: o for p, o in marks.outlines.items() if p in parts or not is_proposed(marks, p)}
    fresh = [proposal.landmarks[n] for n in names if n in proposal.landmarks]
    landmarks |= {m.name: m for m in fresh if m.state == "placed" and m.name not in landmarks}
    outlines |= {p: o for p, o in proposal.outlines.items() if p in parts and p not in outlines}
    return replace(marks, landmarks=landmarks, outlines=outlines)


def without_proposal(marks: Marks) -> Marks:
    """Throw away everything that stands as proposed; what the person decided stays."""
    landmarks = {n: m for n, m in marks.landmarks.items() if not is_proposed(marks, n)}
    outlines = {p: o for p, o in marks.outlines.items() if not is_proposed(marks, p)}
    return replace(marks, landmarks=landmarks, outlines=outlines, proposal=None)


def with_agreed(marks: Marks, *names: str) -> Marks:
    """Give the marks with proposed points or parts found right as they stand."""
    standing = {name for name in names if is_proposed(marks, name)}
    return replace(marks, agreed=marks.agreed | standing)


def all_agreed(marks: Marks) -> Marks:
    """Give the marks with everything proposed found right."""
    return with_agreed(marks, *marks.landmarks, *marks.outlines)


def with_stations_followed(marks: Marks) -> Marks:
    """Let proposed points follow the corrections of points at their station of the body.

    They are placed anew from the proposal each time, so that the order of corrections does not
    matter. A point that was agreed with counts as a correction by nothing.

    Returns
    -------
    Marks
        With the ends of proposed fin edges moved along with their base points.
    """
    axis = _axis(marks.proposal)
    if marks.proposal is None or axis is None:
        return marks
    for station in STATIONS:
        moves = [_correction(marks, name) for name in station]
        known = [move for move in moves if move is not None]
        waiting = [name for name in station if is_proposed(marks, name)]
        if known and waiting:
            step = FOLLOWS * float(np.mean(known, axis=0) @ axis) * axis
            marks = _moved(marks, marks.proposal, waiting, step)
    return marks


def _by_program(reading: Reading) -> Reading:
    """Give a reading with every mark signed by the program, as it signed the reading."""
    signed = reading.placed_by if reading.placed_by.startswith(PROGRAM) else PROGRAM
    landmarks = {n: replace(m, placed_by=signed) for n, m in reading.landmarks.items()}
    outlines = {p: replace(o, placed_by=signed) for p, o in reading.outlines.items()}
    return replace(reading, landmarks=landmarks, outlines=outlines, placed_by=signed)


def _parts(question: str, form_id: str) -> tuple[str, ...]:
    """Parts whose edges a question needs."""
    kind, _, fin = question.partition(":")
    if kind == "full":
        return ("body", *body_form(form_id).fins)
    if kind == "sex":  # the width of a fin tells a rod from a fan
        return tuple(body_form(form_id).tells)
    return (fin,) if kind == "fin" else ()


def _axis(proposal: Reading | None) -> NDArray[np.float64] | None:
    """Direction from the snout to the base of the tail as proposed, length 1."""
    if proposal is None or not proposal.placed("snout_tip", "caudal_base"):
        return None
    along = proposal.point("caudal_base") - proposal.point("snout_tip")
    length = float(np.hypot(*along))
    return along / length if length > 0 else None


def _correction(marks: Marks, name: str) -> NDArray[np.float64] | None:
    """How far a person moved a proposed point; None where nobody has decided yet."""
    assert marks.proposal is not None
    mark = marks.landmarks.get(name)
    if mark is None or mark.state != "placed" or is_proposed(marks, name):
        return None
    if not marks.proposal.placed(name):
        return None
    return np.asarray(mark.point, float) - marks.proposal.point(name)


def _moved(
    marks: Marks, proposal: Reading, names: Sequence[str], step: NDArray[np.float64]
) -> Marks:
    """Put proposed points a step beside where they were proposed; fin edges come along."""
    for name in names:
        before: Landmark = marks.landmarks[name]
        x, y = (float(value) for value in proposal.point(name) + step)
        outlines = with_end_moved(marks.outlines, before, (x, y))
        moved = replace(before, x_px=x, y_px=y)
        marks = replace(marks.with_landmark(moved), outlines=outlines)
    return marks
