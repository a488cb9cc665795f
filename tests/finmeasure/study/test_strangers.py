"""A study from a stranger: whatever a cell holds, every reader works or says so in one line."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import store_released

from finmeasure.errors import StudyError
from finmeasure.study.keeper_tables import Base
from finmeasure.study.store import Study
from finmeasure.study.triggers import expected_triggers

CELLS = (
    "garbage",
    b"\x00\xff\xfe",
    -1,
    2**62,
    1e308,
    "[[[[",
    "{}",
    "[1, null]",
    "<script>alert(1)</script>\n",
    "x" * 100_000,
    "",
)
READERS = {
    "photos": lambda study: study.recorded_photos(),
    "standings": lambda study: study.standings(),
    "current": lambda study: study.current_readings(),
    "repeats": lambda study: study.repeat_readings(),
    "measures": lambda study: [study.measures(one.id) for one in study.current_readings()],
    "scale": lambda study: study.scale_of(store_released.PHOTO),
    "draft": lambda study: study.load_draft(store_released.PHOTO, "red 7", "Helper"),
    "runs": lambda study: study.runs(),
    "groups": lambda study: study.groups(),
    "events": lambda study: study.events(),
    "water": lambda study: study.water(),
    "labels": lambda study: study.labels(),
    "references": lambda study: study.references(),
    "cards": lambda study: study.card_prints(),
    "cameras": lambda study: study.cameras(),
    "export": lambda study: study.export("csv"),
    "check": lambda study: study.check(),
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    with Study.open(tmp_path_factory.mktemp("filled"), create=True) as study:
        store_released.fill_photos(study)
        store_released.fill_what_the_keeper_knows(study)
    return study.folder / "study.db"


def _with_cell(filled, folder, table, column, cell):
    """Copy a study and put a value in every row of one column, past keys and guards."""
    shutil.copy(filled, folder / "study.db")
    with closing(sqlite3.connect(folder / "study.db")) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for trigger in expected_triggers():
            connection.execute(f"DROP TRIGGER {trigger}")
        connection.execute(f"UPDATE OR IGNORE {table} SET {column} = ?", (cell,))
        for text in expected_triggers().values():
            connection.execute(text)
        connection.commit()


def _lines(folder):
    """Open the study and call every reader; give what they say where they refuse."""
    said = []
    try:
        with Study.open(folder, read_only=True) as study:
            for name, read in READERS.items():
                try:
                    read(study)
                except StudyError as error:
                    said.append(f"{name}: {error}")
    except StudyError as error:
        said.append(f"open: {error}")
    return said


@pytest.mark.parametrize("table", sorted(Base.metadata.tables))
def test_any_value_in_any_cell_is_read_or_refused_in_one_line(filled, tmp_path, table):
    columns = [column.name for column in Base.metadata.tables[table].columns]
    for number, column in enumerate(columns):
        # Each column gets one of the values, in turn; all of them in the long form.
        cell = CELLS[number % len(CELLS)]
        _with_cell(filled, tmp_path, table, column, cell)
        for line in _lines(tmp_path):
            assert "\n" not in line, (column, cell)
            assert len(line) < 1000, (column, cell)


@pytest.mark.soak
@pytest.mark.parametrize("table", sorted(Base.metadata.tables))
def test_every_value_in_every_cell(filled, tmp_path, table):
    for column in Base.metadata.tables[table].columns:
        for cell in CELLS:
            _with_cell(filled, tmp_path, table, column.name, cell)
            for line in _lines(tmp_path):
                assert "\n" not in line, (column, cell)


def test_reader_sees_what_another_process_records_meanwhile(filled, tmp_path):
    shutil.copy(filled, tmp_path)
    with Study.open(tmp_path, read_only=True) as reader, Study.open(tmp_path) as writer:
        assert len(reader.recorded_photos()) == 2
        writer.add_photo("new.jpg", "c" * 64)
        assert len(reader.recorded_photos()) == 3


def test_path_that_leaves_the_folder_is_only_looked_at(filled, tmp_path):
    """A stranger's study may name any file; check reads it and tells no more than its state."""
    shutil.copy(filled, tmp_path)
    with closing(sqlite3.connect(tmp_path / "study.db")) as connection:
        connection.execute("UPDATE photo SET file = '../../../../../../../../etc/passwd'")
        connection.commit()
    before = Path("/etc/passwd").read_bytes() if Path("/etc/passwd").exists() else b""
    with Study.open(tmp_path, read_only=True) as study:
        assert {finding.kind for finding in study.check()} <= {"photo_changed", "photo_missing"}
    assert (Path("/etc/passwd").read_bytes() if before else b"") == before
