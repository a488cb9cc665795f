"""``datapackage.json``: what stands in each column of the exported tables, for programs to read.

Follows the open Data Package standard, version 2 (Frictionless Data, https://datapackage.org).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import pyarrow as pa

from finmeasure import __version__
from finmeasure.measurements.definitions import MEASURES

FILE = "datapackage.json"
PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
_TITLES = {
    "photos": "Photos and their scales",
    "landmarks": "Landmarks, pixels",
    "outlines": "Outlines, pixels",
    "measurements": "One row for each measure",
    "fish": "One row for each fish and photo",
}
_KEYS = {
    "photos": ["photo"],
    "landmarks": ["photo", "fish", "landmark"],
    "outlines": ["photo", "fish", "part"],
    "measurements": ["photo", "fish", "measure"],
    "fish": ["photo", "fish"],
}
_COLUMNS = {
    "photo": "path of the photo within the study",
    "sha256": "checksum of the photo's bytes (FIPS 180-4), hexadecimal",
    "taken_at": "the camera's local time, ISO 8601 without a zone",
    "width_px": "upright width, pixels",
    "height_px": "upright height, pixels",
    "scale_method": "what the scale was found from; empty: none",
    "px_per_mm": "scale in the middle of the reference, pixels per millimetre",
    "px_per_mm_u": "standard uncertainty (k = 1) of px_per_mm",
    "fish_found": "number of fish",
    "reason": "why something was refused",
    "scale_reason": "why there is no scale",
    "seconds": "computing time",
    "advice": "what to do better on the next photo",
    "fish": "name of the fish, or its number within the photo",
    "landmark": "name of the anatomical point",
    "x_px": "to the right, pixels; 0 is the centre of the upper left pixel",
    "y_px": "down, pixels; 0 is the centre of the upper left pixel",
    "u_px": "standard uncertainty (k = 1) per axis, or along the body, pixels",
    "u_across_px": "standard uncertainty (k = 1) across the body, pixels",
    "state": "photo: how far it is; landmark: placed, absent, hidden; measure: measured, absent, "
    "hidden, refused",
    "placed_by": "who placed the marks: a person, or finmeasure",
    "confidence": "probability that a landmark lies within 3 % of standard length of its place",
    "part": "part of the fish",
    "wkt": "well-known text (OGC Simple Features), pixels",
    "spread": "spread, part_folded or clamped",
    "edge": "a person's mark of the edge",
    "measure": "id of the measure",
    "value": "in the unit of the row",
    "unit": "mm, mm2, % or 1",
    "u": "standard uncertainty (k = 1) in the unit of the row",
    "flags": "ids of flags, separated by semicolons",
    "group": "tank, bag, batch or shipment",
    "visit": "date of the visit",
    "side": "left or right",
    "camera": "maker and model",
}


def data_package(schemas: Mapping[str, pa.Schema]) -> str:
    """Describe the tables of an export.

    Parameters
    ----------
    schemas : mapping of str to pyarrow.Schema
        Columns of each table, by its name.

    Returns
    -------
    str
        JSON, the same for the same columns.
    """
    package = {
        "$schema": PROFILE,
        "name": "finmeasure-study",
        "title": f"Tables of a study, written by finmeasure {__version__}",
        "resources": [_resource(name, schema) for name, schema in schemas.items()],
    }
    return json.dumps(package, ensure_ascii=False, indent=1) + "\n"


def _resource(table: str, schema: pa.Schema) -> dict[str, Any]:
    described: dict[str, Any] = {
        "fields": [
            _field(name, kind) for name, kind in zip(schema.names, schema.types, strict=True)
        ],
        "missingValues": [""],
        "primaryKey": _KEYS[table],
    }
    if table != "photos":
        reference = {"resource": "photos", "fields": ["photo"]}
        described["foreignKeys"] = [{"fields": ["photo"], "reference": reference}]
    return {
        "name": table,
        "type": "table",
        "title": _TITLES[table],
        "path": f"{table}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": described,
    }


def _field(name: str, kind: pa.DataType) -> dict[str, str]:
    written = {pa.int64(): "integer", pa.float64(): "number"}.get(kind, "string")
    measure = MEASURES.get(name)
    about = f"{measure.shown}, {measure.unit}" if measure else _COLUMNS.get(name, "")
    return {"name": name, "type": written} | ({"description": about} if about else {})
