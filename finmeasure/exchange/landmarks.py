"""landmarks.csv in and out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import get_args

from finmeasure.exchange.marks import MarksCollector, MarksTable
from finmeasure.exchange.tables import Cell, Row, each_row, read_rows, write_table
from finmeasure.landmarks.names import match_landmark
from finmeasure.reading import Landmark, LandmarkState, Reading

COLUMNS = (
    "photo", "fish", "landmark", "x_px", "y_px", "u_px", "state", "placed_by", "confidence",
    "u_across_px",
)  # fmt: skip
_NEEDED = ("photo", "landmark", "x_px", "y_px")
_STATES: tuple[LandmarkState, ...] = get_args(LandmarkState)
_FARTHEST_PX = 1_000_000.0
_SMALLEST_U_PX, _LARGEST_U_PX = 1e-6, 10_000.0


def read_landmarks(path: str | Path) -> MarksTable:
    """Read a table of landmarks.

    Parameters
    ----------
    path : str or Path
        CSV file with the columns photo, landmark, x_px, y_px and, where known, fish (else ``1``),
        u_px, u_across_px, state (else ``placed``), placed_by (else ``hand``), confidence. Further
        columns are let pass. Coordinates count only where the state is ``placed``.

    Returns
    -------
    MarksTable
        A bad row refuses its photo only; other words for landmarks are read and noted.

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong.
    """
    collector = MarksCollector()

    def take(row: Row) -> None:
        name = collector.match(row, "landmark", match_landmark(row.text("landmark")))
        collector.add_landmark(row, _landmark(row, name))

    each_row(read_rows(Path(path), _NEEDED), take, collector.complain)
    return collector.table()


def write_landmarks(path: str | Path, marks: Iterable[tuple[str, Reading]]) -> None:
    """Write a table of landmarks that :func:`read_landmarks` reads back as it was.

    Parameters
    ----------
    path : str or Path
        File to write or replace.
    marks : iterable of (photo, Reading)
        Photo's name and one fish's marks.

    Raises
    ------
    TableError
        If the file cannot be written.
    """
    rows = (
        _cells(photo, reading.fish, landmark)
        for photo, reading in marks
        for landmark in reading.landmarks.values()
    )
    write_table(Path(path), COLUMNS, rows)


def _landmark(row: Row, name: str) -> Landmark:
    state: LandmarkState = row.one_of("state", _STATES, default="placed")  # type: ignore[assignment]
    x_px = y_px = math.nan
    if state == "placed":
        x_px = row.number_in("x_px", -_FARTHEST_PX, _FARTHEST_PX)
        y_px = row.number_in("y_px", -_FARTHEST_PX, _FARTHEST_PX)
    return Landmark(
        name,
        x_px,
        y_px,
        state,
        u_px=row.number_or_none("u_px", _SMALLEST_U_PX, _LARGEST_U_PX),
        u_across_px=row.number_or_none("u_across_px", _SMALLEST_U_PX, _LARGEST_U_PX),
        placed_by=row.text("placed_by", default="hand"),
        confidence=row.number_or_none("confidence", 0, 1),
    )


def _cells(photo: str, fish: str, landmark: Landmark) -> tuple[Cell, ...]:
    return (
        photo,
        fish,
        landmark.name,
        landmark.x_px,
        landmark.y_px,
        landmark.u_px,
        landmark.state,
        landmark.placed_by,
        landmark.confidence,
        landmark.u_across_px,
    )
