"""What the card beside the mouse says, in plain words."""

from __future__ import annotations

from finmeasure.landmarks.records import LandmarkDefinition
from finmeasure.landmarks.scheme import fin_definitions, landmark_definition
from finmeasure.marking.lengths import length_asked_for
from finmeasure.marking.session import MarkingSession
from finmeasure.measurements.definitions import MEASURES
from finmeasure.measurements.records import Measures
from finmeasure.report.numbers import with_limits
from napari_finmeasure._hint_card import Hint

LENGTHS = ("standard_length", "total_length")
ONE_POINT_GROUPS = {"head": "head", "body": "body"}


KIND_HINT = Hint(
    "Which kind of fish is it?",
    "Choose the nearest picture at the right. It decides which points are asked for.",
)


def point_hint(session: MarkingSession, measures: Measures) -> Hint:
    """Say which point is asked for; when all are decided, the answer and what can be done."""
    if session.at is None:
        return Hint(
            how_long(session, measures) or "All points are set",
            "Drag a point to correct it. Trace a fin's edge with E, or confirm with Enter.",
        )
    definition = landmark_definition(session.at)
    if session.is_proposed(session.at):
        return _check_hint(session, definition)
    place = session.order.index(session.at) + 1
    return Hint(
        title=definition.shown,
        synonyms=_synonyms(definition.synonyms),
        text=_told(session, definition) + _how_to_drag(session),
        keys=_keys("A none", "H hidden", "S later", "B back", f"{place} of {len(session.order)}"),
        form_id=session.marks.body_form,
        lit=session.at,
        lit_fin="" if definition.fin in ONE_POINT_GROUPS else definition.fin,
    )


def _check_hint(session: MarkingSession, definition: LandmarkDefinition) -> Hint:
    """Ask whether a proposed point is right."""
    sure = session.marks.landmarks[definition.name].confidence
    told = "" if sure is None else f" The program is {100 * sure:.0f} % sure."
    return Hint(
        title=f"Right? {definition.shown}",
        synonyms=_synonyms(definition.synonyms),
        text=f"Look at the ring.{told} {_told(session, definition)}",
        keys=_keys(
            "Y yes", "click the right place", "H hidden", "Enter all right",
            f"{len(session.to_check)} to check",
        ),
        form_id=session.marks.body_form,
        lit=definition.name,
        lit_fin="" if definition.fin in ONE_POINT_GROUPS else definition.fin,
    )  # fmt: skip


def how_long(session: MarkingSession, measures: Measures) -> str:
    """Answer "How long is it?" as soon as its points are set; empty for other questions."""
    if session.marks.question != "size" or session.open_points:
        return ""
    known = [measures.by_id[one] for one in LENGTHS if one in measures.by_id]
    told = [
        f"{MEASURES[one.id].shown} {with_limits(one.value, one.u)} mm"
        for one in known
        if one.state == "measured" and one.value is not None
    ]
    return ", ".join(told).capitalize()


def edge_hint(fin: str, form_id: str, traced: int) -> Hint:
    """Say how the edge of a fin is traced."""
    shown = fin_name(fin)
    if traced == 0:
        text = "Click along the free edge, from the front of the fin to its rear."
    else:
        text = "Go on clicking. Drag a corner to move it, right-click it to take it away."
    return Hint(
        title=f"Edge of the {shown}",
        text=text,
        keys=_keys("G pull to the edge", "Backspace last corner", "E next fin"),
        form_id=form_id,
        lit_fin=fin,
    )


def fin_name(fin: str) -> str:
    """Name of a fin on screen."""
    return fin_definitions()[fin].shown


def _told(session: MarkingSession, definition: LandmarkDefinition) -> str:
    """Give the definition; for the sex also where that fin stands, as two are easily confused."""
    fin = fin_definitions().get(definition.fin)
    if session.marks.question != "sex" or fin is None:
        return definition.definition
    return f"{definition.definition} The {fin.shown}: {fin.where}"


def _how_to_drag(session: MarkingSession) -> str:
    """Say that a drag sets this point and another one, where it does."""
    pair = length_asked_for(session)
    if pair is None:
        return ""
    return f" Click it, or drag from it to the {landmark_definition(pair[1]).shown}."


def _keys(*keys: str) -> str:
    """Put keys on a line that breaks only between two of them."""
    return "  · ".join(key.replace(" ", "\u00a0") for key in keys)


def _synonyms(words: tuple[str, ...]) -> str:
    """Give the first two synonyms as words."""
    shown = [word.replace("_", " ") for word in words[:2]]
    return f"also: {', '.join(shown)}" if shown else ""
