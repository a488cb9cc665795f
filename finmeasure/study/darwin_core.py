"""A study as a Darwin Core Archive, the open standard in which observations of life are shared.

One occurrence for each fish on each photo, and for each occurrence its measurements with unit,
method and accuracy. Sources: Darwin Core standard and its text guide, Biodiversity Information
Standards (TDWG), http://rs.tdwg.org/dwc/; keys are UUIDs (RFC 9562).
"""

from __future__ import annotations

import tempfile
import uuid
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from sqlalchemy import Connection, text

from finmeasure import __version__
from finmeasure.exchange.tables import write_table
from finmeasure.flags import FLAGS
from finmeasure.measurements.definitions import MEASURES
from finmeasure.study.change_rows import with_changes
from finmeasure.study.contract_tables import ContractTables

ARCHIVE = "darwin_core.zip"
TERMS = "http://rs.tdwg.org/dwc/terms/"
TEXT_GUIDE = "http://rs.tdwg.org/dwc/text/"
OCCURRENCE = (
    "occurrenceID", "basisOfRecord", "occurrenceStatus", "individualCount", "eventDate", "eventID",
    "organismID", "organismName", "sex", "degreeOfEstablishment", "verbatimIdentification",
    "associatedMedia", "samplingProtocol", "occurrenceRemarks",
)  # fmt: skip
MEASUREMENT = (
    "measurementID", "measurementType", "verbatimMeasurementType", "measurementValue",
    "measurementAccuracy", "measurementUnit", "measurementDeterminedBy",
    "measurementDeterminedDate", "measurementMethod", "measurementRemarks",
)  # fmt: skip
_PROTOCOL = "side-view photograph; points marked on it and measured in the plane of a reference"
_ACCURACY = "measurementAccuracy is the standard uncertainty (k = 1) in measurementUnit"
_UNITS = {"mm2": "mm²"}
Row = dict[str, str]

_SIGHTINGS = text("""
SELECT shown.photo, shown.fish AS number_or_name, shown.grp, shown.visit, shown.side,
  s.id AS sighting_id, f.id AS fish_id, f.name AS fish_name, g.kind, p.sha256, p.taken_at,
  reading.source, reading.confirmed, coalesce(scale.method, '') AS scale_method,
  (SELECT value FROM label WHERE character = 'sex' AND (sighting_id = s.id OR fish_id = f.id)
   ORDER BY set_at DESC LIMIT 1) AS sex
FROM shown
JOIN photo AS p ON p.name = shown.photo AND p.current = 1
JOIN reading ON reading.id = shown.reading_id
JOIN sighting AS s ON s.id = reading.sighting_id
LEFT JOIN fish AS f ON f.id = s.fish_id
LEFT JOIN grp AS g ON g.id = s.group_id
LEFT JOIN scale ON scale.photo_id = p.id
  AND scale.ordinal = (SELECT max(ordinal) FROM scale WHERE photo_id = p.id)
ORDER BY shown.rowid
""")


@dataclass(frozen=True, slots=True)
class Sighted:
    """What the measurements of one fish on one photo need to know of it."""

    key: uuid.UUID
    date: str
    scale_method: str
    is_confirmed: bool


def write_archive(connection: Connection, file: Path) -> None:
    """Write the archive: two tables and ``meta.xml``, which says what is in them.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction, so that the study is seen as it is at one moment.
    file : pathlib.Path
        A ZIP file.
    """
    tables = ContractTables(connection)
    sighted: dict[tuple[str, str], Sighted] = {}
    batches = with_changes(connection, "measurements", partial(tables.batches, "measurements"))
    with tempfile.TemporaryDirectory() as folder, zipfile.ZipFile(file, "w") as archive:
        parts = {
            "occurrence.csv": (OCCURRENCE, _occurrences(connection, sighted)),
            "measurement_or_fact.csv": (("occurrenceID", *MEASUREMENT), _rows(batches(), sighted)),
        }
        for name, (columns, rows) in parts.items():
            part = Path(folder, name)
            write_table(part, columns, ([row[column] for column in columns] for row in rows))
            archive.write(part, name, zipfile.ZIP_DEFLATED)
        archive.writestr("meta.xml", meta_xml(), zipfile.ZIP_DEFLATED)


def meta_xml() -> str:
    """Describe the two tables as the text guide of Darwin Core asks."""
    root = ElementTree.Element("archive", xmlns=TEXT_GUIDE)
    core = _described(root, "core", "Occurrence", "occurrence.csv")
    ElementTree.SubElement(core, "id", index="0")
    _fields(core, OCCURRENCE, 0)
    more = _described(root, "extension", "MeasurementOrFact", "measurement_or_fact.csv")
    ElementTree.SubElement(more, "coreid", index="0")
    _fields(more, MEASUREMENT, 1)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True)


def _described(
    root: ElementTree.Element, tag: str, row_type: str, name: str
) -> ElementTree.Element:
    """One table: how it is written, and its file."""
    element = ElementTree.SubElement(
        root, tag, encoding="UTF-8", fieldsTerminatedBy=",", linesTerminatedBy="\\r\\n",
        fieldsEnclosedBy='"', ignoreHeaderLines="1", rowType=TERMS + row_type,
    )  # fmt: skip
    files = ElementTree.SubElement(element, "files")
    ElementTree.SubElement(files, "location").text = name
    return element


def _fields(element: ElementTree.Element, names: Sequence[str], first: int) -> None:
    for index, name in enumerate(names, start=first):
        ElementTree.SubElement(element, "field", index=str(index), term=TERMS + name)


def _occurrences(connection: Connection, sighted: dict[tuple[str, str], Sighted]) -> Iterator[Row]:
    """One row for each fish on each photo; keep what its measurements need."""
    for row in connection.execute(_SIGHTINGS).mappings():
        key, date = _uuid(row["sighting_id"]), str(row["taken_at"] or row["visit"] or "")
        is_confirmed = bool(row["confirmed"]) or row["source"] != "program"
        sighted[row["photo"], row["number_or_name"]] = Sighted(
            key, date, row["scale_method"], is_confirmed
        )
        yield {
            "occurrenceID": key.urn,
            "basisOfRecord": "MachineObservation",
            "occurrenceStatus": "present",
            "individualCount": "1",
            "eventDate": date,
            "eventID": "/".join(part for part in (row["grp"], row["visit"]) if part),
            "organismID": _uuid(row["fish_id"]).urn if row["fish_id"] else "",
            "organismName": row["fish_name"] or "",
            "sex": row["sex"] or "",
            "degreeOfEstablishment": "captive",
            "verbatimIdentification": row["kind"] or "",
            "associatedMedia": f"{row['photo']} | sha256:{row['sha256']}",
            "samplingProtocol": f"{_PROTOCOL}; finmeasure {__version__}",
            "occurrenceRemarks": f"{row['side']} side" if row["side"] else "",
        }


def _rows(batches: Iterator[Any], sighted: Mapping[tuple[str, str], Sighted]) -> Iterator[Row]:
    """One row for each measure that has a value."""
    for batch in batches:
        for row in batch.to_pylist():
            if row["state"] == "measured" and row["value"] is not None:
                yield _measurement(row, sighted[row["photo"], row["fish"]])


def _measurement(row: Mapping[str, Any], seen: Sighted) -> Row:
    definition = MEASURES.get(row["measure"])
    flags = [FLAGS.get(flag, flag) for flag in row["flags"].split(";") if flag]
    unconfirmed = [] if seen.is_confirmed else ["marked by the program, not confirmed by a person"]
    formula = definition.formula if definition else row["measure"].replace("_", " ")
    return {
        "occurrenceID": seen.key.urn,
        "measurementID": uuid.uuid5(seen.key, row["measure"]).urn,
        "measurementType": definition.shown if definition else row["measure"].replace("_", " "),
        "verbatimMeasurementType": row["measure"],
        "measurementValue": repr(row["value"]),
        "measurementAccuracy": "" if row["u"] is None else repr(row["u"]),
        "measurementUnit": _UNITS.get(row["unit"], row["unit"]),
        "measurementDeterminedBy": row["placed_by"],
        "measurementDeterminedDate": seen.date,
        "measurementMethod": f"{formula}; scale: {seen.scale_method.replace('_', ' ') or 'none'}",
        "measurementRemarks": "; ".join([_ACCURACY, *unconfirmed, *flags]),
    }


def _uuid(stored: Any) -> uuid.UUID:
    """Give a key as SQLite keeps it, 32 hexadecimal digits, as a UUID."""
    return stored if isinstance(stored, uuid.UUID) else uuid.UUID(str(stored))
