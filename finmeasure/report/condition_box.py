"""A group of a study as a box of fish: one photo of each, with measures and labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from finmeasure.errors import StudyError
from finmeasure.quantity import Measure
from finmeasure.shipment.box import BoxFish

if TYPE_CHECKING:
    from finmeasure.study.store import Study


def load_box(study: Study, group: str) -> tuple[BoxFish, ...]:
    """Load the fish of a group, each on its last photo.

    Parameters
    ----------
    study : Study
        Open.
    group : str
        Name of the group.

    Raises
    ------
    StudyError
        If the study has no measured fish in such a group.
    """
    readings = study.current_readings(group=group)
    if not readings:
        names = ", ".join(sorted({one.group for one in study.current_readings() if one.group}))
        message = (
            f"There are no measured fish in group {group!r}. Groups with fish: {names or 'none'}. "
            "Groups come from `measure --group` or `--name-pattern`."
        )
        raise StudyError(message)
    labels = labels_by_fish(study)
    measures = measures_by_fish(study, {one.photo for one in readings})
    box: dict[tuple[str, str], BoxFish] = {}
    for one in readings:
        name = one.reading.fish
        # A fish that is only a number is another one on every photo
        key = ("" if not name.isdecimal() else one.photo, name)
        box[key] = BoxFish(
            one.photo,
            name,
            one.reading,
            measures.get((one.photo, name), {}),
            labels.get(key, {}),
            one.side,
        )
    return tuple(box.values())


def labels_by_fish(study: Study) -> dict[tuple[str, str], dict[str, str]]:
    """Give labels by photo (only for numbers) and fish; contradictory ones count as none."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for row in study.labels():
        mine = found.setdefault((row.photo if row.fish.isdecimal() else "", row.fish), {})
        same = mine.get(row.character) in (None, row.value)
        mine[row.character] = row.value if same else "contradictory"
    return found


def measures_by_fish(study: Study, photos: set[str]) -> dict[tuple[str, str], dict[str, Measure]]:
    """Give the measures of all fish on some photos, by photo and fish, then by measure."""
    frame = study.table("measurements")
    found: dict[tuple[str, str], dict[str, Measure]] = {}
    for row in frame[frame["photo"].isin(photos)].to_dict("records"):
        value, u = (None if pd.isna(row[key]) else float(row[key]) for key in ("value", "u"))
        flags = tuple(str(row["flags"] or "").split(";"))
        name = str(row["measure"])
        measure = Measure(name, row["unit"], row["state"], value, u, flags)
        found.setdefault((str(row["photo"]), str(row["fish"])), {})[name] = measure
    return found
