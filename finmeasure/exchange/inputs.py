"""Input tables of what the keeper knows: groups.csv, labels.csv, events.csv, water.csv."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from finmeasure.errors import DefinitionError
from finmeasure.exchange.tables import Row, each_row, photo_key, read_rows
from finmeasure.landmarks.scheme import body_form, body_forms

_LARGEST_MM = 10_000
RowT = TypeVar("RowT")


@dataclass(frozen=True, slots=True)
class GroupRow:
    """A tank, bag, batch or shipment, as groups.csv has it; None and "" mean "not said".

    Dates are ISO 8601; `came_from` is the column ``from``.
    """

    group: str
    kind: str = ""
    body_form: str = ""
    came_from: str = ""
    box: str = ""
    bag: str = ""
    invoiced: int | None = None
    grade_mm_from: float | None = None
    grade_mm_to: float | None = None
    alive: int | None = None
    dead: int | None = None
    opened_at: str | None = None
    claim_until: str | None = None


@dataclass(frozen=True, slots=True)
class LabelRow:
    """What a person says of a fish; `photo` is needed where the fish has only a number."""

    fish: str
    character: str
    value: str
    set_by: str = ""
    photo: str = ""


@dataclass(frozen=True, slots=True)
class EventRow:
    """Something that happened to a group, or to one named fish of it."""

    group: str
    date: str
    event: str
    note: str = ""
    fish: str = ""


@dataclass(frozen=True, slots=True)
class WaterRow:
    """One quantity of one water test."""

    group: str
    taken_at: str
    quantity: str
    value: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class InputTable(Generic[RowT]):
    """Rows that are in order, and one line for each row that is not."""

    rows: tuple[RowT, ...]
    problems: tuple[str, ...] = ()


def read_groups(path: str | Path) -> InputTable[GroupRow]:
    """Read groups.csv; only the column ``group`` is needed, one row per group.

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong; bad rows are among the problems.
    """
    return _read(path, ("group",), _group, key=lambda row: row.group)


def read_labels(path: str | Path) -> InputTable[LabelRow]:
    """Read labels.csv (fish, character, value, set_by; photo where a fish has only a number).

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong; bad rows are among the problems.
    """
    key = lambda row: (row.photo, row.fish, row.character, row.set_by)  # noqa: E731
    return _read(path, ("fish", "character", "value"), _label, key=key)


def read_events(path: str | Path) -> InputTable[EventRow]:
    """Read events.csv (group, date, event, note; fish where it is about one named fish).

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong; bad rows are among the problems.
    """
    return _read(path, ("group", "date", "event"), _event, key=lambda row: row)


def read_water(path: str | Path) -> InputTable[WaterRow]:
    """Read water.csv (group, taken_at, quantity, value, unit).

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong; bad rows are among the problems.
    """
    key = lambda row: (row.group, row.taken_at, row.quantity)  # noqa: E731
    return _read(path, ("group", "taken_at", "quantity", "value"), _water, key=key)


def _read(
    path: str | Path,
    needed: Sequence[str],
    make: Callable[[Row], RowT],
    *,
    key: Callable[[RowT], object],
) -> InputTable[RowT]:
    made: dict[object, RowT] = {}
    problems: list[str] = []

    def take(row: Row) -> None:
        record = make(row)
        if key(record) in made:
            row.refuse(needed[0], "each once; an earlier row says the same thing")
        made[key(record)] = record

    each_row(read_rows(Path(path), needed), take, lambda _row, problem: problems.append(problem))
    return InputTable(tuple(made.values()), tuple(problems))


def _group(row: Row) -> GroupRow:
    grade_mm_from = row.number_or_none("grade_mm_from", 0, _LARGEST_MM)
    grade_mm_to = row.number_or_none("grade_mm_to", grade_mm_from or 0, _LARGEST_MM)
    return GroupRow(
        group=_name(row, "group"),
        kind=row.text("kind", default=""),
        body_form=_body_form(row),
        came_from=row.text("from", default=""),
        box=row.text("box", default=""),
        bag=row.text("bag", default=""),
        invoiced=row.count_or_none("invoiced"),
        grade_mm_from=grade_mm_from,
        grade_mm_to=grade_mm_to,
        alive=row.count_or_none("alive"),
        dead=row.count_or_none("dead"),
        opened_at=row.time("opened_at", needed=False) or None,
        claim_until=row.time("claim_until", needed=False) or None,
    )


def _label(row: Row) -> LabelRow:
    fish = _name(row, "fish")
    photo = photo_key(row.exact_text("photo"))
    if fish.isdecimal() and not photo:
        row.refuse("fish", "a fish's name; a number needs the photo in a column photo")
    set_by = row.text("set_by", default="")
    return LabelRow(fish, _name(row, "character"), row.text("value"), set_by, photo)


def _event(row: Row) -> EventRow:
    fish = row.text("fish", default="")
    note = row.text("note", default="")
    return EventRow(_name(row, "group"), row.time("date"), row.text("event"), note, fish)


def _water(row: Row) -> WaterRow:
    return WaterRow(
        _name(row, "group"),
        row.time("taken_at"),
        row.text("quantity"),
        row.number_in("value", -1e6, 1e6),
        row.text("unit", default=""),
    )


def _name(row: Row, column: str) -> str:
    """Give a name that other programs will not take for "no value"."""
    name = row.text(column)
    if name.upper() in ("NA", "NAN"):
        row.refuse(column, "another name; spreadsheets and statistics read this one as no value")
    return name


def _body_form(row: Row) -> str:
    form_id = row.text("body_form", default="")
    if form_id:
        try:
            body_form(form_id)
        except DefinitionError:
            row.refuse("body_form", f"{', '.join(body_forms())}, each also with +long_fin")
    return form_id
