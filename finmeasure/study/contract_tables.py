"""The tables that a study gives out, row by row, straight from SQL.

Every row is what counts now: the newest confirmed `work` reading of each fish on each photo, or,
where a person has not looked yet, the newest proposal; with the photo's newest scale.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import chain
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray
from sqlalchemy import Connection

TABLES = ("photos", "landmarks", "outlines", "measurements", "fish")
HEADLINE = (
    "dorsal_height_to_sl",
    "caudal_fork_depth_to_sl",
    "pelvic_length_to_sl",
    "dorsal_notch_area",
    "second_dorsal_notch_area",
    "caudal_notch_area",
    "anal_notch_area",
)
# Rows pass in batches so that memory stays flat however many photos there are.
_BATCH_ROWS = 50_000
_TYPES = {
    **dict.fromkeys(("width_px", "height_px", "fish_found"), pa.int64()),
    **dict.fromkeys(("px_per_mm", "px_per_mm_u", "seconds", "value", "u"), pa.float64()),
    **dict.fromkeys(("x_px", "y_px", "u_px", "u_across_px", "confidence"), pa.float64()),
}

# What each fish on each photo shows now. Temporary: it lives in memory and goes with the
# transaction, so a study on locked media can be exported too.
_SHOWN = """
CREATE TEMPORARY TABLE shown AS
WITH ranked AS (
  SELECT id, sighting_id, source, row_number() OVER (
    PARTITION BY sighting_id ORDER BY confirmed DESC, ordinal DESC) AS place
  FROM reading WHERE purpose = 'work'
), scaled AS (
  SELECT id, photo_id, row_number() OVER (PARTITION BY photo_id ORDER BY ordinal DESC) AS place
  FROM scale
), cached AS (
  SELECT id, reading_id, scale_id, row_number() OVER (
    PARTITION BY reading_id, scale_id ORDER BY rowid DESC) AS place
  FROM measure_set
)
SELECT photo.name AS photo, coalesce(fish.name, CAST(sighting.number AS TEXT)) AS fish,
  coalesce(grp.name, '') AS grp, coalesce(visit.date, '') AS visit, sighting.side AS side,
  ranked.id AS reading_id, cached.id AS set_id
FROM sighting
JOIN photo ON photo.id = sighting.photo_id AND photo.current = 1
JOIN ranked ON ranked.sighting_id = sighting.id AND ranked.place = 1
LEFT JOIN fish ON fish.id = sighting.fish_id
LEFT JOIN grp ON grp.id = sighting.group_id
LEFT JOIN visit ON visit.id = sighting.visit_id
LEFT JOIN scaled ON scaled.photo_id = photo.id AND scaled.place = 1
LEFT JOIN cached ON cached.reading_id = ranked.id AND cached.scale_id = scaled.id
  AND cached.place = 1
WHERE sighting.withdrawn = 0
ORDER BY photo.name, sighting.number
"""

_QUERIES = {
    "photos": """
SELECT p.name AS photo, p.sha256, p.taken_at, p.width_px, p.height_px,
  coalesce(s.method, '') AS scale_method, s.px_per_mm, s.px_per_mm_u, p.fish_found, p.state,
  p.reason, p.seconds, p.camera, p.flags, coalesce(s.reason, '') AS scale_reason
FROM photo AS p
LEFT JOIN scale AS s ON s.photo_id = p.id
  AND s.ordinal = (SELECT max(ordinal) FROM scale WHERE photo_id = p.id)
WHERE p.current = 1
ORDER BY p.name
""",
    "landmarks": """
SELECT shown.photo, shown.fish, m.landmark, m.x_px, m.y_px, m.u_px, m.state, m.placed_by,
  m.confidence, m.u_across_px
FROM shown JOIN reading_landmark AS m ON m.reading_id = shown.reading_id
ORDER BY shown.rowid, m.position
""",
    "outlines": """
SELECT shown.photo, shown.fish, o.part, o.wkt, o.placed_by, o.confidence, o.spread, o.edge
FROM shown JOIN reading_outline AS o ON o.reading_id = shown.reading_id
ORDER BY shown.rowid, o.position
""",
}
_FISH = "SELECT photo, fish, grp, visit, side FROM shown ORDER BY rowid"
_FISH_COLUMNS = ("photo", "fish", "group", "visit", "side")
_MEASURES = """
SELECT shown.photo, shown.fish, reading.placed_by, measure_set.columns
FROM shown JOIN reading ON reading.id = shown.reading_id
LEFT JOIN measure_set ON measure_set.id = shown.set_id
ORDER BY shown.rowid
"""
_BATCH_FISH = 1_000


def prepare(connection: Connection) -> None:
    """Find out what counts now; needed once in a transaction before `table_rows`."""
    connection.exec_driver_sql(_SHOWN)


def table_batches(connection: Connection, table: str) -> Iterator[pa.RecordBatch]:
    """Give one table of the contract in batches; there is at least one, if need be empty.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        After `prepare`, in the same transaction.
    table : str
        One of :data:`TABLES`.

    Yields
    ------
    pyarrow.RecordBatch
        In the order photo, fish, then as marked or defined.
    """
    if table == "fish":
        yield _fish_batch(connection)
    elif table == "measurements":
        yield from _measure_batches(connection)
    else:
        yield from _plain_batches(connection, table)


def _plain_batches(connection: Connection, table: str) -> Iterator[pa.RecordBatch]:
    # Rows pass by the hundred thousand: they are taken from SQLite itself, which halves the time.
    cursor = _raw(connection).execute(_QUERIES[table])
    columns = tuple(column[0] for column in cursor.description)
    rows = cursor.fetchmany(_BATCH_ROWS)
    yield _batch(columns, rows)
    while rows := cursor.fetchmany(_BATCH_ROWS):
        yield _batch(columns, rows)


def _raw(connection: Connection) -> Any:
    return connection.connection.dbapi_connection


def _batch(columns: tuple[str, ...], rows: list[tuple[Any, ...]]) -> pa.RecordBatch:
    """Turn rows into typed columns."""
    values = zip(*rows, strict=True) if rows else ((),) * len(columns)
    arrays = [
        pa.array(column, _TYPES.get(name, pa.string()))
        for name, column in zip(columns, values, strict=True)
    ]
    return pa.record_batch(arrays, names=list(columns))


def _measure_batches(connection: Connection) -> Iterator[pa.RecordBatch]:
    """One row per measure, with the confidence of the fish's marks left empty for people."""
    cursor = _raw(connection).execute(_MEASURES)
    rows = cursor.fetchmany(_BATCH_FISH)
    yield _measure_batch(rows)
    while rows := cursor.fetchmany(_BATCH_FISH):
        yield _measure_batch(rows)


def _measure_batch(rows: list[tuple[str, str, str, str | None]]) -> pa.RecordBatch:
    found = [(row, json.loads(row[3])) for row in rows if row[3]]
    counts = [len(columns["measure"]) for _, columns in found]

    def repeated(position: int) -> pa.Array:
        of_fish = pa.array([row[position] for row, _ in found], pa.string())
        return of_fish.take(np.repeat(np.arange(len(found)), counts))

    def joined_up(name: str) -> pa.Array:
        cells = chain.from_iterable(columns[name] for _, columns in found)
        return pa.array(list(cells), _TYPES.get(name, pa.string()))

    arrays = {
        "photo": repeated(0),
        "fish": repeated(1),
        **{name: joined_up(name) for name in ("measure", "value", "unit", "u", "state")},
        "placed_by": repeated(2),
        "confidence": pa.nulls(sum(counts), pa.float64()),
        **{name: joined_up(name) for name in ("flags", "reason")},
    }
    return pa.record_batch(list(arrays.values()), names=list(arrays))


def _fish_batch(connection: Connection) -> pa.RecordBatch:
    """One row per fish and photo, one column per measure: the headline ones come first."""
    fish = _batch(_FISH_COLUMNS, _raw(connection).execute(_FISH).fetchall())
    columns: dict[str, NDArray[np.float64]] = {
        name: np.full(fish.num_rows, np.nan) for name in HEADLINE
    }
    for row, (*_, document) in enumerate(_raw(connection).execute(_MEASURES)):
        kept = json.loads(document) if document else {"measure": (), "value": ()}
        for name, value in zip(kept["measure"], kept["value"], strict=True):
            if name not in columns:
                columns[name] = np.full(fish.num_rows, np.nan)
            if value is not None:
                columns[name][row] = value
    for name, values in columns.items():
        fish = fish.append_column(name, pa.array(values, from_pandas=True))
    return fish
