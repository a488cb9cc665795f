"""How far every photo is: what was begun, what the program proposed, what is done."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from finmeasure.study.recording import referenced_file
from finmeasure.study.records import PhotoStanding

_QUERY = """
WITH newest AS (
  SELECT sighting_id, id, confirmed, row_number() OVER (
    PARTITION BY sighting_id ORDER BY confirmed DESC, ordinal DESC) AS place
  FROM reading WHERE purpose = 'work'
), fish AS (
  SELECT sighting.photo_id, min(newest.confirmed) AS all_confirmed, min(grp.name) AS grp,
    min((SELECT min(confidence) FROM reading_landmark
         WHERE reading_id = newest.id AND newest.confirmed = 0)) AS confidence
  FROM sighting
  JOIN newest ON newest.sighting_id = sighting.id AND newest.place = 1
  LEFT JOIN grp ON grp.id = sighting.group_id
  WHERE sighting.withdrawn = 0
  GROUP BY sighting.photo_id
)
SELECT photo.name, photo.file, photo.state, photo.reason, photo.taken_at, fish.all_confirmed,
  fish.grp, fish.confidence,
  EXISTS (SELECT 1 FROM draft WHERE draft.photo_id = photo.id AND purpose = 'work') AS begun
FROM photo LEFT JOIN fish ON fish.photo_id = photo.id
WHERE photo.current = 1 AND photo.role = 'fish'
ORDER BY photo.name
"""


def standings(connection: Connection, study: Path) -> tuple[PhotoStanding, ...]:
    """Tell for every photo how far it is, in the order of their names."""
    return tuple(_standing(row, study) for row in connection.exec_driver_sql(_QUERY))


def _standing(row: Any, study: Path) -> PhotoStanding:
    return PhotoStanding(
        photo=row.name,
        file=referenced_file(row.file, study),
        state=_state(row),
        reason=row.reason,
        group=row.grp or "",
        taken_at=row.taken_at or "",
        confidence=row.confidence,
    )


def _state(row: Any) -> Any:
    if row.begun:
        return "begun"
    if row.all_confirmed is None:
        return "refused" if row.state == "refused" else "to_do"
    return "confirmed" if row.all_confirmed else "proposal"
