"""One photo's results, and readings made in the window, as rows: one transaction each."""

from __future__ import annotations

import json
import os
import uuid
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote_to_bytes

from sqlalchemy import Connection, delete, func, insert, select, update

from finmeasure import __version__
from finmeasure.flags import joined
from finmeasure.photo.record import PhotoMetadata
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale
from finmeasure.scale.storage import scale_to_json
from finmeasure.study.keys import new_key
from finmeasure.study.measure_columns import measures_to_columns
from finmeasure.study.naming import group_id_of, sightings_for, utc_now, visit_id_of
from finmeasure.study.reading_rows import insert_marks, number_or_null
from finmeasure.study.records import FishResult, PhotoResult, Purpose, Source
from finmeasure.study.tables import (
    MeasureSet,
    PhotoRow,
    ReadingRow,
    ScaleRow,
    Sighting,
)


def record(
    connection: Connection, result: PhotoResult, *, study: Path, run_id: uuid.UUID | None
) -> bool:
    """Record one photo; False where the very same result was there already."""
    before = current_photo(connection, result.photo)
    if before is not None and _is_same(before, result):
        return False
    photo_id = _put_photo(connection, before, result, study=study, run_id=run_id)
    scale_id = put_scale(connection, photo_id, result.scale, result.scale_reason)
    sightings = sightings_for(connection, photo_id, [fish.reading for fish in result.fish])
    for fish in result.fish:
        sighting_id = sightings[fish.reading.fish]
        describe_sighting(connection, sighting_id, fish)
        reading_id = add_reading(
            connection,
            sighting_id,
            fish.reading,
            source=fish.source,
            confirmed=fish.confirmed,
            run_id=run_id,
        )
        put_measures(connection, reading_id, scale_id, fish.measures)
    # Without a digest the photo is to be tried again: that says nothing about its fish.
    if result.given_digest:
        _withdraw_others(connection, photo_id, sightings.values())
    if result.state == "refused":
        _keep_what_people_marked(connection, photo_id)
    return True


def current_photo(connection: Connection, name: str) -> Any:
    """Find the row of the photo that now has this name; None where there is none."""
    query = select(PhotoRow.__table__).where(PhotoRow.name == name, PhotoRow.current)
    return connection.execute(query).one_or_none()


def add_photo(
    connection: Connection,
    name: str,
    sha256: str,
    *,
    study: Path,
    metadata: PhotoMetadata | None,
    file: Path | None,
    role: str,
) -> None:
    """Make a row for a photo on which nothing was done yet; one that is there gets its role."""
    before = current_photo(connection, name)
    there = _row_to_use(connection, before, name, sha256)
    if there is not None and role != "fish":
        # An earlier run took it for a fish photo: it is not refused, it shows something else
        as_new = {"role": role, "state": "to_do", "reason": "", "given_digest": ""}
        connection.execute(update(PhotoRow).where(PhotoRow.id == there).values(**as_new))
    if there is None:
        values: dict[str, Any] = {"name": name, "sha256": sha256, "role": role}
        values |= {"file": file_reference(file, study)}
        values |= {"id": new_key(), "added_at": utc_now()} | _metadata_values(metadata)
        connection.execute(insert(PhotoRow), values)


def newest_scale(connection: Connection, photo_id: uuid.UUID) -> Any:
    """Find the row of a photo's newest scale; None where none was looked for."""
    query = select(ScaleRow.__table__).where(ScaleRow.photo_id == photo_id)
    return connection.execute(query.order_by(ScaleRow.ordinal.desc()).limit(1)).one_or_none()


def scale_to_use(connection: Connection, photo_id: uuid.UUID) -> uuid.UUID:
    """Find the key of a photo's newest scale; "none was looked for" becomes a row too."""
    newest = newest_scale(connection, photo_id)
    return put_scale(connection, photo_id, None) if newest is None else newest.id


def mark_measured(connection: Connection, photo_id: uuid.UUID) -> None:
    """Note that a photo has a fish that counts."""
    connection.execute(
        update(PhotoRow).where(PhotoRow.id == photo_id).values(state="measured", reason="")
    )


def put_scale(
    connection: Connection, photo_id: uuid.UUID, scale: Scale | None, reason: str = ""
) -> uuid.UUID:
    """Add a scale to a photo unless the newest one is the same; give its key."""
    values = _scale_values(scale, reason)
    newest = newest_scale(connection, photo_id)
    if newest is not None and all(newest._mapping[key] == values[key] for key in values):
        found: uuid.UUID = newest.id
        return found
    scale_id = new_key()
    ordinal = 1 if newest is None else newest.ordinal + 1
    values |= {"id": scale_id, "photo_id": photo_id, "ordinal": ordinal, "created_at": utc_now()}
    connection.execute(insert(ScaleRow), values)
    return scale_id


def add_reading(
    connection: Connection,
    sighting_id: uuid.UUID,
    reading: Reading,
    *,
    source: Source,
    confirmed: bool,
    purpose: Purpose = "work",
    seconds: float | None = None,
    run_id: uuid.UUID | None = None,
) -> uuid.UUID:
    """Add a reading as the newest of its fish on its photo; give its key."""
    highest = connection.scalar(
        select(func.max(ReadingRow.ordinal)).where(ReadingRow.sighting_id == sighting_id)
    )
    reading_id = new_key()
    values = {
        "id": reading_id,
        "sighting_id": sighting_id,
        "ordinal": (highest or 0) + 1,
        "purpose": purpose,
        "source": source,
        "confirmed": confirmed,
        "placed_by": reading.placed_by,
        "body_form": reading.body_form,
        "created_at": utc_now(),
        "run_id": run_id,
        "seconds": seconds,
    }
    connection.execute(insert(ReadingRow), values)
    insert_marks(connection, reading_id, reading)
    return reading_id


def put_measures(
    connection: Connection,
    reading_id: uuid.UUID,
    scale_id: uuid.UUID,
    measures: Iterable[Measure],
) -> None:
    """Store measures for a reading and a scale by this version; older ones of the same go."""
    connection.execute(
        delete(MeasureSet).where(
            MeasureSet.reading_id == reading_id,
            MeasureSet.scale_id == scale_id,
            MeasureSet.code_version == __version__,
        )
    )
    values = {
        "id": new_key(),
        "reading_id": reading_id,
        "scale_id": scale_id,
        "code_version": __version__,
        **measures_to_columns(tuple(measures)),
        "created_at": utc_now(),
    }
    connection.execute(insert(MeasureSet), values)


def file_reference(file: Path | None, study: Path) -> str:
    """Write where a file lies, relative to the study, as a URI reference (RFC 3986).

    Percent signs keep bytes that are no UTF-8; relative paths let study and photos move together.
    """
    if file is None:
        return ""
    try:
        path = os.path.relpath(file, study)
    except ValueError:  # another drive on Windows
        path = str(file.absolute())
    return quote(os.fsencode(path.replace(os.sep, "/")))


def referenced_file(reference: str, study: Path) -> Path | None:
    """Read what `file_reference` wrote."""
    if not reference:
        return None
    return Path(os.path.normpath(study / os.fsdecode(unquote_to_bytes(reference))))


def _is_same(before: Any, result: PhotoResult) -> bool:
    """Whether a result is recorded already (another run at the same time, or a repeated call)."""
    return bool(
        result.given_digest
        and before.sha256 == result.sha256
        and before.given_digest == result.given_digest
    )


def _put_photo(
    connection: Connection,
    before: Any,
    result: PhotoResult,
    *,
    study: Path,
    run_id: uuid.UUID | None,
) -> uuid.UUID:
    """Write the photo's row and give its key."""
    photo_id = _row_to_use(connection, before, result.photo, result.sha256)
    values = _photo_values(result) | {"run_id": run_id, "file": file_reference(result.file, study)}
    if photo_id is None:
        photo_id = new_key()
        values |= {"id": photo_id, "added_at": utc_now()}
        connection.execute(insert(PhotoRow), values)
        return photo_id
    if not result.sha256:
        del values["sha256"]
    connection.execute(update(PhotoRow).where(PhotoRow.id == photo_id).values(**values))
    return photo_id


def _row_to_use(connection: Connection, before: Any, name: str, sha256: str) -> uuid.UUID | None:
    """Find the row that a photo's content has, and make it the current one of its name.

    A photo that vanished while it was measured has no checksum: then the row of before stays the
    photo's row. Other content under the same name needs a row of its own (None), unless it was
    there before.
    """
    if before is None or before.sha256 == sha256 or not sha256:
        return None if before is None else before.id
    connection.execute(update(PhotoRow).where(PhotoRow.id == before.id).values(current=False))
    earlier = connection.scalar(
        select(PhotoRow.id).where(PhotoRow.name == name, PhotoRow.sha256 == sha256)
    )
    connection.execute(update(PhotoRow).where(PhotoRow.id == earlier).values(current=True))
    return earlier


def _photo_values(result: PhotoResult) -> dict[str, Any]:
    found = len(result.fish) if result.fish_found is None else result.fish_found
    return {
        "name": result.photo,
        "sha256": result.sha256,
        "state": result.state,
        "reason": result.reason,
        "seconds": number_or_null(result.seconds),
        "given_digest": result.given_digest,
        "fish_found": int(found),
        "flags": joined(result.flags),
        **_metadata_values(result.metadata),
    }


def _metadata_values(data: PhotoMetadata | None) -> dict[str, Any]:
    if data is None:
        return {}
    return {
        "width_px": int(data.width_px),
        "height_px": int(data.height_px),
        "taken_at": None if data.taken_at is None else data.taken_at.isoformat(),
        "camera": data.camera,
        "focal_35mm": number_or_null(data.focal_35mm),
    }


def _scale_values(scale: Scale | None, reason: str) -> dict[str, Any]:
    if scale is None:
        return {"document": None, "reason": reason}
    return {
        "method": scale.method,
        "px_per_mm": scale.px_per_mm,
        "px_per_mm_u": scale.px_per_mm_u,
        # As it will come back: tuples are lists in JSON.
        "document": json.loads(json.dumps(scale_to_json(scale))),
        "reason": reason,
    }


def describe_sighting(connection: Connection, sighting_id: uuid.UUID, fish: FishResult) -> None:
    """Note side, group and visit; what a result does not say stays as it was."""
    group_id = group_id_of(connection, fish.group)
    if group_id is None:
        group_id = connection.scalar(select(Sighting.group_id).where(Sighting.id == sighting_id))
    said = {
        "side": fish.side or None,
        "group_id": group_id,
        "visit_id": visit_id_of(connection, group_id, fish.visit),
    }
    values: dict[str, Any] = {key: value for key, value in said.items() if value is not None}
    connection.execute(
        update(Sighting).where(Sighting.id == sighting_id).values(withdrawn=False, **values)
    )


def _withdraw_others(
    connection: Connection, photo_id: uuid.UUID, kept: Iterable[uuid.UUID]
) -> None:
    """Leave fish out of the tables that are no longer given; their readings stay.

    A fish that a person marked in the window is never withdrawn by a batch.
    """
    by_person = select(ReadingRow.sighting_id).where(ReadingRow.source == "person")
    connection.execute(
        update(Sighting)
        .where(
            Sighting.photo_id == photo_id,
            Sighting.id.not_in(list(kept)),
            Sighting.id.not_in(by_person),
        )
        .values(withdrawn=True)
    )


def _keep_what_people_marked(connection: Connection, photo_id: uuid.UUID) -> None:
    """Call a photo measured that the batch refuses, where a person has marked a fish."""
    marked = (
        select(ReadingRow.id)
        .join(Sighting)
        .where(
            Sighting.photo_id == photo_id,
            Sighting.withdrawn.is_(False),
            ReadingRow.source == "person",
            ReadingRow.purpose == "work",
            ReadingRow.confirmed,
        )
    )
    if connection.execute(marked.limit(1)).first() is not None:
        mark_measured(connection, photo_id)
