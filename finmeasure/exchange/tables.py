"""Read and write CSV tables so that every complaint names file, row, column and what is allowed.

Format: RFC 4180, UTF-8 (a byte-order mark is let pass), comma, decimal point, one header line.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
import stat
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import NoReturn

from finmeasure.errors import FinmeasureError, TableError
from finmeasure.landmarks.names import nearest
from finmeasure.photo.files import printable

LARGEST_TABLE_BYTES = 500_000_000
_LONGEST_CELL = 10_000_000
_FORMULA_START = re.compile(r"'*[=+\-@\t\r]")
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
# Outlines may be longer than the csv module's usual limit for one cell.
csv.field_size_limit(_LONGEST_CELL)
_BEYOND = "behind the last one"

Cell = str | float | int | None


def guarded(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would take for a formula.

    Text that begins with apostrophes and a formula sign gets one more, so that
    :func:`unguarded` gives back exactly what was written.

    Examples
    --------
    >>> guarded("=1+1"), guarded("bag 7")
    ("'=1+1", 'bag 7')
    """
    return f"'{text}" if _FORMULA_START.match(text) else text


def unguarded(text: str) -> str:
    """Take the apostrophe of :func:`guarded` away.

    Examples
    --------
    >>> unguarded("'=1+1")
    '=1+1'
    """
    return text[1:] if text.startswith("'") and _FORMULA_START.match(text) else text


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table.

    Parameters
    ----------
    table : str
        File name, fit to be shown.
    number : int
        As a spreadsheet counts: the header is row 1.
    cells : mapping of str to str
        By column, as they stand in the file.
    """

    table: str
    number: int
    cells: Mapping[str, str]

    def refuse(self, column: str, allowed: str) -> NoReturn:
        """Raise for one cell.

        Raises
        ------
        TableError
            Always; names file, row, column, what was given and what is allowed.
        """
        given = self.cells.get(column, "")
        shown = f"'{printable(given, 60)}' is given" if given else "the cell is empty"
        self.refuse_because(column, f"{shown}. Allowed: {allowed.rstrip('.')}.")

    def refuse_because(self, column: str, reason: str) -> NoReturn:
        """Raise for one cell with a reason that says what is allowed.

        Raises
        ------
        TableError
            Always; names file, row and column.
        """
        message = f"{self.table}, row {self.number}, column {column}: {reason}"
        raise TableError(message)

    def text(self, column: str, *, default: str | None = None) -> str:
        """Give a text without blanks around it; empty only where a default is given."""
        text = self.exact_text(column).strip(" ")
        if not text and default is None:
            self.refuse(column, "a text; fill the cell")
        return text or default or ""

    def exact_text(self, column: str) -> str:
        """Give a text with its blanks, as file names need it."""
        text = self.cells.get(column, "")
        return unguarded(text) if text.startswith("'") else text

    def number_in(
        self, column: str, low: float, high: float, *, default: float | None = None
    ) -> float:
        """Give a number within limits that must be there unless a default is given."""
        given = self.number_or_none(column, low, high)
        if given is not None:
            return given
        if default is None:
            self.refuse(column, f"a number from {low:g} to {high:g}")
        return default

    def number_or_none(self, column: str, low: float, high: float) -> float | None:
        """Give a number within limits, or None for an empty cell."""
        text = self.cells.get(column, "").strip()
        if not text:
            return None
        value = float(text) if _NUMBER.fullmatch(text) else math.nan
        if not low <= value <= high:
            self.refuse(column, f"a number from {low:g} to {high:g}, with a decimal point")
        return value

    def count_or_none(self, column: str) -> int | None:
        """Give a whole number from 0, or None for an empty cell."""
        value = self.number_or_none(column, 0, 10_000_000)
        if value is not None and value != int(value):
            self.refuse(column, "a whole number from 0")
        return None if value is None else int(value)

    def one_of(self, column: str, allowed: Collection[str], *, default: str | None = None) -> str:
        """Give one of the allowed words."""
        word = self.text(column, default=default)
        if word not in allowed:
            words = ", ".join(each for each in allowed if each)
            self.refuse(column, f"{nearest(word, allowed)}{words}")
        return word

    def time(self, column: str, *, needed: bool = True) -> str:
        """Give an ISO 8601 date or local time as it is stored; empty only where not needed."""
        text = self.cells.get(column, "").strip()
        if not text and not needed:
            return ""
        allowed = "2026-05-01 or 2026-05-01T14:30, local time without a zone"
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            self.refuse(column, allowed)
        if moment.tzinfo is not None:
            self.refuse(column, allowed)
        return moment.date().isoformat() if len(text) <= 10 else moment.isoformat()


def read_rows(path: Path, needed: Sequence[str]) -> Iterator[Row]:
    """Read the rows of a table.

    Parameters
    ----------
    path : Path
        CSV file.
    needed : sequence of str
        Columns that must be there; others may be.

    Yields
    ------
    Row
        Every row that is not blank.

    Raises
    ------
    TableError
        If the file cannot be read, is no such table, or lacks a column.
    """
    name = printable(path)
    reader = csv.reader(io.StringIO(_text_of(path, name), newline=""))
    try:
        header = [cell.strip() for cell in next(reader, [])]
        _check_header(name, header, needed)
        for number, cells in enumerate(reader, start=2):
            if any(cell.strip() for cell in cells):
                yield _row(name, number, header, cells)
    except csv.Error as error:
        message = f"{name} is not a CSV table: {error}. Allowed: comma-separated UTF-8 text."
        raise TableError(message) from error


def each_row(
    rows: Iterable[Row], take: Callable[[Row], None], complain: Callable[[Row, str], None]
) -> None:
    """Take every row; what is wrong with a row is only complained of."""
    for row in rows:
        try:
            if _BEYOND in row.cells:
                row.refuse(_BEYOND, "no more cells than columns; put text with commas in quotes")
            take(row)
        except FinmeasureError as error:
            complain(row, str(error))


def write_table(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a table: UTF-8, one header line, decimal point, formula guard; all of it or nothing.

    Parameters
    ----------
    path : Path
        File to write or replace.
    columns : sequence of str
        The header.
    rows : iterable of sequences
        Text, numbers, or None for an empty cell.

    Raises
    ------
    TableError
        If the file cannot be written; an older one is then left as it was.
    """
    part = path.with_name(f".{path.name[:80]}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", errors="backslashreplace", newline="") as file:
            # RFC 4180 line ends; they also make the writer quote both kinds of line break.
            writer = csv.writer(file, lineterminator="\r\n")
            writer.writerow(columns)
            writer.writerows([_cell(value) for value in row] for row in rows)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        message = (
            f"{printable(path)} cannot be written: {error.strerror}. An older one is as it was. "
            "Make room, or give a folder you may write in."
        )
        raise TableError(message) from error
    finally:
        part.unlink(missing_ok=True)


def photo_key(text: str) -> str:
    """Name of a photo as tables give it: relative, with forward slashes.

    Examples
    --------
    >>> photo_key("bag 7" + chr(92) + "a.jpg"), photo_key("./a.jpg")
    ('bag 7/a.jpg', 'a.jpg')
    """
    return text.replace("\\", "/").removeprefix("./")


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, int):
        return str(value)
    return repr(float(value)) if math.isfinite(value) else ""


def _row(table: str, number: int, header: list[str], cells: list[str]) -> Row:
    """Pair cells with columns; cells beyond the header are kept under a name no column has."""
    by_column = {column: cell for column, cell in zip(header, cells, strict=False) if column}
    if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
        by_column[_BEYOND] = f"{len(cells)} cells under {len(header)} columns"
    return Row(table, number, by_column)


def _text_of(path: Path, name: str) -> str:
    """Whole text of an ordinary file; pipes and devices are refused and never waited for."""
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            message = f"{name} is no ordinary file. Give a CSV table."
            raise TableError(message)
        if status.st_size > LARGEST_TABLE_BYTES:
            limit_mb = LARGEST_TABLE_BYTES // 10**6
            message = f"{name} is larger than {limit_mb} MB. Give the table in parts."
            raise TableError(message)
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        message = f"{name} cannot be read: {error.strerror}. Check the path and its permissions."
        raise TableError(message) from error
    except UnicodeDecodeError as error:
        message = f"{name} is not UTF-8 text. In the spreadsheet choose 'CSV UTF-8' when saving."
        raise TableError(message) from error
    except ValueError as error:
        message = f"{name} is a name that no file can have. Check the path."
        raise TableError(message) from error


def _check_header(name: str, header: list[str], needed: Sequence[str]) -> None:
    """Refuse a header that lacks a column or names one twice."""
    if not any(header):
        message = f"{name} has no header line. Needed columns: {', '.join(needed)}."
        raise TableError(message)
    if len(header) == 1 and re.search(r"[;\t]", header[0]):
        message = (
            f"{name} separates its columns by semicolons or tabs. Allowed: commas, and a point in "
            "numbers. In the spreadsheet choose 'CSV UTF-8, comma' when saving."
        )
        raise TableError(message)
    named = [column for column in header if column]
    if twice := {column for column in named if named.count(column) > 1}:
        message = f"{name} has the column {printable(min(twice))!r} twice. Keep one of them."
        raise TableError(message)
    if missing := [column for column in needed if column not in named]:
        given = printable(", ".join(named), 200)
        close = nearest(missing[0], named)
        message = (
            f"{name} has no column {missing[0]!r}. {close}Given: {given}. "
            f"Needed: {', '.join(needed)}."
        )
        raise TableError(message)
