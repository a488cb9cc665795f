"""What a keeper writes down of a tank by hand: events and water tests, checked first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from finmeasure.errors import FinmeasureError
from finmeasure.exchange.inputs import EventRow, WaterRow

if TYPE_CHECKING:
    from finmeasure.study.store import Study

#: What happens often; anything else may be typed. The first word tells treatments and deaths.
EVENTS = (
    "water change", "salt added", "treatment started", "treatment ended", "tank move",
    "new tank mates added", "death",
)  # fmt: skip
#: Quantities of a water test with their usual unit.
QUANTITIES: Mapping[str, str] = {
    "temperature": "°C",
    "pH": "1",
    "ammonia": "mg/l",
    "nitrite": "mg/l",
    "nitrate": "mg/l",
    "hardness": "°dH",
}


def groups_of(study: Study) -> tuple[str, ...]:
    """Give the groups of a study by name: those told, and those of its photos."""
    told = {row.group for row in study.groups()}
    return tuple(sorted(told | {one.group for one in study.standings() if one.group}))


def write_event(
    study: Study, group: str, day: str, what: str, *, note: str = "", fish: str = ""
) -> None:
    """Write an event into the study.

    Parameters
    ----------
    study : Study
        Open for writing.
    group, day, what, note, fish : str
        As typed; the day as 2026-03-01.

    Raises
    ------
    FinmeasureError
        If there is no group, no event, or no such day.
    """
    if not what.strip():
        message = "Nothing was written down: say what happened, e.g. water change."
        raise FinmeasureError(message)
    row = EventRow(_group(group), _day(day), what.strip(), note.strip(), fish.strip())
    if not study.add_events([row]):
        message = f"{row.event} on {row.date} is on record already for {row.group}."
        raise FinmeasureError(message)


def write_water(study: Study, group: str, day: str, values: Mapping[str, str]) -> int:
    """Write a water test into the study; quantities that were left empty are left out.

    Parameters
    ----------
    study : Study
        Open for writing.
    group, day : str
        As typed.
    values : mapping of str to str
        By quantity, as typed; a comma may stand for the point.

    Returns
    -------
    int
        Quantities that were written.

    Raises
    ------
    FinmeasureError
        If nothing was measured, or something is no number.
    """
    rows = [
        WaterRow(_group(group), _day(day), name, _number(name, text), QUANTITIES.get(name, ""))
        for name, text in values.items()
        if text.strip()
    ]
    if not rows:
        message = "Nothing was written down: type at least one value of the water test."
        raise FinmeasureError(message)
    study.add_water(rows)
    return len(rows)


def on_record(study: Study, group: str) -> tuple[str, ...]:
    """Give what is on record of a group, newest first, one line each."""
    lines = [
        (row.date, f"{row.event}{f', {row.fish}' if row.fish else ''}"
                   f"{f' ({row.note})' if row.note else ''}")
        for row in study.events(group)
    ]  # fmt: skip
    tests: dict[str, list[str]] = {}
    for one in study.water(group):
        unit = "" if one.unit in ("", "1") else f" {one.unit}"
        tests.setdefault(one.taken_at, []).append(f"{one.quantity} {one.value:g}{unit}")
    lines += [(moment, "water: " + ", ".join(values)) for moment, values in tests.items()]
    newest_first = sorted(lines, key=lambda line: line[0], reverse=True)
    return tuple(f"{moment.replace('T', ' ')}  {words}" for moment, words in newest_first)


def _group(group: str) -> str:
    if not group.strip():
        message = "Choose the group (tank, bag, batch) that it is about."
        raise FinmeasureError(message)
    return group.strip()


def _day(day: str) -> str:
    """Check a day; it may not lie in the future."""
    try:
        found = date.fromisoformat(day.strip())
    except ValueError as error:
        message = f"Day {day!r} is not understood. Write it like 2026-03-01."
        raise FinmeasureError(message) from error
    if found > date.today():
        message = f"{found} lies in the future. Write down what has happened."
        raise FinmeasureError(message)
    return found.isoformat()


def _number(name: str, text: str) -> float:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        message = f"{name}: {text.strip()!r} is no number. Write it like 0.5, or leave it empty."
        raise FinmeasureError(message)
    return value
