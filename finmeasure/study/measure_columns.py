"""Measures of one reading as lists, one per column: the form in which they are kept."""

from __future__ import annotations

from typing import Any

from finmeasure.flags import joined
from finmeasure.quantity import Measure
from finmeasure.study.reading_rows import number_or_null

Columns = dict[str, list[Any]]
NAMES = ("measure", "unit", "state", "value", "u", "flags", "reason")  # as in Measure


def measures_to_columns(measures: tuple[Measure, ...]) -> Columns:
    """Turn measures into lists of equal length; NaN becomes None."""
    return {
        "measure": [measure.id for measure in measures],
        "value": [number_or_null(measure.value) for measure in measures],
        "unit": [measure.unit for measure in measures],
        "u": [number_or_null(measure.u) for measure in measures],
        "state": [measure.state for measure in measures],
        "flags": [joined(measure.flags) for measure in measures],
        "reason": [measure.reason for measure in measures],
    }


def columns_to_measures(columns: Columns) -> tuple[Measure, ...]:
    """Turn the lists back into measures."""
    rows = zip(*(columns[name] for name in NAMES), strict=True)
    return tuple(
        Measure(name, unit, state, value, u, tuple(flags.split(";")) if flags else (), reason)
        for name, unit, state, value, u, flags, reason in rows
    )
