"""Write the tables of a study as files; each replaces its older one only when it is complete."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import pandas as pd

from finmeasure.errors import StudyError
from finmeasure.study.connecting import Database, one_line
from finmeasure.study.contract_tables import (
    INTEGER_COLUMNS,
    TABLES,
    Row,
    TableRows,
    prepare,
    table_rows,
)

Format = Literal["csv", "parquet"]
FORMATS: tuple[Format, ...] = ("csv", "parquet")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t")


def export_tables(database: Database, folder: Path, form: str) -> tuple[Path, ...]:
    """Write all tables of the contract into a folder.

    Parameters
    ----------
    database : Database
        The study; it is seen as it is at one moment, whatever others write meanwhile.
    folder : pathlib.Path
        Made where it is missing.
    form : {"csv", "parquet"}
        Kind of file.

    Returns
    -------
    tuple of pathlib.Path
        The files written.

    Raises
    ------
    StudyError
        If the kind is not known, or the folder cannot be written to.
    """
    if form not in FORMATS:
        message = f"Export to {form!r} is not known. Allowed: {', '.join(FORMATS)}."
        raise StudyError(message)
    write = _write_csv if form == "csv" else _write_parquet
    targets = [folder / f"{table}.{form}" for table in TABLES]
    with database.reading() as connection, complete_or_not(targets) as parts:
        prepare(connection)
        for table, part in zip(TABLES, parts, strict=True):
            write(part, table_rows(connection, table))
    return tuple(targets)


def table_frame(database: Database, table: str) -> pd.DataFrame:
    """Give one table of the contract as a data frame.

    Raises
    ------
    StudyError
        If there is no such table.
    """
    if table not in TABLES:
        message = f"There is no table {table!r}. Allowed: {', '.join(TABLES)}."
        raise StudyError(message)
    with database.reading() as connection:
        prepare(connection)
        return _frame(table_rows(connection, table))


@contextmanager
def complete_or_not(targets: list[Path]) -> Iterator[list[Path]]:
    """Give names to write to; rename them to the targets when everything was written.

    A kill leaves the older files as they were. What a killed export left is tidied away by the
    next one.

    Raises
    ------
    StudyError
        If a file cannot be written.
    """
    parts = [target.with_name(f".{target.name}.{os.getpid()}.part") for target in targets]
    try:
        for folder in {target.parent for target in targets}:
            folder.mkdir(parents=True, exist_ok=True)
        yield parts
        for part, target in zip(parts, targets, strict=True):
            _sync(part)
            os.replace(part, target)
        _tidy(targets)
    except OSError as error:
        message = (
            f"The tables cannot be written to {one_line(targets[0].parent)}: {error.strerror}. "
            "The older tables are as they were. Make room, or give a folder you may write in."
        )
        raise StudyError(message) from error
    finally:
        for part in parts:
            part.unlink(missing_ok=True)


def _sync(file: Path) -> None:
    with file.open("rb") as opened:
        os.fsync(opened.fileno())


def _tidy(targets: list[Path]) -> None:
    """Remove what exports left that were killed; another one that runs now is left alone."""
    for target in targets:
        for part in target.parent.glob(f".{target.name}.*.part"):
            owner = part.name.rsplit(".", 2)[1]
            if owner.isdecimal() and not _is_alive(int(owner)):
                part.unlink(missing_ok=True)


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _write_csv(file: Path, table: TableRows) -> None:
    with file.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened, lineterminator="\n")
        writer.writerow(table.columns)
        writer.writerows(_guarded(table.rows))


def _guarded(rows: Iterable[Row]) -> Iterator[list[object]]:
    """Put an apostrophe before text that a spreadsheet would take for a formula."""
    for row in rows:
        yield [
            f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA_STARTS) else cell
            for cell in row
        ]


def _write_parquet(file: Path, table: TableRows) -> None:
    _frame(table).to_parquet(file, index=False)


def _frame(table: TableRows) -> pd.DataFrame:
    frame = pd.DataFrame([tuple(row) for row in table.rows], columns=list(table.columns))
    whole = {name: "Int64" for name in INTEGER_COLUMNS if name in frame}
    return frame.astype(whole)
