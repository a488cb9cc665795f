"""What the study knows for change over time: every fin on every photo, references, happenings."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import pandas as pd
from sqlalchemy import Connection, text

from finmeasure.exchange.inputs import LabelRow
from finmeasure.fins.records import MEDIAN_FINS
from finmeasure.landmarks.placement import Placement, with_placement
from finmeasure.measurements.measure import measure_reading
from finmeasure.quantity import Measure
from finmeasure.scale.calibration import Scale
from finmeasure.scale.storage import scale_from_json
from finmeasure.study import keeper_rows, reading_queries
from finmeasure.study.measure_columns import columns_to_measures
from finmeasure.study.naming import is_number
from finmeasure.study.records import ReferenceRow, StoredReading
from finmeasure.study.series_edges import as_number, edge_figures, with_edge
from finmeasure.timeseries.records import Declared, FinRecord, Happening

WHOLE_LABEL = "whole_reference"
#: Straight length of each fin, for fins that were not traced.
STRAIGHT: Mapping[str, str] = {
    "dorsal": "dorsal_height_to_sl",
    "caudal": "caudal_length_to_sl",
    "anal": "anal_height_to_sl",
    "pelvic": "pelvic_length_to_sl",
    "pectoral": "pectoral_length_to_sl",
}
_PHOTOS = """
SELECT photo.name, photo.rowid AS place, photo.camera, photo.width_px, photo.height_px,
  scale.method, scale.document
FROM photo LEFT JOIN scale ON scale.photo_id = photo.id
  AND scale.ordinal = (SELECT max(ordinal) FROM scale AS other WHERE other.photo_id = photo.id)
WHERE photo.current = 1
"""
_FOLLOWED = """
SELECT fish.name FROM sighting
JOIN fish ON fish.id = sighting.fish_id
JOIN visit ON visit.id = sighting.visit_id
WHERE sighting.withdrawn = 0
GROUP BY fish.id HAVING count(DISTINCT visit.date) > 1
"""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoFacts:
    """How a photo was taken, and its newest scale."""

    order: int
    camera: str
    size_px: tuple[int, int] | None
    method: str
    scale: Scale | None


def fin_records(
    connection: Connection,
    fish: set[str] | None = None,
    own: Mapping[str, Placement] | None = None,
) -> tuple[FinRecord, ...]:
    """Give every fin of every confirmed reading that counts now.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction.
    fish : set of str, optional
        Names; all fish if None.
    own : mapping of str to Placement, optional
        How exactly the study's people place landmarks; the general table where it is silent.

    Returns
    -------
    tuple of FinRecord
        Edge figures are taken with the fin length of the fish's first visit, in proportion to its
        standard length, so that the limits of a notch do not shrink with the fin.
    """
    photos = photo_facts(connection)
    readings = [
        reading
        for reading in reading_queries.load(connection, current_only=True)
        if reading.confirmed and (fish is None or reading.reading.fish in fish)
    ]
    readings.sort(key=lambda one: (one.visit or date.max, photos[one.photo].order))
    first: dict[tuple[str, str], float] = {}
    shared = _shared_names(readings)
    found: list[FinRecord] = []
    for stored in readings:
        facts = photos[stored.photo]
        measures = measures_of(connection, stored, facts.scale, facts.size_px)
        reading = with_placement(stored.reading, own or {})
        if reading is not stored.reading:
            # Ratios anew with the uncertainty of these people; the edge figures stay.
            lengths = measure_reading(reading, facts.scale, size_px=facts.size_px, edges=False)
            measures |= lengths.by_id
        apart = stored.group if reading.fish in shared else ""
        given = replace(stored, reading=reading)
        found += _of_reading(given, facts, measures, first, apart=apart)
    return tuple(found)


def _shared_names(readings: Iterable[StoredReading]) -> set[str]:
    """Find names that fish of several groups have on one day: they are different animals."""
    groups: dict[tuple[str, date | None], set[str]] = {}
    for one in readings:
        if one.group and not is_number(one.reading.fish):
            groups.setdefault((one.reading.fish, one.visit), set()).add(one.group)
    return {fish for (fish, _), found in groups.items() if len(found) > 1}


def followed_fish(connection: Connection) -> set[str]:
    """Give the names of fish that were photographed on more than one day."""
    return {row[0] for row in connection.execute(text(_FOLLOWED))}


def records_frame(records: Iterable[FinRecord]) -> pd.DataFrame:
    """Give the records as a data frame, one row per fin and photo."""
    names = list(FinRecord.__dataclass_fields__)
    return pd.DataFrame(
        [[getattr(record, name) for name in names] for record in records], columns=names
    )


def declared_references(connection: Connection) -> tuple[tuple[Declared, ...], tuple[str, ...]]:
    """Give all whole references, and one line for each label that cannot be understood."""
    declared = [one for row in keeper_rows.references(connection) for one in _declared_by_row(row)]
    problems: list[str] = []
    for row in keeper_rows.labels(connection):
        if row.character == WHOLE_LABEL:
            for part in filter(None, (part.strip() for part in row.value.split(";"))):
                one = _declared_by_label(row, part)
                if isinstance(one, str):
                    problems.append(one)
                else:
                    declared.append(one)
    return tuple(declared), tuple(problems)


def happenings(connection: Connection) -> tuple[Happening, ...]:
    """Give events and water tests of all groups, by day."""
    events = [
        Happening(row.group, row.date, row.event, row.note, row.fish)
        for row in keeper_rows.events(connection, "")
    ]
    water = [
        Happening(row.group, row.taken_at, row.quantity, value=row.value, unit=row.unit)
        for row in keeper_rows.water(connection, "")
    ]
    return tuple(sorted([*events, *water], key=lambda one: one.day))


def photo_facts(connection: Connection) -> dict[str, PhotoFacts]:
    """Give size, camera and newest scale of every photo that counts, by name."""
    return {
        row.name: PhotoFacts(
            row.place,
            row.camera or "",
            (row.width_px, row.height_px) if row.width_px and row.height_px else None,
            row.method or "",
            scale_from_json(json.loads(row.document)) if row.document else None,
        )
        for row in connection.execute(text(_PHOTOS))
    }


def _of_reading(
    stored: StoredReading,
    photo: PhotoFacts,
    measures: Mapping[str, Measure],
    first: dict[tuple[str, str], float],
    *,
    apart: str,
) -> list[FinRecord]:
    """Give one record for each fin of one reading that says anything."""
    found = []
    for fin in (*MEDIAN_FINS, "pelvic", "pectoral"):
        record = replace(_record(stored, photo, fin, measures), apart=apart)
        if fin in MEDIAN_FINS and fin in stored.reading.outlines:
            stick_mm = _stick_mm(record.who, fin, photo, measures, first)
            edge = edge_figures(stored.reading, fin, photo.scale, photo.size_px, stick_mm=stick_mm)
            record = with_edge(record, edge, measures)
            if record.named and math.isfinite(record.relative_length):
                first.setdefault((record.who, fin), record.relative_length)
        if record.measured or record.reason:
            found.append(record)
    return found


def measures_of(
    connection: Connection,
    stored: StoredReading,
    scale: Scale | None,
    size_px: tuple[int, int] | None,
) -> dict[str, Measure]:
    """Give the measures of a reading by id: as kept, else computed without the photo."""
    columns = reading_queries.measure_columns(connection, stored.id)
    if columns is None:
        return dict(measure_reading(stored.reading, scale, size_px=size_px).by_id)
    return {measure.id: measure for measure in columns_to_measures(columns)}


def _stick_mm(
    fish: str,
    fin: str,
    photo: PhotoFacts,
    measures: Mapping[str, Measure],
    first: Mapping[tuple[str, str], float],
) -> float | None:
    """Give the fin's length at the fish's first visit, grown with the fish: the measuring stick."""
    stick, length = first.get((fish, fin)), measures.get("standard_length")
    if stick is None or length is None or not length.value or photo.scale is None:
        return None
    return stick * length.value


def _record(
    stored: StoredReading, photo: PhotoFacts, fin: str, measures: Mapping[str, Measure]
) -> FinRecord:
    """Give the straight length of a fin, or why there is none."""
    measure = measures.get(STRAIGHT.get(fin, ""))
    length = measures.get("standard_length")
    record = FinRecord(
        photo=stored.photo,
        fish=stored.reading.fish,
        named=not is_number(stored.reading.fish),
        group=stored.group,
        visit=stored.visit,
        side=stored.side,
        fin=fin,
        method="straight",
        sl_mm=as_number(length.value if length else None),
        sl_u_mm=as_number(length.u if length else None),
        scale_method=photo.method,
        camera=photo.camera,
        order=photo.order,
        body_form=stored.reading.body_form,
        placed_by=stored.reading.placed_by,
    )
    if measure is None or measure.state == "absent":
        return record
    if measure.state != "measured":
        return replace(record, flags=measure.flags, reason=_why(fin, measure))
    return replace(
        record, ratio=as_number(measure.value), u=as_number(measure.u), flags=measure.flags
    )


def _why(fin: str, measure: Measure) -> str:
    words = fin.replace("_", " ")
    return measure.reason or f"The {words} fin could not be seen."


def _declared_by_row(row: ReferenceRow) -> list[Declared]:
    """Read a reference that was declared in the window."""
    document: dict[str, Any] = row.document
    if row.kind == "own_record":
        known = [date.fromisoformat(str(day)) for day in document.get("visits", ())]
        days: list[date | None] = [*known] or [None]
        return [Declared(kind="own_record", fin=row.fin, fish=row.fish, visit=day) for day in days]
    if row.kind == "healthy_mates":
        names = [*document.get("fish", ()), *([row.fish] if row.fish else [])]
        return [Declared(kind="healthy_mates", fin=row.fin, fish=str(name)) for name in names]
    return [
        Declared(
            kind="species_row",
            fin=row.fin,
            group=row.group,
            name=row.name,
            ratio=float(document.get("ratio", math.nan)),
            u=float(document.get("u", math.nan)),
            sl_mm=float(document.get("sl_mm", math.nan)),
            method=document.get("method", "straight"),
            of_kind=str(document.get("of_kind", "")),
        )
    ]


def _declared_by_label(row: LabelRow, part: str) -> Declared | str:
    """Read one part of a label: a fin or ``all``, and perhaps the day of the own record."""
    words = part.split()
    fins = (*STRAIGHT, "second_dorsal", "all")
    day: date | None = None
    try:
        day = date.fromisoformat(words[1]) if len(words) == 2 else None
        known = words[0] in fins and len(words) <= 2
    except ValueError:
        known = False
    if not known:
        return (
            f"labels.csv, fish {row.fish}: {WHOLE_LABEL} {part!r} is not understood. Write a fin "
            f"({', '.join(fins)}), followed by a day (2026-03-01) if it is the fish's own record "
            "before the damage."
        )
    return Declared(
        kind="own_record" if day else "healthy_mates",
        fin="" if words[0] == "all" else words[0],
        fish=row.fish,
        photo=row.photo,
        visit=day,
    )
