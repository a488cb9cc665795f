"""Readings as rows of the database, and back."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from sqlalchemy import Connection, insert, select

from finmeasure.errors import StudyError
from finmeasure.exchange.outlines import wkt_of
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.study.tables import ReadingLandmark, ReadingOutline

Rows = list[dict[str, Any]]
Marks = tuple[dict[str, Landmark], dict[str, Outline]]
# SQLite takes a limited number of values in one statement (999 in older builds).
_AT_ONCE = 500


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


def load_marks(connection: Connection, reading_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, Marks]:
    """Load landmarks and outlines of readings, in the order in which they were given."""
    marks: dict[uuid.UUID, Marks] = {reading_id: ({}, {}) for reading_id in reading_ids}
    for start in range(0, len(reading_ids), _AT_ONCE):
        some = reading_ids[start : start + _AT_ONCE]
        for row in connection.execute(
            select(ReadingLandmark.__table__)
            .where(ReadingLandmark.reading_id.in_(some))
            .order_by(ReadingLandmark.reading_id, ReadingLandmark.position)
        ):
            marks[row.reading_id][0][row.landmark] = _landmark(row)
        for row in connection.execute(
            select(ReadingOutline.__table__)
            .where(ReadingOutline.reading_id.in_(some))
            .order_by(ReadingOutline.reading_id, ReadingOutline.position)
        ):
            marks[row.reading_id][1][row.part] = _outline(row)
    return marks


def number_or_null(value: float | None) -> float | None:
    """Give a plain float, None for NaN: SQLite knows neither NaN nor NumPy's numbers."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def _landmark(row: Any) -> Landmark:
    return Landmark(
        name=row.landmark,
        x_px=math.nan if row.x_px is None else row.x_px,
        y_px=math.nan if row.y_px is None else row.y_px,
        state=row.state,
        u_px=row.u_px,
        u_across_px=row.u_across_px,
        placed_by=row.placed_by,
        confidence=row.confidence,
    )


def _outline(row: Any) -> Outline:
    points = shapely.get_coordinates(shapely.from_wkt(row.wkt))
    closed = row.wkt.startswith("POLYGON")
    return Outline(
        part=row.part,
        points_px=points[:-1] if closed else points,
        closed=closed,
        placed_by=row.placed_by,
        confidence=row.confidence,
        spread=row.spread,
        edge=row.edge,
    )
