"""Which drags set two points at once."""

import pytest

from finmeasure.landmarks.scheme import body_forms, points_for
from finmeasure.marking.lengths import length_asked_for
from finmeasure.marking.session import MarkingSession

SIZE = (4000, 3000)


@pytest.mark.parametrize("form", list(body_forms()))
def test_two_gestures_answer_how_long_a_fish_is(form):
    session = MarkingSession.start(form, "size", size_px=SIZE)
    gestures = 0
    while session.at is not None and gestures < 9:
        for name in length_asked_for(session) or (session.at,):  # a round tail's end is a click
            assert session.at == name
            session.place((100 + 500 * len(session.marks.landmarks), 50), zoom=1.0)
        gestures += 1
    assert gestures == 2
    assert set(session.marks.landmarks) == set(points_for("size", form))


def test_other_questions_and_half_set_lengths_want_clicks():
    session = MarkingSession.start("plain", "full", size_px=SIZE)
    assert length_asked_for(session) is None
    session.set_question("size")
    session.ask_for("caudal_base")
    assert length_asked_for(session) is None
    session.place((500, 50), zoom=1.0)
    session.ask_for("snout_tip")
    assert length_asked_for(session) is None
