"""Who is marking: asked once, shown, changed; every mark and draft carries the name."""

import pytest

pytest.importorskip("napari")

from qtpy.QtCore import Qt

from finmeasure.study.store import Study

STUDY = "finmeasure study"
pytestmark = pytest.mark.gui


def test_the_name_is_asked_once_and_signs_what_was_marked_before(window, photos, drawn):
    truth = drawn["a"].truth
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    desk = hands.desk
    assert desk.person.isVisible()
    hands.click(truth.landmarks["snout_tip"])
    hands.qtbot.mouseClick(desk.person.name, Qt.MouseButton.LeftButton)
    hands.qtbot.keyClicks(desk.person.name, "Asa H")  # keys of the window stay out of the line
    assert hands.session.at == "caudal_base"
    hands.key(Qt.Key.Key_Return)
    assert not desk.person.isVisible()
    assert "Asa H" in desk.person_button.text()
    assert hands.session.marks.landmarks["snout_tip"].placed_by == "Asa H"
    study = desk.bench.workspace.study
    assert study.setting("window.person") == "Asa H"
    assert not study.drafts_of("a.jpg", "hand")
    assert len(study.drafts_of("a.jpg", "Asa H")["1"]["marks"]["landmarks"]) == 1
    hands.mark_all(truth)
    hands.key(Qt.Key.Key_Return)
    desk.bench.close_workspace()
    with Study.open(photos / STUDY, read_only=True) as stored:
        (one,) = stored.current_readings("a.jpg")
    assert one.reading.placed_by == "Asa H"
    assert {mark.placed_by for mark in one.reading.landmarks.values()} == {"Asa H"}
    hands.open(photos, question="size")
    assert not desk.person.isVisible()  # asked once


def test_another_person_gets_a_sheet_of_her_own(window, photos, drawn):
    truth = drawn["a"].truth
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    desk = hands.desk
    assert desk.bench.use_person("Ina")
    hands.click(truth.landmarks["snout_tip"])
    hands.qtbot.mouseClick(desk.person_button, Qt.MouseButton.LeftButton)
    assert desk.person.name.text() == "Ina"
    desk.person.name.setText("Bea")
    hands.qtbot.mouseClick(desk.person.good, Qt.MouseButton.LeftButton)
    assert "Bea" in desk.person_button.text()
    assert not hands.session.marks.landmarks
    hands.click(truth.landmarks["snout_tip"])
    hands.click(truth.landmarks["caudal_base"])
    assert desk.bench.use_person("Ina")
    assert set(hands.session.marks.landmarks) == {"snout_tip"}
    assert hands.session.person == "Ina"


def test_what_is_no_name_is_said_and_the_question_can_wait(window, photos):
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    desk = hands.desk
    desk.person.name.setText("finmeasure")
    assert desk.person.enter()
    assert "no person can be called that" in desk.stage.message.text()
    assert desk.person.isVisible()
    hands.qtbot.mouseClick(desk.person.later, Qt.MouseButton.LeftButton)
    assert not desk.person.isVisible()
    assert "who" in desk.person_button.text()
    assert desk.bench.workspace.person == "hand"
