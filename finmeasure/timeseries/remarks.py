"""What a reader of a series must know before believing it, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date

from finmeasure.timeseries.judge import JudgedSeries
from finmeasure.timeseries.records import Declared, FinRecord, Happening
from finmeasure.timeseries.shoals import is_treatment

#: A fish does not shrink; beyond this and its uncertainty something else has changed.
LEAST_SHRINKING_REL = 0.01
_NAMED = 6


def split_by_date(
    records: Iterable[FinRecord], today: date
) -> tuple[tuple[FinRecord, ...], tuple[str, ...]]:
    """Leave out what has no day, or one in the future, and say so.

    Returns
    -------
    usable : tuple of FinRecord
    sentences : tuple of str
    """
    every = tuple(records)
    undated = sorted({one.photo for one in every if one.visit is None})
    future = sorted({one.photo for one in every if one.visit is not None and one.visit > today})
    told = []
    if undated:
        told.append(
            f"{_some(undated)}: no date is known, left out. Give the date in the photo's name and "
            "measure again with --name-pattern."
        )
    if future:
        told.append(
            f"{_some(future)}: the date lies in the future, left out. Set the camera's clock, or "
            "give the date in the photo's name."
        )
    skipped = {*undated, *future}
    return tuple(one for one in every if one.photo not in skipped), tuple(told)


def remarks(
    records: Sequence[FinRecord],
    judged: Sequence[JudgedSeries],
    declared: Sequence[Declared],
    happenings: Sequence[Happening],
) -> tuple[str, ...]:
    """Say all that is odd in a study's series."""
    named: dict[str, list[FinRecord]] = {}
    for one in records:
        if one.named and one.visit is not None:
            named.setdefault(one.who, []).append(one)
    return (
        *_vanished(named, happenings),
        *_single_visits(named),
        *_nameless(records),
        *_shared_names(records),
        *(text for fish, part in named.items() for text in _of_fish(fish, part)),
        *_not_whole(judged, happenings),
        *_unused(declared, records),
        *_unused_rows(declared, judged),
    )


def _vanished(named: dict[str, list[FinRecord]], happenings: Sequence[Happening]) -> Iterable[str]:
    """Name the fish that no longer come; deaths on record are told apart."""
    last_days: dict[str, date] = {}
    for part in named.values():
        for one in part:
            day = one.visit or date.min
            last_days[one.group] = max(last_days.get(one.group, date.min), day)
    dead = {one.fish for one in happenings if one.fish and one.what.casefold().startswith("death")}
    # Where no name ever came back, samples of the shoal were named, and nothing vanished.
    followed = {part[-1].group for part in named.values() if len({one.visit for one in part}) > 1}
    for group in sorted(last_days.keys() & followed):
        gone = sorted(
            fish
            for fish, part in named.items()
            if part[-1].group == group and max(one.visit or date.min for one in part)
            < last_days[group]
        )  # fmt: skip
        lost = [fish for fish in gone if fish not in dead]
        died = [fish for fish in gone if fish in dead]
        where = f"Group {group}: " if group else ""
        if lost:
            yield (
                f"{where}{len(lost)} fish no longer in the series at the last visit, fate not on "
                f"record: {', '.join(lost)}. Means of those that are left may look too good."
            )
        if died:
            yield f"{where}{len(died)} fish died: {', '.join(died)} (events)."
    yield from _unnamed_deaths(one for one in happenings if one.group in last_days)


def _unnamed_deaths(happenings: Iterable[Happening]) -> Iterable[str]:
    for one in happenings:
        if one.what.casefold().startswith("death") and not one.fish:
            note = f" ({one.note})" if one.note else ""
            yield f"Group {one.group}: death on {one.day[:10]}{note}."


def _single_visits(named: dict[str, list[FinRecord]]) -> Iterable[str]:
    alone = sorted(fish for fish, part in named.items() if len({one.visit for one in part}) == 1)
    if alone:
        yield (
            f"{_some(alone, 'fish')} seen on one day only: no change can be told yet. "
            "Photograph them again."
        )


def _nameless(records: Sequence[FinRecord]) -> Iterable[str]:
    """Name photos of followed groups on which a fish has no name, as where one name stands for two.

    A photo's name gives the fish's name only where the photo shows one fish.
    """
    followed = {one.group for one in records if one.named}
    for group in sorted(followed):
        photos = sorted({one.photo for one in records if one.group == group and not one.named})
        if photos:
            where = f"Group {group}: " if group else ""
            yield (
                f"{where}{_some(photos)} with fish that have no name, not followed. Photograph one "
                "fish at a time, or name them in landmarks.csv, column fish."
            )


def _shared_names(records: Sequence[FinRecord]) -> Iterable[str]:
    """Name the fish that several groups have: one animal is not in two tanks on one day."""
    groups: dict[str, set[str]] = {}
    for one in records:
        if one.apart:
            groups.setdefault(one.fish, set()).add(one.apart)
    together: dict[tuple[str, ...], list[str]] = {}
    for fish, found in sorted(groups.items()):
        together.setdefault(tuple(sorted(found)), []).append(fish)
    for where, names in together.items():
        yield (
            f"{_some(names, 'names')} on photos of {', '.join(where)} of one day: taken for "
            "different fish, told apart by group. If it is one fish, correct the group; else give "
            "each fish a name of its own."
        )


def _of_fish(fish: str, part: list[FinRecord]) -> Iterable[str]:
    """Say what is odd about one fish: order, scale, camera, length, fins that gave nothing."""
    by_day = sorted(part, key=lambda one: (one.visit or date.min, one.order))
    orders = [one.order for one in by_day]
    if orders != sorted(orders):
        yield f"{fish}: photos came in another order than they were taken; put in order of date."
    for what, values in (
        ("scale", list(dict.fromkeys(one.scale_method or "none" for one in by_day))),
        ("camera", list(dict.fromkeys(one.camera for one in by_day if one.camera))),
    ):
        if len(values) > 1:
            yield (
                f"{fish}: another {what} from visit to visit ({', then '.join(values)}). Ratios "
                "are compared all the same; a change of light or lens can still look like one of "
                "the fin."
            )
    yield from _shrunk(fish, by_day)
    yield from _not_measured(fish, by_day)


def _shrunk(fish: str, by_day: list[FinRecord]) -> Iterable[str]:
    seen = [one for one in by_day if math.isfinite(one.sl_mm)]
    if not seen:
        return
    first, last = seen[0], seen[-1]
    doubt = 2.0 * math.hypot(first.sl_u_mm, last.sl_u_mm)
    if first.sl_mm - last.sl_mm > max(doubt, LEAST_SHRINKING_REL * first.sl_mm):
        yield (
            f"{fish}: shorter than before ({first.sl_mm:.1f} mm on {first.visit}, {last.sl_mm:.1f} "
            f"mm on {last.visit}). Fish do not shrink: check that it is the same fish, that it is "
            "not bent, and that it stands in the card's plane."
        )


def _not_measured(fish: str, by_day: list[FinRecord]) -> Iterable[str]:
    """Name the fins that gave no length on a day, each reason once."""
    lengths = {(one.fin, one.visit) for one in by_day if one.measured}
    missed: dict[tuple[str, str], list[str]] = {}
    for one in by_day:
        if not one.measured and (one.fin, one.visit) not in lengths:
            days = missed.setdefault((one.fin, one.reason), [])
            if str(one.visit) not in days:
                days.append(str(one.visit))
    for (_fin, reason), days in missed.items():
        yield f"{fish}, {', '.join(days)}: {reason}"


def _not_whole(judged: Sequence[JudgedSeries], happenings: Sequence[Happening]) -> Iterable[str]:
    """Doubt an own record that was made when treatment had begun: such a fin is eroded already."""
    for one in judged:
        if one.reference is None or not one.reference.own:
            continue
        days = one.reference.words.removeprefix("own record of ").split(", ")
        begun = [
            event.day[:10]
            for event in happenings
            if event.group == one.series.group and is_treatment(event)
        ]
        if begun and max(days) >= min(begun):
            yield (
                f"{one.series.fish}, {one.series.fin.replace('_', ' ')}: its own record of "
                f"{max(days)} was declared whole, but treatment began on {min(begun)}. A treated "
                "fin is mostly eroded already; what is missing may be more than shown."
            )


def _unused(declared: Sequence[Declared], records: Sequence[FinRecord]) -> Iterable[str]:
    """Name declared references that no measured fin stands behind."""
    for one in declared:
        if one.kind == "species_row":
            continue
        fits = any(
            record.fish == one.fish
            and record.measured
            and one.visit in (None, record.visit)
            and one.photo in ("", record.photo)
            and one.fin in ("", record.fin)
            for record in records
        )
        if not fits:
            when = f" of {one.visit}" if one.visit else ""
            yield (
                f"{one.fish}: declared whole{when}, but no {one.fin or 'fin'} was measured there. "
                "Check name and date."
            )


def _unused_rows(declared: Sequence[Declared], judged: Sequence[JudgedSeries]) -> Iterable[str]:
    """Name the rows of whole fins that no fish was held against."""
    used = {one.reference.row for one in judged if one.reference is not None}
    for one in declared:
        if one.kind == "species_row" and one not in used:
            for_whom = f" for {one.of_kind or one.group}" if one.of_kind or one.group else ""
            yield (
                f"{one.name}, {one.fin}{for_whom}: this row of whole fins was not used. Either a "
                "nearer reference stands (own record, mates, a newer row), or its kind or group "
                "is not that of a measured fish: check groups.csv."
            )


def _some(names: Sequence[str], what: str = "photos") -> str:
    shown = ", ".join(names[:_NAMED]) + (", …" if len(names) > _NAMED else "")
    one = what.removesuffix("s") if len(names) == 1 else what
    return f"{len(names)} {one} ({shown})"
