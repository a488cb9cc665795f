"""Kills, interrupts, full disks and two runs at once: nothing is lost or half-written."""

import csv
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from finmeasure.drawing.hand import true_reading
from finmeasure.exchange.landmarks import write_landmarks
from finmeasure.exchange.outlines import write_outlines
from finmeasure.reading import Landmark, Reading
from finmeasure.study.store import Study

TABLES = ("photos", "landmarks", "outlines", "measurements", "fish")
KILLS_OF_ONE_STUDY = 6

# Loads everything once, then forks a run for each line of arguments and tells its process id.
# Forking a process that has only one thread is safe, and it saves the time to load.
KENNEL = """
import os, sys
import finmeasure.batch.run, finmeasure.batch.given, finmeasure.batch.measure_photo
import finmeasure.report.html, finmeasure.study.exporting
from finmeasure.cli import main
print("ready", flush=True)
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        main(line.rstrip("\\n").split("\\t"))
        os._exit(0)
    print(child, flush=True)
    sys.stdin.readline()  # until then the child may be killed: its number is not given again
    _, status = os.waitpid(child, 0)
    print(os.waitstatus_to_exitcode(status), flush=True)
"""


class Kennel:
    """Starts runs quickly."""

    def __init__(self):
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", KENNEL],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment,
        )  # fmt: skip
        assert self.process.stdout.readline() == "ready\n"

    def start(self, *arguments):
        self.process.stdin.write("\t".join(map(str, arguments)) + "\n")
        self.process.stdin.flush()
        return int(self.process.stdout.readline())

    def end(self):
        """Wait for the end and give the exit status; negative for a signal."""
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        return int(self.process.stdout.readline())


@pytest.fixture(scope="module")
def kennel():
    started = Kennel()
    yield started
    started.process.stdin.close()
    started.process.wait(10)


def tables(study):
    """All tables without the time that each photo took."""
    found = {}
    for name in TABLES:
        with (study / f"{name}.csv").open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        found[name] = [{k: v for k, v in row.items() if k != "seconds"} for row in rows]
    return found


def faults(study):
    """Faults that `check` finds; a run killed before its first step has left an empty study."""
    with Study.open(study, create=True) as opened:
        return [finding for finding in opened.check() if finding.severity == "fault"]


def call(drawn, study, *more):
    return ["measure", drawn.path, "--study", study, *drawn.marks, *more]


@pytest.fixture(scope="module")
def drawn(drawn, tmp_path_factory):
    """Three of the drawn photos with landmarks and body outlines: quick to measure."""
    folder = tmp_path_factory.mktemp("few")
    photos = {name: drawn.truth[name] for name in ("a.jpg", "b.jpg", "e.jpg")}
    readings = []
    for name, photo in photos.items():
        shutil.copy(drawn.path / name, folder / name)
        reading = true_reading(photo)
        readings.append((name, replace(reading, outlines={"body": reading.outlines["body"]})))
    write_landmarks(folder / "landmarks.csv", readings)
    write_outlines(folder / "outlines.csv", readings)
    return replace(drawn, path=folder, truth=photos)


@pytest.fixture(scope="module")
def undisturbed(drawn, kennel, tmp_path_factory):
    """Tables of a run that nothing disturbed, and the seconds that it took."""
    study = tmp_path_factory.mktemp("undisturbed") / "study"
    return _end_in_peace(kennel, call(drawn, study, "--jobs", "0"), study)


def _end_in_peace(kennel, command, study):
    """Run to the end; give the tables and the seconds."""
    start = time.monotonic()
    kennel.start(*command)
    assert kennel.end() == 0
    return tables(study), time.monotonic() - start


@pytest.fixture(scope="module")
def tiny_call(tmp_path_factory):
    """The command for four tiny photos with four landmarks each, told their scale."""
    folder = tmp_path_factory.mktemp("tiny")
    marks, ground = [], np.full((60, 90, 3), 200, np.uint8)
    for number, length in enumerate((50.0, 55.0, 60.0, 65.0)):
        cv2.imwrite(str(folder / f"{number}.png"), ground - np.uint8(number))
        ends = {"snout_tip": (8.0, 30.0), "caudal_base": (8.0 + length, 30.0),
                "dorsal_origin": (30.0, 20.0), "dorsal_tip": (36.0, 8.0)}  # fmt: skip
        placed = {name: Landmark(name, *place) for name, place in ends.items()}
        marks.append((f"{number}.png", Reading("1", placed)))
    write_landmarks(folder / "landmarks.csv", marks)
    return lambda study: [
        "measure", folder, "--study", study, "--landmarks", folder / "landmarks.csv",
        "--px-per-mm", "2", "--jobs", "0",
    ]  # fmt: skip


def _kill_rounds(rounds, command, kennel, folder):
    """Kill runs at random moments; check after each, compare whenever one came to its end."""
    expected, seconds = _end_in_peace(kennel, command(folder / "peace"), folder / "peace")
    rng = random.Random(20261125)
    hits = ended = killed = 0
    study = folder / "0"
    for number in range(rounds):
        child = kennel.start(*command(study))
        time.sleep(rng.uniform(0, seconds))
        os.kill(child, signal.SIGKILL)
        status = kennel.end()
        assert faults(study) == []
        assert status in (0, -signal.SIGKILL)
        hits, killed = hits + (status != 0), killed + (status != 0)
        if status == 0 or killed >= KILLS_OF_ONE_STUDY or number == rounds - 1:
            # the machine may have become faster or slower since
            found, seconds = _end_in_peace(kennel, command(study), study)
            assert found == expected
            assert not list(study.rglob("*.part"))
            ended, killed = ended + 1, 0
            shutil.rmtree(study)
            study = folder / str(ended)
    print(f"{rounds} rounds: {hits} killed in the middle, {ended} studies brought to their end")
    return ended


def test_kill_at_random_moments(tiny_call, kennel, tmp_path):
    """The whole command; tests/finmeasure/study/test_kills.py kills the recording alone."""
    assert _kill_rounds(20, tiny_call, kennel, tmp_path) >= 20 // KILLS_OF_ONE_STUDY


@pytest.mark.soak
def test_kill_at_random_moments_many_times(tiny_call, kennel, tmp_path):
    assert _kill_rounds(500, tiny_call, kennel, tmp_path) >= 500 // KILLS_OF_ONE_STUDY


def _start(drawn, study, *more, **options):
    command = [sys.executable, "-m", "finmeasure", *map(str, call(drawn, study, *more))]
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **options
    )


def _children(process):
    """Process ids of all descendants (Linux)."""
    found, waiting = [], [process]
    while waiting:
        here = waiting.pop()
        for task in Path(f"/proc/{here}/task").glob("*/children"):
            below = [int(text) for text in task.read_text().split()]
            found += below
            waiting += below
    return found


def _is_running(process):
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(sys.platform != "linux", reason="looks at /proc")
def test_a_killed_run_leaves_no_workers_behind(drawn, undisturbed, run_process, tmp_path):
    study = tmp_path / "study"
    started = _start(drawn, study, "--jobs", "2")
    assert "3 photos to look at" in started.stdout.readline()
    started.stdout.readline()  # the first photo is done: the workers run
    workers = _children(started.pid)
    assert len(workers) >= 2
    started.kill()
    started.wait()
    deadline = time.monotonic() + 20
    while any(map(_is_running, workers)) and time.monotonic() < deadline:
        time.sleep(0.1)
    assert not any(map(_is_running, workers))
    assert faults(study) == []
    assert run_process(*call(drawn, study)).returncode == 0
    assert tables(study) == undisturbed[0]


def test_an_interrupt_keeps_what_is_done_and_says_how_to_go_on(drawn, undisturbed, run, tmp_path):
    study = tmp_path / "study"
    started = _start(drawn, study, "--jobs", "2", start_new_session=True)
    started.stdout.readline()
    started.stdout.readline()  # the first photo is done
    os.killpg(started.pid, signal.SIGINT)  # as a terminal does: to the whole group
    _, told = started.communicate(timeout=60)
    assert "Traceback" not in told
    if started.returncode != 0:  # the last photo may have been done already
        assert started.returncode == 130
        assert "stopped. What was measured is kept; the same command goes on from here" in told
    assert faults(study) == []
    assert run(*call(drawn, study, "--jobs", "0")).returncode == 0
    assert tables(study) == undisturbed[0]


@pytest.mark.parametrize("after_s", [0.1, 0.7])
def test_an_interrupt_while_workers_load_shows_no_stack(drawn, tmp_path, after_s):
    started = _start(drawn, tmp_path / "study", "--jobs", "2", start_new_session=True)
    assert "3 photos to look at" in started.stdout.readline()
    time.sleep(after_s)
    os.killpg(started.pid, signal.SIGINT)
    _, told = started.communicate(timeout=60)
    assert "Traceback" not in told
    assert started.returncode in (0, 130)
    assert faults(tmp_path / "study") == []


def test_two_runs_at_once_on_one_study(drawn, undisturbed, run, tmp_path):
    study = tmp_path / "study"
    both = [_start(drawn, study, "--jobs", "0") for _ in range(2)]
    for started in both:
        _, told = started.communicate(timeout=120)
        assert started.returncode == 0, told
    assert faults(study) == []
    assert run(*call(drawn, study, "--jobs", "0")).returncode == 0
    assert tables(study) == undisturbed[0]


@pytest.mark.parametrize("limit_kb", [20, 150, 300])
def test_a_disk_that_is_full(drawn, undisturbed, run, tmp_path, limit_kb):
    """A limit on the size of any file stands for the full disk: writes fail the same way."""
    study = tmp_path / "study"

    def full():
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit_kb * 1000, limit_kb * 1000))

    started = _start(drawn, study, "--jobs", "0", preexec_fn=full)
    told, complaints = started.communicate(timeout=120)
    assert started.returncode in (1, 2), told + complaints
    assert "Traceback" not in complaints
    if started.returncode == 2:
        assert len(complaints.splitlines()) == 1
    assert faults(study) == []
    assert run(*call(drawn, study, "--jobs", "0")).returncode == 0
    assert tables(study) == undisturbed[0]


def test_a_folder_that_cannot_be_written_to(drawn, run, tmp_path):
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o500)
    # root may write anywhere but not there
    study = Path("/proc/finmeasure") if os.geteuid() == 0 else folder / "study"
    done = run(*call(drawn, study))
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert str(study) in done.stderr


class DeletesPhotos:
    """Progress that removes a photo, or a folder, as soon as the first one is done."""

    def __init__(self, victim):
        self.victim = victim
        self.results = []

    def start(self, total):
        pass

    def skipped(self):
        pass

    def done(self, result):
        if self.victim.is_dir():
            shutil.rmtree(self.victim)
        self.victim.unlink(missing_ok=True)
        self.results.append(result)


def test_a_photo_that_vanishes_during_the_run(drawn, tmp_path):
    from finmeasure.batch.given import read_given
    from finmeasure.batch.run import measure_into_study, plan_for_study

    folder = tmp_path / "photos"
    folder.mkdir()
    for name in ("a.jpg", "b.jpg", "e.jpg"):
        shutil.copy(drawn.path / name, folder / name)
    given = read_given(landmarks=drawn.path / "landmarks.csv")
    with Study.open(tmp_path / "study", create=True) as study:
        progress = DeletesPhotos(folder / "b.jpg")
        plan = plan_for_study(study, [folder])
        summary = measure_into_study(study, plan, given, progress=progress, jobs=0)
        assert (summary.measured, summary.refused) == (2, 1)
        assert "b.jpg" in progress.results[1].reason
        # it comes back: the next run measures it
        shutil.copy(drawn.path / "b.jpg", folder / "b.jpg")
        progress = DeletesPhotos(folder / "none.jpg")
        summary = measure_into_study(study, plan, given, progress=progress, jobs=0)
        assert (summary.measured, summary.refused, summary.skipped) == (3, 0, 2)


def test_a_drive_that_is_unplugged_during_the_run(drawn, tmp_path):
    """The folder of the photos vanishes; the study lies elsewhere, and the next run goes on."""
    from finmeasure.batch.given import read_given
    from finmeasure.batch.run import measure_into_study, plan_for_study

    drive = tmp_path / "drive"
    shutil.copytree(drawn.path, drive)
    given = read_given(landmarks=drawn.path / "landmarks.csv")
    with Study.open(tmp_path / "study", create=True) as study:
        plan = plan_for_study(study, [drive])
        gone = DeletesPhotos(drive)
        summary = measure_into_study(study, plan, given, progress=gone, jobs=0)
        assert (summary.measured, summary.refused) == (1, 2)
        assert [result.state for result in gone.results] == ["measured", "refused", "refused"]
        shutil.copytree(drawn.path, drive)  # plugged in again
        back = DeletesPhotos(tmp_path / "none")
        summary = measure_into_study(study, plan, given, progress=back, jobs=0)
        assert (summary.measured, summary.refused, summary.skipped) == (3, 0, 1)
        assert study.check() == ()


def test_the_drive_of_the_study_is_unplugged(drawn, tmp_path):
    from finmeasure.batch.given import read_given
    from finmeasure.batch.run import measure_into_study, plan_for_study
    from finmeasure.errors import StudyError

    given = read_given(landmarks=drawn.path / "landmarks.csv")
    with Study.open(tmp_path / "study", create=True) as study:
        plan = plan_for_study(study, [drawn.path])
        gone = DeletesPhotos(tmp_path / "study")
        with pytest.raises(StudyError, match="no longer there") as told:
            measure_into_study(study, plan, given, progress=gone, jobs=0)
    assert "\n" not in str(told.value)
    assert len(gone.results) == 1
