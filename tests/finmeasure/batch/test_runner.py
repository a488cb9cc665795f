"""The pool of workers: order, limits, deaths."""

import multiprocessing
import os
import signal
import sys
import threading
import time
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import numpy as np
import pytest
from pebble import ProcessFuture
from PIL import Image

from finmeasure.batch.measure_photo import PhotoTask, measure_photo
from finmeasure.batch.runner import Limits, _PoolRun, measure_all
from finmeasure.exchange.landmarks import write_landmarks
from finmeasure.reading import Landmark, Reading


def task(path):
    marks = {
        "snout_tip": Landmark("snout_tip", 10.0, 20.0),
        "caudal_base": Landmark("caudal_base", 60.0, 20.0),
        "dorsal_origin": Landmark("dorsal_origin", 30.0, 12.0),
        "dorsal_tip": Landmark("dorsal_tip", 35.0, 4.0),
    }
    return PhotoTask(path, path.name, given_digest="given", readings=(Reading("1", marks),))


@pytest.fixture
def small(tmp_path):
    """Twelve small photos."""
    rng = np.random.default_rng(3)
    paths = [tmp_path / f"{number:02}.png" for number in range(12)]
    for path in paths:
        Image.fromarray(rng.integers(0, 255, (48, 80, 3), dtype=np.uint8)).save(path)
    return paths


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """A photo of 80 megapixels that takes seconds."""
    path = tmp_path_factory.mktemp("large") / "large.png"
    rng = np.random.default_rng(4)
    tile = rng.integers(0, 255, (500, 500, 3), dtype=np.uint8)
    Image.fromarray(np.tile(tile, (16, 20, 1))).save(path, compress_level=1)
    return path


def test_results_come_in_order_and_equal_those_of_one_process(small):
    tasks = [task(path) for path in small]
    pooled = list(measure_all(iter(tasks), jobs=2))
    assert [one.photo for one in pooled] == [path.name for path in small]
    for one, alone in zip(pooled, measure_all(tasks, jobs=0), strict=True):
        assert one.state == alone.state == "measured"
        assert one.given_digest == "given"
        assert one.fish[0].measures == alone.fish[0].measures


def test_tasks_are_taken_only_as_they_are_needed(small):
    taken = []

    def tasks():
        for path in small:
            taken.append(path)
            yield task(path)

    results = measure_all(tasks(), jobs=0)
    next(results)
    assert len(taken) == 1
    results.close()


def test_a_photo_that_takes_too_long_is_refused_and_the_run_goes_on(small, large):
    tasks = [task(small[0]), task(large), *map(task, small[1:])]
    results = {one.photo: one for one in measure_all(tasks, jobs=2, limits=Limits(seconds=1.0))}
    refused = results["large.png"]
    assert refused.state == "refused"
    assert "more than 1 s" in refused.reason
    assert refused.given_digest == ""  # the next run tries again
    # on a busy machine a small one may be slow too, but never all
    assert sum(one.state == "measured" for one in results.values()) >= 6
    assert len(results) == 13


def test_a_photo_that_needs_too_much_memory_is_refused_and_the_run_goes_on(
    small, large, run_process, tmp_path
):
    """The real command: what its workers hold at the start does not depend on other tests."""
    marks = [(path.name, task(path).readings[0]) for path in (small[0], large, small[1])]
    write_landmarks(tmp_path / "landmarks.csv", marks)
    done = run_process(
        "measure", small[0], large, small[1], "--study", tmp_path / "study", "--jobs", "1",
        "--landmarks", tmp_path / "landmarks.csv", "--photo-memory-mb", "350", timeout=600,
    )  # fmt: skip
    assert done.returncode == 1
    (refused,) = [line for line in done.stdout.splitlines() if ": refused." in line]
    assert "large.png" in refused
    assert "memory" in refused
    assert "2 measured, 1 refused" in done.stdout


def test_a_photo_handed_to_a_pool_that_just_gave_up_is_measured_by_the_next(small):
    # Seen once in a run: all loops of the pool had ended, and the last photo was never answered.
    run = _PoolRun(measure_photo, 2, Limits(seconds=60))
    try:
        first = run._schedule(task(small[0]))
        assert first.result(timeout=60).state == "measured"
        run.pool._pool_manager.handle_broken_pool(BrokenProcessPool())
        run.waiting.append((task(small[1]), ProcessFuture()))
        start = time.monotonic()
        with pytest.raises(BrokenProcessPool):  # long before the patience of 300 s
            run._oldest_answer()
        run._start_anew()
        assert time.monotonic() - start < 60
        assert run._oldest_answer().state == "measured"
    finally:
        run.stop()


@pytest.mark.skipif(sys.platform != "linux", reason="looks at /proc")
def test_a_killed_worker_refuses_its_photo_only(small, large):
    """As the system does when memory runs out: the worker is killed in the middle of a photo."""
    killed = []

    def kill_the_large_one():
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline and not killed:
            workers = [child.pid for child in multiprocessing.active_children()
                       if child.name == "pebble_pool_worker"]  # fmt: skip
            sizes = {pid: size for pid in workers if (size := _own_memory_mb(pid))}
            if len(sizes) > 1 and max(sizes.values()) > min(sizes.values()) + 150:
                killed.append(max(sizes, key=sizes.get))
                os.kill(killed[0], signal.SIGKILL)
            time.sleep(0.02)

    def _own_memory_mb(pid):
        try:
            lines = Path(f"/proc/{pid}/status").read_text().splitlines()
        except OSError:
            return 0.0  # it has just ended
        held = [line.split()[1] for line in lines if line.startswith("RssAnon")]
        return int(held[0]) / 1000 if held else 0.0

    thread = threading.Thread(target=kill_the_large_one)
    thread.start()
    tasks = [task(large), *map(task, small)]
    results = {one.photo: one for one in measure_all(tasks, jobs=2)}
    thread.join()
    assert killed
    refused = [one for one in results.values() if one.state == "refused"]
    assert len(results) == 13
    assert [one.photo for one in refused] == ["large.png"]
    assert "worker process ended" in refused[0].reason


def test_what_goes_wrong_inside_becomes_a_refusal(small, monkeypatch):
    def broken(*_arguments, **_options):
        message = "no such thing"
        raise ZeroDivisionError(message)

    monkeypatch.setattr("finmeasure.batch.measure_photo.find_scale", broken)
    result = measure_photo(task(small[0]))
    assert result.state == "refused"
    assert "The program failed on this photo (ZeroDivisionError: no such thing)" in result.reason
    assert result.given_digest == ""
