"""Opening a study: everything that may lie at the path is answered in one clear line."""

import os
import shutil
import signal
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from study_samples import result_of

from finmeasure.errors import StudyError
from finmeasure.study.store import Study

# Magic header of every SQLite 3 file (SQLite documentation, "Database File Format", 1.3).
SQLITE_MAGIC = b"SQLite format 3\x00"


def refusal_of(folder, **options):
    with pytest.raises(StudyError) as caught:
        Study.open(folder, **options)
    text = str(caught.value)
    assert "\n" not in text
    assert len(text) < 700
    return text


@pytest.fixture
def stranger(tmp_path, empty_study):
    """Give a study's folder and a way to change its file with bare SQLite."""
    shutil.copy(empty_study, tmp_path)

    def change(*statements):
        with closing(sqlite3.connect(tmp_path / "study.db")) as connection:
            for statement in statements:
                connection.execute(statement)
            connection.commit()
        return tmp_path

    return change


def test_no_folder_and_no_study_are_told(tmp_path):
    assert "There is no study" in refusal_of(tmp_path / "nowhere")
    assert "There is no study" in refusal_of(tmp_path)
    assert not (tmp_path / "study.db").exists()
    assert not (tmp_path / "nowhere").exists()


def test_create_makes_the_folder_and_opens_what_is_there(tmp_path):
    folder = tmp_path / "a" / "b"
    with Study.open(folder, create=True) as study:
        study.record_photo_result(result_of(1))
    with Study.open(folder, create=True) as study:
        assert len(study.recorded_photos()) == 1


def test_empty_file_is_no_study_until_one_is_made(tmp_path):
    (tmp_path / "study.db").touch()
    assert "There is no study" in refusal_of(tmp_path)
    with Study.open(tmp_path, create=True) as study:
        assert study.check() == ()


@pytest.mark.parametrize(
    "name",
    [
        "with blank",
        "Größe 魚 🐟",
        "a%20b #1?mode=ro&x=y",
        "new\nline",
        "-rf",
        "=1+1",
        "'quoted\"",
        "ж" * 127,  # 254 bytes: the longest name that most file systems take is 255
    ],
)
def test_any_folder_name_works(tmp_path, name):
    with Study.open(tmp_path / name, create=True) as study:
        study.record_photo_result(result_of(1))
        study.export("csv")
    with Study.open(tmp_path / name) as study:
        assert len(study.recorded_photos()) == 1
        study.back_up(tmp_path / name / "backup.db")
    assert (tmp_path / name / "study.db").exists()


def test_path_longer_than_260_characters_works(tmp_path):
    folder = tmp_path.joinpath(*["a folder with a long name " * 3] * 4)
    assert len(str(folder)) > 260
    with Study.open(folder, create=True) as study:
        assert study.check() == ()


def test_path_too_long_for_the_system_is_told(tmp_path):
    assert "cannot be used" in refusal_of(tmp_path / ("x" * 300), create=True)


def test_file_in_place_of_the_folder_and_folder_in_place_of_the_file(tmp_path):
    (tmp_path / "file").write_text("no folder")
    assert "cannot be used" in refusal_of(tmp_path / "file", create=True)
    (tmp_path / "study.db").mkdir()
    assert "is no file" in refusal_of(tmp_path, create=True)


def test_text_and_garbage_are_no_study(tmp_path):
    rng = np.random.default_rng(4)
    for content in (b"photo,sha256\n" * 500, rng.bytes(20_000), SQLITE_MAGIC + rng.bytes(20_000)):
        (tmp_path / "study.db").write_bytes(content)
        text = refusal_of(tmp_path)
        assert "no study" in text or "damaged" in text
        assert (tmp_path / "study.db").read_bytes() == content  # a wrong file is left alone


def test_truncated_study_is_damaged(tmp_path, study):
    for number in range(20):
        study.record_photo_result(result_of(number))
    study.close()
    whole = (study.folder / "study.db").read_bytes()
    for share in (0.3, 0.6, 0.95):
        (tmp_path / "study.db").write_bytes(whole[: int(len(whole) * share)])
        text = refusal_of(tmp_path)
        assert "damaged" in text or "no study" in text


def test_random_damage_is_refused_or_harmless(tmp_path, study):
    """No damage may end in anything but a study that works or one clear line."""
    for number in range(5):
        study.record_photo_result(result_of(number))
    study.close()
    whole = np.frombuffer((study.folder / "study.db").read_bytes(), np.uint8)
    rng = np.random.default_rng(11)
    for _ in range(40):
        damaged = whole.copy()
        start = int(rng.integers(0, len(whole) - 64))
        damaged[start : start + 64] = rng.integers(0, 256, 64, dtype=np.uint8)
        (tmp_path / "study.db").write_bytes(damaged.tobytes())
        assert _outcome(tmp_path) in ("works", "one line")


def _outcome(folder):
    try:
        with Study.open(folder, read_only=True) as opened:
            opened.check()
            opened.export("csv", folder / "out")
    except StudyError as error:
        return "several lines" if "\n" in str(error) else "one line"
    return "works"


def test_database_of_another_program_is_refused(tmp_path):
    with closing(sqlite3.connect(tmp_path / "study.db")) as connection:
        connection.execute("CREATE TABLE visits (url TEXT)")
        connection.commit()
    assert "another program" in refusal_of(tmp_path)
    assert "another program" in refusal_of(tmp_path, create=True)


def test_newer_schema_says_so(stranger):
    folder = stranger("UPDATE alembic_version SET version_num = '9999'")
    assert "made by a newer version" in refusal_of(folder)


def test_no_schema_number_and_two_of_them_are_refused(stranger):
    assert "no schema number" in refusal_of(stranger("DELETE FROM alembic_version"))
    folder = stranger("INSERT INTO alembic_version VALUES ('0001'), ('0002')")
    assert "no schema number" in refusal_of(folder)


@pytest.mark.parametrize(
    ("kind", "statement"),
    [
        (
            "trigger",
            "CREATE TRIGGER helpful AFTER INSERT ON photo BEGIN DELETE FROM sighting; END",
        ),
        ("trigger", "CREATE TRIGGER scale_no_update_ BEFORE UPDATE ON scale BEGIN SELECT 1; END"),
        ("view", "CREATE VIEW everything AS SELECT * FROM photo"),
        ("table", "CREATE VIRTUAL TABLE search USING fts5(words)"),
    ],
)
@pytest.mark.parametrize("read_only", [False, True])
def test_what_runs_on_its_own_is_refused(stranger, kind, statement, read_only):
    text = refusal_of(stranger(statement), read_only=read_only)
    assert f"holds a {kind} named" in text


def test_guard_that_was_changed_is_refused(stranger):
    folder = stranger(
        "DROP TRIGGER reading_no_update",
        "CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading BEGIN SELECT 1; END",
    )
    assert "did not make" in refusal_of(folder)


def test_view_in_place_of_a_table_is_refused(stranger):
    folder = stranger("ALTER TABLE setting RENAME TO s", "CREATE VIEW setting AS SELECT * FROM s")
    assert "holds a view named 'setting'" in refusal_of(folder)


def test_missing_table_is_one_line_when_it_is_needed(stranger):
    with Study.open(stranger("DROP TABLE draft")) as study:
        study.add_photo("a.jpg", "a" * 64)
        with pytest.raises(StudyError, match="draft") as caught:
            study.load_draft("a.jpg", "1", "Keeper")
    assert "\n" not in str(caught.value)


def test_folder_that_cannot_be_written_is_told(ordinary_user, empty_study):
    ordinary_user.chmod(0o555)
    assert "cannot" in refusal_of(ordinary_user, create=True)
    assert "cannot" in refusal_of(ordinary_user / "new", create=True)


def test_study_on_locked_media_can_be_read_and_exported(ordinary_user):
    folder, out = ordinary_user / "study", ordinary_user / "out"
    with Study.open(folder, create=True) as study:
        study.record_photo_result(result_of(1))
        study.export("csv", out)
    out_before = {file.name: file.read_bytes() for file in out.iterdir()}
    (folder / "study.db").chmod(stat.S_IRUSR)
    folder.chmod(0o555)
    text = refusal_of(folder)
    assert "cannot be written" in text or "cannot be opened" in text
    with Study.open(folder, read_only=True) as study:
        assert study.check() == ()
        assert len(study.current_readings()) == 1
        study.export("csv", out)
        with pytest.raises(StudyError, match="for reading only"):
            study.record_photo_result(result_of(2))
    assert {file.name: file.read_bytes() for file in out.iterdir()} == out_before
    assert os.listdir(folder) == ["study.db"]
    folder.chmod(0o777)


def test_study_in_use_is_read_at_once_and_written_when_free(study):
    study.record_photo_result(result_of(1))
    with closing(sqlite3.connect(study.folder / "study.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with Study.open(study.folder, busy_seconds=0.3) as second:
            assert len(second.recorded_photos()) == 1
            with pytest.raises(StudyError, match="is in use by another program") as caught:
                second.record_photo_result(result_of(2))
            other.execute("ROLLBACK")
            assert second.record_photo_result(result_of(2))
    assert "\n" not in str(caught.value)


def test_study_held_by_another_program_is_told(study):
    with closing(sqlite3.connect(study.folder / "study.db", isolation_level=None)) as other:
        study.close()
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("PRAGMA journal_mode = DELETE")
        other.execute("BEGIN EXCLUSIVE")
        assert "is in use by another program" in refusal_of(study.folder, busy_seconds=0.3)


def test_folder_that_vanishes_while_open_is_told(study):
    study.record_photo_result(result_of(1))
    study.close()
    shutil.rmtree(study.folder)
    with pytest.raises(StudyError, match="cannot be opened") as caught:
        study.record_photo_result(result_of(2))
    assert "\n" not in str(caught.value)


def test_safeties_of_sqlite_are_on(study):
    with study._database.writing() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "trusted_schema")
        }
    # SQLite documentation of PRAGMA synchronous: 2 is FULL.
    assert found == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "trusted_schema": 0,
    }


def test_relative_path_survives_a_change_of_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with Study.open(Path("study"), create=True) as study:
        monkeypatch.chdir("/")
        study.close()
        assert study.record_photo_result(result_of(1))
    assert (tmp_path / "study" / "study.db").exists()


def test_an_interrupt_within_a_statement_leaves_the_study_as_it_was(tmp_path):
    """Ctrl-C closes the connection, which undoes what was begun; nothing is left to undo."""

    def interrupt(*_):
        raise KeyboardInterrupt

    def write_for_long():
        with study._database.writing() as connection:
            connection.exec_driver_sql("CREATE TABLE begun (number)")
            signal.setitimer(signal.ITIMER_REAL, 0.05)
            connection.exec_driver_sql(
                "INSERT INTO begun WITH RECURSIVE up(n) AS "
                "(VALUES(1) UNION ALL SELECT n + 1 FROM up WHERE n < 3000000) SELECT n FROM up"
            )

    study = Study.open(tmp_path / "study", create=True)
    before = signal.signal(signal.SIGALRM, interrupt)
    try:
        with pytest.raises(KeyboardInterrupt):
            write_for_long()
    finally:
        signal.signal(signal.SIGALRM, before)
    with study._database.reading() as connection:
        names = connection.exec_driver_sql("SELECT name FROM sqlite_master").scalars().all()
    assert "begun" not in names
    study.close()
