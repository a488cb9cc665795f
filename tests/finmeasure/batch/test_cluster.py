"""A real Dask scheduler and real worker processes on this computer, one of them killed."""

import os
import signal
import subprocess
import sys
import time
import zipfile

import pandas as pd
import psutil
import pytest

pytest.importorskip("distributed")

import numpy as np

from finmeasure.batch.cluster import checked_address
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import careful_reading
from finmeasure.drawing.photo import draw_photo
from finmeasure.drawing.views import random_card_view
from finmeasure.errors import FinmeasureError
from finmeasure.exchange.landmarks import write_landmarks

PHOTOS = 10
SECONDS_FOR_A_RUN = 240


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """Ten drawn photos before the card, with marks."""
    from PIL import Image

    folder = tmp_path_factory.mktemp("photos")
    rng = np.random.default_rng(31)
    marks = []
    for number in range(PHOTOS):
        spec = random_spec(rng, body_form="plain")
        photo = draw_photo(spec, random_card_view(rng, (700, 460)), rng)
        Image.fromarray(photo.pixels).save(folder / f"{number:02}.jpg", quality=92)
        marks.append((f"{number:02}.jpg", careful_reading(photo, rng)))
    write_landmarks(folder / "landmarks.csv", marks)
    return folder


@pytest.fixture
def cluster(tmp_path):
    """Scheduler and two workers, each its own process on the loopback address."""
    from distributed import Client

    environment = {**os.environ, "DASK_DISTRIBUTED__WORKER__DAEMON": "false"}
    common = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": environment}
    address_file = tmp_path / "scheduler.json"
    scheduler = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port",
         "0", "--no-dashboard", "--scheduler-file", str(address_file)], **common,
    )  # fmt: skip
    workers = [
        subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", "--scheduler-file",
             str(address_file), "--host", "127.0.0.1", "--nthreads", "1", "--no-dashboard",
             "--no-nanny", "--local-directory", str(tmp_path)], **common,
        )
        for _ in range(2)
    ]  # fmt: skip
    try:
        end = time.monotonic() + 60
        while not address_file.exists() and time.monotonic() < end:
            time.sleep(0.1)
        with Client(scheduler_file=str(address_file), timeout=60, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=60)
            address = client.scheduler.address
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def measure(folder, study, *more, photos=None):
    return subprocess.Popen(
        [sys.executable, "-m", "finmeasure", "measure", photos or folder, "--study", str(study),
         "--landmarks", str(folder / "landmarks.csv"), *more],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def rows(study):
    table = pd.read_csv(study / "measurements.csv")
    return table.sort_values(["photo", "fish", "measure"]).reset_index(drop=True)


def test_cluster_gives_the_rows_of_a_local_run_though_a_worker_is_killed(drawn, cluster, tmp_path):
    address, workers = cluster
    local = measure(drawn, tmp_path / "local", "--jobs", "0")
    assert local.communicate(timeout=SECONDS_FOR_A_RUN)[1] == ""
    with zipfile.ZipFile(tmp_path / "season.zip", "w") as archive:  # each worker fetches its photos
        for photo in drawn.glob("*.jpg"):
            archive.write(photo, photo.name)
    url = f"zip://::{(tmp_path / 'season.zip').as_uri()}"
    run = measure(drawn, tmp_path / "far", "--cluster", address, photos=url)
    victim = psutil.Process(workers[0].pid)
    before = sum(victim.cpu_times()[:2])
    while sum(victim.cpu_times()[:2]) < before + 1.0 and run.poll() is None:
        time.sleep(0.02)  # until it is really at work
    assert run.poll() is None
    os.kill(victim.pid, signal.SIGKILL)
    out, errors = run.communicate(timeout=SECONDS_FOR_A_RUN)
    assert run.returncode == local.returncode == 0, out + errors
    assert f"{PHOTOS} measured, 0 refused" in out
    pd.testing.assert_frame_equal(rows(tmp_path / "far"), rows(tmp_path / "local"))


@pytest.mark.parametrize(
    "address", ["tcp://192.0.2.7:8786", "http://127.0.0.1:8786", "somewhere", "tls://host", ""]
)
def test_addresses_in_the_clear_are_refused(address):
    with pytest.raises(FinmeasureError, match="tls://HOST:PORT"):
        checked_address(address)


@pytest.mark.parametrize("address", ["tls://bench:8786", "tcp://[::1]:8786", "tcp://localhost:1"])
def test_encrypted_and_own_addresses_pass(address):
    assert checked_address(address) == address


def test_an_absent_scheduler_is_one_line(drawn, tmp_path, monkeypatch):
    from finmeasure.batch import cluster as module

    monkeypatch.setattr(module, "CONNECT_SECONDS", 1)
    with pytest.raises(FinmeasureError, match="cannot be reached"):
        next(module.measure_on_cluster([], "tcp://127.0.0.1:9"))
