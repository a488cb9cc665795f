"""Whole references: what a fin is compared with when one asks how much of it is missing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from finmeasure.timeseries.allometry import Allometry, fitted_allometry
from finmeasure.timeseries.change import VisitValue
from finmeasure.timeseries.records import Declared
from finmeasure.timeseries.visits import FinSeries, FinVisit

#: Spread of whole fins between mates where too few were measured to see it (assumed, common
#: practice, no source).
ASSUMED_MATES_REL = 0.06
FEW_MATES = 5
NO_REFERENCE = (
    "Cannot tell how much is missing: no whole fin is on record to compare with. Declare the "
    "fish's own record before the damage, or healthy mates (labels.csv, whole_reference)."
)


@dataclass(frozen=True, slots=True, eq=False)
class WholeReference:
    """A whole fin to compare with.

    Parameters
    ----------
    value : VisitValue
        Length / SL with its standard uncertainty; for mates and species rows the spread between
        fish is in it.
    sectors : tuple of float
        Empty where not known.
    words : str
        What it is, for tables.
    own : bool
        The fish's own record.
    few : bool
        Fewer than five mates.
    straight : bool
        Holds for the straight length, also of a fin that was traced.
    row : Declared, optional
        The species row that it is.
    """

    value: VisitValue
    sectors: tuple[float, ...]
    words: str
    own: bool = False
    few: bool = False
    straight: bool = False
    row: Declared | None = None


def whole_reference(
    series: FinSeries,
    every: Sequence[FinSeries],
    declared: Sequence[Declared],
    kinds: Mapping[str, str],
) -> WholeReference | None:
    """Find the best whole reference that was declared for one fin of one fish.

    The fish's own record comes first, then healthy mates of its group, then mates of other groups
    of the same kind of fish, then a species row.

    Parameters
    ----------
    series : FinSeries
        The fin.
    every : sequence of FinSeries
        All fins of the study.
    declared : sequence of Declared
        What a person declared.
    kinds : mapping of str to str
        Kind of fish by group.

    Returns
    -------
    WholeReference or None
        None where nothing fits: then nobody can tell what is missing.
    """
    fitting = [one for one in declared if one.fin in ("", series.fin)]
    return (
        _own_record(series, fitting)
        or _mates(series, every, fitting, same_group=True, kinds=kinds)
        or _mates(series, every, fitting, same_group=False, kinds=kinds)
        or _species_row(series, fitting, kinds.get(series.group, ""))
    )


def whole_visits(series: FinSeries, declared: Sequence[Declared]) -> tuple[FinVisit, ...]:
    """Give the visits of a series that were declared whole."""
    return tuple(
        visit
        for visit in series.visits
        if any(_names(one, series, visit) for one in declared if one.fin in ("", series.fin))
    )


def study_allometry(
    every: Sequence[FinSeries], declared: Sequence[Declared]
) -> dict[str, Allometry]:
    """Fit the growth exponent of each fin on the whole fish of the study."""
    lengths: dict[str, list[tuple[float, float]]] = {}
    for series in every:
        mine = lengths.setdefault(series.fin, [])
        for visit in whole_visits(series, declared):
            sl_mm = visit.value.sl_mm
            if math.isfinite(sl_mm) and series.method == "rays":
                mine.append((sl_mm, sl_mm * visit.value.ratio))
    return {
        fin: fitted_allometry(*np.array(rows).reshape(-1, 2).T) for fin, rows in lengths.items()
    }


def _names(one: Declared, series: FinSeries, visit: FinVisit) -> bool:
    """Whether a declaration is about this visit of this fish."""
    if one.kind == "species_row":
        return False
    if one.photo:
        return (one.photo, one.fish) in {(each.photo, each.fish) for each in visit.records}
    return series.named and one.fish == series.fish and one.visit in (None, visit.day)


def _own_record(series: FinSeries, declared: Sequence[Declared]) -> WholeReference | None:
    own = [one for one in declared if one.kind == "own_record"]
    visits = whole_visits(series, own)
    if not visits:
        return None
    days = ", ".join(visit.day.isoformat() for visit in visits)
    return WholeReference(
        _joined(visits, spread=0.0), _sectors(visits), f"own record of {days}", own=True
    )


def _mates(
    series: FinSeries,
    every: Sequence[FinSeries],
    declared: Sequence[Declared],
    *,
    same_group: bool,
    kinds: Mapping[str, str],
) -> WholeReference | None:
    mates = [one for one in declared if one.kind == "healthy_mates"]
    means: list[FinVisit] = []
    for other in every:
        if other is series or (other.fin, other.side, other.method) != (
            series.fin, series.side, series.method
        ):  # fmt: skip
            continue
        if _is_mate(series, other, kinds, same_group=same_group):
            # One fish counts once, however often it was photographed
            means += whole_visits(other, mates)[:1]
    if not means:
        return None
    where = f"group {series.group}" if same_group else "other groups of the same kind"
    words = f"{len(means)} whole {'mate' if len(means) == 1 else 'mates'} of {where}"
    spread = _spread([visit.value.ratio for visit in means])
    return WholeReference(
        _joined(means, spread=spread), _sectors(means), words, few=len(means) < FEW_MATES
    )


def _is_mate(
    series: FinSeries, other: FinSeries, kinds: Mapping[str, str], *, same_group: bool
) -> bool:
    if same_group:
        return other.group == series.group
    kind = kinds.get(series.group, "")
    return bool(kind) and other.group != series.group and kinds.get(other.group) == kind


def _spread(ratios: Sequence[float]) -> float:
    """Give the standard uncertainty of one whole fish against the mean of its mates."""
    count, mean = len(ratios), float(np.mean(ratios))
    if count < 3:
        return ASSUMED_MATES_REL * mean * math.sqrt(1.0 + 1.0 / count)
    widening = float(stats.t.ppf(0.975, count - 1)) / 1.96
    return float(np.std(ratios, ddof=1)) * math.sqrt(1.0 + 1.0 / count) * widening


def _joined(visits: Sequence[FinVisit], *, spread: float) -> VisitValue:
    """Mean of several whole visits."""
    values = [visit.value for visit in visits]
    marks = math.sqrt(sum(value.u**2 for value in values)) / len(values)
    return VisitValue(
        values[0].day,
        float(np.mean([value.ratio for value in values])),
        max(spread, marks),
        float(np.mean([value.sl_mm for value in values])),
        sum(value.photos for value in values),
    )


def _sectors(visits: Sequence[FinVisit]) -> tuple[float, ...]:
    sectors = [visit.sectors for visit in visits if visit.sectors]
    return tuple(np.mean(sectors, axis=0).tolist()) if sectors else ()


def _species_row(
    series: FinSeries, declared: Sequence[Declared], kind: str
) -> WholeReference | None:
    """Take the row that is made for the fish: its group's before its kind's, then the newest."""
    rows = [
        (bool(one.group), bool(one.of_kind), one.method == series.method, place, one)
        for place, one in enumerate(declared)
        if one.kind == "species_row"
        and one.ratio > 0
        and one.group in ("", series.group)
        and one.of_kind in ("", kind)
        and (one.method == series.method or _has_straight(series, one))
    ]
    if not rows:
        return None
    best = max(rows)[-1]
    u = best.u if math.isfinite(best.u) else ASSUMED_MATES_REL * best.ratio
    value = VisitValue(0.0, best.ratio, u, best.sl_mm, 0)
    straight = best.method == "straight" and series.method == "rays"
    how = ", straight length" if straight else ""
    words = f"species row {best.name}{how}"
    return WholeReference(value, (), words, straight=straight, row=best)


def _has_straight(series: FinSeries, one: Declared) -> bool:
    """Whether a traced fin's straight lengths can be held against a row from a book."""
    return one.method == "straight" and any(visit.straight for visit in series.visits)
