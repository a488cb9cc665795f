"""Readings as rows of the database, and back."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from sqlalchemy import Connection, insert

from finmeasure.errors import StudyError
from finmeasure.exchange.outlines import wkt_of
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.study.connecting import raw_connection
from finmeasure.study.tables import ReadingLandmark, ReadingOutline

Rows = list[dict[str, Any]]
Marks = tuple[dict[str, Landmark], dict[str, Outline]]
# SQLite takes a limited number of values in one statement (999 in older builds).
_AT_ONCE = 500
# Columns in the order of the fields of Landmark and of Outline.
_LANDMARKS = """
SELECT reading_id, landmark, x_px, y_px, state, u_px, u_across_px, placed_by, confidence
FROM reading_landmark WHERE reading_id IN ({}) ORDER BY reading_id, position
"""
_OUTLINES = """
SELECT reading_id, part, wkt, placed_by, confidence, spread, edge
FROM reading_outline WHERE reading_id IN ({}) ORDER BY reading_id, position
"""


def insert_marks(connection: Connection, reading_id: uuid.UUID, reading: Reading) -> None:
    """Store landmarks and outlines of a reading whose row exists."""
    landmarks = landmark_rows(reading_id, reading.landmarks.values())
    outlines = outline_rows(reading_id, reading.outlines.values())
    if landmarks:
        connection.execute(insert(ReadingLandmark), landmarks)
    if outlines:
        connection.execute(insert(ReadingOutline), outlines)


def landmark_rows(reading_id: uuid.UUID, landmarks: Iterable[Landmark]) -> Rows:
    """Turn landmarks into rows; what is no finite number becomes NULL."""
    return [
        {
            "reading_id": reading_id,
            "landmark": mark.name,
            "position": position,
            "x_px": number_or_null(mark.x_px),
            "y_px": number_or_null(mark.y_px),
            "u_px": number_or_null(mark.u_px),
            "u_across_px": number_or_null(mark.u_across_px),
            "state": mark.state,
            "placed_by": mark.placed_by,
            "confidence": number_or_null(mark.confidence),
        }
        for position, mark in enumerate(landmarks)
    ]


def outline_rows(reading_id: uuid.UUID, outlines: Iterable[Outline]) -> Rows:
    """Turn outlines into rows."""
    return [
        {
            "reading_id": reading_id,
            "part": outline.part,
            "position": position,
            "wkt": outline_to_wkt(outline),
            "placed_by": outline.placed_by,
            "confidence": number_or_null(outline.confidence),
            "spread": outline.spread,
            "edge": outline.edge,
        }
        for position, outline in enumerate(outlines)
    ]


def outline_to_wkt(outline: Outline) -> str:
    """Write an outline as WKT, after a look at whether it is one.

    Raises
    ------
    StudyError
        If the outline has too few points or a coordinate that is no number.
    """
    points = np.asarray(outline.points_px, dtype=np.float64)
    least = 3 if outline.closed else 2
    if len(points) < least or not np.isfinite(points).all():
        message = (
            f"The outline of {outline.part} has {len(points)} points; at least {least} points "
            "with finite coordinates are needed. Trace it again."
        )
        raise StudyError(message)
    return wkt_of(outline)


def load_marks(connection: Connection, reading_ids: Sequence[str]) -> dict[str, Marks]:
    """Load landmarks and outlines of readings, in the order in which they were given.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Of the study.
    reading_ids : sequence of str
        Keys as SQLite has them: 32 hexadecimal digits.

    Returns
    -------
    dict
        Key to landmarks by name and outlines by part.
    """
    marks: dict[str, Marks] = {reading_id: ({}, {}) for reading_id in reading_ids}
    raw = raw_connection(connection)
    for start in range(0, len(reading_ids), _AT_ONCE):
        some = reading_ids[start : start + _AT_ONCE]
        places = ", ".join("?" * len(some))
        for reading_id, *cells in raw.execute(_LANDMARKS.format(places), some):
            marks[reading_id][0][cells[0]] = _landmark(*cells)
        for reading_id, *cells in raw.execute(_OUTLINES.format(places), some):
            marks[reading_id][1][cells[0]] = _outline(*cells)
    return marks


def number_or_null(value: float | None) -> float | None:
    """Give a plain float, None for NaN: SQLite knows neither NaN nor NumPy's numbers."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def _landmark(name: str, x_px: float | None, y_px: float | None, *others: Any) -> Landmark:
    x_px = math.nan if x_px is None else x_px
    return Landmark(name, x_px, math.nan if y_px is None else y_px, *others)


def _outline(part: str, wkt: str, *others: Any) -> Outline:
    """Read what `outline_to_wkt` wrote; a general reader takes five times as long."""
    kind, _, text = wkt.partition("(")
    closed = kind == "POLYGON "
    numbers = [float(number) for number in text.strip("()").replace(",", " ").split()]
    points = np.array(numbers, dtype=np.float64).reshape(-1, 2)
    return Outline(part, points[:-1] if closed else points, closed, *others)
