"""finmeasure: measure fish fins on side-view photographs, every number with its uncertainty.

The front door for own scripts; what it names is loaded when it is first used, so that
``import finmeasure`` costs nothing. Paths in the examples are those of a copy of the project.

Examples
--------
Read a photo, find its scale, take somebody's marks, measure:

>>> import finmeasure as fm
>>> photo = fm.read_photo("sample_images/bag_7/2026-05-02_b01.jpg")
>>> scale = fm.find_scale(photo)
>>> marks = fm.read_landmarks("sample_images/landmarks.csv")
>>> reading = marks.readings("bag_7/2026-05-02_b01.jpg")[0]
>>> fish = fm.measure_reading(reading, scale, gray=photo.gray())
>>> length = fish.by_id["standard_length"]
>>> print(length.value > 0, length.unit)
True mm

The sample photos are drawn, so the true length is known (``sample_images/truth.csv``):

>>> abs(length.value - 29.4757) < 3 * length.u
True
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

# The stub beside this file tells the same names to type checkers; a test compares the two.
_FOUND_IN = {
    "BodyForm": "landmarks.records",
    "FinEdge": "fins.records",
    "FinmeasureError": "errors",
    "Landmark": "reading",
    "MEASURES": "measurements.definitions",
    "Measure": "quantity",
    "MeasureDefinition": "measurements.definitions",
    "Measures": "measurements.records",
    "NotFound": "errors",
    "Outline": "reading",
    "Photo": "photo.record",
    "Proposal": "proposals.propose",
    "Reading": "reading",
    "Scale": "scale.calibration",
    "ScaleRequest": "scale.request",
    "Study": "study.store",
    "body_forms": "landmarks.scheme",
    "find_scale": "scale.find",
    "measure_reading": "measurements.measure",
    "propose": "proposals.propose",
    "read_landmarks": "exchange.landmarks",
    "read_outlines": "exchange.outlines",
    "read_photo": "photo.reading",
}
__all__ = ["__version__", *_FOUND_IN]


def __getattr__(name: str) -> Any:
    """Load what is asked for, once (PEP 562)."""
    if name not in _FOUND_IN:
        message = f"module 'finmeasure' has no attribute {name!r}; dir(finmeasure) lists them"
        raise AttributeError(message)
    found = getattr(import_module(f"finmeasure.{_FOUND_IN[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """List the names that can be used."""
    return sorted([*__all__, *globals()])
