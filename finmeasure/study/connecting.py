"""The one place that opens SQLite files: pragmas, transactions, errors in one line."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from finmeasure.errors import StudyError
from finmeasure.photo.files import printable

BUSY_SECONDS = 60.0
_LONGEST_CELL_BYTES = 256 * 1024 * 1024
_PAUSE_SECONDS = 0.05
_SAFETIES = (
    "trusted_schema = OFF",
    "cell_size_check = ON",
    "foreign_keys = ON",
    "synchronous = FULL",
    "mmap_size = 0",
)
_LONGEST_TEXT = 300
_LONGEST_DETAIL = 120
_NOT_WHAT_IT_SHOULD_BE = (ValueError, TypeError, KeyError, AttributeError, OverflowError)


class Database:
    """A SQLite file with short transactions that wait for each other.

    Parameters
    ----------
    file : pathlib.Path
        The database file.
    read_only : bool
        Never write to the study: for locked media and for studies of others.
    busy_seconds : float
        How long to wait for another process that writes.
    """

    def __init__(
        self, file: Path, *, read_only: bool = False, busy_seconds: float = BUSY_SECONDS
    ) -> None:
        self.file = file
        self.read_only = read_only
        self.busy_seconds = busy_seconds
        self.engine = self._make_engine()

    def connect_raw(self) -> sqlite3.Connection:
        """Open the file with every safety of SQLite switched on."""
        if not self.read_only:
            return self._opened("mode=rwc")
        try:
            return self._opened("mode=ro")
        except sqlite3.OperationalError:
            # On locked media not even the log's index can be made. There nobody else writes.
            if _has_content(Path(f"{self.file}-wal")):
                raise
            return self._opened("mode=ro&immutable=1")

    def _opened(self, mode: str) -> sqlite3.Connection:
        connection = sqlite3.connect(
            f"file:{quote(str(self.file.absolute()))}?{mode}",
            uri=True,
            timeout=self.busy_seconds,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _LONGEST_CELL_BYTES)
            for pragma in _SAFETIES:
                connection.execute(f"PRAGMA {pragma}")
            connection.execute("SELECT 1 FROM sqlite_schema LIMIT 1")
        except BaseException:
            connection.close()
            raise
        return connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one consistent state of the study.

        Whatever is loaded is turned into records inside, so that a cell which holds something
        else than it should (a study from a stranger) ends in one line.
        """
        with self._plain_errors(), self.engine.connect() as connection:
            connection.exec_driver_sql("BEGIN")
            try:
                yield connection
            except _NOT_WHAT_IT_SHOULD_BE as error:
                what = one_line(f"{type(error).__name__}: {error}")[:_LONGEST_DETAIL]
                message = (
                    f"The study {one_line(self.file.parent)} holds something that cannot be read "
                    f"({what}). Take the newest backup."
                )
                raise StudyError(message) from error
            finally:
                _roll_back(connection)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose changes are stored together, or not at all.

        The write lock is taken at the start, so that two processes wait for each other instead
        of failing half-way.
        """
        if self.read_only:
            message = f"The study {self.file.parent} was opened for reading only."
            raise StudyError(message)
        with self._plain_errors(), self.engine.connect() as connection:
            self._take_write_lock(connection)
            try:
                yield connection
                connection.exec_driver_sql("COMMIT")
            except BaseException:
                _roll_back(connection)
                raise

    def use_wal(self) -> None:
        """Switch the file to a write-ahead log: readers go on while one process writes."""
        with self._plain_errors():
            end = time.monotonic() + self.busy_seconds
            while not self._switched_to_wal():
                if time.monotonic() > end:
                    message = _PLAIN[sqlite3.SQLITE_BUSY].format(folder=one_line(self.file.parent))
                    raise StudyError(message)
                time.sleep(_PAUSE_SECONDS)

    def close(self) -> None:
        """Close every connection; the last process to close tidies the WAL away."""
        self.engine.dispose()

    def _take_write_lock(self, connection: Connection) -> None:
        """Begin, again and again until the time is over: SQLite may refuse without waiting."""
        end = time.monotonic() + self.busy_seconds
        while True:
            try:
                connection.exec_driver_sql("BEGIN IMMEDIATE")
            except DBAPIError as error:
                if not _is_busy(error.orig) or time.monotonic() > end:
                    raise
                time.sleep(_PAUSE_SECONDS)
            else:
                return

    def _switched_to_wal(self) -> bool:
        """Try once; SQLite does not wait for others here."""
        with closing(self.connect_raw()) as raw:
            try:
                mode: str = raw.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            except sqlite3.OperationalError as error:
                if _is_busy(error):
                    return False
                raise
        if mode != "wal":
            message = (
                f"The folder {one_line(self.file.parent)} cannot hold a study: its disk does not "
                "allow shared memory (some network folders). Use a folder on this computer."
            )
            raise StudyError(message)
        return True

    def _make_engine(self) -> Engine:
        engine = create_engine("sqlite://", creator=self.connect_raw, pool_size=5)
        # SQLAlchemy must not begin by itself: the kind of BEGIN matters (see `writing`).
        event.listen(engine, "begin", lambda connection: None)
        return engine

    @contextmanager
    def _plain_errors(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise StudyError(plain_error(error.orig, self.file)) from error
        except sqlite3.Error as error:
            raise StudyError(plain_error(error, self.file)) from error
        except UnicodeEncodeError as error:
            message = (
                f"The text {one_line(error.object)} holds bytes that are no UTF-8 and cannot be "
                "stored. Rename the file, or type the text again."
            )
            raise StudyError(message) from error


def raw_connection(connection: Connection) -> sqlite3.Connection:
    """Give SQLite's own connection: rows by the hundred thousand come in half the time."""
    raw: Any = connection.connection.dbapi_connection
    connected: sqlite3.Connection = raw
    return connected


def plain_error(error: BaseException | None, file: Path) -> str:
    """Say in one line what SQLite found, and what to do.

    Parameters
    ----------
    error : exception
        As sqlite3 raised it.
    file : pathlib.Path
        The study's database.

    Returns
    -------
    str
        One line.
    """
    folder = one_line(file.parent)
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in _PLAIN:
        return _PLAIN[code].format(folder=folder)
    what = one_line(error)
    return f"The study {folder} cannot be used: {what}. Run `finmeasure check` on it."


_PLAIN: dict[int, str] = {
    sqlite3.SQLITE_BUSY: "The study {folder} is in use by another program that does not let go. "
    "Close the other window or wait for the other run, then try again.",
    sqlite3.SQLITE_LOCKED: "The study {folder} is in use by another part of this program. "
    "Try again.",
    sqlite3.SQLITE_READONLY: "The study {folder} cannot be written to. "
    "Copy it to a folder that you may write in, or open it for reading only.",
    sqlite3.SQLITE_FULL: "No room to write to the study {folder}: the disk or your quota is full. "
    "Everything recorded before is safe; make room and start again, it goes on.",
    sqlite3.SQLITE_IOERR: "The disk refused to read or write the study {folder} (full, unplugged, "
    "or failing). Everything recorded before is safe; see to the disk and start again.",
    sqlite3.SQLITE_CANTOPEN: "The study {folder} cannot be opened: its folder is gone or cannot "
    "be written to. Check the path and your rights.",
    sqlite3.SQLITE_NOTADB: "The file study.db in {folder} is no study: it is damaged or of another "
    "kind. Take the newest backup, or give another folder.",
    sqlite3.SQLITE_CORRUPT: "The study {folder} is damaged. Take the newest backup; "
    "`finmeasure check` tells what is damaged.",
}


def one_line(value: object) -> str:
    """Put anything (a path with a newline, an error) into one printable line."""
    return printable(str(value), _LONGEST_TEXT)


def _is_busy(error: Any) -> bool:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def _roll_back(connection: Connection) -> None:
    """Undo; SQLite may have done so already (full disk), or Ctrl-C closed the connection."""
    if not connection.invalidated and raw_connection(connection).in_transaction:
        connection.exec_driver_sql("ROLLBACK")


def _has_content(file: Path) -> bool:
    return file.exists() and file.stat().st_size > 0
