"""Check finds what was broken on purpose, and nothing in a sound study; backups are whole."""

import hashlib
import sqlite3
import stat
from contextlib import closing

import pytest
from study_samples import result_of

from finmeasure.errors import StudyError
from finmeasure.study.store import Study


@pytest.fixture
def with_photos(study, tmp_path):
    for number in range(4):
        file = tmp_path / "photos" / f"{number}.jpg"
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(bytes([number]) * 1000)
        sha256 = hashlib.sha256(file.read_bytes()).hexdigest()
        study.record_photo_result(result_of(number, file=file, sha256=sha256))
    return study


def _break(study, *statements):
    """Change a study as a foreign program would: without keys and guards."""
    study.close()
    with closing(sqlite3.connect(study.folder / "study.db")) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def kinds(study, **options):
    findings = study.check(**options)
    for finding in findings:
        assert "\n" not in finding.text
    return [finding.kind for finding in findings]


def test_sound_study_has_no_findings(with_photos):
    assert with_photos.check() == ()


def test_study_and_photos_that_move_together_are_still_found(with_photos, tmp_path):
    with_photos.close()
    (tmp_path / "moved").mkdir()
    for name in ("study", "photos"):
        (tmp_path / name).rename(tmp_path / "moved" / name)
    with Study.open(tmp_path / "moved" / "study") as study:
        assert study.check() == ()


def test_photo_missing_changed_and_unreadable(with_photos, tmp_path):
    (tmp_path / "photos" / "0.jpg").unlink()
    (tmp_path / "photos" / "1.jpg").write_bytes(b"other")
    (tmp_path / "photos" / "2.jpg").unlink()
    (tmp_path / "photos" / "2.jpg").mkdir()
    assert kinds(with_photos) == ["photo_missing", "photo_changed", "photo_missing"]
    assert kinds(with_photos, photos=False) == []


def test_rows_that_point_nowhere(with_photos):
    _break(with_photos, "DROP TRIGGER reading_no_delete", "DELETE FROM reading WHERE rowid = 1")
    found = kinds(with_photos, photos=False)
    assert "foreign_keys" in found
    assert "orphans" in found
    assert "immutable_rows" in found


def test_guard_that_was_removed(with_photos):
    _break(with_photos, "DROP TRIGGER scale_no_update")
    assert kinds(with_photos, photos=False) == ["immutable_rows"]


def test_reading_without_any_mark(with_photos):
    _break(
        with_photos,
        "DROP TRIGGER reading_landmark_no_delete",
        "DROP TRIGGER reading_outline_no_delete",
        "DELETE FROM reading_landmark",
        "DELETE FROM reading_outline",
    )
    assert "unmarked_reading" in kinds(with_photos, photos=False)


def test_measures_of_another_version(with_photos):
    _break(with_photos, "UPDATE measure_set SET code_version = '0.0.1'")
    (finding,) = with_photos.check(photos=False)
    assert (finding.kind, finding.severity) == ("old_measures", "note")
    assert finding.text.startswith("4 sets")
    assert len(with_photos.readings_without_measures()) == 4


def test_one_name_in_two_groups_is_worth_a_note(study):
    for number, group in ((1, "tank 1"), (2, "tank 2")):
        fish = result_of(number).fish[0]
        named = type(fish)(fish.reading, fish.measures, "left", fish.visit, group)
        study.record_photo_result(result_of(number, fish=(named,)))
        study.name_fish(result_of(number).photo, "1", "red 7")
    assert kinds(study, photos=False) == ["one_name_many_groups"]


def test_damaged_page_is_found(with_photos):
    with_photos.close()
    file = with_photos.folder / "study.db"
    with Study.open(with_photos.folder) as study:  # opened before the damage is done
        content = bytearray(file.read_bytes())
        # An index whose entries are gone: the table's rows are then "missing from index".
        content[-4096:] = bytes(4096)
        file.write_bytes(content)
        study.close()
        assert _outcome(study) in ("integrity", "one line")


def _outcome(study):
    """What a damaged study ends in; anything but findings or one line fails the test."""
    try:
        (kind,) = {finding.kind for finding in study.check(photos=False)}
    except StudyError as error:
        return "one line" if "damaged" in str(error) and "\n" not in str(error) else str(error)
    return kind


def test_backup_is_a_study_with_everything_in_it(with_photos, tmp_path):
    target = tmp_path / "safe" / "study.db"
    with_photos.back_up(target)
    assert [file.name for file in target.parent.iterdir()] == ["study.db"]
    with Study.open(target.parent) as copy:
        assert copy.check(photos=False) == ()
        for table in ("photos", "landmarks", "outlines", "measurements", "fish"):
            assert copy.table(table).equals(with_photos.table(table))


def test_backup_while_another_connection_writes(with_photos, tmp_path):
    with (
        closing(sqlite3.connect(with_photos.folder / "study.db", isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE photo SET reason = 'half-way'")
        with_photos.back_up(tmp_path / "copy.db")
        other.execute("ROLLBACK")
    with closing(sqlite3.connect(tmp_path / "copy.db")) as copy:
        assert copy.execute("SELECT count(*) FROM photo WHERE reason <> ''").fetchone() == (0,)


def test_backup_never_replaces_the_study_itself(with_photos):
    with pytest.raises(StudyError, match="is the study itself"):
        with_photos.back_up(with_photos.folder / "study.db")
    assert with_photos.check(photos=False) == ()


@pytest.mark.parametrize("content", [b"\xff\xd8\xff\xe0 a photo", b"photo,fish\n"])
def test_backup_never_replaces_a_file_that_is_no_database(with_photos, tmp_path, content):
    mistyped = tmp_path / "IMG_0001.jpg"
    mistyped.write_bytes(content)
    with pytest.raises(StudyError, match="is there and no database"):
        with_photos.back_up(mistyped)
    assert mistyped.read_bytes() == content
    with pytest.raises(StudyError):
        with_photos.back_up(tmp_path)  # a folder


def test_a_newer_backup_replaces_the_older_one(with_photos, tmp_path):
    with_photos.back_up(tmp_path / "backup.db")
    with_photos.record_photo_result(result_of(7))
    with_photos.back_up(tmp_path / "backup.db")
    with closing(sqlite3.connect(tmp_path / "backup.db")) as copy:
        assert copy.execute("SELECT count(*) FROM photo").fetchone() == (5,)


def test_backup_that_cannot_be_written_leaves_the_older_one(ordinary_user):
    safe = ordinary_user / "safe"
    safe.mkdir()
    with Study.open(ordinary_user / "study", create=True) as study:
        study.back_up(safe / "backup.db")
        older = (safe / "backup.db").read_bytes()
        study.record_photo_result(result_of(1))
        safe.chmod(stat.S_IRUSR | stat.S_IXUSR)
        with pytest.raises(StudyError) as caught:
            study.back_up(safe / "backup.db")
        assert "\n" not in str(caught.value)
    safe.chmod(stat.S_IRWXU)
    assert (safe / "backup.db").read_bytes() == older
    assert [file.name for file in safe.iterdir()] == ["backup.db"]
