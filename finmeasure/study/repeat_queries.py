"""Repeated readings and repeated photos of a study as one long table of values."""

from __future__ import annotations

import pandas as pd
from sqlalchemy import Connection

from finmeasure.landmarks.placement import Placement
from finmeasure.reading import Reading
from finmeasure.study import reading_queries
from finmeasure.study.naming import is_number
from finmeasure.study.records import StoredReading
from finmeasure.study.series_queries import measures_of, photo_facts
from finmeasure.timeseries.placement import own_placement

_COLUMNS = (
    "photo", "fish", "group", "visit", "placed_by", "ordinal", "current", "measure", "unit",
    "value", "u",
)  # fmt: skip


def repeat_frame(connection: Connection) -> pd.DataFrame:
    """Give the measured values of all confirmed readings that have a twin.

    A twin is another reading of the same fish on the same photo, or the current reading of the
    same named fish on another photo of the same day.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction.

    Returns
    -------
    DataFrame
        One row per reading and measure; `current` marks the readings that count.
    """
    again = reading_queries.load(connection, repeated_only=True)
    current = [one for one in reading_queries.load(connection, current_only=True) if one.confirmed]
    counts = {one.id for one in current}
    days = pd.Series([_day_of(one) for one in current], dtype=object).value_counts()
    twins = [one for one in current if _day_of(one) and days[_day_of(one)] > 1]
    every = {one.id: one for one in (*again, *twins)}
    photos = photo_facts(connection)
    rows = []
    for one in every.values():
        facts = photos[one.photo]
        visit = "" if one.visit is None else one.visit.isoformat()
        who = (one.photo, one.reading.fish, one.group, visit, one.reading.placed_by, one.ordinal)
        rows += [
            (*who, one.id in counts, measure.id, measure.unit, measure.value, measure.u)
            for measure in measures_of(connection, one, facts.scale, facts.size_px).values()
            if measure.state == "measured"
        ]
    return pd.DataFrame(rows, columns=list(_COLUMNS))


def own_placement_of(connection: Connection) -> dict[str, Placement]:
    """Estimate how exactly the study's people place landmarks, from fish marked more than once."""
    repeated: dict[tuple[str, int], list[Reading]] = {}
    for one in reading_queries.load(connection, repeated_only=True):
        if one.confirmed:
            repeated.setdefault((one.photo, one.number), []).append(one.reading)
    return own_placement(repeated.values())


def _day_of(one: StoredReading) -> str:
    """Tell which photos show the same named fish on the same day; empty where they cannot.

    Fish of two groups with one name on one day are two animals.
    """
    if one.visit is None or is_number(one.reading.fish):
        return ""
    return f"{one.reading.fish}\n{one.group}\n{one.visit}\n{one.side}"
