"""The one door to a study: everything that is recorded or asked goes through `Study`."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from finmeasure.errors import StudyError
from finmeasure.study.care_methods import CareMethods
from finmeasure.study.connecting import BUSY_SECONDS, Database, one_line
from finmeasure.study.keeper_methods import KeeperMethods
from finmeasure.study.photo_methods import PhotoMethods
from finmeasure.study.reading_methods import ReadingMethods
from finmeasure.study.schema import migrate, newest_schema, refuse_unsound
from finmeasure.study.series_methods import SeriesMethods

STUDY_FILE = "study.db"


class Study(PhotoMethods, ReadingMethods, KeeperMethods, SeriesMethods, CareMethods):
    """A folder with everything that was recorded.

    Open it with :meth:`open`; it may be used as a context manager. Several processes may use one
    study at once: every method is one short transaction, and a writer waits for the other.
    """

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
            Never write to the study: for locked media and for studies of others.
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

        Examples
        --------
        >>> import tempfile
        >>> import finmeasure as fm
        >>> with (
        ...     tempfile.TemporaryDirectory() as folder,
        ...     fm.Study.open(folder, create=True) as study,
        ... ):
        ...     table = study.table("fish")
        >>> list(table.columns[:5])
        ['photo', 'fish', 'group', 'visit', 'side']
        """
        folder = Path(folder).absolute()
        _check_folder(folder, create=create)
        file = folder / STUDY_FILE
        database = Database(file, read_only=read_only, busy_seconds=busy_seconds)
        try:
            number = refuse_unsound(database)
            if number is None and (read_only or not create):
                raise StudyError(_no_study(folder))
            if read_only:
                _refuse_older(folder, number)
            else:
                database.use_wal()
                if number != newest_schema():
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


def _refuse_older(folder: Path, number: str | None) -> None:
    """Refuse what would have to be migrated first."""
    if number not in (None, newest_schema()):
        message = (
            f"The study {one_line(folder)} has the older schema {number}, and it was opened for "
            "reading only. Copy it to a folder that you may write in, and open it there once."
        )
        raise StudyError(message)


def _no_study(folder: Path) -> str:
    return (
        f"There is no study in {one_line(folder)} (no {STUDY_FILE} with anything in it). "
        "Check the path; `finmeasure measure … --study FOLDER` makes a study."
    )
