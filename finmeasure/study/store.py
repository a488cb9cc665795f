"""The one door to a study: everything that is recorded or asked goes through `Study`."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from sqlalchemy import insert, select, update

from finmeasure import __version__
from finmeasure.errors import StudyError
from finmeasure.study.connecting import BUSY_SECONDS, Database, one_line
from finmeasure.study.naming import utc_now
from finmeasure.study.recording import current_photo, record, referenced_file
from finmeasure.study.records import PhotoResult, RecordedPhoto, RunRow
from finmeasure.study.schema import migrate, refuse_unsound
from finmeasure.study.tables import PhotoRow, Run

if TYPE_CHECKING:
    import pandas as pd

STUDY_FILE = "study.db"


class Study:
    """A folder with everything that was recorded.

    Open it with :meth:`open`; it may be used as a context manager. Several processes may use one
    study at once: every method is one short transaction, and a writer waits for the other.
    """

    def __init__(self, folder: Path, database: Database) -> None:
        self.folder = folder
        self._database = database

    @classmethod
    def open(
        cls,
        folder: Path | str,
        *,
        create: bool = False,
        read_only: bool = False,
        busy_seconds: float = BUSY_SECONDS,
    ) -> Self:
        """Open a study, and bring it to the newest form where it is of an older version.

        Parameters
        ----------
        folder : path
            The study's folder.
        create : bool
            Make the study where there is none.
        read_only : bool
            Write nothing at all: for locked media and for studies of others.
        busy_seconds : float
            How long to wait for another process that writes.

        Returns
        -------
        Study
            Open.

        Raises
        ------
        StudyError
            If the folder holds no study, or one that is damaged, of a newer version, not
            writable, or not safe to use.
        """
        folder = Path(folder)
        _check_folder(folder, create=create)
        file = folder / STUDY_FILE
        database = Database(file, read_only=read_only, busy_seconds=busy_seconds)
        try:
            number = refuse_unsound(database)
            if number is None and not create:
                raise StudyError(_no_study(folder))
            if not read_only:
                database.use_wal()
                migrate(database)
        except BaseException:
            database.close()
            raise
        return cls(folder, database)

    def close(self) -> None:
        """Let go of the study's files."""
        self._database.close()

    def __enter__(self) -> Self:
        """Give the study itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the study."""
        self.close()

    # Runs and photos

    def start_run(self, options: Mapping[str, Any]) -> uuid.UUID:
        """Note that a command begins, with its options; give the run's key."""
        run_id = uuid.uuid4()
        values = {"id": run_id, "version": __version__, "options": dict(options)}
        with self._database.writing() as connection:
            connection.execute(insert(Run).values(started_at=utc_now(), **values))
        return run_id

    def end_run(self, run_id: uuid.UUID) -> None:
        """Note that a command came to its end."""
        with self._database.writing() as connection:
            connection.execute(update(Run).where(Run.id == run_id).values(ended_at=utc_now()))

    def runs(self) -> tuple[RunRow, ...]:
        """Give all runs, oldest first; one without an end was broken off."""
        with self._database.reading() as connection:
            rows = connection.execute(select(Run.__table__).order_by(Run.started_at)).all()
        return tuple(
            RunRow(row.id, row.version, row.options, row.started_at, row.ended_at) for row in rows
        )

    def record_photo_result(self, result: PhotoResult, *, run_id: uuid.UUID | None = None) -> bool:
        """Record everything that one photo gave, all of it or nothing.

        Returns
        -------
        bool
            False where the very same result was recorded before (nothing is written then).

        Raises
        ------
        StudyError
            If the result contradicts itself, or cannot be written.
        """
        with self._database.writing() as connection:
            return record(connection, result, study=self.folder, run_id=run_id)

    def photo_is_done(self, name: str, sha256: str, given_digest: str) -> bool:
        """Tell whether a photo was recorded with this checksum and everything given as now."""
        with self._database.reading() as connection:
            row = current_photo(connection, name)
        return (
            row is not None
            and row.state != "to_do"
            and row.sha256 == sha256
            and row.given_digest == given_digest
        )

    def recorded_photos(self) -> dict[str, RecordedPhoto]:
        """Give all photos that count now, by name."""
        with self._database.reading() as connection:
            rows = connection.execute(
                select(PhotoRow.__table__).where(PhotoRow.current).order_by(PhotoRow.name)
            ).all()
        return {
            row.name: RecordedPhoto(
                row.name,
                row.sha256,
                row.state,
                row.reason,
                row.given_digest,
                referenced_file(row.file, self.folder),
            )
            for row in rows
        }

    # Tables out

    def export(self, form: str = "csv", folder: Path | None = None) -> tuple[Path, ...]:
        """Write the tables of the contract, by default into the study's folder.

        Raises
        ------
        StudyError
            If `form` is not known, or the folder cannot be written to.
        """
        from finmeasure.study.exporting import export_tables

        return export_tables(self._database, folder or self.folder, form)

    def table(self, name: str) -> pd.DataFrame:
        """Give one table of the contract (photos, landmarks, …) as a data frame.

        Raises
        ------
        StudyError
            If there is no such table.
        """
        from finmeasure.study.exporting import table_frame

        return table_frame(self._database, name)


def _check_folder(folder: Path, *, create: bool) -> None:
    """Make sure that the folder is there, or make it."""
    file = folder / STUDY_FILE
    try:
        if create:
            folder.mkdir(parents=True, exist_ok=True)
        elif not file.is_file():
            raise StudyError(_no_study(folder))
        if file.exists() and not file.is_file():
            message = f"{one_line(file)} is no file. Give another folder for the study."
            raise StudyError(message)
    except OSError as error:
        message = (
            f"The folder {one_line(folder)} cannot be used for a study: {error.strerror}. "
            "Give a folder that you may write in."
        )
        raise StudyError(message) from error


def _no_study(folder: Path) -> str:
    return (
        f"There is no study in {one_line(folder)} (no {STUDY_FILE} with anything in it). "
        "Check the path; `finmeasure measure … --study FOLDER` makes a study."
    )
