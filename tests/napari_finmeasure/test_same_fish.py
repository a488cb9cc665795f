"""The same fish? Pairs side by side in a real window, answered by keys."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from qtpy.QtCore import Qt

from finmeasure.study.store import Study

_spec = importlib.util.spec_from_file_location(
    "drawn_series",
    Path(__file__).parents[1] / "finmeasure" / "timeseries" / "drawn_series.py",
)
drawn = importlib.util.module_from_spec(_spec)
sys.modules["drawn_series"] = drawn
_spec.loader.exec_module(drawn)

pytestmark = pytest.mark.gui


def names(folder):
    with Study.open(folder, read_only=True) as study:
        return {one.photo: one.reading.fish for one in study.current_readings()}


def test_pairs_are_answered_by_keys_and_taken_back(window, qtbot, tmp_path):
    folder = drawn.study_of_two_visits(tmp_path, np.random.default_rng(40))
    hands = window(1366, 768)
    hands.open(folder)
    hands.key(Qt.Key.Key_V, Qt.KeyboardModifier.ShiftModifier)
    panel = hands.desk.same_fish_panel
    qtbot.waitUntil(lambda: panel.pair is not None, timeout=60000)
    first, count = panel.pair, len(panel.pairs)
    assert count >= 2
    assert "flank agrees" in panel.why.text()
    sizes = [picture.pixmap().size() for picture in panel.pictures]
    assert sizes[0] == sizes[1]
    assert sizes[0].width() > 300
    assert panel.width() <= 1366

    qtbot.keyClick(panel, Qt.Key.Key_PageDown)
    assert panel.pair is panel.pairs[1]
    qtbot.keyClick(panel, Qt.Key.Key_PageUp)
    assert panel.pair is first
    # Letters typed into the name's field are letters, not answers.
    panel.name.selectAll()
    panel.name.setFocus()
    qtbot.keyClicks(panel.name, "sand")
    assert (panel.name.text(), panel.pair) == ("sand", first)
    qtbot.keyClick(panel.name, Qt.Key.Key_Return)
    assert panel.buttons["same"].hasFocus()
    qtbot.keyClick(panel, Qt.Key.Key_S)
    both = {first.earlier.photo, first.later.photo}
    assert {photo for photo, name in names(folder).items() if name == "sand"} == both
    assert "sand" in panel.said.text()
    assert len(panel.pairs) == count - 1

    qtbot.keyClick(panel, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert set(names(folder).values()) == {"1"}
    assert panel.pair is first

    qtbot.keyClick(panel, Qt.Key.Key_N)
    assert len(panel.pairs) == count
    assert panel.pairs[-1].unsure
    while panel.pair is not None:
        qtbot.keyClick(panel, Qt.Key.Key_D)
    assert "All pairs are answered" in panel.place.text()
    assert not panel.buttons["same"].isVisible()

    panel.close()
    hands.desk.same_fish()
    qtbot.waitUntil(lambda: "no pair to look at" in panel.place.text(), timeout=60000)
    assert not panel.undo_button.isVisible()
    panel.close()


def test_pages_without_what_they_need_say_so_and_the_diary_is_kept(window, qtbot, photos):
    hands = window(1366, 768)
    hands.desk.same_fish()  # before anything is open
    assert hands.desk.same_fish_panel is None
    hands.desk.diary()
    assert hands.desk.diary_page is None
    hands.open(photos, kind="adipose")
    hands.desk.same_fish()
    assert "nothing to compare" in hands.desk.same_fish_panel.place.text()
    hands.desk.same_fish_panel.close()

    hands.key(Qt.Key.Key_D)
    page = hands.desk.diary_page
    assert page.isVisible()
    page.group.setCurrentText("tank 4")
    page.day.setText("2026-03-01")
    page.event_button.setFocus()
    qtbot.keyClick(page.event_button, Qt.Key.Key_Space)
    assert "say what happened" in page.said.text()
    page.what.setCurrentText("water change")
    page.note.setText("a third")
    qtbot.keyClick(page.event_button, Qt.Key.Key_Space)
    qtbot.keyClicks(page.values["nitrite"], "0,5")
    qtbot.keyClick(page.water_button, Qt.Key.Key_Space)
    lines = {page.record.item(row).text() for row in range(page.record.count())}
    assert lines == {"2026-03-01  water: nitrite 0.5 mg/l", "2026-03-01  water change (a third)"}
    study = hands.desk.bench.workspace.study
    assert [(row.group, row.event) for row in study.events()] == [("tank 4", "water change")]
    assert [(row.quantity, row.value) for row in study.water()] == [("nitrite", 0.5)]
    page.close()
