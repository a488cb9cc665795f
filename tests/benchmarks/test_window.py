"""How fast the window is and what it asks of a person. Writes docs/method/window.md."""

import gc
import importlib.util
import sys
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

pytest.importorskip("napari")

from PIL import Image
from qtpy.QtCore import Qt
from qtpy.QtWidgets import QApplication

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "method" / "window.md"
_spec = importlib.util.spec_from_file_location(
    "window_hands", ROOT / "tests" / "napari_finmeasure" / "conftest.py"
)
hands_module = importlib.util.module_from_spec(_spec)
sys.modules["window_hands"] = hands_module
_spec.loader.exec_module(hands_module)
window = hands_module.window

pytestmark = [pytest.mark.benchmark, pytest.mark.gui, pytest.mark.timeout(3600)]
# Keystroke-level model: point with a mouse 1.1 s, press or release a button 0.1 s, a key 0.2 s
# (Card, Moran & Newell 1980, Communications of the ACM 23:396-410; from memory)
POINT_S, PRESS_S, KEY_S = 1.1, 0.1, 0.2
PHOTOS_STEPPED = 200


def write(name, lines):
    """Put a table between its markers in the page."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- {name} -->\n", f"<!-- end {name} -->"
    before, _, rest = page.partition(start)
    _, _, after = rest.partition(end)
    PAGE.write_text(before + start + "\n".join(lines) + "\n" + end + after, encoding="utf-8")


def times(values_s):
    """Median and 95 % quantile in milliseconds."""
    return f"{1000 * np.median(values_s):.0f} / {1000 * np.quantile(values_s, 0.95):.0f}"


def draw_large(folder, name="large.jpg", seed=3):
    """Draw a 12 MP photo of a fish before the card."""
    rng = np.random.default_rng(seed)
    view = View(4000, 3000, px_per_mm=40.0, card=printed_card("window", "ID1"))
    drawn = draw_photo(random_spec(rng, body_form="adipose"), view, rng)
    Image.fromarray(drawn.pixels).save(folder / name, quality=92)
    return drawn


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """One 12 MP photo and its truth."""
    folder = tmp_path_factory.mktemp("large")
    return folder / "large.jpg", draw_large(folder)


def test_clicks_and_time_per_question(window, large, tmp_path):
    photo, truth = large
    lines = [
        "| question | points | clicks | keys | person, estimated | bar | program, per click "
        "(median / 95 %) |",
        "|---|---|---|---|---|---|---|",
    ]
    bars = {"size": "5 s", "sex": "10 s", "fin:dorsal": "", "full": "60 s"}
    hands = window(1366, 768)
    for question, bar in bars.items():
        folder = tmp_path / question.replace(":", "_")
        folder.mkdir()
        (folder / "a.jpg").write_bytes(photo.read_bytes())
        hands.open(folder, kind="adipose", question=question)
        hands.clicks = hands.keys = 0
        spent = []
        while hands.session.at is not None:
            place = truth.landmarks[hands.session.at]
            start = time.perf_counter()
            hands.click(place, modifier=Qt.KeyboardModifier.ShiftModifier)
            QApplication.processEvents()
            spent.append(time.perf_counter() - start)
        points = len(hands.session.order)
        hands.key(Qt.Key.Key_Return)
        person_s = hands.clicks * (POINT_S + 2 * PRESS_S) + hands.keys * KEY_S
        lines.append(
            f"| {question} | {points} | {hands.clicks} | {hands.keys} | {person_s:.1f} s | {bar} "
            f"| {times(spent)} ms |"
        )
        assert hands.desk.bench.workspace.queue["a.jpg"].state == "confirmed"
    write("questions", lines)


def test_frames_of_dragging(window, large, tmp_path):
    photo, truth = large
    (tmp_path / "a.jpg").write_bytes(photo.read_bytes())
    hands = window(1366, 768)
    hands.open(tmp_path, kind="adipose")
    hands.mark_all(truth)
    desk = hands.desk
    start = np.array(truth.landmarks["dorsal_tip"])
    numbers = []
    for step in range(120):
        begin = time.perf_counter()
        desk.bench.drag("dorsal_tip", start + step / 4, hands.zoom)
        numbers.append(time.perf_counter() - begin)
    frames = drag_frames(hands, start, start + np.array([90.0, -60.0]))
    margin = np.asarray(truth.outlines["caudal"])[::12]
    desk.bench.set_margin("caudal", margin)
    release = []
    for step in range(12):
        begin = time.perf_counter()
        desk.bench.move("caudal_upper_tip", margin[3] + step, zoom=1.0)
        release.append(time.perf_counter() - begin)
    lines = [
        "| what | median / 95 % | bar |",
        "|---|---|---|",
        f"| lengths and ratios, and their table, per movement | {times(numbers)} ms | 16 ms |",
        f"| whole frame while dragging, painted | {times(frames)} ms | – |",
        f"| release: all numbers, edge figures of one traced fin, draft on disk "
        f"| {times(release)} ms | 200 ms |",
    ]
    write("dragging", lines)


def drag_frames(hands, start, end, steps=60):
    """Drag by real mouse events; give the time of every frame until it is painted."""
    first, last = hands.at(start), hands.at(end)
    hands.qtbot.mouseMove(hands.canvas, first)
    hands.qtbot.mousePress(hands.canvas, Qt.MouseButton.LeftButton, pos=first)
    frames = []
    for share in np.linspace(0, 1, steps + 1)[1:]:
        begin = time.perf_counter()
        hands.qtbot.mouseMove(hands.canvas, first + (last - first) * float(share))
        QApplication.processEvents()
        frames.append(time.perf_counter() - begin)
    hands.qtbot.mouseRelease(hands.canvas, Qt.MouseButton.LeftButton, pos=last)
    return frames


def test_stepping_and_memory(window, large, tmp_path):
    photo, _ = large
    content = photo.read_bytes()
    for number in range(PHOTOS_STEPPED):
        # bytes after the end of the picture make another checksum, so another photo
        (tmp_path / f"{number:03d}.jpg").write_bytes(content + str(number).encode())
    hands = window(1366, 768)
    hands.open(tmp_path, kind="adipose", question="size")
    process = psutil.Process()
    steps, memory = [], []
    for number in range(1, PHOTOS_STEPPED):
        name = f"{number:03d}.jpg"
        hands.qtbot.waitUntil(lambda n=name: hands.desk.prefetch.take(n) is not None, timeout=60000)
        begin = time.perf_counter()
        hands.desk.next_photo()
        QApplication.processEvents()
        steps.append(time.perf_counter() - begin)
        assert hands.desk.photo_name.text() == name
        if number % 10 == 0:
            gc.collect()
            memory.append(process.memory_info().rss / 1e6)
    early, late = np.mean(memory[1:4]), np.mean(memory[-3:])
    lines = [
        "| what | value | bar |",
        "|---|---|---|",
        f"| step to the next 12 MP photo, prepared in the background (median / 95 %) "
        f"| {times(steps)} ms | 300 ms |",
        f"| memory of the process after 20–40 photos | {early:.0f} MB | – |",
        f"| memory after {PHOTOS_STEPPED} photos | {late:.0f} MB | flat |",
    ]
    write("stepping", lines)
    assert late < 1.1 * early
