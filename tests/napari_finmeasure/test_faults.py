"""What can go wrong while a window is open: said in one sentence, and the work is kept."""

import os
import signal
import subprocess
import sys
import threading

import numpy as np
import pytest
from qtpy.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from qtpy.QtGui import QDragEnterEvent, QDropEvent
from qtpy.QtWidgets import QApplication

from finmeasure.study.store import Study

pytestmark = pytest.mark.gui
STUDY = "finmeasure study"

MARK_AND_WAIT = """
import os, sys, time
os.environ["NAPARI_CONFIG"] = ""
from pathlib import Path
import napari
from napari_finmeasure._opening import open_window
viewer = open_window([])
desk = viewer.window._qt_window.findChild(__import__("qtpy.QtWidgets").QtWidgets.QWidget,
                                          "finmeasure_desk")
desk.proposes = False
desk.open_paths([Path(sys.argv[1])])
app = napari.qt.get_qapp()
while desk.bench.session is None:
    app.processEvents()
desk.kinds.chosen.emit("adipose")
for pair in sys.argv[2:]:
    desk.bench.place([float(value) for value in pair.split(",")], 1.0)
print("marked", flush=True)
time.sleep(60)
"""


def test_a_killed_window_loses_nothing(window, photos, drawn):
    """SIGKILL right after the last click; a new window shows every point where it was set."""
    truth = drawn["a"].truth
    names = ["snout_tip", "eye_front", "eye_centre", "eye_back"]
    pairs = [",".join(repr(value) for value in truth.landmarks[name]) for name in names]
    process = subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", MARK_AND_WAIT, str(photos / "a.jpg"), *pairs],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline().strip() == "marked"
    process.send_signal(signal.SIGKILL)
    process.wait(10)
    hands = window(1366, 768)
    hands.open(photos)
    assert hands.desk.bench.workspace.read_only == ""  # a dead window's lock does not hold
    assert hands.desk.bench.workspace.queue["a.jpg"].state == "begun"
    reading = hands.session.reading()
    for name in names:
        np.testing.assert_array_equal(reading.point(name), truth.landmarks[name])
    assert hands.session.at == "operculum_end"
    assert hands.desk.numbers.cell("eye_diameter", 1).endswith("mm")


def test_bad_photos_in_the_middle_of_the_queue(window, photos, drawn):
    (photos / "aa_broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 nothing more")
    (photos / "ab_empty.png").write_bytes(b"")
    hands = window(1366, 768)
    hands.open(photos, kind="adipose", question="size")
    hands.mark_all(drawn["a"].truth)
    desk = hands.desk
    queue = desk.bench.workspace.queue
    for name in ("aa_broken.jpg", "ab_empty.png"):
        desk.go_to(name)
        message = desk.stage.message
        hands.qtbot.waitUntil(lambda n=name, m=message: n in m.text(), timeout=10000)
        assert queue[name].state == "refused"
        assert queue[name].reason
        assert desk.photo_name.text() == "a.jpg"  # what was open stays open
        assert hands.session.at is None
    hands.confirm_to("b.jpg")
    assert queue.progress == (3, 5)


def test_a_photo_that_vanishes_or_changes_while_it_is_open(window, photos, drawn):
    hands = window(1366, 768)
    hands.open(photos, kind="adipose", question="size")
    hands.mark_all(drawn["a"].truth)
    (photos / "a.jpg").unlink()
    desk = hands.desk
    (photos / "c.jpg").unlink()
    hands.confirm_to("b.jpg")
    assert "changed or removed" in desk.stage.message.text()
    with Study.open(photos / STUDY, read_only=True) as study:
        assert len(study.current_readings("a.jpg")) == 1  # the reading is kept
    desk.go_to("c.jpg")
    hands.qtbot.waitUntil(lambda: "c.jpg" in desk.stage.message.text(), timeout=10000)
    assert desk.bench.workspace.queue["c.jpg"].state == "refused"


def test_a_study_in_two_windows_and_one_that_is_read_only(window, photos, drawn):
    first, second = window(1366, 768), window(1366, 768)
    first.open(photos / "a.jpg", kind="adipose", question="size")
    second.open(photos / "a.jpg", question="size")
    assert "open in another window" in second.desk.stage.message.text()
    second.desk.kinds.chosen.emit("adipose")
    second.desk.bench.place(drawn["a"].truth.landmarks["snout_tip"], 1.0)
    assert not second.desk.bench.confirm()
    assert "another window" in second.desk.stage.message.text()
    assert len(second.session.marks.landmarks) == 1  # looking and trying is still possible
    first.desk.bench.place(drawn["a"].truth.landmarks["snout_tip"], 1.0)
    assert first.desk.bench.confirm()
    with Study.open(photos / STUDY, read_only=True) as study:
        assert len(study.readings_of("a.jpg")) == 1


def test_a_study_that_cannot_be_written(window, drawn, ordinary_user):
    """As on a locked card: rights allow reading only."""
    folder, held_back = ordinary_user
    (folder / "a.jpg").write_bytes(drawn["a"].file.read_bytes())
    study = folder / STUDY
    Study.open(study, create=True).close()
    for path in (*study.iterdir(), study, folder):
        path.chmod(0o555 if path.is_dir() else 0o444)
    before = {path.name: path.read_bytes() for path in study.iterdir()}
    hands = window(1366, 768)
    with held_back():
        with pytest.raises(PermissionError):
            (folder / "probe").touch()
        hands.open(folder, kind="adipose")
        assert "can only be looked at" in hands.desk.stage.message.text()
        hands.click(np.array([700.0, 500.0]))
        assert len(hands.session.marks.landmarks) == 1
        assert not hands.desk.bench.confirm()
        assert "can only be looked at" in hands.desk.stage.message.text()
        hands.desk.bench.close_workspace()
    assert {path.name: path.read_bytes() for path in study.iterdir()} == before


def test_a_click_beside_the_photo_and_an_empty_confirmation(window, photos):
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="plain")
    hands.desk.fit()
    hands.key(Qt.Key.Key_Return)
    assert "Nothing is marked" in hands.desk.stage.message.text()
    hands.viewer.scene.camera.zoom *= 0.7
    hands.click(np.array([-60.0, 300.0]))
    assert "outside the photo" in hands.desk.stage.message.text()
    assert hands.session.marks.landmarks == {}


def test_nothing_to_open(window, tmp_path):
    (tmp_path / "notes.txt").write_text("no photo")
    hands = window(1366, 768)
    for path, words in (
        (tmp_path / "nowhere", "no such file"),
        (tmp_path / "notes.txt", "no photo by its ending"),
        (tmp_path, "no photo in there"),
    ):
        hands.desk.open_paths([path])
        assert words in hands.desk.stage.message.text(), path
    assert hands.desk.start.isVisible()  # the first screen is still there


def test_a_folder_dropped_on_the_canvas_is_opened(window, photos):
    hands = window(1366, 768)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(photos))])
    how = (
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(hands.canvas, QDragEnterEvent(QPoint(200, 200), *how))
    with hands.qtbot.waitSignal(hands.desk.bench.photo_changed, timeout=20000):
        QApplication.sendEvent(hands.canvas, QDropEvent(QPointF(200, 200), *how))
    assert [photo.photo for photo in hands.desk.bench.workspace.queue] == [
        "a.jpg", "b.jpg", "c.jpg",
    ]  # fmt: skip


def test_a_closed_window_leaves_no_thread_and_no_lock(window, photos):
    before = {thread.ident for thread in threading.enumerate()}
    hands = window(1366, 768)
    hands.open(photos)
    hands.desk.close_down()
    left = [t for t in threading.enumerate() if t.ident not in before and t.is_alive()]
    assert [t.name for t in left if "Dummy" not in t.name and "Status" not in t.name] == []
    assert not os.path.exists(photos / STUDY / "window.lock")
    assert hands.desk.bench.workspace is None
