"""Speed and memory of `measure`; `make benchmark` writes its part of docs/method/speed.md.

Seconds depend on the machine and on what else runs on it, so every figure is a ratio to a plain
`cv2.imread` of the same files in the same process, taken in turn, in processor time.
"""

import os
import re
import resource
import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from finmeasure.batch.measure_photo import PhotoTask, measure_photo
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.report.overlay import CLOSE_UPS
from finmeasure.scale.request import ScaleRequest
from finmeasure.study.store import Study

pytestmark = pytest.mark.benchmark

PAGE = Path(__file__).resolve().parents[2] / "docs" / "method" / "speed.md"
HEADING = "## The batch"
# Part 3 of the issues: given marks, per core, against decoding; start-up; memory per worker.
MOST_DECODES = 3.0
MOST_MEMORY_MB = 500
LONGEST_START_S = 0.7
MANY = 10_000
FEW = ("snout_tip", "caudal_base", "dorsal_origin", "dorsal_tip")


def rows_there(section):
    """Rows that the page has, by what they measure, so that a test run alone keeps the others."""
    cells = [line.strip("|").split(" | ") for line in section.splitlines() if line[:2] == "| "]
    return {what.strip(): (figure, bar.strip()) for what, figure, bar in cells[1:]}


def write_rows(rows):
    """Put rows of what, figure and bar into our part of the page."""
    page = PAGE.read_text(encoding="utf-8") if PAGE.exists() else "# Speed\n\n"
    found = re.search(rf"(?ms)^{HEADING}\n.*?(?=^## |\Z)", page)
    kept = rows_there(found[0]) if found else {}
    kept |= {what: (figure, bar) for what, figure, bar in rows}
    lines = [
        HEADING, "",
        "Made by `make benchmark` (`tests/benchmarks/test_batch_speed.py`). Drawn photos, one fish",
        "each before the A6 window card, marks given. Decode = `cv2.imread` of the same files at",
        "full size, in turn with the measuring, processor time of one core.", "",
        "| what | figure | bar |", "|---|---|---|",
        *(f"| {what} | {figure} | {bar} |" for what, (figure, bar) in kept.items()), "",
    ]  # fmt: skip
    text = "\n".join(lines)
    whole = page.replace(found[0], text + "\n") if found else page.rstrip() + "\n\n" + text
    PAGE.write_text(whole.rstrip() + "\n", encoding="utf-8")


@pytest.fixture(scope="module")
def rows():
    """Rows of the table, written at the end of the module."""
    found = []
    yield found
    write_rows(found)


def draw_set(folder, count, width_px, px_per_mm):
    """Photos of different fish as JPEG files, with their exact marks."""
    found = []
    for number in range(count):
        rng = np.random.default_rng([31, number])
        view = View(
            width_px=width_px, height_px=width_px * 3 // 4, card=printed_card("window", "A6"),
            px_per_mm=px_per_mm, tilt_deg=3.0,
        )  # fmt: skip
        photo = draw_photo(random_spec(rng), view, rng)
        path = folder / f"{number}.jpg"
        cv2.imwrite(str(path), photo.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
        found.append((path, true_reading(photo)))
    return found


def overlays_in(folder):
    (folder / CLOSE_UPS).mkdir(parents=True)
    return folder


def cpu_seconds(function, argument):
    start = time.process_time()
    function(argument)
    return time.process_time() - start


def ratios(tasks, rounds=3):
    """Measuring over decoding for each photo, the least disturbed of some rounds."""
    for task in tasks:  # loads what is loaded once; a refusal would cost next to nothing
        result = measure_photo(task)
        assert result.state == "measured", result.reason
    found = []
    for task in tasks:
        pairs = [
            (cpu_seconds(measure_photo, task), cpu_seconds(cv2.imread, str(task.path)))
            for _ in range(rounds)
        ]
        found.append(min(p[0] for p in pairs) / min(p[1] for p in pairs))
    return found


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """Tasks of eight 12 MP photos with landmarks, outlines of all fins, and pictures."""
    cv2.setNumThreads(1)
    folder = tmp_path_factory.mktemp("large")
    overlays = overlays_in(folder / "overlays")
    return [
        PhotoTask(path, path.name, readings=(reading,), overlays=overlays)
        for path, reading in draw_set(folder, 8, 4000, 25.0)
    ]


def landmarks_only(tasks):
    return [replace(task, readings=(replace(task.readings[0], outlines={}),)) for task in tasks]


def note_ratios(rows, what, tasks):
    """Measure, add a row, and give the median."""
    found = ratios(tasks)
    text = f"{statistics.median(found):.2f} decodes (worst photo {max(found):.2f})"
    rows.append((what, text, f"≤ {MOST_DECODES:g} decodes"))
    return statistics.median(found)


def test_landmarks_and_outlines_against_decoding(large, rows):
    what = "12 MP, landmarks and outlines of all fins, pictures"
    assert note_ratios(rows, what, large) <= MOST_DECODES


def test_landmarks_against_decoding(large, rows):
    tasks = landmarks_only(large)
    assert note_ratios(rows, "12 MP, landmarks only, pictures", tasks) <= MOST_DECODES
    bare = [replace(task, overlays=None) for task in tasks]
    assert note_ratios(rows, "12 MP, landmarks only, no pictures", bare) <= MOST_DECODES


MEMORY = """
import sys
from pathlib import Path
from finmeasure.batch.runner import _prepare_worker
_prepare_worker(2048)
from finmeasure.batch.measure_photo import PhotoTask, measure_photo
from finmeasure.exchange.landmarks import read_landmarks
from finmeasure.exchange.outlines import read_outlines
folder = Path(sys.argv[1])
marks = read_landmarks(folder / "landmarks.csv").joined(read_outlines(folder / "outlines.csv"))
for path in sorted(folder.glob("*.jpg")):
    task = PhotoTask(path, path.name, readings=marks.readings(path.name), overlays=folder / "o")
    assert measure_photo(task).state == "measured"
# not ru_maxrss: that also counts the memory of the process that started this one
status = Path("/proc/self/status").read_text()
print(int(status.split("VmHWM:")[1].split()[0]) / 1024)
"""


def test_memory_of_a_worker(tmp_path, rows):
    from finmeasure.exchange.landmarks import write_landmarks
    from finmeasure.exchange.outlines import write_outlines

    readings = [(path.name, reading) for path, reading in draw_set(tmp_path, 4, 4000, 25.0)]
    write_landmarks(tmp_path / "landmarks.csv", readings)
    write_outlines(tmp_path / "outlines.csv", readings)
    overlays_in(tmp_path / "o")
    command = [sys.executable, "-c", MEMORY, str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    peak_mb = float(done.stdout)
    rows.append(("12 MP, most memory of a worker", f"{peak_mb:.0f} MB", f"≤ {MOST_MEMORY_MB} MB"))
    assert peak_mb <= MOST_MEMORY_MB


class Clock:
    """Progress that notes the processor time at each photo."""

    def __init__(self):
        self.times = []

    def start(self, total):
        self.times.append(time.process_time())

    def skipped(self):
        pass

    def done(self, result):
        assert result.state == "measured", result.reason
        self.times.append(time.process_time())


def test_the_ten_thousandth_photo_costs_what_the_tenth_does(tmp_path, rows):
    """Small photos: one under as many names, each recorded as a photo of its own; scale told."""
    from finmeasure.batch.given import Given, Options
    from finmeasure.batch.plan import plan_photos
    from finmeasure.batch.run import measure_into_study
    from finmeasure.exchange.marks import MarksTable

    (path, reading), *_ = draw_set(tmp_path, 1, 240, 1.45)
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(MANY):
        os.link(path, folder / f"{number:05}.jpg")
    marked = {name: reading.landmarks[name] for name in FEW}
    reading = replace(reading, outlines={}, landmarks=marked)
    marks = MarksTable(by_photo={f"{number:05}.jpg": (reading,) for number in range(MANY)})
    clock = Clock()
    with Study.open(tmp_path / "study", create=True) as study:
        plan = plan_photos([folder])
        given = Given(Options(ScaleRequest(px_per_mm=1.45)), marks)
        measure_into_study(study, plan, given, progress=clock, jobs=0)
    costs = np.diff(clock.times)
    early, late = np.median(costs[9:509]), np.median(costs[-500:])
    text = f"{late / early:.2f} × the 10th to 510th ({1000 * early:.0f} ms each)"
    what = "photos 9,501 to 10,000 of one run, 240 px, 4 landmarks, pictures, each"
    rows.append((what, text, "≤ 1.2 ×"))
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rows.append(("memory of the process that ran all 10,000", f"{memory_mb:.0f} MB", ""))
    assert late <= 1.2 * early


def test_start_up(rows):
    command = [sys.executable, "-m", "finmeasure", "--help"]
    seconds = []
    for _ in range(7):
        start = time.monotonic()
        subprocess.run(command, capture_output=True, check=True)
        seconds.append(time.monotonic() - start)
    figure = f"{statistics.median(seconds):.2f} s (slowest of 7: {max(seconds):.2f} s)"
    rows.append(("start-up (`finmeasure --help`)", figure, f"≤ {LONGEST_START_S:g} s"))
    assert statistics.median(seconds) <= LONGEST_START_S
