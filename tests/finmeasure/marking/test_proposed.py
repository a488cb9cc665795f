"""What happens to the program's marks while a person checks them; no window, no network.

The expected places follow from the definition (half of a correction along the body, at its
station); that they are nearer to the truth on real photos is the benchmark's matter.
"""

import json
import math

import numpy as np
import pytest

from finmeasure.landmarks.scheme import body_form, points_for
from finmeasure.marking.drafts import draft_from_dict, draft_to_dict
from finmeasure.marking.proposed import FOLLOWS, PROGRAM, STATIONS
from finmeasure.marking.session import MarkingSession
from finmeasure.reading import Landmark, Outline, Reading

SIZE = (4000, 3000)


def proposal(turned_deg=0.0, form="plain", hidden=()):
    """Give a proposal of every point of a form, the later asked the less sure, and two edges."""
    turn = np.deg2rad(turned_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    names = points_for("full", form)
    landmarks = {}
    for place, name in enumerate(names):
        x, y = rotation @ (60.0 * place, 13.0 * (place % 5)) + 900.0
        sure = 0.95 - 0.02 * place
        landmarks[name] = Landmark(name, x, y, u_px=4.0, placed_by="x", confidence=sure)
    for name in hidden:
        landmarks[name] = Landmark(name, state="hidden", placed_by="x")
    ends = [landmarks[n].point for n in ("caudal_upper_insertion", "caudal_lower_insertion")]
    margin = np.array([ends[0], np.add(ends[0], (80.0, 20.0)), ends[1]])
    outlines = {"caudal": Outline("caudal", margin, placed_by="x", confidence=0.8)}
    return Reading("1", landmarks, outlines, form, "x")


def checking(question="full", **how):
    session = MarkingSession.start("plain", question, size_px=SIZE, person="Ina")
    session.accept_proposal(proposal(**how))
    return session


def test_the_least_sure_point_is_asked_for_first():
    session = checking()
    sure = [session.marks.landmarks[name].confidence for name in session.to_check]
    assert sure == sorted(sure)
    assert session.at == session.to_check[0] == points_for("full", "plain")[-1]
    second = session.to_check[1]
    session.agree(session.at)
    assert session.at == second
    session.skip()
    assert session.at == session.to_check[1]
    assert second in session.to_check


def test_hidden_points_are_asked_for_after_the_proposed_ones():
    session = checking(hidden=("pelvic_tip",))
    assert "pelvic_tip" in session.open_points
    session.agree_with_all()
    assert session.at == "pelvic_tip"
    assert session.to_check == ()
    assert session.reading().state_of("pelvic_tip") == "hidden"


def test_only_points_of_the_question_are_taken_over():
    session = checking("size")
    assert set(session.marks.landmarks) == set(points_for("size", "plain"))
    assert not session.marks.outlines
    session.set_question("full")
    assert set(session.marks.landmarks) == set(points_for("full", "plain"))
    assert set(session.marks.outlines) == {"caudal"}
    session.agree("dorsal_tip")
    session.set_question("size")
    assert set(session.marks.landmarks) == {*points_for("size", "plain"), "dorsal_tip"}


def test_the_edge_of_the_fin_that_tells_the_sex_comes_with_its_points():
    given = proposal(form="livebearer")
    line = np.array([(0.0, 0.0), (9.0, 9.0), (18.0, 0.0)])
    given.outlines["anal"] = Outline("anal", line, placed_by="x")
    session = MarkingSession.start("livebearer", "sex", size_px=SIZE)
    session.accept_proposal(given)
    assert "anal" in session.marks.outlines  # STRI page Poeciliidae: the rod is anal rays
    assert set(session.marks.outlines) <= set(body_form("livebearer").tells)
    assert set(session.marks.landmarks) == set(points_for("sex", "livebearer"))


def test_another_kind_of_fish_takes_over_what_it_has():
    session = MarkingSession.start("plain", "full", size_px=SIZE)
    session.accept_proposal(proposal(form="adipose"))
    assert "adipose_origin" not in session.marks.landmarks
    session.set_body_form("adipose")
    assert session.is_proposed("adipose_origin")
    assert set(session.marks.landmarks) == set(body_form("adipose").landmarks)


def test_a_reading_keeps_for_every_point_who_placed_it():
    session = checking()
    session.move("dorsal_tip", (1500, 950), zoom=1.0)
    session.agree_with_all()
    reading = session.reading()
    assert reading.placed_by == "Ina"
    assert reading.landmarks["dorsal_tip"].placed_by == "Ina"
    assert reading.landmarks["dorsal_tip"].confidence is None
    snout = reading.landmarks["snout_tip"]
    assert (snout.placed_by, snout.u_px, snout.confidence) == (PROGRAM, 4.0, 0.95)


@pytest.mark.parametrize("turned_deg", [0.0, 90.0, 215.0])
@pytest.mark.parametrize("station", STATIONS, ids=lambda station: station[0])
def test_points_of_one_station_follow_along_the_body_only(station, turned_deg):
    session = checking(turned_deg=turned_deg)
    before = dict(session.marks.landmarks)
    axis = np.subtract(before["caudal_base"].point, before["snout_tip"].point)
    axis = axis / np.hypot(*axis)
    across = np.array([-axis[1], axis[0]])
    first, *others = station
    session.move(first, np.add(before[first].point, 30.0 * axis + 12.0 * across), zoom=1.0)
    for name, mark in session.marks.landmarks.items():
        step = np.subtract(mark.point, before[name].point)
        if name in others:
            assert step == pytest.approx(FOLLOWS * 30.0 * axis)
            assert session.is_proposed(name)
        elif name != first:
            assert step == pytest.approx(0.0)


def test_following_takes_the_fin_edge_along_and_is_taken_back_by_undo():
    session = checking()
    before = session.marks
    session.move("caudal_base", np.add(before.landmarks["caudal_base"].point, (40, 0)), zoom=1.0)
    rear = session.marks.landmarks["caudal_lower_insertion"].point
    assert rear != before.landmarks["caudal_lower_insertion"].point
    assert session.marks.outlines["caudal"].points_px[-1].tolist() == list(rear)
    session.undo()
    assert session.marks.landmarks == before.landmarks
    session.redo()
    assert session.marks.landmarks["caudal_lower_insertion"].point == rear


def test_the_order_of_corrections_does_not_matter_and_agreed_points_stay():
    places = {}
    for order in (
        ("caudal_base", "caudal_upper_insertion"),
        ("caudal_upper_insertion", "caudal_base"),
    ):
        session = checking()
        given = proposal().landmarks
        for name in order:
            session.move(
                name, np.add(given[name].point, (50 if name == "caudal_base" else 20, 5)), zoom=1
            )
        places[order] = session.marks.landmarks["caudal_lower_insertion"].point
    first, second = places.values()
    assert first == pytest.approx(second)
    session = checking()
    session.agree("caudal_lower_insertion")
    session.move("caudal_base", np.add(given["caudal_base"].point, (50, 0)), zoom=1)
    kept = session.marks.landmarks["caudal_lower_insertion"].point
    assert kept == pytest.approx(given["caudal_lower_insertion"].point)


def test_what_a_group_taught_the_program_is_still_a_proposal():
    given = proposal()
    taught = Reading("1", given.landmarks, given.outlines, "plain", "finmeasure, taught by X")
    session = MarkingSession.start("plain", "full", size_px=SIZE)
    session.accept_proposal(taught)
    assert set(session.to_check) == set(points_for("full", "plain"))
    assert session.marks.landmarks["snout_tip"].placed_by == "finmeasure, taught by X"


def test_a_proposal_is_thrown_away_without_what_the_person_did():
    session = checking()
    session.move("snout_tip", (905, 905), zoom=1.0)
    session.agree("eye_front")
    session.drop_proposal()
    assert set(session.marks.landmarks) == {"snout_tip", "eye_front"}
    assert not session.marks.outlines
    assert session.at is not None
    session.undo()
    assert len(session.to_check) > 10


def test_a_draft_keeps_the_proposal_and_what_was_agreed_with():
    session = checking(hidden=("pelvic_tip",))
    session.agree("dorsal_tip")
    record = json.loads(json.dumps(draft_to_dict(session.marks), allow_nan=False))
    back = draft_from_dict(record)
    assert draft_to_dict(back) == draft_to_dict(session.marks)
    assert back.proposal.landmarks["snout_tip"].confidence == 0.95
    assert math.isnan(back.proposal.landmarks["pelvic_tip"].x_px)
    assert "dorsal_tip" in back.agreed
    for key in ("proposal", "agreed"):  # as programs before this one wrote them
        del record[key]
    assert draft_from_dict(record).proposal is None


def test_marks_of_a_nameless_person_are_signed_later():
    session = MarkingSession.start("plain", "full", size_px=SIZE)
    session.place((100, 100), zoom=1.0)
    session.accept_proposal(proposal())
    session.sign("Ina")
    signed = {mark.placed_by for mark in session.marks.landmarks.values()}
    assert signed == {"Ina", PROGRAM}
    session.place((300, 300), zoom=1.0)
    assert session.reading().placed_by == "Ina"
