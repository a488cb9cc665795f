"""Write the tables of a study as files; each replaces its older one only when it is complete."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv as arrow_csv
from pyarrow import parquet
from sqlalchemy import Connection

from finmeasure.errors import StudyError
from finmeasure.exchange.tables import guarded
from finmeasure.study.change_rows import with_changes
from finmeasure.study.connecting import Database, one_line
from finmeasure.study.contract_tables import TABLES, ContractTables
from finmeasure.study.darwin_core import ARCHIVE, write_archive
from finmeasure.study.data_package import FILE, data_package

if TYPE_CHECKING:
    import pandas as pd

Batches = Iterator[pa.RecordBatch]
Writer = Callable[[Path, Callable[[], Batches]], pa.Schema]
Format = Literal["csv", "parquet", "dwc"]
FORMATS: tuple[Format, ...] = ("csv", "parquet", "dwc")
# All that `guarded` may change, and more: Arrow looks through a column in one go.
_MAYBE_FORMULA = "^['=+@\t\r-]"


def export_tables(database: Database, folder: Path, form: str) -> tuple[Path, ...]:
    """Write all tables of the contract into a folder.

    Parameters
    ----------
    database : Database
        The study; it is seen as it is at one moment, whatever others write meanwhile.
    folder : pathlib.Path
        Made where it is missing.
    form : {"csv", "parquet", "dwc"}
        Kind of file; beside CSV stands ``datapackage.json``, which describes every column; `dwc`
        is one Darwin Core Archive.

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
    targets = _targets(folder, form)
    with database.reading() as connection, complete_or_not(targets) as parts:
        if form == "dwc":
            write_archive(connection, parts[0])
        else:
            _write_tables(connection, parts, _write_csv if form == "csv" else _write_parquet)
    return tuple(targets)


def _targets(folder: Path, form: str) -> list[Path]:
    """Name the files of an export; what describes the tables comes behind them."""
    if form == "dwc":
        return [folder / ARCHIVE]
    tables = [folder / f"{table}.{form}" for table in TABLES]
    return [*tables, folder / FILE] if form == "csv" else tables


def _write_tables(connection: Connection, files: list[Path], write: Writer) -> None:
    """Write each table; to a file more than there are tables, what their columns are."""
    tables = ContractTables(connection)
    schemas = {
        table: write(file, with_changes(connection, table, partial(tables.batches, table)))
        for table, file in zip(TABLES, files, strict=False)
    }
    for file in files[len(TABLES) :]:
        file.write_text(data_package(schemas), encoding="utf-8")


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
        frame: pd.DataFrame = pa.Table.from_batches(
            list(ContractTables(connection).batches(table))
        ).to_pandas()
    return frame


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
            f"{targets[0].name} cannot be written to {one_line(targets[0].parent)}: "
            f"{error.strerror}. What was there is as it was. "
            "Make room, or give a folder you may write in."
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


def _write_csv(file: Path, batches: Callable[[], Batches]) -> pa.Schema:
    """Write text in quotes only where a table needs them; give the columns."""
    try:
        return _write_csv_quoted(file, batches(), "none")
    except pa.ArrowInvalid:  # a text holds a comma, a quote or a newline
        return _write_csv_quoted(file, batches(), "needed")


def _write_csv_quoted(file: Path, batches: Batches, quoting: str) -> pa.Schema:
    options = arrow_csv.WriteOptions(include_header=False, quoting_style=quoting)
    first = next(batches)
    with file.open("wb") as opened:
        opened.write((",".join(first.schema.names) + "\n").encode())
        with arrow_csv.CSVWriter(opened, first.schema, write_options=options) as writer:
            for batch in chain([first], batches):
                writer.write_batch(_guarded(batch))
    return first.schema


def _guarded(batch: pa.RecordBatch) -> pa.RecordBatch:
    """Put an apostrophe before text that a spreadsheet would take for a formula."""
    columns = [
        _guarded_text(column) if pa.types.is_string(column.type) else column
        for column in batch.columns
    ]
    return pa.record_batch(columns, schema=batch.schema)


def _guarded_text(column: pa.StringArray) -> pa.StringArray:
    """Guard a column; only the few different texts that may be risky are looked at one by one."""
    risky = pc.match_substring_regex(column, _MAYBE_FORMULA)
    if not pc.any(risky).as_py():
        return column
    texts = column.filter(risky).unique().to_pylist()
    safe = pa.array([guarded(text) for text in texts], pa.string())
    replaced = safe.take(pc.index_in(column, pa.array(texts, pa.string())))
    return pc.if_else(risky, replaced, column)


def _write_parquet(file: Path, batches: Callable[[], Batches]) -> pa.Schema:
    given = batches()
    first = next(given)
    with parquet.ParquetWriter(file, first.schema) as writer:
        for batch in chain([first], given):
            writer.write_batch(batch)
    return first.schema
