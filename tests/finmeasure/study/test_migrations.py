"""Every released schema opens and keeps what was in it; the newest is what the tables say."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from finmeasure.errors import StudyError
from finmeasure.study import keeper_tables, schema
from finmeasure.study.connecting import Database
from finmeasure.study.store import Study
from finmeasure.study.triggers import expected_triggers

RELEASED = Path(__file__).with_name("released")
# Made by `python tests/finmeasure/study/store_released.py` on the day each schema was released.
STORED = sorted(file.stem for file in RELEASED.glob("*.sql"))


def _released_study(number, folder):
    """Build a study as that release left it, from its stored SQL."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / "study.db")) as connection:
        connection.executescript((RELEASED / f"{number}.sql").read_text(encoding="utf-8"))
    return folder


def test_every_schema_has_a_stored_study():
    scripts = ScriptDirectory(str(Path(schema.__file__).with_name("migrations")))
    assert sorted(script.revision for script in scripts.walk_revisions()) == STORED


@pytest.mark.parametrize("number", STORED)
def test_released_study_opens_and_keeps_its_content(tmp_path, number):
    with Study.open(_released_study(number, tmp_path / "study")) as study:
        assert study.check(photos=False) == ()
        # What the stored study was made with, see store_released.py.
        assert sorted(study.recorded_photos()) == ["tank 1/a.jpg", "tank 1/b.jpg"]
        assert study.recorded_photos()["tank 1/b.jpg"].reason == "blurred"
        (current,) = study.current_readings()
        assert current.reading.fish == "red 7"
        assert current.reading.landmarks["snout_tip"].point == (100.25, 200.5)
        assert current.reading.landmarks["adipose_tip"].state == "absent"
        assert current.reading.outlines["caudal"].points_px.tolist() == [[1, 2], [3.5, 4], [5, 6]]
        assert len(study.readings_of("tank 1/a.jpg")) == 3
        assert study.scale_of("tank 1/a.jpg").px_per_mm == pytest.approx(20.0, rel=1e-12)
        assert study.load_draft("tank 1/a.jpg", "red 7", "Helper") == {"at": "snout_tip"}
        (measure, *_) = study.measures(current.id)
        assert (measure.id, measure.value, measure.u) == ("standard_length", 31.5, 0.25)
        assert study.groups()[0].invoiced == 48
        assert study.events()[0].event == "water change"
        assert study.water()[0].value == 0.05
        assert study.labels()[0].value == "male"
        assert study.references()[0].document == {"visit": "2026-05-03"}
        assert study.card_prints()[0].across_measured_mm == 99.8
        assert study.cameras()[0].document == {"radial": 0.01}
        assert study.setting("unit") == "mm"
        assert len(study.runs()) == 1


@pytest.mark.parametrize("number", STORED)
def test_released_study_migrates_to_the_newest_schema_and_guards(tmp_path, number):
    folder = _released_study(number, tmp_path / "study")
    Study.open(folder).close()
    with closing(sqlite3.connect(folder / "study.db")) as connection:
        rows = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        assert dict(rows.fetchall()) == expected_triggers()
        found = connection.execute("SELECT version_num FROM alembic_version").fetchall()
    assert found == [(schema.newest_schema(),)]


def test_migrated_schema_is_what_the_tables_say(empty_study):
    engine = create_engine(f"sqlite:///{empty_study}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, keeper_tables.Base.metadata) == []
    engine.dispose()


def test_migration_that_fails_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    """A fault in the middle of a migration takes everything back, the first table too."""

    def upgrade_half_way(config, revision):
        connection = config.attributes["connection"]
        connection.exec_driver_sql("CREATE TABLE half (a)")
        connection.exec_driver_sql("CREATE TABLE half (a)")

    monkeypatch.setattr(schema.command, "upgrade", upgrade_half_way)
    with pytest.raises(StudyError):
        Study.open(tmp_path, create=True)
    monkeypatch.undo()
    database = Database(tmp_path / "study.db")
    assert schema.refuse_unsound(database) is None
    database.close()
    with Study.open(tmp_path, create=True) as study:
        assert study.check() == ()
