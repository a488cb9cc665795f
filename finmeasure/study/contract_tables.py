"""The tables that a study gives out, row by row, straight from SQL.

Every row is what counts now: the newest confirmed `work` reading of each fish on each photo, or,
where a person has not looked yet, the newest proposal; with the photo's newest scale.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain
from typing import Any

import numpy as np
import pyarrow as pa
from sqlalchemy import Connection

from finmeasure.study.connecting import raw_connection

Rows = list[tuple[Any, ...]]
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
_ROWS_AT_ONCE = 50_000
_FISH_AT_ONCE = 1_000
_TYPES = {
    **dict.fromkeys(("rowid", "width_px", "height_px", "fish_found"), pa.int64()),
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
  p.reason, p.seconds, p.camera, p.flags, coalesce(s.reason, '') AS scale_reason,
  coalesce((SELECT group_concat(value, ' ') FROM json_each(s.document, '$.advice')), '') AS advice
FROM photo AS p
LEFT JOIN scale AS s ON s.photo_id = p.id
  AND s.ordinal = (SELECT max(ordinal) FROM scale WHERE photo_id = p.id)
WHERE p.current = 1
ORDER BY p.name
""",
    "landmarks": """
SELECT shown.rowid, m.landmark, m.x_px, m.y_px, m.u_px, m.state, m.placed_by, m.confidence,
  m.u_across_px
FROM shown JOIN reading_landmark AS m ON m.reading_id = shown.reading_id
ORDER BY shown.rowid, m.position
""",
    "outlines": """
SELECT shown.rowid, o.part, o.wkt, o.placed_by, o.confidence, o.spread, o.edge
FROM shown JOIN reading_outline AS o ON o.reading_id = shown.reading_id
ORDER BY shown.rowid, o.position
""",
    "measurements": """
SELECT shown.rowid, reading.placed_by, m.measure, m.value, m.unit, m.u, m.state, m.flags, m.reason
FROM shown JOIN reading ON reading.id = shown.reading_id
JOIN measure_set AS m ON m.id = shown.set_id
ORDER BY shown.rowid
""",
}
_FISH = "SELECT photo, fish, grp, visit, side FROM shown ORDER BY rowid"
_FISH_COLUMNS = ("photo", "fish", "group", "visit", "side")
_FISH_VALUES = """
SELECT shown.rowid, m.measure, m.value FROM shown JOIN measure_set AS m ON m.id = shown.set_id
"""


class ContractTables:
    """The tables of the contract as they are at one moment.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that lasts as long as the tables are read.
    """

    def __init__(self, connection: Connection) -> None:
        connection.exec_driver_sql(_SHOWN)
        self._raw = raw_connection(connection)
        self._fish = _batch(_FISH_COLUMNS, self._raw.execute(_FISH).fetchall())

    def batches(self, table: str) -> Iterator[pa.RecordBatch]:
        """Give one table in batches; there is at least one, if need be empty.

        Parameters
        ----------
        table : str
            One of :data:`TABLES`.

        Yields
        ------
        pyarrow.RecordBatch
            In the order photo, fish, then as marked or defined.
        """
        if table == "fish":
            yield self._fish_table()
            return
        make = {"photos": _batch, "measurements": self._measures}.get(table, self._marks)
        at_once = _FISH_AT_ONCE if table == "measurements" else _ROWS_AT_ONCE
        cursor = self._raw.execute(_QUERIES[table])
        columns = tuple(column[0] for column in cursor.description)
        rows = cursor.fetchmany(at_once)
        yield make(columns, rows)
        while rows := cursor.fetchmany(at_once):
            yield make(columns, rows)

    def _named(self, numbers: Any) -> dict[str, pa.Array]:
        """Photo and fish of rows; as text only once, SQLite gives their numbers."""
        places = np.asarray(numbers, dtype=np.int64) - 1
        return {name: self._fish[name].take(places) for name in ("photo", "fish")}

    def _marks(self, columns: tuple[str, ...], rows: Rows) -> pa.RecordBatch:
        batch = _batch(columns, rows)
        arrays = dict(zip(batch.schema.names, batch.columns, strict=True))
        return _record_batch(self._named(arrays.pop("rowid")) | arrays)

    def _measures(self, columns: tuple[str, ...], rows: Rows) -> pa.RecordBatch:
        """One row per measure; how sure one is of the marks is not carried over to them."""
        lists = {
            name: [_list(text) for text in column]
            for name, column in zip(columns[2:], _transposed(columns, rows)[2:], strict=True)
        }
        counts = [len(names) for names in lists["measure"]]
        numbers = np.repeat(np.array([row[0] for row in rows], dtype=np.int64), counts)
        people = pa.array([row[1] for row in rows], pa.string())
        joined = {
            name: pa.array(list(chain.from_iterable(cells)), _TYPES.get(name, pa.string()))
            for name, cells in lists.items()
        }
        known = ("measure", "value", "unit", "u", "state")
        return _record_batch(
            {
                **self._named(numbers),
                **{name: joined.pop(name) for name in known},
                "placed_by": people.take(np.repeat(np.arange(len(rows)), counts)),
                "confidence": pa.nulls(len(numbers), pa.float64()),
                **joined,
            }
        )

    def _fish_table(self) -> pa.RecordBatch:
        """One row per fish and photo, one column per measure: the headline ones come first."""
        count = self._fish.num_rows
        columns = {name: np.full(count, np.nan) for name in HEADLINE}
        for number, names, values in self._raw.execute(_FISH_VALUES):
            for name, value in zip(_list(names), json.loads(values), strict=True):
                if name not in columns:
                    columns[name] = np.full(count, np.nan)
                if value is not None:
                    columns[name][number - 1] = value
        arrays = {name: pa.array(values, from_pandas=True) for name, values in columns.items()}
        return _record_batch(dict(zip(_FISH_COLUMNS, self._fish.columns, strict=True)) | arrays)


def _list(text: str) -> list[Any]:
    """Read a list of JSON; lists of names and words are the same for many fish."""
    return _known_list(text) if text.startswith('["') else _new_list(text)


@lru_cache(maxsize=4096)
def _known_list(text: str) -> list[Any]:
    return _new_list(text)


def _new_list(text: str) -> list[Any]:
    return list(json.loads(text))


def _batch(columns: tuple[str, ...], rows: Rows) -> pa.RecordBatch:
    """Turn rows into typed columns."""
    arrays = {
        name: pa.array(column, _TYPES.get(name, pa.string()))
        for name, column in zip(columns, _transposed(columns, rows), strict=True)
    }
    return _record_batch(arrays)


def _transposed(columns: tuple[str, ...], rows: Rows) -> tuple[tuple[Any, ...], ...]:
    return tuple(zip(*rows, strict=True)) if rows else ((),) * len(columns)


def _record_batch(arrays: dict[str, pa.Array]) -> pa.RecordBatch:
    return pa.record_batch(list(arrays.values()), names=list(arrays))
