"""Lengths that cannot be right for their group: mostly a wrong scale, told but not changed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from finmeasure.study.store import Study

SIZE = "standard_length"
OFF_GRADE = 1.8  # times above or below the sizes that groups.csv gives; a card at 50 % is 2
OFF_MATES = 2.5  # times the median of its group, which may hold other ages
FEWEST_MATES = 5  # on other photos
ALLOWED_MM = (4.0, 600.0)  # of a fish that anybody keeps; common practice, no source


def size_warnings(study: Study) -> tuple[str, ...]:
    """Name photos whose fish have lengths that are implausible for their group.

    Parameters
    ----------
    study : Study
        Open.

    Returns
    -------
    tuple of str
        One line per photo: what the length would be, what was expected, what to check.
    """
    fish = study.table("fish")
    if SIZE not in fish.columns:
        return ()
    fish = fish.assign(length=pd.to_numeric(fish[SIZE], errors="coerce")).dropna(subset=["length"])
    grades = {
        row.group: (row.grade_mm_from, row.grade_mm_to)
        for row in study.groups()
        if row.grade_mm_from and row.grade_mm_to
    }
    groups = fish["group"].fillna("").astype(str)
    lengths = fish["length"].groupby(groups)
    usual, number = lengths.median().to_dict(), lengths.size().to_dict()
    by_photo = fish["length"].groupby(fish["photo"])
    firsts = groups.groupby(fish["photo"]).first()
    warnings = []
    for photo, group, length_mm, here in zip(
        firsts.index, firsts, by_photo.median(), by_photo.size(), strict=True
    ):
        known = group and number[group] - here >= FEWEST_MATES
        told = _warning(float(length_mm), grades.get(group), usual[group] if known else None)
        if told:
            warnings.append(
                f"{photo}: {told} Check its scale: the spacing that was told (squares, ticks, "
                "bar), and whether the card was printed at 100 %."
            )
    return tuple(warnings)


def _warning(length_mm: float, grade: tuple[float, float] | None, usual_mm: float | None) -> str:
    """Say what is implausible about a length; empty where nothing is."""
    low, high = ALLOWED_MM
    if not low <= length_mm <= high:
        return f"its fish would be {length_mm:.3g} mm long, which no fish is that anybody keeps."
    if grade is not None and not grade[0] / OFF_GRADE < length_mm < grade[1] * OFF_GRADE:
        return (
            f"its fish would be {length_mm:.3g} mm long, but its group was bought as "
            f"{grade[0]:g} to {grade[1]:g} mm (groups.csv)."
        )
    if usual_mm is not None and abs(math.log(length_mm / usual_mm)) > math.log(OFF_MATES):
        return (
            f"its fish would be {length_mm:.3g} mm long, usual in its group are {usual_mm:.3g} mm."
        )
    return ""
