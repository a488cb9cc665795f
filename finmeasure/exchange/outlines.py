"""outlines.csv in and out; geometry as WKT (OGC Simple Features)."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import get_args

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from finmeasure.exchange.marks import MarksCollector, MarksTable
from finmeasure.exchange.tables import Cell, Row, each_row, read_rows, write_table
from finmeasure.landmarks.names import match_part
from finmeasure.reading import EDGE_MARKS, Outline, Reading, Spread

COLUMNS = ("photo", "fish", "part", "wkt", "placed_by", "confidence", "spread", "edge")
_NEEDED = ("photo", "part", "wkt")
_SPREADS: tuple[Spread, ...] = get_args(Spread)
_ALWAYS_CLOSED = ("body", "fish")
_FARTHEST_PX = 1_000_000.0
_MOST_POINTS = 200_000
# Only plain lines and rings reach the WKT parser: nested collections could exhaust its stack.
_PLAIN_WKT = re.compile(r"\s*(LINESTRING|POLYGON)\s*\([0-9eE+\-.,()\s]+\)\s*", re.IGNORECASE)
_WKT_ALLOWED = (
    "LINESTRING (x y, x y, …) from the fin's front to its rear base point, or "
    "POLYGON ((x y, …)), at least 3 points in pixels"
)


def read_outlines(path: str | Path) -> MarksTable:
    """Read a table of outlines.

    Parameters
    ----------
    path : str or Path
        CSV file with the columns photo, part, wkt and, where known, fish (else ``1``), placed_by
        (else ``hand``), confidence, spread (else ``spread``), edge. Further columns are let pass.

    Returns
    -------
    MarksTable
        Readings that hold outlines only; put them together with the landmarks by
        :meth:`MarksTable.joined`. A POLYGON, or a LINESTRING that ends where it starts, is a
        closed outline. A bad row refuses its photo only.

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong.
    """
    collector = MarksCollector()

    def take(row: Row) -> None:
        part = collector.match(row, "part", match_part(row.text("part")))
        collector.add_outline(row, _outline(row, part))

    each_row(read_rows(Path(path), _NEEDED), take, collector.complain)
    return collector.table()


def write_outlines(path: str | Path, marks: Iterable[tuple[str, Reading]]) -> None:
    """Write a table of outlines that :func:`read_outlines` reads back as it was.

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
        _cells(photo, reading.fish, outline)
        for photo, reading in marks
        for outline in reading.outlines.values()
    )
    write_table(Path(path), COLUMNS, rows)


def wkt_of(outline: Outline) -> str:
    """Give an outline as WKT, with all digits.

    Examples
    --------
    >>> wkt_of(Outline("dorsal", np.array([[0.5, 0], [1, 2], [3, 0]])))
    'LINESTRING (0.5 0.0, 1.0 2.0, 3.0 0.0)'
    """
    points = [f"{float(x)!r} {float(y)!r}" for x, y in outline.points_px]
    if outline.closed:
        return f"POLYGON (({', '.join([*points, points[0]])}))"
    return f"LINESTRING ({', '.join(points)})"


def _outline(row: Row, part: str) -> Outline:
    points, closed = _points(row)
    if part in _ALWAYS_CLOSED and not closed:
        row.refuse("wkt", "POLYGON ((x y, …)) for body and fish")
    spread: Spread = row.one_of("spread", _SPREADS, default="spread")  # type: ignore[assignment]
    edge = row.one_of("edge", ("", *EDGE_MARKS), default="")
    placed_by = row.text("placed_by", default="hand")
    confidence = row.number_or_none("confidence", 0, 1)
    return Outline(part, points, closed, placed_by, confidence, spread, edge)


def _points(row: Row) -> tuple[NDArray[np.float64], bool]:
    """Vertices of a row's geometry, shape (N, 2), pixels (x, y); and whether it is a ring."""
    text = row.text("wkt")
    if not _PLAIN_WKT.fullmatch(text):
        row.refuse("wkt", _WKT_ALLOWED)
    try:
        geometry = shapely.from_wkt(text)
    except shapely.errors.ShapelyError:
        row.refuse("wkt", _WKT_ALLOWED)
    if geometry.has_z or (isinstance(geometry, Polygon) and len(geometry.interiors)):
        row.refuse("wkt", f"two numbers per point and no holes: {_WKT_ALLOWED}")
    points = shapely.get_coordinates(geometry)
    closed = len(points) > 1 and bool((points[0] == points[-1]).all())
    points = points[:-1] if closed else points
    if not 3 <= len(points) <= _MOST_POINTS or not (np.abs(points) <= _FARTHEST_PX).all():
        row.refuse("wkt", _WKT_ALLOWED)
    return np.ascontiguousarray(points, dtype=np.float64), closed


def _cells(photo: str, fish: str, outline: Outline) -> tuple[Cell, ...]:
    return (
        photo,
        fish,
        outline.part,
        wkt_of(outline),
        outline.placed_by,
        outline.confidence,
        outline.spread,
        outline.edge,
    )
