"""Join what another bench recorded: nothing is dropped, and contradictions are listed.

Keys are UUIDs, so a row that both studies hold is known by its key. Rows that were made twice
(the same photo recorded at both benches) are known by what they say.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from finmeasure.study.connecting import Database
from finmeasure.study.keeper_tables import (
    Camera,
    CardPrint,
    Event,
    Group,
    Label,
    Reference,
    Visit,
    WaterTest,
)
from finmeasure.study.records import MergeReport
from finmeasure.study.tables import (
    Base,
    Draft,
    Fish,
    MeasureSet,
    PhotoRow,
    ReadingLandmark,
    ReadingOutline,
    ReadingRow,
    Run,
    ScaleRow,
    Sighting,
)

Row = dict[str, Any]
Key = tuple[Any, ...]
# What may differ between two rows that say the same.
_BOOKKEEPING = frozenset(
    {"id", "run_id", "created_at", "added_at", "declared_at", "set_at", "seconds", "file",
     "given_digest", "saved_at", "ordinal", "flags"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Rule:
    """How rows of one table are known again.

    Parameters
    ----------
    table : class
        Mapped table.
    plain : str
        Its rows in plain words.
    same : tuple of str
        Columns that make two rows mean the same thing; all but bookkeeping if empty.
    foreign : tuple of str
        Columns that hold keys of other rows.
    """

    table: type[Base]
    plain: str
    same: tuple[str, ...] = ()
    foreign: tuple[str, ...] = ()


_RULES_BEFORE_READINGS = (
    _Rule(Run, "run", ("id",)),
    _Rule(Group, "group", ("name",)),
    _Rule(Visit, "visit", ("group_id", "date"), ("group_id",)),
    _Rule(Fish, "fish", ("name",), ("group_id",)),
    _Rule(PhotoRow, "photo", ("sha256", "current"), ("run_id",)),
)
_RULES_AFTER_READINGS = (
    _Rule(
        MeasureSet, "set of measures", ("reading_id", "scale_id", "code_version"),
        ("reading_id", "scale_id"),
    ),
    _Rule(Draft, "draft", ("photo_id", "fish", "person", "purpose"), ("photo_id",)),
    _Rule(Event, "event", (), ("group_id", "fish_id")),
    _Rule(WaterTest, "water test", ("group_id", "taken_at", "quantity"), ("group_id",)),
    _Rule(
        Label, "label", ("fish_id", "sighting_id", "character", "set_by"),
        ("fish_id", "sighting_id"),
    ),
    _Rule(Reference, "reference", (), ("fish_id", "group_id")),
    _Rule(CardPrint, "card print"),
    _Rule(Camera, "camera"),
)  # fmt: skip


def merge_studies(ours: Database, theirs: Database, their_name: str) -> MergeReport:
    """Copy everything that the other study holds and this one does not, in one transaction.

    Parameters
    ----------
    ours, theirs : Database
        The study that grows, and the one that is only read.
    their_name : str
        Put in front of a photo's name where another photo here has it already.

    Returns
    -------
    MergeReport
        Rows added and known per table, and every contradiction in words.
    """
    with theirs.reading() as source, ours.writing() as target:
        merge = _Merge(source, target, their_name)
        for rule in _RULES_BEFORE_READINGS:
            merge.table(rule)
        merge.scales()
        merge.sightings()
        merge.readings()
        for rule in _RULES_AFTER_READINGS:
            merge.table(rule)
        return MergeReport(merge.added, merge.known, tuple(merge.conflicts))


@dataclass(slots=True)
class _Merge:
    """One merge in progress."""

    source: Connection
    target: Connection
    their_name: str
    keys: dict[Any, Any] = field(default_factory=dict)
    added: dict[str, int] = field(default_factory=dict)
    known: dict[str, int] = field(default_factory=dict)
    conflicts: list[str] = field(default_factory=list)

    def table(self, rule: _Rule) -> None:
        """Add the rows of a table that are new, and remember which of ours the others are."""
        ours = [dict(row) for row in _rows(self.target, rule.table)]
        by_id = {row["id"]: row for row in ours}
        by_meaning = {_meaning(row, rule.same): row for row in ours}
        for row in _rows(self.source, rule.table):
            theirs = self._with_our_keys(dict(row), rule.foreign)
            mine = by_id.get(theirs["id"]) or by_meaning.get(_meaning(theirs, rule.same))
            if mine is None:
                self._add(rule.table, rule.plain, self._renamed(theirs, ours))
                ours.append(theirs)
                by_meaning[_meaning(theirs, rule.same)] = theirs
            else:
                self._know(rule.plain, theirs, mine)

    def scales(self) -> None:
        """Add scales; where both benches measured a photo, ours goes on to count."""
        self._with_ordinals(ScaleRow, "scale", "photo_id", lambda row: _text(row["document"]))

    def readings(self) -> None:
        """Add readings with their marks; where both marked a fish, ours goes on to count."""
        marks = {side: _marks(connection) for side, connection in self._sides()}
        self._with_ordinals(
            ReadingRow,
            "reading",
            "sighting_id",
            lambda row: _text([row["purpose"], row["body_form"], marks[row["side"]][row["id"]]]),
        )

    def sightings(self) -> None:
        """Add animals; one with the same name, or number and no other name, is the same."""
        by_photo: dict[Any, list[Row]] = {}
        for row in _rows(self.target, Sighting):
            by_photo.setdefault(row["photo_id"], []).append(dict(row))
        for row in _rows(self.source, Sighting):
            foreign = ("photo_id", "fish_id", "group_id", "visit_id")
            theirs = self._with_our_keys(dict(row), foreign)
            on_photo = by_photo.setdefault(theirs["photo_id"], [])
            mine = _same_animal(theirs, on_photo)
            if mine is not None:
                self._know("sighting", theirs, mine, compared=False)
                continue
            numbers = {other["number"] for other in on_photo}
            if theirs["number"] in numbers:
                theirs["number"] = max(numbers) + 1
            self._add(Sighting, "sighting", theirs)
            on_photo.append(theirs)

    def _with_ordinals(self, table: type[Base], plain: str, owner: str, content: Any) -> None:
        """Add rows that stand in an order under an owner; theirs go below where ours exist."""
        ours: dict[Any, list[Row]] = {}
        for row in _rows(self.target, table):
            ours.setdefault(row[owner], []).append({**row, "side": "ours"})
        theirs: dict[Any, list[Row]] = {}
        for row in _rows(self.source, table):
            mapped = self._with_our_keys({**row, "side": "theirs"}, (owner, "run_id"))
            theirs.setdefault(mapped[owner], []).append(mapped)
        for key, rows in theirs.items():
            self._one_owner(table, plain, ours.get(key, []), rows, content)

    def _one_owner(
        self, table: type[Base], plain: str, mine: list[Row], theirs: list[Row], content: Any
    ) -> None:
        """Merge the ordered rows of one photo or one animal."""
        ids = {row["id"] for row in mine}
        meanings = {content(row): row for row in mine}
        fresh = []
        for row in theirs:
            same = row if row["id"] in ids else meanings.get(content(row))
            if same is None:
                fresh.append(row)
            else:
                self._know(plain, row, same, compared=False)
        if mine and fresh:
            self.conflicts.append(
                f"{plain} of {self._place(table, fresh[0])}: both studies have one; ours goes on "
                f"to count, {len(fresh)} of theirs kept as older."
            )
            lowest = min(row["ordinal"] for row in mine)
            for step, row in enumerate(sorted(fresh, key=lambda r: -r["ordinal"]), start=1):
                row["ordinal"] = lowest - step
        for row in fresh:
            row.pop("side")
            self._add(table, plain, row)
            if table is ReadingRow:
                self._copy_marks(row["id"])

    def _copy_marks(self, reading_id: Any) -> None:
        """Copy the landmarks and outlines of one reading, whose key is kept."""
        for table in (ReadingLandmark, ReadingOutline):
            part = _table(table)
            rows = self.source.execute(select(part).where(part.c.reading_id == reading_id))
            if found := [dict(row) for row in rows.mappings()]:
                self.target.execute(insert(part), found)

    def _place(self, table: type[Base], row: Mapping[str, Any]) -> str:
        """Name the photo that a scale or reading belongs to."""
        photo_id = row.get("photo_id")
        if table is ReadingRow:
            sighting = _table(Sighting)
            photo_id = self.target.scalar(
                select(sighting.c.photo_id).where(sighting.c.id == row["sighting_id"])
            )
        photo = _table(PhotoRow)
        return str(self.target.scalar(select(photo.c.name).where(photo.c.id == photo_id)))

    def _sides(self) -> tuple[tuple[str, Connection], ...]:
        return ("ours", self.target), ("theirs", self.source)

    def _with_our_keys(self, row: Row, foreign: Iterable[str]) -> Row:
        """Replace keys of their rows by those of the same rows here."""
        for column in foreign:
            if row.get(column) is not None:
                row[column] = self.keys.get(row[column], row[column])
        return row

    def _renamed(self, theirs: Row, ours: list[Row]) -> Row:
        """Put the other study's name in front where another photo here has the name already."""
        if "sha256" in theirs and theirs["current"]:
            taken = {row["name"] for row in ours if row["current"]}
            name = theirs["name"]
            while theirs["name"] in taken:
                theirs["name"] = f"{self.their_name}/{theirs['name']}"
            if theirs["name"] != name:
                self.conflicts.append(
                    f"photo {name}: another photo here has this name; theirs is now "
                    f"{theirs['name']}."
                )
        return theirs

    def _add(self, table: type[Base], plain: str, row: Row) -> None:
        self.target.execute(insert(_table(table)), [row])
        self.keys[row["id"]] = row["id"]
        self.added[plain] = self.added.get(plain, 0) + 1

    def _know(self, plain: str, theirs: Row, mine: Row, *, compared: bool = True) -> None:
        """Remember that a row is here already; list what it says differently."""
        self.keys[theirs["id"]] = mine["id"]
        self.known[plain] = self.known.get(plain, 0) + 1
        if not compared:
            return
        for column in sorted(theirs.keys() - _BOOKKEEPING):
            if theirs[column] != mine[column]:
                self.conflicts.append(
                    f"{plain} {_called(mine)}: {column} is {mine[column]!r} here and "
                    f"{theirs[column]!r} there; ours is kept."
                )


def _same_animal(theirs: Row, on_photo: list[Row]) -> Row | None:
    """Find the animal on our photo that theirs is."""
    same = [mine for mine in on_photo if mine["id"] == theirs["id"]]
    named = [m for m in on_photo if m["fish_id"] and m["fish_id"] == theirs["fish_id"]]
    numbered = [
        mine
        for mine in on_photo
        if mine["number"] == theirs["number"] and not (mine["fish_id"] and theirs["fish_id"])
    ]
    return next(iter(same + named + numbered), None)


def _marks(connection: Connection) -> dict[Any, Any]:
    """Give what each reading says, by its key, in a form that can be compared."""
    found: dict[Any, list[Any]] = {}
    for table, columns in (
        (ReadingLandmark, ("landmark", "x_px", "y_px", "u_px", "u_across_px", "state")),
        (ReadingOutline, ("part", "wkt", "spread", "edge")),
    ):
        part = _table(table)
        rows = connection.execute(
            select(part.c.reading_id, *(part.c[column] for column in columns)).order_by(
                part.c.reading_id, part.c[columns[0]]
            )
        )
        for reading_id, *values in rows:
            found.setdefault(reading_id, []).append(values)
    return _Empty(found)


class _Empty(dict[Any, Any]):
    """A reading without marks says nothing."""

    def __missing__(self, key: Any) -> list[Any]:
        return []


def _rows(connection: Connection, table: type[Base]) -> list[Any]:
    """All rows of a table, oldest key first."""
    part = _table(table)
    return list(connection.execute(select(part).order_by(*part.primary_key)).mappings())


def _table(table: type[Base]) -> Table:
    found = table.__table__
    assert isinstance(found, Table)
    return found


def _meaning(row: Mapping[str, Any], same: tuple[str, ...]) -> Key:
    """Give what makes two rows the same thing."""
    columns = same or sorted(row.keys() - _BOOKKEEPING)
    return tuple(_text(row[column]) for column in columns)


def _text(value: Any) -> str:
    return json.dumps(value, sort_keys=True, default=str)


def _called(row: Mapping[str, Any]) -> str:
    """Name a row for a person."""
    for column in ("name", "fish", "date", "quantity", "character", "card"):
        if row.get(column):
            return str(row[column])
    return str(row["id"])
