"""Lengths along the rays of traced fins, for comparison over time; each fin is measured once."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from finmeasure.errors import DefinitionError
from finmeasure.fins.measure import measure_fin
from finmeasure.fins.records import FinEdge
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale
from finmeasure.scale.storage import scale_to_json
from finmeasure.timeseries.records import FinRecord, Method

#: Fins whose figures are kept for the next table or report of the same run, about 2 KB each.
MOST_KEPT = 5000
_kept: dict[tuple[object, ...], FinEdge] = {}


def edge_figures(
    reading: Reading,
    fin: str,
    scale: Scale | None,
    size_px: tuple[int, int] | None,
    *,
    stick_mm: float | None,
) -> FinEdge:
    """Measure a traced fin's edge, once for the same marks, scale and measuring stick.

    Parameters
    ----------
    reading : Reading
        Marks with the fin's outline.
    fin : str
        Median fin.
    scale : Scale, optional
        Of the photo.
    size_px : tuple of int, optional
        Of the photo.
    stick_mm : float, optional
        Length that limits of notches are shares of; the fin's own where it is not known, or
        where less than a quarter of the fin is left.

    Returns
    -------
    FinEdge
        Without what only pictures need.
    """
    key = _key(reading, fin, scale, size_px, stick_mm)
    if key not in _kept:
        if len(_kept) >= MOST_KEPT:
            _kept.pop(next(iter(_kept)), None)
        edge = _measured(reading, fin, scale, size_px, stick_mm)
        _kept[key] = FinEdge(edge.fin, edge.measures, edge.profile, edge.length_px)
    return _kept[key]


def _key(
    reading: Reading,
    fin: str,
    scale: Scale | None,
    size_px: tuple[int, int] | None,
    stick_mm: float | None,
) -> tuple[object, ...]:
    """Tell all that the figures depend on; equal keys give equal figures."""
    outline, body = reading.outlines[fin], reading.outlines.get("body")
    return (
        fin,
        outline.points_px.tobytes(), outline.closed, outline.spread,
        None if body is None else body.points_px.tobytes(),
        tuple(
            (name, mark.state, mark.x_px, mark.y_px, mark.u_px, mark.u_across_px)
            for name, mark in sorted(reading.landmarks.items())
        ),
        reading.body_form, size_px, stick_mm,
        None if scale is None else json.dumps(scale_to_json(scale), sort_keys=True),
    )  # fmt: skip


def _measured(
    reading: Reading,
    fin: str,
    scale: Scale | None,
    size_px: tuple[int, int] | None,
    stick_mm: float | None,
) -> FinEdge:
    outline = reading.outlines[fin]
    if stick_mm is not None:
        try:
            return measure_fin(
                fin, outline, reading, scale, size_px=size_px, reference_length_mm=stick_mm
            )
        except DefinitionError:  # less than a quarter of the fin is left: its own length counts
            pass
    return measure_fin(fin, outline, reading, scale, size_px=size_px)


def as_number(value: float | None) -> float:
    """Give NaN for nothing."""
    return math.nan if value is None else float(value)


def with_edge(record: FinRecord, edge: FinEdge, measures: Mapping[str, Measure]) -> FinRecord:
    """Put the lengths along the rays in the place of the straight length.

    The doubt about the rays' directions is left out: it is the same at every visit of a fish and
    cancels in a comparison (coverage counted on drawn photos, docs/method/regrowth.md).
    """
    by_id = edge.by_id
    method: Method = "rays"
    kept = measures.get(f"{record.fin}_relative_length")
    flags = tuple(sorted({*(kept.flags if kept else ()), *(edge.profile or _NO_FLAGS).flags}))
    relative = by_id[f"{record.fin}_relative_length"]
    record = replace(
        record,
        method=method,
        flags=flags or relative.flags,
        relative_length=as_number(relative.value),
        notch_area=as_number(by_id[f"{record.fin}_notch_area"].value),
        notch_depth=as_number(by_id[f"{record.fin}_notch_depth"].value),
    )
    reason = relative.reason
    if "edge_not_visible" in flags:
        reason = f"The {record.fin.replace('_', ' ')} fin's edge cannot be seen."
    if edge.profile is None or "edge_not_visible" in flags:
        why = reason or "The rays do not meet the traced edge."
        return replace(record, ratio=math.nan, u=math.nan, reason=why)
    profile = edge.profile
    u_length = profile.u_standard_length / profile.standard_length
    u_rel = math.hypot(profile.u_marks_rel, u_length)
    return replace(
        record,
        straight=record.ratio,
        straight_u=record.u,
        ratio=profile.mean_to_sl,
        u=u_rel * profile.mean_to_sl,
        sectors=profile.sectors_to_sl,
        base=profile.base_to_sl,
        reason="",
    )


@dataclass(frozen=True, slots=True)
class _NoProfile:
    flags: tuple[str, ...] = ()


_NO_FLAGS = _NoProfile()
