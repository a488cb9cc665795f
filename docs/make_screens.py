"""Take a picture of every state of the window, so that the docs never go stale.

Run from the project's folder, with a display or under Xvfb::

    .venv/bin/python docs/make_screens.py docs/screens
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ["NAPARI_CONFIG"] = ""  # never touch the user's napari settings

import napari
import numpy as np
from PIL import Image
from qtpy.QtCore import QPoint, Qt
from qtpy.QtTest import QTest

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import DrawnPhoto, View, draw_photo
from finmeasure.drawing.scene import printed_card

SIZE = (1366, 768)


def draw_folder(folder: Path) -> dict[str, DrawnPhoto]:
    """Draw a small folder of invented fish, one photo of it damaged."""
    drawn = {}
    kinds = {"bag7_01": "adipose", "bag7_02": "adipose", "bag8_01": "livebearer_male"}
    for seed, (name, form) in enumerate(kinds.items(), start=3):
        rng = np.random.default_rng(seed)
        card = printed_card("window", "ID1") if name.startswith("bag7") else None
        view = View(width_px=1900, height_px=1300, px_per_mm=19.0 if card else 0.0, card=card)
        drawn[name] = draw_photo(random_spec(rng, body_form=form), view, rng)
        Image.fromarray(drawn[name].pixels).save(folder / f"{name}.jpg", quality=93)
    (folder / "bag8_02.jpg").write_bytes(b"\xff\xd8\xff broken")
    return drawn


class Camera:
    """Opens the window, waits, clicks and takes pictures."""

    def __init__(self, out: Path) -> None:
        from napari_finmeasure._desk import Desk
        from napari_finmeasure._opening import open_window

        self.out = out
        out.mkdir(parents=True, exist_ok=True)
        self.viewer = open_window([])
        self.viewer.window.resize(*SIZE)
        self.desk = self.viewer.window._qt_window.findChild(Desk)
        self.desk.proposes = False  # most screens show marking by hand
        self.settle(0.6)

    def settle(self, seconds: float = 0.3) -> None:
        """Let the window work."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            napari.qt.get_qapp().processEvents()
            time.sleep(0.005)

    def wait_for(self, done: Callable[[], bool]) -> None:
        """Wait until something is so."""
        until = time.monotonic() + 30
        while not done() and time.monotonic() < until:
            self.settle(0.05)
        self.settle(0.3)

    def at(self, point: tuple[float, float]) -> QPoint:
        """Photo pixels to a place on the canvas."""
        x, y = self.desk.stage.glass.to_screen(point)[0]
        return QPoint(round(x), round(y))

    def hover(self, point: tuple[float, float]) -> None:
        """Move the mouse to a place in the photo."""
        QTest.mouseMove(self.desk.stage.canvas, self.at(point))
        self.settle(0.2)

    def click(self, point: tuple[float, float]) -> None:
        """Click on a place in the photo."""
        self.hover(point)
        shift, left = Qt.KeyboardModifier.ShiftModifier, Qt.MouseButton.LeftButton
        QTest.mouseClick(self.desk.stage.canvas, left, shift, self.at(point))
        self.settle(0.05)

    def mark(self, truth: DrawnPhoto, until: str | None = None) -> None:
        """Set the points asked for where they truly are."""
        session = self.desk.bench.session
        while session.at is not None and session.at != until:
            if truth.states[session.at] == "placed":
                self.desk.bench.place(truth.landmarks[session.at], 1.0)
            else:
                self.desk.answer_absent()
        self.settle(0.2)

    def take(self, name: str) -> None:
        """Take a picture of the whole window."""
        self.settle(0.4)
        shot = self.viewer.screenshot(canvas_only=False, flash=False)
        Image.fromarray(shot[..., :3]).save(self.out / f"{name}.webp", quality=85)


def rough_margin(truth: DrawnPhoto, fin: str, step: int) -> np.ndarray:
    """Every `step`-th point of a fin's true margin, a little off, as a person clicks it."""
    line = np.asarray(truth.outlines[fin])
    rng = np.random.default_rng(1)
    inner = line[step:-step:step] + rng.normal(0, 1.5, (len(line[step:-step:step]), 2))
    return np.vstack([line[0], inner, line[-1]])


def take_points(camera: Camera, truth: DrawnPhoto) -> None:
    """Mark a fish point by point and look at its numbers."""
    desk = camera.desk
    camera.hover((100.0, 1000.0))
    camera.take("02_first_point")
    desk.points_page.kind_wanted.emit()
    camera.take("03_kind_of_fish")
    desk.kinds.chosen.emit("adipose")
    camera.hover(truth.landmarks["snout_tip"])
    camera.take("04_snout")
    camera.mark(truth, "dorsal_tip")
    camera.hover(truth.landmarks["dorsal_tip"])
    camera.take("05_tip_of_the_dorsal_fin")
    camera.mark(truth, "anal_tip")
    camera.hover(truth.landmarks["anal_tip"])
    camera.take("06_tip_of_the_anal_fin")
    camera.mark(truth)
    camera.take("07_all_points")
    desk.numbers.table.selectRow(0)
    camera.take("08_what_a_number_measures")
    desk.bench.choose_point("dorsal_tip")
    camera.take("09_what_hangs_on_a_point")


def take_edges(camera: Camera, truth: DrawnPhoto) -> None:
    """Trace two fins."""
    desk = camera.desk
    desk.bench.said.emit("", False)
    desk.next_fin()
    for place in rough_margin(truth, "dorsal", 9)[1:6]:
        camera.click(tuple(place))
    camera.take("10_tracing_a_fin")
    desk.bench.set_margin("dorsal", rough_margin(truth, "dorsal", 6))
    desk.pull_to_edge()
    camera.take("11_pulled_to_the_edge")
    desk.edges_page.choose("caudal")
    desk.bench.set_margin("caudal", rough_margin(truth, "caudal", 5))
    desk.edges_page.set_edge("clear_new_growth")
    desk.edges_page.fin = None
    desk.go_to_step("points")
    camera.take("12_numbers_of_fin_edges")


def take_help(camera: Camera) -> None:
    """Show scale, big buttons and keys; confirm, and meet a broken photo."""
    desk = camera.desk
    desk.go_to_step("scale")
    camera.take("13_scale")
    desk.toggle_wet_hands()
    desk.go_to_step("points")
    camera.take("14_wet_hands")
    desk.toggle_wet_hands()
    desk.cheat_sheet()
    camera.settle(0.4)
    desk.sheet.grab().save(str(camera.out / "15_keys.webp"), quality=85)
    desk.sheet.close()
    desk.confirm()
    camera.wait_for(lambda: desk.photo_name.text() == "bag7_02.jpg")
    camera.take("16_next_photo")
    desk.go_to("bag8_02.jpg")
    camera.wait_for(lambda: desk.bench.workspace.queue["bag8_02.jpg"].state == "refused")
    camera.take("17_a_broken_photo")


def take_counter(camera: Camera, truth: DrawnPhoto, photo: Path) -> None:
    """Ask for the sex of one fish, give a known length, turn the light on."""
    desk = camera.desk
    desk.open_paths([photo], "sex")
    camera.wait_for(lambda: desk.photo_name.text() == "bag8_01.jpg")
    desk.kinds.chosen.emit("livebearer")
    camera.mark(truth, "anal_tip")
    camera.hover(truth.landmarks["anal_tip"])
    camera.take("18_is_it_a_male")
    desk.go_to_step("scale")
    desk.scale_page.reference.choose("bar")
    desk.scale_page.mark_wanted.emit("bar")
    camera.click((300.0, 1000.0))
    camera.hover((700.0, 1000.0))
    camera.take("19_a_length_that_is_known")
    desk.toggle_theme()
    desk.go_to_step("points")
    camera.take("20_light")
    desk.fin_guide()
    camera.take("21_fin_guide")


def take_proposals(camera: Camera, made: Path) -> None:
    """Let the program mark first: a fish to check, its sex, a photo without a fish."""
    desk = camera.desk
    desk.proposes = True
    folder = made / "proposed"
    folder.mkdir()
    draw_folder(folder)
    desk.open_paths([folder / "bag7_01.jpg"])
    camera.wait_for(lambda: desk.bench.session is not None)
    desk.kinds.chosen.emit("adipose")
    camera.wait_for(lambda: bool(desk.bench.session.to_check))
    camera.take("22_the_program_marks_first")
    for _ in range(6):
        desk.agree()
    camera.take("23_checking_point_by_point")
    desk.open_paths([folder / "bag8_01.jpg"], "sex")
    camera.wait_for(lambda: desk.photo_name.text() == "bag8_01.jpg")
    desk.kinds.chosen.emit("livebearer")
    camera.wait_for(lambda: bool(desk.bench.session.to_check))
    desk.bench.agree_with_all()
    camera.take("24_the_answer")
    grey = np.random.default_rng(4).integers(90, 120, (900, 1200, 3)).astype(np.uint8)
    Image.fromarray(grey).save(folder / "no_fish.png")
    desk.open_paths([folder / "no_fish.png"], "size")
    camera.wait_for(lambda: bool(desk.bench.unseen))
    desk.go_to_step("points")
    camera.take("25_no_fish_was_seen")


def take_all(out: Path) -> None:
    """Go through the whole of the window."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "shipment"
        folder.mkdir()
        drawn = draw_folder(folder)
        camera = Camera(out)
        camera.take("01_start")
        camera.desk.open_paths([folder])
        camera.wait_for(lambda: camera.desk.bench.prepared is not None)
        take_points(camera, drawn["bag7_01"])
        take_edges(camera, drawn["bag7_01"])
        take_help(camera)
        take_counter(camera, drawn["bag8_01"], folder / "bag8_01.jpg")
        camera.desk.toggle_theme()
        take_proposals(camera, Path(made))
        camera.viewer.close()


if __name__ == "__main__":
    take_all(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/screens"))
