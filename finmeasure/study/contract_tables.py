"""The tables that a study gives out, row by row, straight from SQL.

Every row is what counts now: the newest confirmed `work` reading of each fish on each photo, or,
where a person has not looked yet, the newest proposal; with the photo's newest scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from sqlalchemy import Connection

Row = Sequence[Any]
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
INTEGER_COLUMNS = ("width_px", "height_px", "fish_found")


@dataclass(frozen=True, slots=True)
class TableRows:
    """One table: column names and rows; the rows can be gone through once."""

    columns: tuple[str, ...]
    rows: Iterable[Row]


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
    "measurements": """
SELECT shown.photo, shown.fish, m.measure, m.value, m.unit, m.u, m.state, reading.placed_by,
  NULL AS confidence, m.flags, m.reason
FROM shown JOIN measure AS m ON m.set_id = shown.set_id
JOIN reading ON reading.id = shown.reading_id
ORDER BY shown.rowid, m.position
""",
    "fish": """
SELECT shown.rowid, shown.photo, shown.fish, shown.grp, shown.visit, shown.side, m.measure, m.value
FROM shown LEFT JOIN measure AS m ON m.set_id = shown.set_id
ORDER BY shown.rowid
""",
}
_FISH_COLUMNS = ("photo", "fish", "group", "visit", "side")
_MEASURES = """
SELECT m.measure FROM shown JOIN measure AS m ON m.set_id = shown.set_id
GROUP BY m.measure ORDER BY min(m.position), m.measure
"""


def prepare(connection: Connection) -> None:
    """Find out what counts now; needed once in a transaction before `table_rows`."""
    connection.exec_driver_sql(_SHOWN)


def table_rows(connection: Connection, table: str) -> TableRows:
    """Give one table of the contract.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        After `prepare`, in the same transaction.
    table : str
        One of :data:`TABLES`.

    Returns
    -------
    TableRows
        In the order photo, fish, then as marked or defined.
    """
    # Rows pass by the hundred thousand: they are taken from SQLite itself, which halves the time.
    raw: Any = connection.connection.dbapi_connection
    cursor = raw.execute(_QUERIES[table])
    if table == "fish":
        measures = _measure_columns(connection)
        return TableRows((*_FISH_COLUMNS, *measures), _fish_rows(cursor, measures))
    columns = tuple(column[0] for column in cursor.description)
    return TableRows(columns, cursor)


def _measure_columns(connection: Connection) -> tuple[str, ...]:
    """Headline ratios first, then raggedness, then the others as they are defined."""
    found = connection.exec_driver_sql(_MEASURES).scalars().all()
    return (*HEADLINE, *(name for name in found if name not in HEADLINE))


def _fish_rows(cursor: Iterable[Row], measures: tuple[str, ...]) -> Iterator[Row]:
    for _, rows in groupby(cursor, key=lambda row: row[0]):
        first, *others = rows
        values = {row[6]: row[7] for row in (first, *others)}
        yield (*first[1:6], *(values.get(name) for name in measures))
