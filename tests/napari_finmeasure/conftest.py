"""A drawn photo with known truth, a window on it, and hands that click in it."""

import contextlib
import gc
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("napari")

from PIL import Image
from qtpy.QtCore import QPoint, Qt
from qtpy.QtOpenGLWidgets import QOpenGLWidget

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import DrawnPhoto, View, draw_photo
from finmeasure.drawing.scene import printed_card

LEFT, RIGHT = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton


@dataclass(frozen=True)
class Sample:
    """A photo file and what was drawn on it."""

    file: object
    truth: DrawnPhoto


def draw_sample(folder, name, *, form="adipose", seed=3, card=True):
    """Draw one fish before the printed card and write it as a photo."""
    rng = np.random.default_rng(seed)
    on_card = {"card": printed_card("window", "A6"), "px_per_mm": 10.0} if card else {}
    view = View(width_px=1600, height_px=1150, blur_px=0.7, jpeg_quality=94, **on_card)
    drawn = draw_photo(random_spec(rng, body_form=form), view, rng)
    file = folder / name
    Image.fromarray(drawn.pixels).save(file, quality=94)
    return Sample(file, drawn)


@pytest.fixture(scope="session")
def drawn(tmp_path_factory):
    """Three photos: one of a fish with an adipose fin, one plain, one without a card."""
    folder = tmp_path_factory.mktemp("drawn photos")
    return {
        "a": draw_sample(folder, "a.jpg"),
        "b": draw_sample(folder, "b.jpg", form="plain", seed=5),
        "c": draw_sample(folder, "c.jpg", form="livebearer_male", seed=6, card=False),
    }


@pytest.fixture
def photos(drawn, tmp_path):
    """A fresh folder with the three photos, so that each test has a study of its own."""
    folder = tmp_path / "photos"
    folder.mkdir()
    for name, sample in drawn.items():
        (folder / f"{name}.jpg").write_bytes(sample.file.read_bytes())
    return folder


@pytest.fixture
def ordinary_user():
    """Give a folder that everybody may read, and a context in which rights hold this process back.

    Root may write anywhere, so the context runs as a user without rights.
    """
    import finmeasure

    @contextlib.contextmanager
    def held_back():
        is_root = os.geteuid() == 0
        try:
            if is_root:
                os.seteuid(65534)
            package = Path(finmeasure.__file__).parent
            if not os.access(package, os.R_OK | os.X_OK, effective_ids=True):
                pytest.skip("the program lies where an ordinary user may not read")
            yield
        finally:
            if is_root:
                os.seteuid(0)

    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder), held_back
        for path in (Path(folder), *(p for p in Path(folder).rglob("*") if p.is_dir())):
            path.chmod(0o755)


class Hands:
    """A scripted person: real mouse events on the canvas, real keys in the window."""

    def __init__(self, viewer, desk, qtbot):
        self.viewer, self.desk, self.qtbot = viewer, desk, qtbot
        window = desk.window()
        self.canvas = next(c for c in window.findChildren(QOpenGLWidget))
        self.clicks = self.keys = 0

    @property
    def zoom(self):
        return self.viewer.scene.camera.zoom

    @property
    def session(self):
        return self.desk.bench.session

    def at(self, point):
        """Photo pixels (x, y) to a place on the canvas; the 2-D camera says where."""
        y, x = self.viewer.scene.camera.center[-2:]
        return QPoint(
            round(self.canvas.width() / 2 + (point[0] - x) * self.zoom),
            round(self.canvas.height() / 2 + (point[1] - y) * self.zoom),
        )

    def click(self, point, button=LEFT, modifier=Qt.KeyboardModifier.NoModifier):
        place = self.at(point)
        self.clicks += 1
        self.qtbot.mouseMove(self.canvas, place)
        self.qtbot.mousePress(self.canvas, button, modifier, place)
        self.qtbot.mouseRelease(self.canvas, button, modifier, place)

    def drag(self, start, end, steps=6):
        first, last = self.at(start), self.at(end)
        self.clicks += 1
        self.qtbot.mouseMove(self.canvas, first)
        self.qtbot.mousePress(self.canvas, LEFT, pos=first)
        for share in np.linspace(0, 1, steps + 1)[1:]:
            away = (last - first) * float(share)
            self.qtbot.mouseMove(self.canvas, first + away)
            self.qtbot.wait(5)
        self.qtbot.mouseRelease(self.canvas, LEFT, pos=last)

    def key(self, key, modifier=Qt.KeyboardModifier.NoModifier):
        self.keys += 1
        self.qtbot.keyClick(self.desk.window(), key, modifier)

    def open(self, *paths, kind=None, question="full", proposes=False):
        """Open paths, wait until a photo is on the bench, and choose the kind of fish.

        The program marks nothing unless it is asked to.
        """
        self.desk.proposes = proposes
        with self.qtbot.waitSignal(self.desk.bench.photo_changed, timeout=20000):
            self.desk.open_paths(list(paths), question)
        if kind is not None:
            self.desk.kinds.chosen.emit(kind)
        self.settle()

    def go_to(self, name, key):
        """Press a key that leads to another photo and wait for it."""
        with self.qtbot.waitSignal(self.desk.bench.photo_changed, timeout=20000):
            self.key(key)
        assert self.desk.photo_name.text() == name
        self.settle()

    def confirm_to(self, name):
        """Confirm and wait for the next photo."""
        self.go_to(name, Qt.Key.Key_Return)

    def settle(self):
        """Wait until the canvas keeps its size, then show the fish."""
        last = [None]

        def settled():
            size = self.canvas.size()
            same, last[0] = size == last[0], size
            return same

        self.qtbot.waitUntil(settled, timeout=5000)
        self.desk.show_fish()
        self.qtbot.wait(20)

    def mark_all(self, truth):
        """Set every point of the question where it truly is; what the fish lacks is absent."""
        while self.session.at is not None:
            name = self.session.at
            before = len(self.session.marks.landmarks)
            if truth.states[name] == "absent":
                self.key(Qt.Key.Key_A)
            elif truth.states[name] == "hidden":
                self.key(Qt.Key.Key_H)
            else:
                # with Shift a point may stand on top of another one
                self.click(truth.landmarks[name], modifier=Qt.KeyboardModifier.ShiftModifier)
                if self.session.at == name:  # on the spot of the last one: no double click is meant
                    self.qtbot.wait(500)
                    self.click(truth.landmarks[name], modifier=Qt.KeyboardModifier.ShiftModifier)
            assert len(self.session.marks.landmarks) > before, name


@pytest.fixture
def window(make_napari_viewer, qtbot):
    """Give a function that opens a window of a size and gives its hands."""
    from napari_finmeasure._opening import desk_of

    gc.freeze()  # what the first windows loaded stays: see pytest_collection_finish
    desks = []

    def make(width=1500, height=950):
        viewer = make_napari_viewer(show=True, strict_qt="raise")
        viewer.window.resize(width, height)
        desk = desk_of(viewer)
        desk.proposes = False  # tests say so where the program is to mark
        desks.append(desk)
        hands = Hands(viewer, desk, qtbot)
        qtbot.waitUntil(lambda: hands.canvas.width() > 300 and hands.canvas.isValid(), timeout=8000)
        desk.window().activateWindow()  # keys go to the active window only
        qtbot.waitUntil(desk.window().isActiveWindow, timeout=5000)
        return hands

    yield make
    for desk in desks:
        desk.close_down()
