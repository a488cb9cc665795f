"""Order, states, undo and drafts of marking, without any window."""

import json
import math

import numpy as np
import pytest

from finmeasure.errors import MarkingError
from finmeasure.landmarks.scheme import body_forms, points_for
from finmeasure.marking.drafts import draft_from_dict, draft_to_dict
from finmeasure.marking.proposed import PROGRAM
from finmeasure.marking.session import MarkingSession
from finmeasure.reading import Landmark, Reading

SIZE = (4000, 3000)


def start(question="full", form="adipose"):
    return MarkingSession.start(form, question, size_px=SIZE)


def place_all(session):
    """Place every landmark a hundred pixels apart and give the points by name."""
    points = {}
    while session.at is not None:
        name = session.at
        points[name] = (100.0 + 100.0 * len(points), 500.0)
        assert session.place(points[name], zoom=1.0)
    return points


def test_points_are_asked_for_in_the_order_of_the_question():
    session = start("size")
    asked = []
    while session.at is not None:
        asked.append(session.at)
        session.place((50.0 * (len(asked) + 1), 60.0), zoom=1.0)
    assert tuple(asked) == points_for("size", "adipose")
    assert session.open_points == ()
    assert session.place((900, 900), zoom=1.0) is False  # nothing is asked for any more


@pytest.mark.parametrize("form", list(body_forms()))
def test_every_body_form_can_be_marked_to_the_end(form):
    session = start("full", form)
    points = place_all(session)
    assert set(points) == set(points_for("full", form))
    reading = session.reading()
    assert all(reading.point(name).tolist() == list(point) for name, point in points.items())


def test_an_absent_fin_is_one_answer_and_a_hidden_point_is_only_itself():
    session = start()
    session.ask_for("adipose_origin")
    session.set_state("absent")
    assert session.marks.landmarks["adipose_tip"].state == "absent"
    session.ask_for("anal_origin")
    session.set_state("hidden")
    assert session.reading().state_of("anal_origin") == "hidden"
    assert "anal_tip" in session.open_points
    assert session.at not in ("anal_origin", "adipose_tip")


def test_absent_inside_a_fin_leaves_the_rest_of_the_fin_to_be_asked():
    session = start(form="cichlid")
    session.ask_for("dorsal_dip")
    session.set_state("absent")
    assert "dorsal_origin" in session.open_points


def test_skip_asks_again_at_the_end_and_back_asks_for_the_one_before():
    session = start("size")
    first, second = session.order[:2]
    session.skip()
    assert session.at == second
    session.back()
    assert session.at == first
    session.skip()
    while len(session.open_points) > 1:
        session.place((40.0 * (len(session.open_points) + 1), 60.0), zoom=1.0)
    assert session.at == first


def test_undo_and_redo_have_no_limit_and_a_new_change_drops_the_undone():
    session = start()
    points = place_all(session)
    for count in range(len(points), 0, -1):
        assert len(session.marks.landmarks) == count
        assert session.undo()
    assert session.marks.landmarks == {}
    assert not session.undo()
    assert session.at == session.order[0]
    for _ in points:
        assert session.redo()
    assert not session.redo()
    session.undo()
    session.place((10, 10), zoom=1.0)
    assert not session.can_redo


def test_a_double_click_makes_one_point_and_a_later_click_there_a_second_one():
    session = start("size")
    first, second = session.order[:2]
    assert session.place((100, 100), zoom=1.0, time_s=10.0)
    assert not session.place((101, 100), zoom=1.0, time_s=10.2)
    assert session.at == second
    assert session.place((100, 100), zoom=1.0, time_s=12.0)
    assert set(session.marks.landmarks) == {first, second}


def test_two_quick_clicks_apart_are_two_points():
    session = start("size")
    session.place((100, 100), zoom=1.0, time_s=10.0)
    assert session.place((300, 100), zoom=1.0, time_s=10.1)


def test_renaming_moves_the_point_and_swaps_with_one_that_is_placed():
    session = start()
    points = place_all(session)
    session.rename("dorsal_origin", "dorsal_end")
    reading = session.reading()
    assert reading.point("dorsal_end").tolist() == list(points["dorsal_origin"])
    assert reading.point("dorsal_origin").tolist() == list(points["dorsal_end"])
    session.remove("anal_tip")
    session.rename("anal_end", "anal_tip")
    assert session.at == "anal_end"
    assert session.reading().point("anal_tip").tolist() == list(points["anal_end"])
    assert session.undo()
    assert session.reading().point("anal_end").tolist() == list(points["anal_end"])


@pytest.mark.parametrize("point", [(-5, 10), (10, -5), (4000, 10), (10, 3000), (math.nan, 5)])
def test_a_point_outside_the_photo_is_refused_and_changes_nothing(point):
    session = start()
    with pytest.raises(MarkingError, match="outside the photo of 4000 × 3000"):
        session.place(point, zoom=1.0)
    assert not session.can_undo


def test_a_wrong_name_is_refused_with_the_names_that_are_allowed():
    session = start("size")
    with pytest.raises(MarkingError, match="snout_tip"):
        session.ask_for("dorsal_horn")
    with pytest.raises(MarkingError, match="not placed"):
        session.move("snout_tip", (5, 5), zoom=1.0)


def test_a_click_in_a_small_picture_is_less_exact():
    """u² = u_default² + (1 screen pixel / zoom)², with the definition's own default."""
    from finmeasure.landmarks.scheme import landmark_definitions

    session = start("size")
    while session.at is not None:
        x = {"snout_tip": 1000.0, "caudal_base": 3000.0}.get(session.at, 2000.0)
        session.place((x, 1000.0 + 20 * len(session.open_points)), zoom=0.1)
    snout = session.reading().landmarks["snout_tip"]
    ends = [session.reading().point(n) for n in ("snout_tip", "caudal_base")]
    length_px = np.hypot(*(ends[1] - ends[0]))
    default = landmark_definitions()["snout_tip"].u_along_pct_sl * length_px / 100
    assert snout.u_px == pytest.approx(math.hypot(default, 10.0), rel=1e-12)
    session.move("snout_tip", snout.point, zoom=8.0)
    assert session.reading().landmarks["snout_tip"].u_px is None  # that of a careful person


def test_live_reading_moves_one_point_without_touching_the_marks():
    session = start("size")
    place_all(session)
    name = session.order[0]
    before = session.reading().point(name).tolist()
    live = session.reading(moved=(name, (7.0, 8.0)), zoom=1.0)
    assert live.point(name).tolist() == [7.0, 8.0]
    assert session.reading().point(name).tolist() == before


def test_a_changed_body_form_keeps_marks_and_asks_for_what_is_new():
    session = start("full", "plain")
    place_all(session)
    session.set_body_form("two_dorsals")
    assert session.at == "second_dorsal_origin"
    assert "snout_tip" in session.marks.landmarks


def test_another_kind_or_question_goes_on_asking_for_the_same_point():
    session = start("full", "plain")
    session.set_body_form("adipose")
    assert session.at == "snout_tip"
    session.set_question("size")
    assert session.at == "snout_tip"


def test_a_proposal_never_overwrites_what_a_person_decided():
    session = start("size")
    session.place((100, 100), zoom=1.0)
    first, second = session.order[:2]
    proposed = {name: Landmark(name, 9.0, 9.0, placed_by="x") for name in (first, second)}
    session.accept_proposal(Reading("1", proposed))
    assert session.reading().point(first).tolist() == [100.0, 100.0]
    assert session.is_proposed(second)
    assert not session.is_proposed(first)
    session.move(second, (11, 12), zoom=1.0)
    assert not session.is_proposed(second)
    assert session.marks.landmarks[second].placed_by != PROGRAM


def test_fin_edges_and_their_marks():
    session = start()
    margin = [(10, 10), (20, 5), (30, 10), (-4, 12)]
    session.set_margin("dorsal", margin)
    session.set_spread("dorsal", "clamped")
    session.set_edge("dorsal", "red")
    outline = session.reading().outlines["dorsal"]
    assert outline.points_px.tolist()[:3] == [[10, 10], [20, 5], [30, 10]]
    assert outline.points_px[3].tolist() == [0, 12]  # moved to the photo's rim
    assert (outline.spread, outline.edge, outline.closed) == ("clamped", "red", False)
    session.set_margin("dorsal", margin[:3])
    assert session.reading().outlines["dorsal"].edge == "red"
    session.set_margin("dorsal", margin[:1])  # a line that was only begun
    assert "dorsal" in session.marks.outlines
    assert "dorsal" not in session.reading().outlines
    with pytest.raises(MarkingError, match="no part of a fish"):
        session.set_margin("wing", margin)
    with pytest.raises(MarkingError, match="healed_thick"):
        session.set_edge("dorsal", "rotten")


def test_a_clamped_fin_that_was_not_traced_keeps_its_mark():
    session = start()
    place_all(session)
    session.set_spread("dorsal", "clamped")
    outline = session.reading().outlines["dorsal"]
    ends = [session.reading().point(name).tolist() for name in ("dorsal_origin", "dorsal_end")]
    assert outline.points_px.tolist() == ends
    assert outline.spread == "clamped"


def test_the_traced_edge_comes_along_when_its_base_point_is_moved():
    session = start()
    points = place_all(session)
    front, rear = points["dorsal_origin"], points["dorsal_end"]
    session.set_margin("dorsal", [front, (700, 300), (720, 310), rear])
    session.move("dorsal_origin", (555, 444), zoom=1.0)
    margin = session.reading().outlines["dorsal"].points_px
    assert margin.tolist() == [[555, 444], [700, 300], [720, 310], list(rear)]
    session.undo()
    assert session.reading().outlines["dorsal"].points_px[0].tolist() == list(front)


def test_a_draft_survives_json_to_the_last_bit():
    session = start()
    session.place((1 / 3, 2 / 3), zoom=0.37)
    session.set_state("hidden")
    session.ask_for("adipose_origin")
    session.set_state("absent")
    session.set_margin("dorsal", [(0.1, 0.2), (3, 4), (5, 6)])
    session.set_edge("anal", "whitish")
    text = json.dumps(draft_to_dict(session.marks), allow_nan=False)
    back = draft_from_dict(json.loads(text))
    assert draft_to_dict(back) == draft_to_dict(session.marks)
    assert back.landmarks[session.order[0]].point == (1 / 3, 2 / 3)
    assert back.at == session.at
    assert math.isnan(back.landmarks["adipose_tip"].x_px)


@pytest.mark.parametrize("record", [{}, {"format": 99}, {"format": 1, "landmarks": 5}])
def test_a_broken_draft_is_said_in_one_sentence(record):
    with pytest.raises(MarkingError, match="draft"):
        draft_from_dict(record)
