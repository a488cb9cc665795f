"""What to look at next: what experience says to check first. Common practice, no diagnosis."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from finmeasure.timeseries.judge import JudgedSeries
from finmeasure.timeseries.records import Happening

HEADING = "What to look at next (common practice, no source; this is no diagnosis)"
VETERINARIAN = (
    "Several fish affected, red or fluffy edges, or deaths: ask a veterinarian. The numbers here "
    "are dated measurements, they name no cause."
)
#: Looked back for moves and tank mates, days.
RECENT = timedelta(days=21)
#: A water test older than this says little about today.
STALE = timedelta(days=7)
_SHOULD_BE_ZERO = ("ammonia", "nitrite")
_CHECKS = (
    (("mate", "added", "new fish", "moved in"), "tank mates",
     "Tank mates: nothing on record. Watch ten minutes for chasing and nipping."),
    (("crowd",), "crowding", "Crowding: nothing on record. Count fish against the tank's size."),
    (("move", "arrival", "transport"), "moves",
     "Recent moves: nothing on record. Was the fish moved, netted or shipped lately?"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Advice:
    """Why a group should be looked at, and what to check first."""

    group: str
    because: str
    lines: tuple[str, ...]


def what_to_look_at(
    judged: Sequence[JudgedSeries], happenings: Sequence[Happening]
) -> tuple[Advice, ...]:
    """List the checks for groups on their first visit and for those whose fins get shorter."""
    groups = sorted({one.series.group for one in judged})
    found = []
    for group in groups:
        mine = [one for one in judged if one.series.group == group]
        because = _because(mine)
        if because:
            today = max(one.last.visit.day for one in mine)
            known = [one for one in happenings if one.group == group and _day(one) <= today]
            lines = (*_water(known, today), *_events(known, today), VETERINARIAN)
            found.append(Advice(group, because, lines))
    return tuple(found)


def _because(mine: Sequence[JudgedSeries]) -> str:
    if all(len(one.visits) == 1 for one in mine):
        return "first visit"
    worse = sorted(
        {
            f"{one.series.fish} ({one.series.fin.replace('_', ' ')}, {visit.visit.day})"
            for one in mine
            for visit in one.visits
            if visit.step is not None
            and visit.step.percent < 0
            and "changed" in (visit.step_verdict, visit.change_verdict)
        }
    )
    return f"fins got shorter: {', '.join(worse)}" if worse else ""


def _water(known: Sequence[Happening], today: date) -> Iterable[str]:
    tests = [one for one in known if math.isfinite(one.value)]
    if not tests:
        yield "Water test: none on record. Test the water first, before anything else."
        return
    newest: dict[str, Happening] = {one.what: one for one in tests}
    day = max(_day(one) for one in tests)
    values = ", ".join(f"{one.what} {one.value:g} {_unit(one)}".strip() for one in newest.values())
    yield f"Last water test {day}: {values}."
    if today - day > STALE:
        yield f"That test is {(today - day).days} days old: test again."
    for one in tests:
        if one.what.casefold() in _SHOULD_BE_ZERO and one.value > 0:
            yield f"{one.what} was {one.value:g} {_unit(one)} on {_day(one)}; it should not show."
    warmth = [one.value for one in tests if one.what.casefold().startswith("temp")]
    if len(warmth) > 1 and max(warmth) - min(warmth) > 2.0:
        yield f"Temperature went from {min(warmth):g} to {max(warmth):g}: keep it steady."


def _events(known: Sequence[Happening], today: date) -> Iterable[str]:
    for words, name, otherwise in _CHECKS:
        seen = [
            one
            for one in known
            if not math.isfinite(one.value)
            and any(word in f"{one.what} {one.note}".casefold() for word in words)
            and today - _day(one) <= RECENT
        ]
        if seen:
            told = "; ".join(
                f"{_day(one)} {one.what}{f' ({one.note})' if one.note else ''}" for one in seen
            )
            yield f"{name.capitalize()} on record: {told}."
        else:
            yield otherwise


def _unit(one: Happening) -> str:
    return "" if one.unit == "1" else one.unit


def _day(one: Happening) -> date:
    try:
        return date.fromisoformat(one.day[:10])
    except ValueError:
        return date.min
