"""Two workers against one, and what a photo costs through a real scheduler on this computer.

`make benchmark` writes both parts of docs/method/speed.md. Two workers are timed by the clock,
each way in turn, so nothing else may run; the rest is processor time of each process.
"""

import os
import pickle
import re
import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import psutil
import pytest

from finmeasure.batch.given import Given
from finmeasure.batch.measure_photo import measure_photo
from finmeasure.batch.plan import plan_photos
from finmeasure.batch.run import measure_into_study
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.exchange.marks import MarksTable
from finmeasure.report.overlay import CLOSE_UPS
from finmeasure.study.store import Study

pytestmark = pytest.mark.benchmark

PAGE = Path(__file__).resolve().parents[2] / "docs" / "method" / "speed.md"
DRAWN = 6
LARGE_PHOTOS, ROUNDS = 100, 3
SMALL_PHOTOS = 200
LEAST_GAIN = 1.8


def write_section(name, lines):
    """Put lines between the markers of our part of the page."""
    page = PAGE.read_text(encoding="utf-8")
    text = "\n".join([f"<!-- {name} -->", *lines, f"<!-- end {name} -->"])
    whole, count = re.subn(rf"(?s)<!-- {name} -->.*<!-- end {name} -->", lambda _: text, page)
    assert count == 1, name
    PAGE.write_text(whole, encoding="utf-8")


class Silent:
    """Progress that only refuses refusals."""

    def start(self, total):
        pass

    def skipped(self):
        pass

    def done(self, result):
        assert result.state == "measured", result.reason


def folder_of(folder, count, width_px, px_per_mm):
    """At most six drawn photos under many names, and the marks of each."""
    drawn, marks = [], {}
    for number in range(min(count, DRAWN)):
        rng = np.random.default_rng([37, number])
        view = View(width_px=width_px, height_px=width_px * 3 // 4, tilt_deg=3.0,
                    card=printed_card("window", "A6"), px_per_mm=px_per_mm)  # fmt: skip
        photo = draw_photo(random_spec(rng, body_form="plain"), view, rng)
        path = folder.with_name(f"{folder.name} {number}.jpg")
        cv2.imwrite(str(path), photo.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
        drawn.append((path, replace(true_reading(photo), outlines={})))
    folder.mkdir()
    for number in range(count):
        path, reading = drawn[number % len(drawn)]
        os.link(path, folder / f"{number:04}.jpg")
        marks[f"{number:04}.jpg"] = (reading,)
    return plan_photos([folder]), Given(marks=MarksTable(by_photo=marks))


def measured(folder, plan, given, **how):
    """Measure into a new study; give seconds by the clock and of this process."""
    with Study.open(folder, create=True) as study:
        start, own = time.monotonic(), time.process_time()
        summary = measure_into_study(study, plan, given, progress=Silent(), **how)
        assert summary.measured == len(plan.photos)
        return time.monotonic() - start, time.process_time() - own


def test_two_workers_against_one(tmp_path):
    plan, given = folder_of(tmp_path / "photos", LARGE_PHOTOS, 4000, 25.0)
    seconds = {1: [], 2: []}
    for number in range(ROUNDS + 1):  # the first round starts what is started once
        for jobs in seconds:
            spent = measured(tmp_path / f"{jobs} {number}", plan, given, jobs=jobs)[0]
            seconds[jobs] += [spent] if number else []
    gain = min(seconds[1]) / min(seconds[2])
    lines = [
        f"{LARGE_PHOTOS} photos of 12 MP with landmarks and pictures, by the clock, best of "
        f"{ROUNDS} rounds in turn, on {os.cpu_count()} cores:", "",
        "| `--jobs` | seconds | gain | bar |", "|---|---|---|---|",
        f"| 1 | {min(seconds[1]):.1f} | | |",
        f"| 2 | {min(seconds[2]):.1f} | {gain:.2f} × | ≥ {LEAST_GAIN:g} × |",
    ]  # fmt: skip
    write_section("workers", lines)
    assert gain >= LEAST_GAIN


@pytest.fixture
def cluster(tmp_path):
    """A scheduler and two workers, each a process of its own, on the loopback address."""
    pytest.importorskip("distributed")
    from distributed import Client

    place = str(tmp_path / "scheduler.json")
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": environment}
    common = ["--host", "127.0.0.1", "--scheduler-file", place, "--no-dashboard"]
    module = [sys.executable, "-m"]
    worker = [*module, "distributed.cli.dask_worker", *common, "--nthreads", "1", "--no-nanny",
              "--local-directory", str(tmp_path)]  # fmt: skip
    scheduler = [*module, "distributed.cli.dask_scheduler", *common, "--port", "0"]
    processes = [subprocess.Popen(call, **quiet) for call in (scheduler, worker, worker)]
    try:
        end = time.monotonic() + 120
        while not Path(place).exists() and time.monotonic() < end:
            time.sleep(0.1)
        with Client(scheduler_file=place, timeout=60, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=120)
            address = client.scheduler.address
        yield address, [psutil.Process(process.pid) for process in processes]
    finally:
        for process in processes:
            process.kill()
            process.wait()


def cpu_seconds(processes):
    return sum(sum(process.cpu_times()[:2]) for process in processes)


def large_photo_s(folder):
    """Seconds of one core for a photo of 12 MP, in the same run as the rest."""
    plan, given = folder_of(folder, 1, 4000, 25.0)
    pictures = folder.with_name("pictures")
    (pictures / CLOSE_UPS).mkdir(parents=True)
    task, seconds = given.task(plan.photos[0], pictures), []
    for _ in range(5):
        start = time.process_time()
        assert measure_photo(task).state == "measured"
        seconds.append(time.process_time() - start)
    return statistics.median(seconds)


def row(what, each_s):
    million = each_s * 1e6 / 3600
    return f"| {what} | {1000 * each_s:.1f} ms | {million:.1f} core hours |"


def test_a_photo_through_a_real_scheduler(tmp_path, cluster):
    address, (scheduler, *workers) = cluster
    plan, given = folder_of(tmp_path / "photos", SMALL_PHOTOS, 700, 4.4)
    few = replace(plan, photos=plan.photos[:20])
    measured(tmp_path / "warm", few, given, cluster=address)  # loads what is loaded once
    before = cpu_seconds(workers), cpu_seconds([scheduler])
    _, writer = measured(tmp_path / "far", plan, given, cluster=address)
    work, schedule = cpu_seconds(workers) - before[0], cpu_seconds([scheduler]) - before[1]
    work, schedule, writer = (part / SMALL_PHOTOS for part in (work, schedule, writer))
    task = given.task(plan.photos[0])
    sent, answer = len(pickle.dumps(task)), len(pickle.dumps(measure_photo(task)))
    slowest = max(writer, schedule)
    large = large_photo_s(tmp_path / "large")
    lines = [
        f"{SMALL_PHOTOS} drawn photos of 700 × 525 px with landmarks and pictures, a scheduler and "
        "two workers as processes of one computer, processor time of each:", "",
        "| part | one photo | a million photos |", "|---|---|---|",
        row("workers: reading, measuring, pictures", work),
        row("the same for a photo of 12 MP", large),
        row("scheduler", schedule),
        row("the process that hands out and writes the study", writer),
        f"| sent to a worker, and back | {sent / 1000:.1f} kB, {answer / 1000:.1f} kB | "
        f"{sent / 1e3:.0f} GB, {answer / 1e3:.0f} GB |", "",
        f"The {'writing process' if writer >= schedule else 'scheduler'} is the bottleneck: "
        f"{1 / slowest:.0f} photos a second, a million in {slowest * 1e6 / 3600:.1f} hours. It "
        f"keeps {work / slowest:.0f} cores busy with such small photos, and {large / slowest:.0f} "
        "with photos of 12 MP. Processor time rises with what else runs on a computer, so its "
        "ratios say more than its seconds.",
    ]  # fmt: skip
    write_section("cluster", lines)
