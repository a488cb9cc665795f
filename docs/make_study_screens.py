"""Take pictures of the window's pages on scale, groups, counts and change over time.

Run from the project's folder, with a display or under Xvfb::

    .venv/bin/python docs/make_study_screens.py docs/screens

The fish are drawn and invented; the treatment is that of ``sample_images``.
"""

from __future__ import annotations

import contextlib
import shutil
import sys
import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import cv2
import numpy as np
from make_screens import Camera, draw_folder
from napari.settings import get_settings
from PIL import Image
from qtpy.QtCore import Qt

from finmeasure.cli import main
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import careful_reading
from finmeasure.drawing.photo import DrawnPhoto, View, draw_photo
from finmeasure.drawing.spec import Pattern
from finmeasure.drawing.variation import posed, resized, varied
from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.files import sha256_of
from finmeasure.photo.record import PhotoMetadata
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study

SAMPLES = Path(__file__).parents[1] / "sample_images"
LARGE = (3840, 2160)
SMALL = (1366, 768)


def with_squares(truth: DrawnPhoto, file: Path) -> None:
    """Draw a fish on square paper: lines every 80 px, a little turned."""
    pixels = truth.pixels.astype(np.float32)
    height, width = pixels.shape[:2]
    ink = np.zeros((height, width), np.uint8)
    turn = np.radians(7.0)
    along = np.array([np.cos(turn), np.sin(turn)])
    for direction in (along, np.array([-along[1], along[0]])):
        across = np.array([-direction[1], direction[0]])
        for number in range(-40, 41):
            middle = np.array([width / 2, height / 2]) + 80 * number * across
            ends = [tuple(int(v) for v in middle + way * 2500 * direction) for way in (-1, 1)]
            cv2.line(ink, *ends, 255, 3, cv2.LINE_AA)
    fish = cv2.GaussianBlur((truth.part_mask > 0).astype(np.float32), (0, 0), 1.0)[..., None]
    pixels -= (1 - fish) * cv2.GaussianBlur(ink, (0, 0), 0.9).astype(np.float32)[..., None] * 0.4
    Image.fromarray(pixels.clip(0, 255).astype(np.uint8)).save(file, quality=93)


def take_scale(camera: Camera, folder: Path, truth: DrawnPhoto) -> None:
    """Square paper with its numbered lines; a ruler asked for; a tank; the budget."""
    desk = camera.desk
    page = desk.scale_page
    with_squares(truth, folder / "on_squares.jpg")
    desk.open_paths([folder / "on_squares.jpg"])
    camera.wait_for(lambda: desk.photo_name.text() == "on_squares.jpg")
    desk.kinds.chosen.emit("livebearer")
    desk.go_to_step("scale")
    page.reference.choose("paper")
    page.try_it()
    camera.take("30_are_the_numbers_right")
    if page.paper is not None:
        page.answer_lines(fits=True)
    desk.go_to_step("scale")
    camera.take("31_what_the_uncertainty_is_made_of")
    page.reference.choose("ID1")
    page.mark_wanted.emit("ID1")
    for corner in ((250.0, 220.0), (1000.0, 250.0), (980.0, 720.0)):
        camera.click(corner)
    page.depth.place.setCurrentIndex(page.depth.place.findData("tank"))
    camera.hover((240.0, 690.0))
    camera.take("32_a_blank_card_in_a_tank")
    desk.stop()


def take_count(camera: Camera, truth: DrawnPhoto) -> None:
    """Count the rays of a dorsal fin."""
    desk = camera.desk
    desk.count()
    base = np.array([truth.landmarks["dorsal_origin"], truth.landmarks["dorsal_end"]])
    tip = np.array(truth.landmarks["dorsal_tip"])
    for place in base + 0.35 * (tip - base.mean(axis=0)):
        camera.click(tuple(place))
    camera.take("33_a_line_across_the_rays")
    desk.confirm()
    camera.settle(0.4)
    if desk.count_dialog is not None:
        desk.count_dialog.grab().save(str(camera.out / "34_counting.webp"), quality=85)
        desk.count_dialog.close()


def treated(folder: Path) -> Path:
    """Measure the sample treatment."""
    study = folder / "study"
    given = {
        "--study": study, "--jobs": 1, "--landmarks": SAMPLES / "landmarks.csv",
        "--outlines": SAMPLES / "outlines.csv",
        "--name-pattern": "{group}/{date}_{fish}",
    }  # fmt: skip
    options = [str(part) for pair in given.items() for part in pair]
    photos = folder / "photos"
    (photos / "treatment").mkdir(parents=True)
    for file in sorted((SAMPLES / "treatment").glob("*.jpg")):
        (photos / "treatment" / file.name).write_bytes(file.read_bytes())
    study.mkdir()
    shutil.copy(SAMPLES / "labels.csv", study)
    with contextlib.suppress(SystemExit):
        main(["measure", str(photos), *options])
    return study


def take_study(camera: Camera, folder: Path) -> None:
    """All fish at a glance, and what became of their fins, dark and light, small and 4K."""
    desk = camera.desk
    study = treated(folder)
    desk.open_paths([study])
    camera.wait_for(lambda: desk.bench.prepared is not None and "ember" in desk.photo_name.text())
    desk.contact_sheet()
    camera.settle(4.0)
    sheet = desk.all_fish_sheet
    sheet.table.sortItems(1, Qt.SortOrder.AscendingOrder)
    for row in range(3):
        sheet.table.setRangeSelected(_row(sheet.table, row), True)
    sheet.sex.setCurrentIndex(sheet.sex.findData("female"))
    camera.settle(0.3)
    sheet.grab().save(str(camera.out / "35_all_fish.webp"), quality=80)
    sheet.close()
    desk.change_over_time()
    camera.settle(0.5)
    desk.change_panel.grab().save(str(camera.out / "36_change_over_time.webp"), quality=80)
    desk.toggle_theme()
    camera.settle(0.5)
    desk.change_panel.grab().save(str(camera.out / "37_change_light.webp"), quality=80)
    desk.change_panel.close()
    desk.go_to_step("scale")
    camera.take("38_scale_light")
    desk.toggle_theme()
    get_settings().appearance.font_size = 20  # as a person sets it on such a screen
    camera.viewer.window.resize(*LARGE)
    camera.settle(1.0)
    desk.fit()
    camera.take("39_scale_4k")
    desk.go_to_step("points")
    camera.take("40_points_4k")
    camera.viewer.window.resize(*SMALL)


def spotted_tank(folder: Path) -> Path:
    """Draw four spotted fish at two visits, posed and marked anew, none with a name."""
    rng = np.random.default_rng(41)
    base = resized(random_spec(np.random.default_rng(23), body_form="plain"), 28.0)
    view = View(width_px=1000, height_px=640, px_per_mm=22.0, fish_angle_deg=5.0)
    study_folder, photos = folder / "spotted", folder / "spotted_photos"
    photos.mkdir()
    with Study.open(study_folder, create=True) as study:
        for number in range(4):
            spots = [
                Pattern(kind, (0.15, 0.12, 0.1), place=rng.uniform(0.2, 0.8),
                        size=rng.uniform(0.12, 0.25), strength=0.8, seed=int(rng.integers(2**31)))
                for kind in ("blotch", "spots")
            ]  # fmt: skip
            look = replace(base.look, seed=number, patterns=tuple(spots))
            fish = replace(varied(base, rng), look=look)
            for day in (date(2026, 3, 1), date(2026, 3, 6)):
                photo = draw_photo(posed(fish, rng), view, rng)
                file = photos / f"{day}_{number + 1}.jpg"
                Image.fromarray(photo.pixels).save(file, quality=93)
                marked = careful_reading(photo, rng)
                size = (view.width_px, view.height_px)
                rows = measure_reading(marked, None, size_px=size, edges=False).rows
                seen = FishResult(marked, rows, side="left", visit=day, group="quarantine",
                                  confirmed=True)  # fmt: skip
                study.record_photo_result(
                    PhotoResult(file.name, sha256_of(file), "measured", "drawn",
                                PhotoMetadata(*size), fish=(seen,), file=file)
                )  # fmt: skip
    return study_folder


def take_same_fish(camera: Camera, folder: Path) -> None:
    """Two photos that may show one fish."""
    desk = camera.desk
    desk.open_paths([spotted_tank(folder)])
    camera.wait_for(lambda: desk.bench.prepared is not None)
    desk.same_fish()
    panel = desk.same_fish_panel
    camera.wait_for(lambda: panel.pair is not None)
    camera.settle(0.5)
    panel.grab().save(str(camera.out / "41_the_same_fish.webp"), quality=85)
    panel.close()


def _row(table: object, row: int) -> object:
    """Give the range of a whole line."""
    from qtpy.QtWidgets import QTableWidgetSelectionRange

    return QTableWidgetSelectionRange(row, 0, row, table.columnCount() - 1)


def take_all(out: Path) -> None:
    """Go through all of these pages."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "shipment"
        folder.mkdir()
        drawn = draw_folder(folder)
        camera = Camera(out)
        take_scale(camera, folder, drawn["bag8_01"])
        take_count(camera, drawn["bag8_01"])
        take_same_fish(camera, Path(made))
        take_study(camera, Path(made))
        camera.viewer.close()


if __name__ == "__main__":
    take_all(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/screens"))
