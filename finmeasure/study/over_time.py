"""The whole analysis of change over time of one study."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from finmeasure.study import keeper_rows
from finmeasure.study.repeat_queries import own_placement_of
from finmeasure.study.series_queries import (
    declared_references,
    fin_records,
    followed_fish,
    happenings,
)
from finmeasure.timeseries.judge import JudgedSeries, judge
from finmeasure.timeseries.records import Declared, FinRecord, Happening
from finmeasure.timeseries.remarks import remarks, split_by_date
from finmeasure.timeseries.shoals import GroupStep, TankArms, group_steps, tank_arms
from finmeasure.timeseries.visits import FinSeries, fin_series, posture_by_fin


@dataclass(frozen=True, slots=True, eq=False)
class ChangeOverTime:
    """Everything that is known of change over time in a study.

    Parameters
    ----------
    records : tuple of FinRecord
        Every fin on every photo that counts.
    series : tuple of FinSeries
        Measured visits of every fin.
    judged : tuple of JudgedSeries
        Named fish: change, erosion, verdicts, curve.
    groups : tuple of GroupStep
        Groups from visit to visit.
    arms : tuple of TankArms
        Treated against other tanks, by fin.
    remarks : tuple of str
        What a reader must know: fish that vanished, visits left out, changed cameras …
    posture : dict of str to float
        Relative spread between photos of one visit, by fin.
    """

    records: tuple[FinRecord, ...]
    series: tuple[FinSeries, ...]
    judged: tuple[JudgedSeries, ...]
    groups: tuple[GroupStep, ...]
    arms: tuple[TankArms, ...]
    remarks: tuple[str, ...]
    happenings: tuple[Happening, ...]
    declared: tuple[Declared, ...]
    posture: dict[str, float]


def change_over_time(
    connection: Connection, *, today: date | None = None, followed_only: bool = False
) -> ChangeOverTime:
    """Analyse all fish of a study.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction.
    today : datetime.date, optional
        Visits after it are left out and said.
    followed_only : bool
        Only named fish that were photographed on more than one day.
    """
    wanted = followed_fish(connection) if followed_only else None
    declared, problems = declared_references(connection)
    if wanted is not None and wanted:
        wanted |= {one.fish for one in declared}
    every = (
        fin_records(connection, wanted, own_placement_of(connection))
        if wanted is None or wanted
        else ()
    )
    usable, left_out = split_by_date(every, today or date.today())
    series = fin_series(usable)
    kinds = {row.group: row.kind for row in keeper_rows.groups(connection)}
    known = happenings(connection)
    judged = judge(series, declared, kinds)
    return ChangeOverTime(
        records=every,
        series=series,
        judged=judged,
        groups=group_steps(series),
        arms=tank_arms(judged, known),
        remarks=(*problems, *left_out, *remarks(usable, judged, declared, known)),
        happenings=known,
        declared=declared,
        posture=posture_by_fin(_compared(series)),
    )


def _compared(series: Iterable[FinSeries]) -> Iterator[FinRecord]:
    """Give the records that went into series, their lengths from where the rays begin."""
    for fin in series:
        for visit in fin.visits:
            yield from visit.records
