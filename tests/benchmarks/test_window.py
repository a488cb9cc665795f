"""How fast the window is and what it asks of a person. Writes docs/method/window.md."""

import csv
import gc
import importlib.util
import sys
import time
from collections import defaultdict
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
from finmeasure.errors import NotFound
from finmeasure.marking.prepare import prepare_photo
from finmeasure.marking.proposed import STATIONS
from finmeasure.marking.session import MarkingSession
from finmeasure.photo.reading import read_photo
from finmeasure.proposals.propose import propose
from finmeasure.scale.request import ScaleRequest

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


def seconds_of(hands, drags=0):
    """Time of a person by the keystroke-level model; a drag points twice and presses once."""
    clicks = hands.clicks - drags
    return (
        clicks * (POINT_S + 2 * PRESS_S) + drags * (2 * POINT_S + 2 * PRESS_S) + hands.keys * KEY_S
    )


def test_clicks_and_time_per_question(window, large, tmp_path):
    photo, truth = large
    lines = [
        "| question | how | points | clicks | drags | keys | person, until the answer is shown "
        "| until it is kept | bar | processor time per click (median / 95 %) |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    bars = {"size": "5 s", "sex": "10 s", "fin:dorsal": "", "full": "60 s"}
    hands = window(1366, 768)
    for question, bar in bars.items():
        open_alone(hands, photo, tmp_path / question.replace(":", "_"), question)
        spent = []
        while hands.session.at is not None:
            place = truth.landmarks[hands.session.at]
            start = time.process_time()
            hands.click(place, modifier=Qt.KeyboardModifier.ShiftModifier)
            QApplication.processEvents()
            spent.append(time.process_time() - start)
        points, shown = len(hands.session.order), seconds_of(hands)
        hands.key(Qt.Key.Key_Return)
        lines.append(
            f"| {question} | by hand | {points} | {hands.clicks} | 0 | {hands.keys} "
            f"| {shown:.1f} s | {seconds_of(hands):.1f} s | {bar} | {times(spent)} ms |"
        )
        assert hands.desk.bench.workspace.queue["a.jpg"].state == "confirmed"
    open_alone(hands, photo, tmp_path / "dragged", "size")
    for start, end in (("snout_tip", "caudal_base"), ("caudal_upper_tip", "caudal_lower_tip")):
        hands.drag(truth.landmarks[start], truth.landmarks[end])
    assert hands.session.at is None
    assert hands.desk.numbers.cell("total_length", 1).split()[0] in hands.desk.stage.card.hint.title
    shown = seconds_of(hands, drags=2)  # the card at the mouse has the answer
    hands.key(Qt.Key.Key_Return)
    assert hands.desk.bench.workspace.queue["a.jpg"].state == "confirmed"
    kept = seconds_of(hands, drags=2)
    lines.append(
        f"| size | by hand, two drags | 4 | 0 | 2 | {hands.keys} "
        f"| {shown:.1f} s | {kept:.1f} s | 5 s | |"
    )
    assert round(kept, 1) <= 5.0
    lines += [checked(hands, photo, truth, tmp_path, question) for question in ("size", "full")]
    write("questions", lines)


def open_alone(hands, photo, folder, question, *, proposes=False):
    """Open a copy of the photo in a study of its own and count from zero."""
    folder.mkdir()
    (folder / "a.jpg").write_bytes(photo.read_bytes())
    hands.open(folder, kind="adipose", question=question, proposes=proposes)
    hands.clicks = hands.keys = 0


def checked(hands, photo, truth, folder, question, wrong_pct=2.0):
    """Let the program mark, correct what is wrong, set what is missing, and confirm all."""
    open_alone(hands, photo, folder / f"proposed_{question}", question, proposes=True)
    hands.qtbot.waitUntil(lambda: bool(hands.session.to_check), timeout=60000)
    length = np.hypot(*np.subtract(truth.landmarks["snout_tip"], truth.landmarks["caudal_base"]))
    shift = Qt.KeyboardModifier.ShiftModifier
    for name in hands.session.order:
        mark = hands.session.marks.landmarks.get(name)
        place = truth.landmarks[name]
        if mark is None or 100 * np.hypot(*np.subtract(mark.point, place)) > wrong_pct * length:
            if mark is not None:
                hands.keys += 1  # asked for in turn; at worst one Y leads to it
            hands.desk.bench.ask_for(name)
            hands.click(place, modifier=shift)
    points, shown = len(hands.session.order), seconds_of(hands)
    hands.key(Qt.Key.Key_Return)
    assert hands.desk.bench.workspace.queue["a.jpg"].state == "confirmed"
    bar = "10 s" if question == "full" else "5 s"
    return (
        f"| {question} | proposed; wrong by over {wrong_pct:g} % SL or missing: set by hand "
        f"| {points} | {hands.clicks} | 0 | {hands.keys} | {shown:.1f} s "
        f"| {seconds_of(hands):.1f} s | {bar} | |"
    )


def test_first_proposal(window, large, tmp_path):
    photo, _ = large
    hands = window(1366, 768)
    open_alone(hands, photo, tmp_path / "warm", "full", proposes=True)  # opens the networks
    hands.qtbot.waitUntil(lambda: bool(hands.session.to_check), timeout=60000)
    cpu, wall, alone = [], [], []
    for number in range(5):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / "a.jpg").write_bytes(photo.read_bytes() + str(number).encode())
        workspace = hands.desk.bench.workspace
        begin_cpu = time.process_time()
        workspace.propose("a.jpg", prepare_photo(folder / "a.jpg", ScaleRequest()))
        alone.append(time.process_time() - begin_cpu)
        begin, begin_cpu = time.perf_counter(), time.process_time()
        hands.desk.open_paths([folder])
        hands.qtbot.waitUntil(
            lambda: hands.session is not None and bool(hands.session.to_check), timeout=60000
        )
        wall.append(time.perf_counter() - begin)
        cpu.append(time.process_time() - begin_cpu)
    lines = [
        "| what | processor time, median / worst | by the clock, median | bar |",
        "|---|---|---|---|",
        f"| the background thread: read, find the scale, propose | {np.median(alone):.2f} / "
        f"{max(alone):.2f} s | – | – |",
        "| the whole process, painting in software included, until the proposal is shown "
        f"| {np.median(cpu):.2f} / "
        f"{max(cpu):.2f} s | {np.median(wall):.2f} s | 1.5 s |",
    ]
    write("proposal", lines)


def test_what_corrections_are_worth(shared):
    """Every wrong point of the real photos is corrected alone; what becomes of the others."""
    before, after = [], []
    photos = list(proposals_on_real_photos(shared))
    for reading, truth in photos:
        length = np.hypot(*np.subtract(truth["snout_tip"], truth["caudal_base"]))
        for station in STATIONS:
            for name in station:
                session = MarkingSession.start("plain", "full", size_px=(10**6, 10**6))
                session.accept_proposal(reading)
                marks = session.marks.landmarks
                known = [n for n in station if n in marks and n in truth]
                if name not in known:
                    continue
                wrong = np.subtract(marks[name].point, truth[name])
                if np.hypot(*wrong) < 0.02 * length:
                    continue
                session.move(name, truth[name], zoom=1.0)
                for other in (n for n in known if n != name):
                    for found, to in ((marks, before), (session.marks.landmarks, after)):
                        off = np.subtract(found[other].point, truth[other])
                        to.append(100 * np.hypot(*off) / length)
    closer = np.mean(np.array(after) < np.array(before))
    lines = [
        "| what follows | pairs of points | error of the other point before, mean | after "
        "| closer |",
        "|---|---|---|---|---|",
        f"| the station, by half along the body (used) | {len(before)} "
        f"| {np.mean(before):.2f} % SL | {np.mean(after):.2f} % SL | {100 * closer:.0f} % |",
        *(falloff(photos, reach, share) for reach, share in ((5, 0.3), (10, 0.5), (20, 0.5))),
    ]
    write("following", lines)
    assert np.mean(after) < np.mean(before)


def falloff(photos, reach_pct, share):
    """Carry corrections by a normal falloff with distance instead; one line of the table."""
    before, after = [], []
    for reading, truth in photos:
        length = np.hypot(*np.subtract(truth["snout_tip"], truth["caudal_base"]))
        names = [n for n in truth if n in reading.landmarks and reading.placed(n)]
        points = np.array([reading.landmarks[n].point for n in names]) / length
        wrong = np.array([truth[n] for n in names]) / length - points
        for index in np.nonzero(np.hypot(*wrong.T) > 0.02)[0]:
            away = np.hypot(*(points - points[index]).T)
            step = share * np.exp(-0.5 * (away / (reach_pct / 100)) ** 2)[:, None] * wrong[index]
            others = np.arange(len(names)) != index
            before += [*np.hypot(*wrong[others].T)]
            after += [*np.hypot(*(wrong - step)[others].T)]
    closer = np.mean(np.array(after) < np.array(before))
    return (
        f"| all, {share:g} falling off over {reach_pct} % SL (not used) | {len(before)} "
        f"| {100 * np.mean(before):.2f} % SL | {100 * np.mean(after):.2f} % SL "
        f"| {100 * closer:.0f} % |"
    )


def proposals_on_real_photos(shared):
    """Give the best proposal and a careful person's marks of each development photo."""
    truth = defaultdict(dict)
    with (shared / "photos" / "landmarks.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            if row["state"] == "placed":
                truth[row["photo"]][row["landmark"]] = (float(row["x_px"]), float(row["y_px"]))
    for photo, marks in truth.items():
        found = propose(read_photo(shared / "photos" / photo))
        if not isinstance(found, NotFound):
            yield max(found, key=lambda one: one.confidence).reading, marks


def test_frames_of_dragging(window, large, tmp_path):
    photo, truth = large
    for name in "abc":  # while the first is dragged, the program looks at the next one
        (tmp_path / f"{name}.jpg").write_bytes(photo.read_bytes() + name.encode())
    hands = window(1366, 768)
    hands.open(tmp_path, kind="adipose", proposes=True)
    hands.qtbot.waitUntil(lambda: bool(hands.session.to_check), timeout=60000)
    desk = hands.desk
    start = np.array(hands.session.marks.landmarks["dorsal_tip"].point)
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
        f"| lengths and ratios, and their table, per movement; the program's marks shown "
        f"| {times(numbers)} ms | 16 ms |",
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
    hands.open(tmp_path, kind="adipose", proposes=True)
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
        f"| step to the next 12 MP photo, prepared in the background, the program marking every "
        f"one (median / 95 %) "
        f"| {times(steps)} ms | 300 ms |",
        f"| memory of the process after 20–40 photos | {early:.0f} MB | – |",
        f"| memory after {PHOTOS_STEPPED} photos | {late:.0f} MB | flat |",
    ]
    write("stepping", lines)
    assert late < 1.1 * early
