"""Repeated readings and photos turned into one table of repeatability."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from finmeasure.timeseries.repeatability import (
    intraclass_correlations,
    observer_spread,
    repeatability,
)

SAME_PERSON = "same photo, same person"
PEOPLE = "same photo, different people"
PHOTOS = "photos of one visit"
_OBJECT = ["photo", "fish"]
_VISIT = ["fish", "group", "visit"]


def repeat_table(frame: pd.DataFrame) -> pd.DataFrame:
    """Estimate repeatability of every measure under every condition that the readings allow.

    Parameters
    ----------
    frame : DataFrame
        Columns photo, fish, group, visit, placed_by, ordinal, current, measure, unit, value.

    Returns
    -------
    DataFrame
        One row per measure and condition: objects, readings, mean, ``sd`` (one reading; the
        technical error of measurement), ``sd_pct``, reliability, ``limit`` (repeatability or
        reproducibility limit, ISO 5725-6), ``mdc95``, and the six intraclass correlations with
        95 % limits where every object has as many readings.
    """
    rows = [
        {"measure": measure, "unit": part["unit"].iloc[0], **row}
        for measure, part in frame.groupby("measure", sort=False)
        for row in _rows(part)
    ]
    return pd.DataFrame(rows)


def reading_pairs(frame: pd.DataFrame, measure: str) -> pd.DataFrame:
    """Give the first two readings of every object, for a plot of agreement.

    Repeated marks of a photo are taken where there are any, else two photos of one visit.

    Returns
    -------
    DataFrame
        Columns first and second.
    """
    part = frame[frame["measure"] == measure]
    for keys in (_OBJECT, _VISIT):
        lists = [group["value"].to_numpy(float) for _, group in _sorted(part).groupby(keys)]
        pairs = [values[:2] for values in lists if values.size > 1]
        if len(pairs) > 1:
            break
    return pd.DataFrame(np.array(pairs).reshape(-1, 2), columns=["first", "second"])


def _sorted(part: pd.DataFrame) -> pd.DataFrame:
    return part.sort_values(["photo", "fish", "placed_by", "ordinal"])


def _rows(part: pd.DataFrame) -> Iterator[dict[str, Any]]:
    part = _sorted(part)
    own = _lists(part, [*_OBJECT, "placed_by"])
    if own:
        yield {"condition": SAME_PERSON, **_spread(own), **_correlations(_square(own))}
    people = _people(part)
    if people is not None:
        yield people
    photos = _lists(part[part["current"] & (part["visit"] != "")], _VISIT)
    if photos:
        yield {"condition": PHOTOS, **_spread(photos), **_correlations(_square(photos))}


def _lists(part: pd.DataFrame, keys: list[str]) -> dict[Any, NDArray[np.float64]]:
    """Give the readings of every object that has at least two."""
    lists = {key: group["value"].to_numpy(float) for key, group in part.groupby(keys)}
    return {key: values for key, values in lists.items() if values.size > 1}


def _spread(lists: dict[Any, NDArray[np.float64]]) -> dict[str, float]:
    found = repeatability(lists)
    return {
        "objects": found.objects,
        "readings": found.readings,
        "mean": found.mean,
        "sd": found.sd,
        "sd_pct": found.technical_error_percent if found.mean else math.nan,
        "reliability": found.reliability,
        "limit": found.limit,
        "mdc95": found.minimal_detectable_change,
    }


def _people(part: pd.DataFrame) -> dict[str, Any] | None:
    """Compare people: each person's mean on each object."""
    cells = {key: group["value"].to_numpy(float)
             for key, group in part.groupby([*_OBJECT, "placed_by"])}  # fmt: skip
    by_object = {((key[0], key[1]), key[2]): values for key, values in cells.items()}
    people = {person for _, person in by_object}
    means: dict[Any, list[float]] = {}
    for (thing, _), values in by_object.items():
        means.setdefault(thing, []).append(float(values.mean()))
    shared = {thing: np.array(found) for thing, found in means.items() if len(found) > 1}
    if len(people) < 2 or not shared:
        return None
    spread = observer_spread(by_object)
    row: dict[str, Any] = {"condition": PEOPLE, **_spread(shared), "people": len(people)}
    within = 0.0 if math.isnan(spread.within_sd) else spread.within_sd
    sd = math.hypot(within, spread.between_sd)
    limit = sd * row["limit"] / row["sd"] if row["sd"] else 0.0
    row |= {"sd": sd, "between_people_sd": spread.between_sd, "limit": limit, "mdc95": limit}
    row["sd_pct"] = 100.0 * sd / row["mean"] if row["mean"] else math.nan
    full = [found for found in means.values() if len(found) == len(people)]
    return row | _correlations(np.array(full) if len(full) > 1 else None)


def _square(lists: dict[Any, NDArray[np.float64]]) -> NDArray[np.float64] | None:
    """Table of objects × readings with as many readings as most objects have."""
    counts = [values.size for values in lists.values()]
    usual = max(set(counts), key=counts.count)
    kept = [values[:usual] for values in lists.values() if values.size >= usual]
    return np.array(kept) if len(kept) > 1 else None


def _correlations(table: NDArray[np.float64] | None) -> dict[str, float]:
    if table is None or not np.ptp(table) or not np.ptp(table, axis=1).any():
        return {}
    found: dict[str, float] = {}
    for name, one in intraclass_correlations(table).items():
        found |= {name: one.value, f"{name}_low": one.low, f"{name}_high": one.high}
    return found
