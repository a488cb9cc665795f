"""Photos at URLs: a ZIP archive and a store in memory, by fsspec's own file systems."""

import csv
import importlib.util
import shutil
import zipfile
from pathlib import Path

import pytest

from finmeasure.batch.given import Given
from finmeasure.batch.measure_photo import measure_photo
from finmeasure.batch.plan import plan_photos
from finmeasure.errors import FinmeasureError, PhotoError
from finmeasure.photo import remote
from finmeasure.photo.files import sha256_of
from finmeasure.photo.remote import fetched, remote_photos, source_of

fsspec = pytest.importorskip("fsspec")


@pytest.fixture(scope="module")
def archive(drawn, tmp_path_factory):
    """Two photos in a folder of an archive, a table, and a photo whose path leads out of it."""
    path = tmp_path_factory.mktemp("archive") / "season.zip"
    with zipfile.ZipFile(path, "w") as file:
        for name in ("a.jpg", "b.jpg"):
            file.write(drawn.path / name, f"bag 7/{name}")
        file.writestr("bag 7/landmarks.csv", "photo")
        file.writestr("bag 7/../../out.jpg", b"out")
    return f"zip://::{path.as_uri()}"


def rows(study, drop=("seconds", "file", "run")):
    with (study / "measurements.csv").open(newline="", encoding="utf-8") as file:
        return [{k: v for k, v in row.items() if k not in drop} for row in csv.DictReader(file)]


@pytest.fixture
def folder(drawn, tmp_path):
    """The photos of the archive as files, with their table."""
    folder = tmp_path / "photos"
    (folder / "bag 7").mkdir(parents=True)
    for name in ("a.jpg", "b.jpg"):
        shutil.copy(drawn.path / name, folder / "bag 7" / name)
    table = (drawn.path / "landmarks.csv").read_text().splitlines()
    marks = [f"bag 7/{row}" for row in table if row.startswith(("a.jpg", "b.jpg"))]
    (folder / "landmarks.csv").write_text("\n".join([table[0], *marks]) + "\n")
    return folder


def test_photos_of_an_archive_are_measured_like_files(archive, folder, run, tmp_path):
    """Workers fetch each photo; a second run takes them as before without fetching any."""
    marks = ("--landmarks", folder / "landmarks.csv")
    here = run("measure", folder.as_uri(), "--study", tmp_path / "here", *marks, "--jobs", 0)
    assert here.returncode == 0, here.stderr
    call = ("measure", archive, "--study", tmp_path / "far", *marks, "--jobs", 1)
    far = run(*call)
    assert far.returncode == 0, far.stderr
    assert "out.jpg: left out, its path leads out of the folder" in far.stderr
    assert "2 measured, 0 refused" in far.stdout
    assert rows(tmp_path / "far") == rows(tmp_path / "here")
    again = run(*call)
    assert "2 of them as before and skipped" in again.stdout


def test_a_store_in_memory_gives_whole_photos_with_stamps(drawn):
    store = fsspec.filesystem("memory")
    store.pipe("/bench/bag/a.jpg", (drawn.path / "a.jpg").read_bytes())
    store.pipe("/bench/notes.txt", b"no photo")
    (photo,), notes = remote_photos("memory://bench")
    assert (photo.name, notes) == ("bag/a.jpg", [])
    with fetched(photo.url) as path:
        assert path.name == "a.jpg"
        assert sha256_of(path) == sha256_of(drawn.path / "a.jpg")
    assert not path.exists()
    store.pipe("/bench/bag/a.jpg", b"another")
    (changed,), _ = remote_photos("memory://bench")
    assert changed.stamp != photo.stamp
    plans = [plan_photos(["memory://bench"]), plan_photos(["memory://bench/bag/a.jpg"])]
    assert [plan.photos[0].name for plan in plans] == ["bag/a.jpg", "a.jpg"]
    task = Given().task(plans[0].photos[0])
    result = measure_photo(task)  # 7 bytes that are no photo
    assert (result.state, result.file) == ("refused", None)
    store.rm("/bench/bag/a.jpg")
    gone = measure_photo(task)
    assert "a.jpg: there is no such file" in gone.reason
    assert gone.given_digest == ""  # the next run tries again


def test_a_file_larger_than_a_photo_may_be_is_not_fetched_whole(monkeypatch):
    monkeypatch.setattr(remote, "LARGEST_FILE_BYTES", 3_000_000)
    fsspec.filesystem("memory").pipe("/large/a.jpg", bytes(3_000_001))
    with (
        pytest.raises(PhotoError, match=r"a\.jpg has more than the allowed 3 MB"),
        fetched("memory://large/a.jpg"),
    ):
        pass


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("http://bench/photos", "are not read. Allowed: s3://BUCKET/FOLDER"),  # in the clear
        ("simplecache::s3://bench/a", "are not read. Allowed"),
        ("zip://a::zip://b::file:///c.zip", "are not read. Allowed"),
        ("reference://list.json", "are not read. Allowed"),
        ("zip://::file:///no/such.zip", "there is no such file or folder"),
        ("memory://nothing/here", "no such file|no files"),
    ],
)
def test_other_urls_are_refused_in_one_line(url, words):
    with pytest.raises(FinmeasureError, match=words) as refused:
        remote_photos(url)
    assert "\n" not in str(refused.value)


def test_a_missing_package_is_named():
    if importlib.util.find_spec("s3fs"):
        pytest.skip("the package for s3 is there")
    with pytest.raises(FinmeasureError, match=r"s3fs.* on every worker"):
        remote_photos("s3://bench/2026")


def test_a_file_url_is_a_path_of_this_computer():
    assert source_of("file:///shared/bag%207") == Path("/shared/bag 7")
    assert source_of("file://localhost/shared") == Path("/shared")
    with pytest.raises(FinmeasureError, match="names another computer"):
        source_of("file://bench-2/shared")
