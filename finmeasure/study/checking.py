"""Look whether a study is whole, and make a backup that was looked at too."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection

from finmeasure import __version__
from finmeasure.errors import StudyError
from finmeasure.study.connecting import Database, one_line, plain_error
from finmeasure.study.exporting import complete_or_not
from finmeasure.study.recording import referenced_file
from finmeasure.study.records import Finding
from finmeasure.study.schema import newest_schema
from finmeasure.study.triggers import expected_triggers

# What the foreign keys and constraints cannot say: (kind, query of a count, words).
_COUNTS = (
    (
        "orphans",
        "SELECT count(*) FROM sighting WHERE id NOT IN (SELECT sighting_id FROM reading)",
        "{count} fish on photos have no reading. They show in no table; nothing is lost.",
    ),
    (
        "orphans",
        "SELECT count(*) FROM photo WHERE state = 'measured' AND NOT EXISTS "
        "(SELECT 1 FROM sighting JOIN reading ON reading.sighting_id = sighting.id "
        "WHERE sighting.photo_id = photo.id)",
        "{count} photos are said to be measured, and no reading is there. Measure them again.",
    ),
    (
        "unmarked_reading",
        "SELECT count(*) FROM reading WHERE id NOT IN (SELECT reading_id FROM reading_landmark) "
        "AND id NOT IN (SELECT reading_id FROM reading_outline)",
        "{count} readings hold no mark at all. Measure those photos again.",
    ),
)


def check_study(database: Database, study: Path, *, photos: bool = True) -> tuple[Finding, ...]:
    """Look at everything that could be wrong with a study.

    Parameters
    ----------
    database : Database
        The study.
    study : pathlib.Path
        Its folder, from which photos are found.
    photos : bool
        Read every photo file and compare its checksum; takes as long as reading them.

    Returns
    -------
    tuple of Finding
        Empty where everything is as it should be.
    """
    with database.reading() as connection:
        damage = list(_damage(connection))
        if damage:
            return tuple(damage)
        found = [*_references(connection), *_triggers(connection), *_counts(connection)]
        found += [*_caches(connection), *_moved_fish(connection)]
        files = connection.exec_driver_sql(
            "SELECT name, sha256, file FROM photo WHERE current = 1 ORDER BY name"
        ).all()
    if photos:
        for name, sha256, reference in files:
            found += _photo(name, sha256, referenced_file(reference, study))
    return tuple(found)


def back_up(database: Database, target: Path) -> None:
    """Copy the study's database while others may go on writing; then look at the copy.

    The target is only replaced once the copy was found sound.

    Raises
    ------
    StudyError
        If the target cannot be written, is the study itself, or the copy is not sound.
    """
    with complete_or_not([target]) as (part,):
        _refuse_target(database, target)
        try:
            sound = _copy(database, part)
        except sqlite3.Error as error:
            raise StudyError(plain_error(error, target)) from error
        if sound != "ok":
            message = f"The copy is not sound ({one_line(sound)}). No backup was made; try again."
            raise StudyError(message)


def _refuse_target(database: Database, target: Path) -> None:
    """Refuse to replace the study, or a file that is no database, such as a photo."""
    if not target.exists():
        return
    if target.samefile(database.file):
        message = f"{one_line(target)} is the study itself. Give another file for the backup."
        raise StudyError(message)
    if not target.is_file() or not _is_database(target):
        message = f"{one_line(target)} is there and no database. Give a new file for the backup."
        raise StudyError(message)


def _is_database(file: Path) -> bool:
    """Whether a file starts as every SQLite database does (sqlite.org, file format, 1.3.1)."""
    with file.open("rb") as opened:
        return opened.read(16) in (b"SQLite format 3\x00", b"")


def _copy(database: Database, part: Path) -> str:
    """Copy the database into a new file and say what SQLite finds wrong with it, or "ok"."""
    part.unlink(missing_ok=True)
    with closing(database.connect_raw()) as source, closing(sqlite3.connect(part)) as copy:
        source.backup(copy)
        # A backup is one file: without this, it would need its log beside it.
        copy.execute("PRAGMA journal_mode = DELETE")
        return str(copy.execute("PRAGMA integrity_check(1)").fetchone()[0])


def _damage(connection: Connection) -> Iterator[Finding]:
    for (text,) in connection.exec_driver_sql("PRAGMA integrity_check"):
        if text != "ok":
            words = f"The database is damaged: {one_line(text)}. Take the newest backup."
            yield Finding("integrity", "fault", words)


def _references(connection: Connection) -> Iterator[Finding]:
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    for table in sorted({row[0] for row in broken}):
        count = sum(row[0] == table for row in broken)
        words = (
            f"{count} rows of the table {table} point to rows that are not there. "
            "Take the newest backup."
        )
        yield Finding("foreign_keys", "fault", words)


def _triggers(connection: Connection) -> Iterator[Finding]:
    there = set(
        connection.exec_driver_sql(
            "SELECT name FROM sqlite_schema WHERE type = 'trigger'"
        ).scalars()
    )
    if missing := sorted(expected_triggers().keys() - there):
        words = (
            f"The guard {missing[0]!r} that keeps readings unchanged is missing. Another program "
            "has changed this study. Compare it with the newest backup."
        )
        yield Finding("immutable_rows", "fault", words)
    number = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
    if number != newest_schema():
        words = f"The study has the older schema {number}. Open it once for writing."
        yield Finding("schema", "note", words)


def _counts(connection: Connection) -> Iterator[Finding]:
    for kind, query, words in _COUNTS:
        if count := connection.exec_driver_sql(query).scalar_one():
            yield Finding(kind, "fault", words.format(count=count))


def _caches(connection: Connection) -> Iterator[Finding]:
    query = "SELECT count(*) FROM measure_set WHERE code_version <> ?"
    if count := connection.exec_driver_sql(query, (__version__,)).scalar_one():
        words = (
            f"{count} sets of measures were computed by another version of finmeasure. "
            "Run `finmeasure measure` on the photos to compute them anew; the marks are kept."
        )
        yield Finding("old_measures", "note", words)


def _moved_fish(connection: Connection) -> Iterator[Finding]:
    query = """
SELECT fish.name, count(DISTINCT sighting.group_id) FROM sighting
JOIN fish ON fish.id = sighting.fish_id
GROUP BY fish.id HAVING count(DISTINCT sighting.group_id) > 1 ORDER BY fish.name
"""
    for name, count in connection.exec_driver_sql(query):
        words = (
            f"Fish {one_line(name)!r} was photographed in {count} groups. If it did not move, two "
            "animals have one name: give one of them another."
        )
        yield Finding("one_name_many_groups", "note", words)


def _photo(name: str, sha256: str, file: Path | None) -> Iterator[Finding]:
    if file is None or not sha256:
        return
    said = one_line(name)
    try:
        with file.open("rb") as opened:
            same = hashlib.file_digest(opened, "sha256").hexdigest() == sha256
    except FileNotFoundError:
        words = f"Photo {said!r} is not at {one_line(file)} any more. Put it back or plug the disk."
        yield Finding("photo_missing", "fault", words)
    except OSError as error:
        words = f"Photo {said!r} cannot be read: {error.strerror}. See to the disk."
        yield Finding("photo_missing", "fault", words)
    else:
        if not same:
            words = (
                f"Photo {said!r} has changed on disk since it was measured. "
                "Put the original back, or measure it again."
            )
            yield Finding("photo_changed", "fault", words)
