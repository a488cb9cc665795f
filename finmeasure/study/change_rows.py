"""`<fin>_change` and `<fin>_erosion` as rows and columns of the tables, computed at export."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pyarrow as pa
from sqlalchemy import Connection

from finmeasure.flags import joined
from finmeasure.quantity import Measure
from finmeasure.study.series_queries import followed_fish

if TYPE_CHECKING:  # seconds to load, and needed only where fish are followed
    from finmeasure.timeseries.change import Change
    from finmeasure.timeseries.judge import JudgedSeries, JudgedVisit

Batches = Iterator[pa.RecordBatch]
Rows = dict[tuple[str, str], list[Measure]]
_REFUSED_FIRST = "This is the fish's first visit."


def with_changes(
    connection: Connection, table: str, batches: Callable[[], Batches]
) -> Callable[[], Batches]:
    """Add what the series of followed fish give to a table that is written out.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In the transaction that the tables are read in.
    table : str
        ``measurements`` gets rows at its end, ``fish`` gets columns; others are as they were.
    batches : callable
        Gives the table.
    """
    if table not in ("measurements", "fish") or not followed_fish(connection):
        return batches
    rows = change_rows(connection)
    if not rows:
        return batches
    add = _with_rows if table == "measurements" else _with_columns
    return lambda: add(batches(), rows)


def change_rows(connection: Connection) -> Rows:
    """Compute change and erosion of every fin of every followed fish, by photo and fish."""
    from finmeasure.study.over_time import change_over_time  # heavy: only where fish are followed

    found: Rows = {}
    for one in change_over_time(connection, followed_only=True).judged:
        for visit in one.visits:
            measures = _measures(one, visit)
            for record in visit.visit.records:
                found.setdefault((record.photo, record.fish), []).extend(measures)
    return found


def _measures(one: JudgedSeries, visit: JudgedVisit) -> list[Measure]:
    fin = one.series.fin
    flags = tuple(sorted({flag for record in visit.visit.records for flag in record.flags}))
    few = ("few_fish",) if one.reference is not None and one.reference.few else ()
    own = one.reference is not None and one.reference.own
    free = "free_tips" in flags and not own
    reason = "no whole reference"
    why = ("no_whole_reference",)
    if one.reference is not None and free:
        reason = "Free ray tips: only the fish's own record can be compared."
        why = ("free_tips",)
    return [
        *_family(f"{fin}_change", visit.change, visit.sector_change, flags, _REFUSED_FIRST, ()),
        *_family(
            f"{fin}_erosion",
            None if free else visit.erosion,
            () if free else visit.sector_erosion,
            (*flags, *few),
            reason,
            why,
        ),
    ]


def _family(
    name: str,
    whole: Change | None,
    sectors: tuple[Change, ...],
    flags: tuple[str, ...],
    reason: str,
    why: tuple[str, ...],
) -> list[Measure]:
    """Give a figure and its sectors."""
    if whole is None:
        return [Measure(name, "%", "refused", flags=why, reason=reason)]
    figures = [(name, whole), *((f"{name}_{i}", each) for i, each in enumerate(sectors, start=1))]
    return [Measure(each, "%", "measured", found.percent, found.u, flags)
            for each, found in figures]  # fmt: skip


def _with_rows(batches: Batches, rows: Rows) -> Batches:
    """Put the rows behind the table's own."""
    schema: pa.Schema | None = None
    people: dict[tuple[str, str], str] = {}
    for batch in batches:
        schema = batch.schema
        names = zip(*(batch[name].to_pylist() for name in ("photo", "fish", "placed_by")),
                    strict=True)  # fmt: skip
        people.update({(photo, fish): who for photo, fish, who in names})
        yield batch
    if schema is None:
        return
    cells = [
        _cells(photo, fish, measure, people.get((photo, fish), ""))
        for (photo, fish), measures in sorted(rows.items())
        for measure in measures
    ]
    yield pa.RecordBatch.from_pylist(cells, schema=schema)


def _cells(photo: str, fish: str, measure: Measure, placed_by: str) -> dict[str, Any]:
    return {
        "photo": photo,
        "fish": fish,
        "measure": measure.id,
        "value": measure.value,
        "unit": measure.unit,
        "u": measure.u,
        "state": measure.state,
        "placed_by": placed_by,
        "confidence": None,
        "flags": joined(measure.flags),
        "reason": measure.reason,
    }


def _with_columns(batches: Batches, rows: Rows) -> Batches:
    """Put one column per figure behind the table's own; sectors are in measurements."""
    names = dict.fromkeys(
        measure.id
        for measures in rows.values()
        for measure in measures
        if measure.id.endswith(("_change", "_erosion"))
    )
    values = {key: {one.id: one.value for one in measures} for key, measures in rows.items()}
    for batch in batches:
        keys = list(zip(batch["photo"].to_pylist(), batch["fish"].to_pylist(), strict=True))
        for name in names:
            column = [values.get(key, {}).get(name) for key in keys]
            batch = batch.append_column(name, pa.array(column, pa.float64()))
        yield batch
