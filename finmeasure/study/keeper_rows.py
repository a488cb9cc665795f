"""Rows of what the keeper knows: written so that giving them twice changes nothing."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, and_, insert, select, update

from finmeasure.errors import StudyError
from finmeasure.exchange.inputs import EventRow, GroupRow, LabelRow, WaterRow
from finmeasure.study.connecting import one_line
from finmeasure.study.keeper_tables import Event, Group, Label, Reference, WaterTest
from finmeasure.study.keys import new_key
from finmeasure.study.naming import (
    check_name,
    fish_id_of,
    group_id_of,
    is_number,
    photo_id_of,
    sighting_id_of,
    utc_now,
)
from finmeasure.study.records import ReferenceRow
from finmeasure.study.tables import Base, Fish, PhotoRow, Sighting


def put(
    connection: Connection, table: type[Base], key: dict[str, Any], values: dict[str, Any]
) -> None:
    """Change the row with this key, or make it."""
    columns = table.__table__.columns
    same = and_(*(columns[name].is_not_distinct_from(part) for name, part in key.items()))
    if connection.execute(select(*columns).where(same)).first() is None:
        new = {"id": new_key()} if "id" in columns else {}
        connection.execute(insert(table).values(**new, **key, **values))
    elif values:
        connection.execute(update(table).where(same).values(**values))


def put_group(connection: Connection, row: GroupRow) -> None:
    """Write what a row says of a group."""
    name = _required(row.group, "group")
    names = [field for field in row.__dataclass_fields__ if field != "group"]
    said = {field: getattr(row, field) for field in names}
    put(
        connection,
        Group,
        {"name": name},
        {field: value for field, value in said.items() if value not in (None, "")},
    )


def groups(connection: Connection) -> tuple[GroupRow, ...]:
    """Load all groups, by name."""
    rows = connection.execute(select(Group.__table__).order_by(Group.name))
    names = [field for field in GroupRow.__dataclass_fields__ if field != "group"]
    return tuple(
        GroupRow(row.name, **{field: getattr(row, field) for field in names}) for row in rows
    )


def put_event(connection: Connection, row: EventRow) -> bool:
    """Write an event; False where the very same is there."""
    key = {
        "group_id": group_id_of(connection, row.group),
        "fish_id": fish_id_of(connection, check_name(row.fish, "fish")) if row.fish else None,
        "date": row.date,
        "event": row.event,
        "note": row.note,
    }
    columns = Event.__table__.columns
    same = and_(*(columns[name].is_not_distinct_from(part) for name, part in key.items()))
    if connection.execute(select(Event.id).where(same)).first() is not None:
        return False
    connection.execute(insert(Event).values(id=new_key(), **key))
    return True


def events(connection: Connection, group: str) -> tuple[EventRow, ...]:
    """Load events by date."""
    query = (
        select(Event.date, Event.event, Event.note, Group.name, Fish.name.label("fish"))
        .join(Group, Event.group_id == Group.id, isouter=True)
        .join(Fish, Event.fish_id == Fish.id, isouter=True)
        .order_by(Event.date, Group.name, Event.event)
    )
    if group:
        query = query.where(Group.name == group)
    return tuple(
        EventRow(row.name or "", row.date, row.event, row.note, row.fish or "")
        for row in connection.execute(query)
    )


def put_water(connection: Connection, row: WaterRow) -> None:
    """Write one quantity of a water test."""
    key = {
        "group_id": group_id_of(connection, _required(row.group, "group")),
        "taken_at": row.taken_at,
        "quantity": row.quantity,
    }
    put(connection, WaterTest, key, {"value": float(row.value), "unit": row.unit})


def water(connection: Connection, group: str) -> tuple[WaterRow, ...]:
    """Load water tests by time."""
    query = (
        select(WaterTest.__table__, Group.name)
        .join(Group)
        .order_by(WaterTest.taken_at, Group.name, WaterTest.quantity)
    )
    if group:
        query = query.where(Group.name == group)
    return tuple(
        WaterRow(row.name, row.taken_at, row.quantity, row.value, row.unit)
        for row in connection.execute(query)
    )


def put_label(connection: Connection, row: LabelRow) -> None:
    """Write a label on a named fish, or on a numbered fish of a photo."""
    target: dict[str, Any] = {"fish_id": None, "sighting_id": None}
    if not is_number(row.fish):
        target["fish_id"] = fish_id_of(connection, check_name(row.fish, "fish"))
    elif row.photo:
        photo_id = photo_id_of(connection, row.photo)
        target["sighting_id"] = sighting_id_of(connection, photo_id, row.fish, row.photo)
    else:
        message = (
            f"The label {one_line(row.character)!r} is for fish {row.fish}, which is only a number "
            "within a photo. Name the photo too, or give the fish a name."
        )
        raise StudyError(message)
    key = target | {"character": row.character, "set_by": row.set_by}
    put(connection, Label, key, {"value": row.value, "set_at": utc_now()})


def labels(connection: Connection) -> tuple[LabelRow, ...]:
    """Load all labels, by fish and character."""
    query = (
        select(Label.__table__, Fish.name, Sighting.number, PhotoRow.name.label("photo"))
        .select_from(Label)
        .join(Fish, Label.fish_id == Fish.id, isouter=True)
        .join(Sighting, Label.sighting_id == Sighting.id, isouter=True)
        .join(PhotoRow, Sighting.photo_id == PhotoRow.id, isouter=True)
        .order_by(Fish.name, PhotoRow.name, Sighting.number, Label.character, Label.set_by)
    )
    return tuple(
        LabelRow(row.name or str(row.number), row.character, row.value, row.set_by, row.photo or "")
        for row in connection.execute(query)
    )


def put_reference(connection: Connection, row: ReferenceRow) -> None:
    """Add a declared reference."""
    connection.execute(
        insert(Reference).values(
            id=new_key(),
            kind=row.kind,
            fin=row.fin,
            fish_id=fish_id_of(connection, check_name(row.fish, "fish")) if row.fish else None,
            group_id=group_id_of(connection, row.group),
            name=row.name,
            document=dict(row.document),
            declared_by=row.declared_by,
            declared_at=row.declared_at or utc_now(),
        )
    )


def references(connection: Connection) -> tuple[ReferenceRow, ...]:
    """Load all references, oldest first."""
    query = (
        select(Reference.__table__, Fish.name.label("fish"), Group.name.label("grp"))
        .select_from(Reference)
        .join(Fish, Reference.fish_id == Fish.id, isouter=True)
        .join(Group, Reference.group_id == Group.id, isouter=True)
        .order_by(Reference.declared_at)
    )
    return tuple(
        ReferenceRow(
            row.kind,
            row.fin,
            row.fish or "",
            row.grp or "",
            row.name,
            row.document,
            row.declared_by,
            row.declared_at,
        )
        for row in connection.execute(query)
    )


def _required(name: str, what: str) -> str:
    if not name.strip():
        message = f"A row has no {what}. Give the name of the {what}."
        raise StudyError(message)
    return name
