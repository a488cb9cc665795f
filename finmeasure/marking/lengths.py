"""Lengths that one drag sets: two points with one gesture, as one lays a ruler."""

from __future__ import annotations

from finmeasure.marking.session import MarkingSession

#: Where a drag begins, and where it ends.
LENGTHS = {"snout_tip": "caudal_base", "caudal_upper_tip": "caudal_lower_tip"}


def length_asked_for(session: MarkingSession) -> tuple[str, str] | None:
    """Give the two points that a drag would set now; None where a click is wanted.

    Only the question ``size`` is made of such lengths, and only while neither point is decided.

    Parameters
    ----------
    session : MarkingSession
        The fish.

    Examples
    --------
    >>> length_asked_for(MarkingSession.start("plain", "size", size_px=(400, 300)))
    ('snout_tip', 'caudal_base')
    """
    start = session.at
    if session.marks.question != "size" or start not in LENGTHS:
        return None
    end = LENGTHS[start]
    decided = {start, end} & session.marks.landmarks.keys()
    return None if decided or end not in session.order else (start, end)
