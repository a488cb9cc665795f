"""Is it a male? In a real window: the fin lit up, the answer with its reason, the reply.

The photo shows a drawn male livebearer; that a rod-shaped anal fin is a male's is published
(Hubbs et al. 1991, see finmeasure/shipment/sex_rules.py).
"""

import cv2
import numpy as np
import pytest

pytest.importorskip("napari")

from qtpy.QtCore import Qt
from qtpy.QtWidgets import QApplication

pytestmark = pytest.mark.gui


def test_the_answer_stands_in_the_window_and_can_be_sent_on(window, photos, drawn, tmp_path):
    truth = drawn["c"].truth
    hands = window(1366, 768)
    hands.open(photos / "c.jpg", kind="livebearer", question="sex")
    box = hands.desk.points_page.answer
    assert not box.isVisible()
    hands.mark_all(truth)
    assert box.isVisible()
    hands.key(Qt.Key.Key_E)  # the edge of the fin that tells, not of any
    assert hands.desk.edges_page.fin == "anal"
    hands.desk.bench.set_margin("anal", truth.outlines["anal"])
    hands.key(Qt.Key.Key_Escape)
    assert box.answer.text().endswith("male-like")
    assert "rod" in box.reason.text()
    assert "anal fin" in box.reason.text()
    ring = hands.desk.bench.ring_round_fin
    away = np.hypot(*(ring - truth.landmarks["anal_tip"]).T)
    middle = ring.mean(axis=0)
    assert np.hypot(*(middle - truth.landmarks["anal_origin"])) < away.max()
    hands.qtbot.mouseClick(box.copy, Qt.MouseButton.LeftButton)
    reply = QApplication.clipboard().text()
    assert reply.startswith("male-like: ")
    assert "No guarantee" in reply
    box.save_picture(tmp_path / "reply.jpg")
    picture = cv2.imread(str(tmp_path / "reply.jpg"))
    assert picture.shape[1] >= 1000
    box.save_picture(tmp_path / "nowhere" / "reply.jpg")
    assert "Choose another folder" in hands.desk.stage.message.text()


def test_without_its_points_there_is_no_answer_and_other_questions_have_none(window, photos):
    hands = window(1366, 768)
    hands.open(photos / "c.jpg", kind="livebearer", question="sex")
    box = hands.desk.points_page.answer
    hands.click((700.0, 500.0))
    assert not box.isVisible()
    assert "rod" in hands.desk.points_page.told.text()  # where to look, before any answer
    while hands.session.at is not None:
        hands.key(Qt.Key.Key_H)
    assert box.isVisible()
    assert "cannot tell" in box.answer.text()
    hands.desk.bench.set_question("size")
    assert not box.isVisible()


def test_the_program_lights_the_fin_up_before_a_click(window, photos, qtbot):
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="livebearer", question="sex", proposes=True)
    qtbot.waitUntil(lambda: bool(hands.session.to_check), timeout=60000)
    assert len(hands.desk.bench.ring_round_fin) > 20
    box = hands.desk.points_page.answer
    if box.isVisible():
        assert "check them first" in box.reason.text()
    hands.desk.bench.agree_with_all()
    assert "check them first" not in box.reason.text()
