"""Finding readings: all, those that count, those marked again, those not measured yet."""

from __future__ import annotations

import json
import uuid
from datetime import date
from typing import Any

from sqlalchemy import Connection, insert, select, text, update

from finmeasure import __version__
from finmeasure.errors import StudyError
from finmeasure.reading import Reading
from finmeasure.study.keys import new_key
from finmeasure.study.measure_columns import NAMES, Columns
from finmeasure.study.reading_rows import Marks, load_marks
from finmeasure.study.records import StoredReading
from finmeasure.study.tables import Draft, ReadingRow, Sighting

_QUERY = """
WITH ranked AS (
  SELECT reading.*,
    row_number() OVER (PARTITION BY sighting_id, purpose ORDER BY confirmed DESC, ordinal DESC)
      AS place,
    sum(confirmed) OVER (PARTITION BY sighting_id) AS times_confirmed
  FROM reading
), scaled AS (
  SELECT id, photo_id, row_number() OVER (PARTITION BY photo_id ORDER BY ordinal DESC) AS place
  FROM scale
)
SELECT ranked.*, photo.name AS photo, sighting.number, sighting.side, fish.name AS fish_name,
  grp.name AS grp, visit.date AS visit
FROM ranked
JOIN sighting ON sighting.id = ranked.sighting_id
JOIN photo ON photo.id = sighting.photo_id AND photo.current = 1
LEFT JOIN fish ON fish.id = sighting.fish_id
LEFT JOIN grp ON grp.id = sighting.group_id
LEFT JOIN visit ON visit.id = sighting.visit_id
LEFT JOIN scaled ON scaled.photo_id = photo.id AND scaled.place = 1
WHERE (:photo_id IS NULL OR photo.id = :photo_id)
  AND (:sighting_id IS NULL OR sighting.id = :sighting_id)
  AND (:grp = '' OR grp.name = :grp)
  AND (:current_only = 0
       OR (ranked.place = 1 AND ranked.purpose = 'work' AND sighting.withdrawn = 0))
  AND (:repeated_only = 0 OR (ranked.confirmed = 1 AND ranked.times_confirmed > 1))
  AND (:unmeasured_only = 0 OR NOT EXISTS (
       SELECT 1 FROM measure_set WHERE measure_set.reading_id = ranked.id
         AND measure_set.scale_id = scaled.id AND measure_set.code_version = :version))
ORDER BY photo.name, sighting.number, ranked.ordinal
"""
_MEASURES = """
SELECT {} FROM measure_set
JOIN scale ON scale.id = measure_set.scale_id
WHERE measure_set.reading_id = :reading_id
  AND scale.ordinal = (SELECT max(ordinal) FROM scale AS other
                       WHERE other.photo_id = scale.photo_id)
ORDER BY measure_set.rowid DESC LIMIT 1
"""


def load(
    connection: Connection,
    *,
    photo_id: uuid.UUID | None = None,
    sighting_id: uuid.UUID | None = None,
    group: str = "",
    current_only: bool = False,
    repeated_only: bool = False,
    unmeasured_only: bool = False,
) -> tuple[StoredReading, ...]:
    """Load readings in the order photo, fish, time of making."""
    found = connection.execute(
        text(_QUERY),
        {
            "photo_id": None if photo_id is None else photo_id.hex,
            "sighting_id": None if sighting_id is None else sighting_id.hex,
            "grp": group,
            "current_only": current_only,
            "repeated_only": repeated_only,
            "unmeasured_only": unmeasured_only,
            "version": __version__,
        },
    ).all()
    marks = load_marks(connection, [row.id for row in found])
    return tuple(_stored(row, marks[row.id]) for row in found)


def measure_columns(connection: Connection, reading_id: uuid.UUID) -> Columns | None:
    """Load the measures of a reading with the newest scale of its photo."""
    query = text(_MEASURES.format(", ".join(f"measure_set.{name}" for name in NAMES)))
    found = connection.execute(query, {"reading_id": reading_id.hex}).one_or_none()
    if found is None:
        return None
    return {name: json.loads(cells) for name, cells in zip(NAMES, found, strict=True)}


def photo_of(connection: Connection, reading_id: uuid.UUID) -> uuid.UUID:
    """Find the photo that a reading was made on.

    Raises
    ------
    StudyError
        If the study has no such reading.
    """
    found = connection.scalar(
        select(Sighting.photo_id).join(ReadingRow).where(ReadingRow.id == reading_id)
    )
    if found is None:
        message = f"The study has no reading {reading_id}."
        raise StudyError(message)
    return found


def put_draft(
    connection: Connection, key: tuple[uuid.UUID, str, str, str], values: dict[str, Any]
) -> None:
    """Write a draft over the one of the same photo, fish, person and purpose."""
    photo_id, fish, person, purpose = key
    changed = connection.execute(
        update(Draft)
        .where(
            Draft.photo_id == photo_id,
            Draft.fish == fish,
            Draft.person == person,
            Draft.purpose == purpose,
        )
        .values(**values)
    )
    if not changed.rowcount:
        names = {"photo_id": photo_id, "fish": fish, "person": person, "purpose": purpose}
        connection.execute(insert(Draft), names | {"id": new_key()} | values)


def _stored(row: Any, marks: Marks) -> StoredReading:
    landmarks, outlines = marks
    fish = row.fish_name or str(row.number)
    return StoredReading(
        id=uuid.UUID(row.id),
        photo=row.photo,
        number=row.number,
        ordinal=row.ordinal,
        purpose=row.purpose,
        source=row.source,
        confirmed=bool(row.confirmed),
        created_at=row.created_at,
        reading=Reading(
            fish, landmarks, outlines, body_form=row.body_form, placed_by=row.placed_by
        ),
        side=row.side,
        group=row.grp or "",
        visit=None if row.visit is None else date.fromisoformat(row.visit),
    )
