"""The schema of a study file: is it ours, is it sound, and bring it to the newest form."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from finmeasure.errors import StudyError
from finmeasure.study.connecting import Database, one_line
from finmeasure.study.triggers import expected_triggers

APPLICATION_ID = 0x66696E6D  # "finm", as SQLite advises for files of one program


def newest_schema() -> str:
    """Give the schema number that this version of the program writes."""
    return str(ScriptDirectory.from_config(_config()).get_current_head())


def schema_of(connection: Connection) -> str | None:
    """Give a file's schema number; None for an empty file.

    Raises
    ------
    StudyError
        If the file is a database of another program, or holds more than one number.
    """
    tables = connection.exec_driver_sql("SELECT count(*) FROM sqlite_schema").scalar_one()
    if not tables:
        return None
    if connection.exec_driver_sql("PRAGMA application_id").scalar_one() != APPLICATION_ID:
        message = (
            "The file study.db there is a database of another program, no study. "
            "Give the folder of a study, or a new folder."
        )
        raise StudyError(message)
    rows = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalars().all()
    if len(rows) != 1:
        message = "The study names no schema number or several. Take the newest backup."
        raise StudyError(message)
    return str(rows[0])


def refuse_unsound(database: Database) -> str | None:
    """Look at a file before anything in it is used; give its schema number.

    Raises
    ------
    StudyError
        If the file is damaged, of another program, of a newer version, or holds triggers or
        views that are not ours.
    """
    with database.reading() as connection:
        _refuse_damage(connection, database.file)
        number = schema_of(connection)
        if number is not None:
            _refuse_newer(number, database.file)
            _refuse_foreign_objects(connection, database.file)
    return number


def migrate(database: Database) -> None:
    """Bring the file to the newest schema in one transaction: all of it or nothing."""
    with database.writing() as connection:
        if schema_of(connection) == newest_schema():
            return
        config = _config()
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def _config() -> Config:
    config = Config()
    # "%" would be read as the start of a variable by the configuration parser.
    folder = str(Path(__file__).with_name("migrations")).replace("%", "%%")
    config.set_main_option("script_location", folder)
    return config


def _refuse_damage(connection: Connection, file: Path) -> None:
    first = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
    if first != "ok":
        message = (
            f"The study {one_line(file.parent)} is damaged ({one_line(first)}). "
            "Take the newest backup."
        )
        raise StudyError(message)


def _refuse_newer(number: str, file: Path) -> None:
    known = {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}
    if number not in known:
        message = (
            f"The study {one_line(file.parent)} was made by a newer version of finmeasure "
            f"(schema {one_line(number)[:20]}; this version knows up to {newest_schema()}). "
            "Install the newer version."
        )
        raise StudyError(message)


def _refuse_foreign_objects(connection: Connection, file: Path) -> None:
    """Refuse triggers, views and virtual tables that we did not make: they run on their own."""
    ours = expected_triggers()
    query = "SELECT type, name, coalesce(sql, '') FROM sqlite_schema WHERE type <> 'index'"
    for kind, name, sql in connection.exec_driver_sql(query):
        plain_table = kind == "table" and not sql.upper().startswith("CREATE VIRTUAL")
        if not plain_table and ours.get(name) != sql:
            message = (
                f"The study {one_line(file.parent)} holds a {kind} named {one_line(name)!r} that "
                "finmeasure did not make. Do not use it; ask for the original or a CSV export."
            )
            raise StudyError(message)
