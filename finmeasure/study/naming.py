"""Who is who on a photo: sightings, their numbers, named fish, groups and visits."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime

import numpy as np
from sqlalchemy import Connection, func, insert, select, update

from finmeasure.errors import StudyError
from finmeasure.reading import Reading
from finmeasure.study.connecting import one_line
from finmeasure.study.keeper_tables import Group, Visit
from finmeasure.study.keys import new_key
from finmeasure.study.tables import Fish, PhotoRow, Sighting


def utc_now() -> str:
    """Give the present time as ISO 8601 in UTC."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def is_number(fish: str) -> bool:
    """Tell whether a fish is only numbered within its photo, not named."""
    return fish.isascii() and fish.isdecimal()


def check_name(name: str, what: str) -> str:
    """Give the name without blanks around it.

    Raises
    ------
    StudyError
        If the name is empty, or of digits only (that is a number within a photo).
    """
    plain = name.strip()
    if not plain or is_number(plain):
        message = (
            f"{one_line(name)!r} is no name for a {what}: it is "
            f"{'a bare number' if plain else 'empty'}. Use at least one letter, e.g. 'A{plain}'."
        )
        raise StudyError(message)
    return plain


def photo_id_of(connection: Connection, name: str) -> uuid.UUID:
    """Find the current photo of a name.

    Raises
    ------
    StudyError
        If the study has no such photo.
    """
    found = connection.scalar(select(PhotoRow.id).where(PhotoRow.name == name, PhotoRow.current))
    if found is None:
        message = (
            f"The study has no photo named {one_line(name)!r}. Names are paths relative to the "
            "folder that was measured; measure the photo first."
        )
        raise StudyError(message)
    return found


def group_id_of(connection: Connection, name: str) -> uuid.UUID | None:
    """Find a group by name, or make it; None for an empty name."""
    if not name:
        return None
    found = connection.scalar(select(Group.id).where(Group.name == name))
    if found is None:
        found = new_key()
        connection.execute(insert(Group).values(id=found, name=name))
    return found


def visit_id_of(
    connection: Connection, group_id: uuid.UUID | None, day: date | None
) -> uuid.UUID | None:
    """Find the visit of a group on a date, or make it; None without a date."""
    if day is None:
        return None
    same_group = Visit.group_id.is_(None) if group_id is None else Visit.group_id == group_id
    found = connection.scalar(select(Visit.id).where(Visit.date == day.isoformat(), same_group))
    if found is None:
        found = new_key()
        connection.execute(insert(Visit).values(id=found, group_id=group_id, date=day.isoformat()))
    return found


def fish_id_of(
    connection: Connection, name: str, *, group_id: uuid.UUID | None = None, body_form: str = ""
) -> uuid.UUID:
    """Find a named fish, or make it."""
    found = connection.scalar(select(Fish.id).where(Fish.name == name))
    if found is None:
        found = new_key()
        connection.execute(
            insert(Fish).values(
                id=found, name=name, group_id=group_id, body_form=body_form, created_at=utc_now()
            )
        )
    return found


def find_sighting(connection: Connection, photo_id: uuid.UUID, fish: str) -> uuid.UUID | None:
    """Find a fish on a photo by its number or its name; blanks around a name do not count."""
    fish = fish.strip()
    query = select(Sighting.id).where(Sighting.photo_id == photo_id)
    if is_number(fish):
        return connection.scalar(query.where(Sighting.number == int(fish)))
    return connection.scalar(query.join(Fish).where(Fish.name == fish))


def sighting_id_of(connection: Connection, photo_id: uuid.UUID, fish: str, photo: str) -> uuid.UUID:
    """Find a fish on a photo by its number or its name.

    Raises
    ------
    StudyError
        If there is no such fish on the photo.
    """
    found = find_sighting(connection, photo_id, fish)
    if found is None:
        message = (
            f"Photo {one_line(photo)!r} has no fish {one_line(fish)!r}. Its fish have numbers "
            "from left to right, or names; see the column fish of fish.csv."
        )
        raise StudyError(message)
    return found


def fish_label(connection: Connection, sighting_id: uuid.UUID) -> str:
    """Give what tables call a fish: its name, or its number on the photo."""
    name, number = connection.execute(
        select(Fish.name, Sighting.number)
        .select_from(Sighting)
        .join(Fish, isouter=True)
        .where(Sighting.id == sighting_id)
    ).one()
    return name or str(number)


def sightings_for(
    connection: Connection, photo_id: uuid.UUID, readings: Sequence[Reading]
) -> dict[str, uuid.UUID]:
    """Find the sighting of every reading's fish; new fish get the next numbers.

    A fish given by number keeps that number; fish given by a new name are numbered from left to
    right after all numbers that are taken. A number that was given once is never given again.

    Raises
    ------
    StudyError
        If one fish is given twice on the photo.
    """
    _refuse_twins(reading.fish for reading in readings)
    found: dict[str, uuid.UUID] = {}
    new_names = []
    for reading in readings:
        sighting = find_sighting(connection, photo_id, reading.fish)
        if sighting is None and is_number(reading.fish.strip()):
            sighting = _add_sighting(connection, photo_id, int(reading.fish))
        if sighting is None:
            new_names.append(reading)
        else:
            found[reading.fish] = sighting
    for reading in sorted(new_names, key=_middle_x_px):
        sighting = _add_sighting(connection, photo_id, _next_number(connection, photo_id))
        tie(connection, sighting, check_name(reading.fish, "fish"), reading.body_form)
        found[reading.fish] = sighting
    return found


def tie(connection: Connection, sighting_id: uuid.UUID, name: str, body_form: str = "") -> None:
    """Say which named fish a sighting is.

    Raises
    ------
    StudyError
        If another fish on the same photo has that name.
    """
    group_id = connection.scalar(select(Sighting.group_id).where(Sighting.id == sighting_id))
    fish_id = fish_id_of(connection, name, group_id=group_id, body_form=body_form)
    photo_id = select(Sighting.photo_id).where(Sighting.id == sighting_id).scalar_subquery()
    twin = connection.scalar(
        select(Sighting.number).where(
            Sighting.photo_id == photo_id, Sighting.fish_id == fish_id, Sighting.id != sighting_id
        )
    )
    if twin is not None:
        message = (
            f"Fish number {twin} on this photo is already named {one_line(name)!r}. "
            "One name is one animal: give this fish another name, or take the name from the other."
        )
        raise StudyError(message)
    connection.execute(update(Sighting).where(Sighting.id == sighting_id).values(fish_id=fish_id))


def _add_sighting(connection: Connection, photo_id: uuid.UUID, number: int) -> uuid.UUID:
    sighting_id = new_key()
    connection.execute(insert(Sighting).values(id=sighting_id, photo_id=photo_id, number=number))
    return sighting_id


def _next_number(connection: Connection, photo_id: uuid.UUID) -> int:
    highest = connection.scalar(
        select(func.max(Sighting.number)).where(Sighting.photo_id == photo_id)
    )
    return (highest or 0) + 1


def _middle_x_px(reading: Reading) -> float:
    """Mean x of the placed landmarks; a fish without any comes last."""
    placed = [mark.x_px for mark in reading.landmarks.values() if mark.state == "placed"]
    return float(np.mean(placed)) if placed else np.inf


def _refuse_twins(names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        key = str(int(name)) if is_number(name.strip()) else name.strip()
        if key in seen:
            message = (
                f"Fish {one_line(name)!r} is given twice on one photo. "
                "One name is one animal: give the other fish another name or number."
            )
            raise StudyError(message)
        seen.add(key)
