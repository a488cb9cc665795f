"""From photos to visits: the mean of each fish's photos of one day, fin by fin."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from finmeasure.timeseries.change import VisitValue, posture_spread, visit_value
from finmeasure.timeseries.records import PAIRED_FINS, FinRecord, Method


@dataclass(frozen=True, slots=True, eq=False)
class FinVisit:
    """One fin of one fish on one day.

    Parameters
    ----------
    value : VisitValue
        Mean over the photos.
    sectors : tuple of float
        Mean length / SL of five bands; empty for straight lengths.
    notch_area, notch_depth : float
        Mean over the photos, %; NaN where no photo gave them.
    straight : VisitValue, optional
        Straight length / SL beside a length along the rays.
    records : tuple of FinRecord
        The photos.
    """

    day: date
    value: VisitValue
    sectors: tuple[float, ...]
    notch_area: float
    notch_depth: float
    records: tuple[FinRecord, ...]
    straight: VisitValue | None = None


@dataclass(frozen=True, slots=True, eq=False)
class FinSeries:
    """One fin of one fish over time; `side` is set for paired fins only."""

    fish: str
    named: bool
    group: str
    fin: str
    side: str
    method: Method
    visits: tuple[FinVisit, ...]


def fin_series(records: Iterable[FinRecord]) -> tuple[FinSeries, ...]:
    """Put measured records into series, in order of date.

    A fish without a name makes one series per photo. Paired fins make one series per side. Where
    a fin was traced on some photos, straight lengths of others are left out: they are not the
    same quantity.

    Parameters
    ----------
    records : iterable of FinRecord
        In any order; those without a day or a length are left out.

    Returns
    -------
    tuple of FinSeries
        By fish and fin.
    """
    usable = [record for record in records if record.measured and record.visit is not None]
    found: dict[tuple[str, ...], list[FinRecord]] = {}
    for record in usable:
        found.setdefault(_key(record), []).append(record)
    parts = [from_the_base(part) for _, part in sorted(found.items())]
    posture = posture_by_fin([record for part in parts for record in part])
    return tuple(_series(part, posture) for part in parts)


def from_the_base(records: Sequence[FinRecord]) -> list[FinRecord]:
    """Let the rays of one fin begin where its base is, the mean over all its photos.

    A tail's base bulges to the rear: lengths from the straight line between its ends would show
    a fifteenth too little of every change. One click of the base's middle is too uncertain to
    be taken away from its own photo alone; the mean of all is the same for every visit.

    Parameters
    ----------
    records : sequence of FinRecord
        One fin of one fish.
    """
    known = [record.base for record in records if record.method == "rays" and record.base]
    if not known:
        return list(records)
    base = np.mean(known, axis=0)
    return [_moved(record, base) if record.method == "rays" else record for record in records]


def _moved(record: FinRecord, base: NDArray[np.float64]) -> FinRecord:
    """Take where the rays begin away from a record's lengths; what is uncertain stays."""
    ratio = record.ratio - float(base.mean())
    sectors = np.asarray(record.sectors) - base if record.sectors else ()
    return replace(
        record,
        ratio=ratio,
        sectors=tuple(float(value) for value in sectors),
        base=(),
    )


def posture_by_fin(records: Iterable[FinRecord]) -> dict[str, float]:
    """Relative spread between photos of one fish, fin and day, by fin."""
    days: dict[tuple[object, ...], list[FinRecord]] = {}
    for record in records:
        if record.named and record.measured:
            days.setdefault((*_key(record), record.visit, record.method), []).append(record)
    fins: dict[str, list[tuple[list[float], list[float]]]] = {}
    for part in days.values():
        pair = [one.ratio for one in part], [one.u for one in part]
        fins.setdefault(part[0].fin, []).append(pair)
    return {fin: posture_spread(pairs) for fin, pairs in fins.items()}


def _key(record: FinRecord) -> tuple[str, ...]:
    """Tell which series a record belongs to."""
    side = record.side if record.fin in PAIRED_FINS else ""
    owner = ("", record.who) if record.named else (record.photo, record.fish)
    return (*owner, record.fin, side)


def _series(records: list[FinRecord], posture: dict[str, float]) -> FinSeries:
    rays = [record for record in records if record.method == "rays"]
    kept = rays or records
    first = kept[0]
    spread = posture.get(first.fin, posture_spread([]))
    days = sorted({record.visit for record in kept if record.visit is not None})
    visits = tuple(
        _visit([r for r in kept if r.visit == day], day, (day - days[0]).days, spread)
        for day in days
    )
    side = first.side if first.fin in PAIRED_FINS else ""
    last = visits[-1].records[-1]
    return FinSeries(first.who, first.named, last.group, first.fin, side, first.method, visits)


def _visit(records: list[FinRecord], day: date, number: int, posture: float) -> FinVisit:
    value = visit_value(
        number,
        [record.ratio for record in records],
        [record.u for record in records],
        sl_mm=[record.sl_mm for record in records],
        posture_rel=posture,
    )
    return FinVisit(
        day,
        value,
        tuple(np.mean([record.sectors for record in records], axis=0).tolist()),
        _mean([record.notch_area for record in records]),
        _mean([record.notch_depth for record in records]),
        tuple(records),
        _straight(records, number, posture),
    )


def _straight(records: list[FinRecord], number: int, posture: float) -> VisitValue | None:
    """Mean straight length of the photos that give one."""
    given = [record for record in records if math.isfinite(record.straight)]
    if not given:
        return None
    return visit_value(
        number,
        [record.straight for record in given],
        [record.straight_u for record in given],
        sl_mm=[record.sl_mm for record in given],
        posture_rel=posture,
    )


def _mean(values: Sequence[float]) -> float:
    """Mean of the finite values; NaN where there are none."""
    finite = [value for value in values if math.isfinite(value)]
    return float(np.mean(finite)) if finite else math.nan
