"""Which lines the table of numbers has, and what each says. No Qt here."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from finmeasure.flags import FLAGS
from finmeasure.measurements.definitions import HEADLINE, MEASURES
from finmeasure.measurements.records import Measures
from finmeasure.quantity import Measure
from finmeasure.report.numbers import UNITS, with_limits
from finmeasure.shipment.group_range import GroupRange

DOUBTFUL = "implausible"
SIGNS = {"above": "▲", "below": "▼"}
# said once on the scale page, or true of every point that is set by hand
OF_THE_WHOLE_PHOTO = ("plane_assumed", "print_unchecked", "not_rectified", "u_default")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table.

    Parameters
    ----------
    id : str
        Measure that the line shows first.
    shown : str
        Its name.
    value : str
        Value with 95 % limits and unit, or why there is none.
    share : str
        The same as a share of standard length, where there is one.
    notes : tuple of str
        Flags and reasons in plain words, those of the whole photo left out.
    doubtful : bool
        Outside what is plausible for this kind of fish.
    odd : str
        Sign where it is above or below what the group shows; empty where it is not.
    ids : tuple of str
        All measures of this line.
    """

    id: str
    shown: str
    value: str
    share: str
    notes: tuple[str, ...]
    doubtful: bool
    odd: str
    ids: tuple[str, ...]


def lines(
    measures: Measures,
    not_of_this_kind: Collection[str] = (),
    ranges: Mapping[str, GroupRange] | None = None,
) -> list[Line]:
    """Give the lines of a reading; measures whose points are not set yet have none.

    Parameters
    ----------
    measures : Measures
        Of one reading.
    not_of_this_kind : collection of str
        Points that this kind of fish never has; measures on them have no line.
    ranges : mapping of str to GroupRange, optional
        What the confirmed fish of the group show.

    A length and its ratio to standard length share one line. The headline ratios come first.
    """
    never = set(not_of_this_kind)
    known = {
        row.id: row
        for row in measures.rows
        if row.state != "hidden" and never.isdisjoint(MEASURES[row.id].landmarks)
    }
    ratios = {i: row for i, row in known.items() if i.endswith("_to_sl") and MEASURES[i].parts}
    shares = {MEASURES[i].parts[0]: row for i, row in ratios.items()}
    heads = [MEASURES[i].parts[0] for i in HEADLINE]
    used = {row.id for length, row in shares.items() if length in known}
    order = [i for i in heads if i in known]
    order += [i for i in known if i not in order and i not in used]
    return [_line(known[i], shares.get(i), ranges or {}) for i in order]


def _line(row: Measure, share: Measure | None, ranges: Mapping[str, GroupRange]) -> Line:
    """Make one line from a measure and its ratio."""
    both = [row] if share is None or share.id == row.id else [row, share]
    odd = [words for m in both if m.id in ranges and (words := ranges[m.id].contradicts(m))]
    return Line(
        id=row.id,
        shown=_name(row),
        value=_words(row),
        share=_words(both[1]) if len(both) == 2 else "",
        notes=tuple(dict.fromkeys((*(f"It is {words}" for words in odd), *_notes(both)))),
        odd=f"{SIGNS[odd[0].partition(' ')[0]]} " if odd else "",
        doubtful=any(DOUBTFUL in measure.flags for measure in both),
        ids=tuple(measure.id for measure in both),
    )


def _name(row: Measure) -> str:
    """Name of a measure with a capital."""
    shown = MEASURES[row.id].shown
    return shown[0].upper() + shown[1:]


def _words(row: Measure) -> str:
    """Value with its limits, or the state in one word."""
    if row.state == "measured" and row.value is not None:
        return f"{with_limits(row.value, row.u)} {UNITS[row.unit]}".strip()
    return {"absent": "none", "refused": "not given"}.get(row.state, "")


def _notes(rows: Iterable[Measure]) -> Iterable[str]:
    """Reasons and flags in plain words."""
    for row in rows:
        if row.reason:
            yield row.reason
        yield from (FLAGS[flag] for flag in row.flags if flag not in OF_THE_WHOLE_PHOTO)
