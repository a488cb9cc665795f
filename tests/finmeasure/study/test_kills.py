"""SIGKILL at random moments: what was confirmed is there, what was not is whole or absent."""

import shlex
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import study_samples
from study_samples import lines_of, plain, reading_of, result_of

from finmeasure.study.store import Study

PHOTOS = 60
TABLES = ("photos", "landmarks", "outlines", "measurements", "fish")


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    """Give the tables of a run that nobody killed."""
    with Study.open(tmp_path_factory.mktemp("undisturbed"), create=True) as study:
        for number in range(PHOTOS):
            study.record_photo_result(result_of(number))
        study.export("csv")
    return {table: (study.folder / f"{table}.csv").read_bytes() for table in TABLES}


def _kill_at_random(processes, target, arguments, journal, *, rng, longest_s):
    """Start a writer, wait until it has the study open (or not at all), kill it.

    Gives 1 where the writer was still at work, 0 where it had ended before.
    """
    child = processes.Process(target=target, args=arguments)
    child.start()
    if rng.uniform() < 0.8:  # the others may die while they open or make the study
        limit = time.monotonic() + 60
        while not journal.exists() and child.is_alive() and time.monotonic() < limit:
            time.sleep(0.002)
    time.sleep(rng.uniform(0, longest_s))
    child.kill()
    child.join()
    hit = child.exitcode == -signal.SIGKILL
    child.close()
    return int(hit)


def _run_on_killed_until_done(processes, folder, journal, seed):
    """Kill a run again and again, look at the study each time, and give how often it was hit."""
    rng = np.random.default_rng(seed)
    hits = 0
    for _ in range(10):
        journal.unlink(missing_ok=True)
        hits += _kill_at_random(
            processes,
            study_samples.write_photos,
            (folder, journal, 0, PHOTOS),
            journal,
            rng=rng,
            longest_s=0.06,
        )
        with Study.open(folder, create=True) as study:
            assert study.check(photos=False) == ()
            there = study.recorded_photos()
            assert set(lines_of(journal, "photo")) <= set(there)
            for stored in study.current_readings():
                number = int(stored.photo[-9:-4])
                assert plain(stored.reading) == plain(reading_of(number))
    return hits


def _finished_tables(folder):
    """Let a last run end in peace and give its tables."""
    study_samples.write_photos(folder, folder / "journal", 0, PHOTOS)
    with Study.open(folder) as study:
        study.export("csv")
        assert study.check(photos=False) == ()
    return {table: (folder / f"{table}.csv").read_bytes() for table in TABLES}


@pytest.mark.parametrize("seed", range(3))
def test_killed_batch_loses_nothing_and_ends_like_an_undisturbed_one(
    processes, tmp_path, undisturbed, seed
):
    folder = tmp_path / "study"
    assert _run_on_killed_until_done(processes, folder, tmp_path / "journal", seed) >= 3
    assert _finished_tables(folder) == undisturbed


@pytest.mark.soak
def test_killed_batch_for_long(processes, tmp_path, undisturbed):
    """500 rounds; the short form has 30."""
    for seed in range(100, 150):
        folder = tmp_path / str(seed)
        assert _run_on_killed_until_done(processes, folder, tmp_path / "journal", seed) >= 3
        assert _finished_tables(folder) == undisturbed


@pytest.mark.parametrize("rounds", [10, pytest.param(70, marks=pytest.mark.soak)])
def test_killed_window_keeps_every_draft_and_every_confirmed_reading(
    processes, study, tmp_path, rounds
):
    for number in range(10):
        study.record_photo_result(result_of(number))
    rng = np.random.default_rng(20)
    confirmed, hits = {}, 0
    for round_ in range(rounds):
        journal = tmp_path / f"journal {round_}"
        hits += _kill_at_random(
            processes,
            study_samples.mark_in_the_window,
            (study.folder, journal, 100 * round_, 100 * round_ + 100),
            journal,
            rng=rng,
            longest_s=0.2,
        )
        for line in lines_of(journal, "reading"):
            key, seed = line.split()
            confirmed[key] = int(seed)
        drafts = [line.rsplit(" ", 1) for line in lines_of(journal, "draft")]
        for photo, change in drafts[-1:]:
            _assert_change_is_kept(study, photo, int(change))
    assert study.check(photos=False) == ()
    stored = {
        reading.id.hex: reading.reading
        for number in range(10)
        for reading in study.readings_of(result_of(number).photo)
    }
    assert hits >= 3
    assert len(confirmed) > 0
    for key, seed in confirmed.items():
        assert plain(stored[key]) == plain(reading_of(seed, placed_by="Keeper"))


def _assert_change_is_kept(study, photo, change):
    """The last change told is in the draft, unless it was confirmed, or a later one overwrote."""
    draft = study.load_draft(photo, "1", "Keeper")
    newest = study.readings_of(photo)[-1].reading
    if change % 3 == 0 and draft is None:
        assert plain(newest) == plain(reading_of(change, placed_by="Keeper"))
    else:
        assert draft["change"] >= change


@pytest.mark.parametrize("rounds", [10, pytest.param(70, marks=pytest.mark.soak)])
def test_killed_export_leaves_whole_tables(processes, study, tmp_path, rounds):
    for number in range(PHOTOS):
        study.record_photo_result(result_of(number))
    study.export("csv")
    whole = {file.name: file.read_bytes() for file in study.folder.glob("*.csv")}
    rng = np.random.default_rng(30)
    hits = 0
    for round_ in range(rounds):
        journal = tmp_path / f"journal {round_}"
        hits += _kill_at_random(
            processes,
            study_samples.export_again_and_again,
            (study.folder, journal, 0, 1000),
            journal,
            rng=rng,
            longest_s=0.15,
        )
        assert {file.name: file.read_bytes() for file in study.folder.glob("*.csv")} == whole
    assert hits == rounds
    study.export("csv")
    assert not list(study.folder.glob(".*.part"))


@pytest.mark.parametrize("rounds", [12, pytest.param(70, marks=pytest.mark.soak)])
def test_kill_while_a_study_is_made_leaves_none_or_a_whole_one(processes, tmp_path, rounds):
    """Making one is a migration from nothing to the newest schema, in one transaction."""
    rng = np.random.default_rng(40)
    for round_ in range(rounds):
        folder = tmp_path / f"study {round_}"
        child = processes.Process(
            target=study_samples.write_photos, args=(folder, tmp_path / "journal", 0, 0)
        )
        child.start()
        time.sleep(rng.uniform(0, 0.2))
        child.kill()
        child.join()
        with Study.open(folder, create=True) as study:
            assert study.check() == ()
            assert study.record_photo_result(result_of(1))


def test_two_writers_at_once_both_get_everything_in(processes, tmp_path):
    folder = tmp_path / "study"
    ranges = [(0, 25), (15, 40)]  # ten photos are recorded by both
    children = [
        processes.Process(
            target=study_samples.write_photos, args=(folder, tmp_path / f"{first}", first, last)
        )
        for first, last in ranges
    ]
    for child in children:
        child.start()
    for child in children:
        child.join()
    assert [child.exitcode for child in children] == [0, 0]
    with Study.open(folder) as study:
        assert study.check(photos=False) == ()
        readings = study.current_readings()
        assert len(readings) == 40
        assert all(len(study.readings_of(stored.photo)) == 1 for stored in readings)


@pytest.mark.parametrize("limit_bytes", [1_000, 300_000, 600_000])
def test_no_room_is_one_line_and_what_was_confirmed_stays(processes, tmp_path, limit_bytes):
    folder, journal = tmp_path / "study", tmp_path / "journal"
    child = processes.Process(
        target=study_samples.write_until_refused, args=(folder, journal, limit_bytes)
    )
    child.start()
    child.join()
    (message,) = lines_of(journal, "refused")
    assert "No room to write" in message or "refused to read or write" in message
    with Study.open(folder) as study:
        assert study.check(photos=False) == ()
        assert set(lines_of(journal, "photo")) <= set(study.recorded_photos())
        assert study.record_photo_result(result_of(9_999))  # with room, it goes on


def test_full_disk_is_one_line_and_with_room_it_goes_on(tmp_path):
    disk, journal = tmp_path / "disk", tmp_path / "journal"
    disk.mkdir()
    # A small file system of its own, seen only by this command.
    own_disk = f"mount -t tmpfs -o size=1m none {shlex.quote(str(disk))}"
    tried = ["unshare", "--mount", "sh", "-c", own_disk]
    if shutil.which("unshare") is None or subprocess.run(tried, capture_output=True).returncode:
        pytest.skip("no small file system can be mounted here (needs Linux and rights)")
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r}); from pathlib import Path;"
        "from study_samples import fill_the_disk;"
        f"fill_the_disk(Path({str(disk / 'study')!r}), Path({str(journal)!r}))"
    )
    run = f"{own_disk} && {shlex.quote(sys.executable)} -c {shlex.quote(code)}"
    subprocess.run(["unshare", "--mount", "sh", "-c", run], check=True)
    (message,) = lines_of(journal, "refused")
    assert "No room to write" in message or "refused to read or write" in message
    confirmed = len(lines_of(journal, "photo"))
    assert confirmed > 0
    assert lines_of(journal, "there") == [f"{confirmed + 1} ()"]
