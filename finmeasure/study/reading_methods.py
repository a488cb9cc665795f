"""The part of a study that keeps readings, their measures, drafts and the names of fish."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from sqlalchemy import delete, select, update

from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.study import reading_queries
from finmeasure.study.measure_columns import columns_to_measures
from finmeasure.study.naming import (
    check_name,
    fish_label,
    photo_id_of,
    sighting_id_of,
    sightings_for,
    tie,
    utc_now,
)
from finmeasure.study.opened import OpenedStudy
from finmeasure.study.recording import (
    add_reading,
    describe_sighting,
    mark_measured,
    put_measures,
    scale_to_use,
)
from finmeasure.study.records import FishResult, Purpose, StoredReading
from finmeasure.study.tables import Draft, Sighting


class ReadingMethods(OpenedStudy):
    """Readings, measures, drafts, names."""

    def confirm_reading(
        self,
        photo: str,
        reading: Reading,
        *,
        measures: Iterable[Measure] = (),
        purpose: Purpose = "work",
        side: str = "",
        group: str = "",
        visit: date | None = None,
        seconds: float | None = None,
    ) -> uuid.UUID:
        """Make a person's marks a reading, which is never changed again; the draft goes.

        Parameters
        ----------
        photo : str
            Name of a photo of the study.
        reading : Reading
            ``reading.fish`` is the fish's number or name, ``reading.placed_by`` the person.
        measures : iterable of Measure
            Derived from it with the photo's newest scale.
        purpose : {"work", "repeat"}
            A ``repeat`` is a second marking for repeatability; it never becomes the current one.
        side, group, visit
            As in :class:`FishResult`.
        seconds : float, optional
            How long the person took.

        Returns
        -------
        uuid.UUID
            Key of the reading.

        Raises
        ------
        StudyError
            If the study has no such photo, or the reading cannot be stored.
        """
        fish = FishResult(reading, tuple(measures), side, visit, group, source="person")
        with self._database.writing() as connection:
            photo_id = photo_id_of(connection, photo)
            sighting_id = sightings_for(connection, photo_id, [reading])[reading.fish]
            describe_sighting(connection, sighting_id, fish)
            reading_id = add_reading(
                connection,
                sighting_id,
                reading,
                source="person",
                confirmed=True,
                purpose=purpose,
                seconds=seconds,
            )
            scale_id = scale_to_use(connection, photo_id)
            if fish.measures:
                put_measures(connection, reading_id, scale_id, fish.measures)
            if purpose == "work":
                mark_measured(connection, photo_id)
            connection.execute(
                delete(Draft).where(
                    Draft.photo_id == photo_id,
                    Draft.fish == reading.fish,
                    Draft.person == reading.placed_by,
                    Draft.purpose == purpose,
                )
            )
        return reading_id

    def readings_of(self, photo: str, fish: str = "") -> tuple[StoredReading, ...]:
        """Give all readings of a photo (of one fish on it), oldest first, repeats included.

        Raises
        ------
        StudyError
            If the study has no such photo or fish.
        """
        with self._database.reading() as connection:
            photo_id = photo_id_of(connection, photo)
            sighting = sighting_id_of(connection, photo_id, fish, photo) if fish else None
            return reading_queries.load(connection, photo_id=photo_id, sighting_id=sighting)

    def current_readings(self, photo: str = "", *, group: str = "") -> tuple[StoredReading, ...]:
        """Give the reading that counts for every fish: the newest confirmed `work` one.

        A fish that no person has looked at yet shows the newest proposal (``confirmed`` is False).

        Parameters
        ----------
        photo, group : str
            Only this photo; only this group. Empty for all.
        """
        with self._database.reading() as connection:
            photo_id = photo_id_of(connection, photo) if photo else None
            return reading_queries.load(
                connection, photo_id=photo_id, group=group, current_only=True
            )

    def repeat_readings(self) -> tuple[StoredReading, ...]:
        """Give every confirmed reading of fish that were marked more than once, for `repeat`."""
        with self._database.reading() as connection:
            return reading_queries.load(connection, repeated_only=True)

    def measures(self, reading_id: uuid.UUID) -> tuple[Measure, ...] | None:
        """Give the measures of a reading with the photo's newest scale; None if not computed."""
        with self._database.reading() as connection:
            columns = reading_queries.measure_columns(connection, reading_id)
            return None if columns is None else columns_to_measures(columns)

    def confirmed_measures(
        self, body_form: str, *, group: str = ""
    ) -> dict[tuple[str, str], dict[str, Measure]]:
        """Give the measures of every confirmed fish of a group and body form.

        Parameters
        ----------
        body_form : str
            Its id.
        group : str
            Name of the group; empty for the fish without one.

        Returns
        -------
        dict of tuple of str to dict of str to Measure
            By photo and fish, then by measure.
        """
        found = {}
        with self._database.reading() as connection:
            for one in reading_queries.load(connection, group=group, current_only=True):
                if not one.confirmed or one.reading.body_form != body_form or one.group != group:
                    continue
                columns = reading_queries.measure_columns(connection, one.id)
                rows = () if columns is None else columns_to_measures(columns)
                found[one.photo, one.reading.fish] = {row.id: row for row in rows}
        return found

    def store_measures(self, reading_id: uuid.UUID, measures: Iterable[Measure]) -> None:
        """Keep measures of a reading that were derived with the photo's newest scale."""
        with self._database.writing() as connection:
            photo_id = reading_queries.photo_of(connection, reading_id)
            scale_id = scale_to_use(connection, photo_id)
            put_measures(connection, reading_id, scale_id, measures)

    def readings_without_measures(self) -> tuple[StoredReading, ...]:
        """Give current readings whose measures are missing, or of an older version or scale."""
        with self._database.reading() as connection:
            return reading_queries.load(connection, current_only=True, unmeasured_only=True)

    def save_draft(
        self,
        photo: str,
        fish: str,
        person: str,
        document: Mapping[str, Any],
        *,
        purpose: Purpose = "work",
    ) -> None:
        """Keep unfinished marks; each call overwrites what the person had on this fish.

        Raises
        ------
        StudyError
            If the study has no such photo (see `add_photo`).
        """
        with self._database.writing() as connection:
            photo_id = photo_id_of(connection, photo)
            values = {"document": dict(document), "saved_at": utc_now()}
            reading_queries.put_draft(connection, (photo_id, fish, person, purpose), values)

    def load_draft(
        self, photo: str, fish: str, person: str, *, purpose: Purpose = "work"
    ) -> dict[str, Any] | None:
        """Give the unfinished marks of a person on a fish; None where there are none."""
        return self.drafts_of(photo, person, purpose=purpose).get(fish)

    def drafts_of(
        self, photo: str, person: str, *, purpose: Purpose = "work"
    ) -> dict[str, dict[str, Any]]:
        """Give all unfinished marks of a person on a photo, by fish."""
        query = select(Draft.fish, Draft.document).where(
            Draft.person == person, Draft.purpose == purpose
        )
        with self._database.reading() as connection:
            photo_id = photo_id_of(connection, photo)
            rows = connection.execute(query.where(Draft.photo_id == photo_id)).all()
        return {row.fish: row.document for row in rows}

    def drop_draft(self, photo: str, fish: str, person: str, *, purpose: Purpose = "work") -> None:
        """Throw unfinished marks away."""
        with self._database.writing() as connection:
            connection.execute(
                delete(Draft).where(
                    Draft.photo_id == photo_id_of(connection, photo),
                    Draft.fish == fish,
                    Draft.person == person,
                    Draft.purpose == purpose,
                )
            )

    def name_fish(self, photo: str, fish: str, name: str) -> None:
        """Say which named fish a fish on a photo is; an empty name takes the name away.

        Parameters
        ----------
        photo : str
            Name of the photo.
        fish : str
            Its number on the photo, or the name it has now.
        name : str
            The individual's name, unique in the study; not of digits only.

        Raises
        ------
        StudyError
            If there is no such fish, or another one on the photo has that name.
        """
        with self._database.writing() as connection:
            photo_id = photo_id_of(connection, photo)
            sighting_id = sighting_id_of(connection, photo_id, fish, photo)
            before = fish_label(connection, sighting_id)
            if name:
                tie(connection, sighting_id, check_name(name, "fish"))
            else:
                connection.execute(
                    update(Sighting).where(Sighting.id == sighting_id).values(fish_id=None)
                )
            connection.execute(
                update(Draft)
                .where(Draft.photo_id == photo_id, Draft.fish == before)
                .values(fish=fish_label(connection, sighting_id))
            )

    def withdraw_fish(self, photo: str, fish: str) -> None:
        """Leave a fish out of all tables ("this is no fish"); its readings stay on record.

        Raises
        ------
        StudyError
            If there is no such fish on the photo.
        """
        with self._database.writing() as connection:
            photo_id = photo_id_of(connection, photo)
            sighting_id = sighting_id_of(connection, photo_id, fish, photo)
            connection.execute(
                update(Sighting).where(Sighting.id == sighting_id).values(withdrawn=True)
            )
