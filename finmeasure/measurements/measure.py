"""From one reading and one scale to all its lengths and ratios, each with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.fins.measure import measure_fin
from finmeasure.fins.posture import is_bent
from finmeasure.fins.records import MEDIAN_FINS, FinEdge
from finmeasure.landmarks.scheme import body_form
from finmeasure.measurements.definitions import MEASURES, MeasureDefinition
from finmeasure.measurements.estimates import estimate
from finmeasure.measurements.orientation import side_of
from finmeasure.measurements.outlined import aspect_ratio, rod_width_to_sl
from finmeasure.measurements.records import Measures
from finmeasure.measurements.sources import Placed, placed_landmarks
from finmeasure.measurements.states import Circumstances, refused, rows_asked, why_not
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale

_OUTLINED = {"aspect_ratio": aspect_ratio, "rod_width": rod_width_to_sl}
_PLACE = {id_: place for place, id_ in enumerate(MEASURES)}


def measure_reading(
    reading: Reading,
    scale: Scale | None,
    *,
    gray: NDArray[np.uint8] | None = None,
    size_px: tuple[int, int] | None = None,
    question: str = "full",
    edges: bool = True,
) -> Measures:
    """Measure one fish.

    Parameters
    ----------
    reading : Reading
        Landmarks and outlines, pixels.
    scale : Scale, optional
        Without one, lengths in millimetres are refused and ratios are measured.
    gray : ndarray of shape (H, W), uint8, optional
        Photo, from which the blur of fin edges is estimated.
    size_px : tuple of int, optional
        Width and height of the photo; taken from `gray` where that is given.
    question : str
        ``size``, ``sex``, ``fin:NAME`` or ``full``: which rows are wanted.
    edges : bool
        False leaves the edge figures of traced fins out, for live numbers while a mark is dragged.

    Returns
    -------
    Measures
        Rows in table order. A row whose landmarks are absent or hidden is there with that state.

    Raises
    ------
    DefinitionError
        If the question or the reading's body form is not known.

    Examples
    --------
    A fish of 30 mm, its dorsal fin 6 mm high, at 10 px/mm; the ratio needs no scale:

    >>> import finmeasure as fm
    >>> places = {"snout_tip": (100, 200), "caudal_base": (400, 200),
    ...           "dorsal_origin": (240, 150), "dorsal_tip": (240, 90)}
    >>> marks = {name: fm.Landmark(name, *place) for name, place in places.items()}
    >>> fish = fm.measure_reading(fm.Reading("7", marks), None)
    >>> round(fish.by_id["dorsal_height_to_sl"].value, 3)
    0.2
    >>> fish.by_id["standard_length"].state
    'refused'
    """
    frame_px = _frame(gray, size_px)
    reading = _with_coordinates(reading)
    given = Circumstances(reading, body_form(reading.body_form), scale, frame_px)
    placed = placed_landmarks(reading, scale, frame_px)
    rows = _measured_rows(rows_asked(question, reading.body_form), given, placed)
    fins = _fin_edges(given, gray) if edges else {}
    rows += [measure for fin in fins.values() for measure in fin.measures]
    side, wrong = side_of(reading)
    notes = [f"{name} lies on the wrong side of the body's axis: check it." for name in wrong]
    return Measures(
        tuple(sorted(rows, key=lambda row: _PLACE[row.id])),
        side,
        MappingProxyType(fins),
        tuple(notes),
    )


def _with_coordinates(reading: Reading) -> Reading:
    """Count a landmark that is placed nowhere as hidden."""
    nowhere = {
        name: replace(mark, state="hidden")
        for name, mark in reading.landmarks.items()
        if mark.state == "placed" and not (math.isfinite(mark.x_px) and math.isfinite(mark.y_px))
    }
    return replace(reading, landmarks={**reading.landmarks, **nowhere}) if nowhere else reading


def _frame(
    gray: NDArray[np.uint8] | None, size_px: tuple[int, int] | None
) -> tuple[int, int] | None:
    if size_px is not None or gray is None:
        return size_px
    return gray.shape[1], gray.shape[0]


def _fin_edges(given: Circumstances, gray: NDArray[np.uint8] | None) -> dict[str, FinEdge]:
    """Edge figures of each traced median fin."""
    reading = given.reading
    return {
        fin: measure_fin(
            fin, reading.outlines[fin], reading, given.scale, gray=gray, size_px=given.frame_px
        )
        for fin in MEDIAN_FINS
        if fin in reading.outlines
    }


def _measured_rows(
    asked: Iterable[MeasureDefinition], given: Circumstances, placed: Placed
) -> list[Measure]:
    """Give all rows that a question asks for, with the state of each."""
    flags = _Flags(given, placed)
    rows, measurable = [], []
    for row in asked:
        if row.kind in _OUTLINED and row.fin not in given.reading.outlines:
            continue
        if (lacking := why_not(row, given)) is not None:
            rows.append(lacking)
        elif row.kind in _OUTLINED:
            rows.append(_from_outline(row, given, placed, flags))
        else:
            measurable.append(row)
    values, u = estimate(measurable, placed)
    found = [
        _measure(row, float(value), float(its_u), flags)
        for row, value, its_u in zip(measurable, values, u, strict=True)
    ]
    return rows + _with_doubt_shared(found)


def _from_outline(
    row: MeasureDefinition, given: Circumstances, placed: Placed, flags: _Flags
) -> Measure:
    result = _OUTLINED[row.kind](given.reading, given.scale, placed)
    if isinstance(result, NotFound) or result is None:
        return refused(row, "outline_invalid", str(result))
    return _measure(row, *result, flags)


def _measure(row: MeasureDefinition, value: float, u: float, flags: _Flags) -> Measure:
    """Turn one result into its row."""
    if not np.isfinite(value) or not np.isfinite(u):
        return refused(row, "implausible", "Two marks lie on the same place. Move one of them.")
    if row.id in _NO_FORK and value <= 0:
        reason = "The middle rays reach the line between the tips: there is no fork."
        return Measure(row.id, row.unit, "absent", reason=reason)
    return Measure(row.id, row.unit, "measured", value, u, flags.of(row, value))


_NO_FORK = ("caudal_fork_depth", "caudal_fork_depth_to_sl")
"""Absent where the middle rays reach the line between the tips or go beyond it."""


class _Flags:
    """Flags of measured rows, from what all rows of a reading share."""

    def __init__(self, given: Circumstances, placed: Placed) -> None:
        rectified = given.scale is not None and given.scale.rectified
        self._of_unit = {
            "mm": given.scale.flags if given.scale is not None else (),
            "1": () if rectified else ("not_rectified",),
        }
        self._defaults = placed.defaults
        self._bent = is_bent(given.reading)
        self._long_fin = given.form.long_fin

    def of(self, row: MeasureDefinition, value: float) -> tuple[str, ...]:
        """Collect the flags of one row."""
        flags = list(self._of_unit[row.unit])
        if not self._defaults.isdisjoint(row.landmarks):
            flags.append("u_default")
        if self._bent and {"snout_tip", "caudal_base"}.issubset(row.landmarks):
            flags.append("bent")
        if self._long_fin and row.fin:
            flags.append("long_fin_strain")
        elif row.plausible and not row.plausible[0] <= value <= row.plausible[1]:
            flags.append("implausible")
        return tuple(flags)


def _with_doubt_shared(rows: list[Measure]) -> list[Measure]:
    """Flag a length as implausible where its ratio to standard length is."""
    doubtful = {row.id.removesuffix("_to_sl") for row in rows if "implausible" in row.flags}
    return [
        replace(row, flags=(*row.flags, "implausible"))
        if row.id in doubtful and "implausible" not in row.flags
        else row
        for row in rows
    ]
