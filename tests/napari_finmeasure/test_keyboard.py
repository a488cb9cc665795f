"""The whole window without a mouse: every key goes to the window as the system would send it."""

import numpy as np
import pytest
from qtpy.QtCore import Qt, QTimer
from qtpy.QtTest import QTest
from qtpy.QtWidgets import QApplication, QLineEdit

from finmeasure.marking.queue import STATE_WORDS
from finmeasure.study.store import Study

pytestmark = pytest.mark.gui
Key, Modifier = Qt.Key, Qt.KeyboardModifier
ARROWS = ((Key.Key_Left, Key.Key_Right), (Key.Key_Up, Key.Key_Down))


class Keyboard:
    """Ten fingers; the mouse is never used."""

    def __init__(self, hands):
        self.hands, self.desk = hands, hands.desk

    def press(self, key, modifier=Modifier.NoModifier, times=1):
        """Press a key in the window that has the keyboard."""
        for _ in range(times):
            QTest.keyClick(QApplication.focusWindow(), key, modifier)

    def type(self, text):
        """Type into the field that has the keyboard."""
        for letter in text:
            QTest.keyClick(QApplication.focusWindow(), letter)

    def tab_to(self, widget):
        """Press Tab until a widget has the keyboard; it must come within one round."""
        for _ in range(60):
            if QApplication.focusWidget() is widget:
                return
            self.press(Key.Key_Tab)
        pytest.fail(f"Tab never leads to {widget!r} {widget.objectName()}")

    def walk_to(self, place):
        """Move the cross-hair to a place: large steps, then pixels of the screen."""
        window, hand = self.desk.window(), self.desk.stage.key_hand
        window.setUpdatesEnabled(False)  # painting every step in software would take minutes
        if hand.at is None:
            self.press(Key.Key_Left)
        for axis in (0, 1):
            away = (place[axis] - hand.at[axis]) * self.hands.zoom
            key = ARROWS[axis][int(away > 0)]
            self.press(key, times=int(abs(away) // 10))
            rest = round(abs((place[axis] - hand.at[axis]) * self.hands.zoom))
            self.press(key, Modifier.ControlModifier, times=rest)
        window.setUpdatesEnabled(True)

    def set_at(self, place):
        """Set what is asked for at a place."""
        self.walk_to(place)
        self.press(Key.Key_Space, Modifier.ShiftModifier)

    def wait(self, condition):
        self.hands.qtbot.waitUntil(condition, timeout=30000)

    def back_in_window(self):
        """Give the keyboard back to the window after a dialog: a window manager does this."""
        self.desk.window().activateWindow()
        self.wait(lambda: QApplication.focusWindow() is self.desk.window().windowHandle())


@pytest.fixture
def keyboard(window):
    hands = window(1366, 768)
    keys = Keyboard(hands)
    keys.back_in_window()
    return keys


def opened_from_the_first_screen(keys, folder):
    """Enter on the first button, then type the folder into the dialog."""
    start = keys.desk.start
    keys.tab_to(start.buttons["folder"])

    def answer():
        dialog = QApplication.activeModalWidget()
        if dialog is None or not dialog.isActiveWindow():
            if dialog is not None:
                dialog.activateWindow()  # as a window manager does
            QTimer.singleShot(50, answer)
            return
        line = dialog.findChild(QLineEdit)
        QApplication.clipboard().setText(str(folder))
        QTest.keyClick(line, Key.Key_V, Modifier.ControlModifier)
        if line.text() != str(folder):
            dialog.reject()  # never open what was not meant
        QTest.keyClick(line, Key.Key_Return)

    QTimer.singleShot(50, answer)
    keys.press(Key.Key_Return)
    keys.wait(lambda: keys.desk.bench.prepared is not None)
    keys.back_in_window()


def test_a_day_without_a_mouse(keyboard, photos, drawn):
    """First screen to change over time; truth of the marks: the drawn landmarks."""
    keys, desk, bench = keyboard, keyboard.desk, keyboard.desk.bench
    (photos / "a.jpg").unlink()
    opened_from_the_first_screen(keys, photos)
    truth, session = drawn["b"].truth, bench.session
    # which kind
    assert desk.kinds.list.hasFocus()
    while desk.kinds.list.currentItem().data(Qt.ItemDataRole.UserRole) != "plain":
        keys.press(Key.Key_Down)
    keys.press(Key.Key_Return)
    assert desk.stage.canvas.hasFocus()
    assert session.marks.body_form == "plain"
    # only the points of one question
    keys.tab_to(desk.points_page.question)
    keys.press(Key.Key_Down)
    assert session.marks.question == "size"
    # a number for the scale, in place of the card
    keys.tab_to(desk.step_buttons["scale"])
    keys.press(Key.Key_Return)
    keys.tab_to(desk.scale_page.reference.way)
    keys.press(Key.Key_End)
    keys.tab_to(desk.scale_page.reference.px_per_mm)
    keys.type("10")
    keys.press(Key.Key_Return)
    assert bench.scale.method == "known"
    keys.press(Key.Key_Escape)
    assert desk.stage.canvas.hasFocus()
    # points: set, hidden, back, undo, moved
    zoom = keys.hands.zoom
    keys.press(Key.Key_Plus)
    keys.press(Key.Key_Minus)
    assert keys.hands.zoom == pytest.approx(zoom)
    keys.press(Key.Key_H)
    assert session.reading().state_of("snout_tip") == "hidden"
    keys.press(Key.Key_Z, Modifier.ControlModifier)
    keys.press(Key.Key_S)
    keys.press(Key.Key_B)
    assert session.at == "snout_tip"
    for name in session.order:
        keys.set_at(truth.landmarks[name])
    tolerance = 1.0 / keys.hands.zoom  # steps of one screen pixel
    for name in session.order:
        np.testing.assert_allclose(
            session.reading().point(name), truth.landmarks[name], atol=tolerance
        )
    snout = np.array(truth.landmarks["snout_tip"])
    keys.walk_to(snout)
    keys.press(Key.Key_Space)  # takes hold
    keys.walk_to(snout + 20)
    keys.press(Key.Key_Space)
    np.testing.assert_allclose(session.reading().point("snout_tip"), snout + 20, atol=tolerance)
    keys.press(Key.Key_Z, Modifier.ControlModifier)
    np.testing.assert_allclose(session.reading().point("snout_tip"), snout, atol=tolerance)
    # chosen in the list, moved by pixels of the screen
    keys.tab_to(desk.points_page.list)
    keys.press(Key.Key_Home)
    keys.press(Key.Key_Return)
    assert bench.chosen_point == "snout_tip"
    keys.press(Key.Key_Escape)
    keys.press(Key.Key_Right, Modifier.ShiftModifier, times=2)
    moved = session.reading().point("snout_tip") - snout
    np.testing.assert_allclose(moved, [2 / keys.hands.zoom, 0], atol=tolerance)
    # the edge of a fin
    keys.press(Key.Key_E)
    fin = desk.edges_page.fin
    corners = np.asarray(truth.outlines[fin])[:: len(truth.outlines[fin]) // 3]
    for corner in corners:
        keys.set_at(corner)
    keys.press(Key.Key_Delete)
    np.testing.assert_allclose(session.marks.outlines[fin].points_px, corners[:-1], atol=tolerance)
    keys.press(Key.Key_1)
    assert session.marks.outlines[fin].edge == "clean"
    keys.press(Key.Key_Escape)
    # counted along a line
    keys.press(Key.Key_N)
    for corner in corners[:2]:
        keys.set_at(corner)
    keys.press(Key.Key_Return)
    keys.wait(lambda: desk.count_dialog is not None and desk.count_dialog.strip.hasFocus())
    counted = len(desk.count_dialog.strip.columns)
    keys.press(Key.Key_Space)
    assert abs(len(desk.count_dialog.strip.columns) - counted) == 1
    keys.press(Key.Key_Escape)
    assert not desk.count_dialog.isVisible()
    keys.back_in_window()
    # confirmed, on to the next photo
    keys.press(Key.Key_Return)
    keys.wait(lambda: desk.photo_name.text() == "c.jpg")
    with Study.open(photos / "finmeasure study", read_only=True) as study:
        assert [one.confirmed for one in study.current_readings("b.jpg")] == [True]
    walk_through_the_sheets(keys)
    # the list of photos leads back
    keys.tab_to(desk.queue_list.list)
    keys.press(Key.Key_Home)
    keys.press(Key.Key_Return)
    keys.wait(lambda: desk.photo_name.text() == "b.jpg")


def walk_through_the_sheets(keys):
    """All fish, change over time, keys, fin guide: opened, used and closed."""
    desk = keys.desk
    keys.press(Key.Key_C)
    sheet = desk.all_fish_sheet
    keys.wait(sheet.isActiveWindow)
    keys.tab_to(sheet.order)
    keys.press(Key.Key_Down)
    assert sheet.table.horizontalHeader().sortIndicatorSection() == sheet.order.currentData()
    keys.tab_to(sheet.table)
    keys.press(Key.Key_Down)
    assert [one.photo for one in sheet.chosen]
    assert STATE_WORDS["confirmed"] in {
        sheet.table.item(row, 4).text()[2:] for row in range(sheet.table.rowCount())
    }
    keys.tab_to(sheet.sex)
    keys.press(Key.Key_Escape)
    keys.back_in_window()
    keys.press(Key.Key_V)
    keys.wait(desk.change_panel.isActiveWindow)
    keys.press(Key.Key_Escape)
    keys.back_in_window()
    keys.press(Key.Key_Question)
    keys.wait(desk.sheet.isActiveWindow)
    keys.press(Key.Key_Escape)
    keys.back_in_window()
    keys.press(Key.Key_F1)
    keys.press(Key.Key_Escape)
    assert desk.stage.canvas.hasFocus()


def test_tab_leads_to_everything_and_shows_where_it_is(keyboard, photos):
    """Every button, list and field that can be seen; the one with the keyboard looks different."""
    keys, desk = keyboard, keyboard.desk
    keys.hands.open(photos, kind="plain")
    keys.back_in_window()
    desk.stop()
    reached = set()
    while (focus := QApplication.focusWidget()) not in reached:
        reached.add(focus)
        keys.press(Key.Key_Tab)
    seen = [
        desk.previous, desk.fish, desk.following, desk.all_fish, desk.help, desk.person.name,
        *desk.step_buttons.values(), desk.points_page.kind, desk.points_page.question,
        *desk.points_page.answers.values(), desk.points_page.list, desk.numbers.table,
        desk.person_button, desk.confirm_button, desk.queue_list.list, desk.queue_list.sort,
        desk.stage.canvas,
    ]  # fmt: skip
    missed = [widget for widget in seen if widget not in reached]
    assert not missed
    plain = desk.following.grab().toImage()
    keys.tab_to(desk.following)
    assert desk.following.grab().toImage() != plain
