"""The part of a study that keeps runs, photos and their scales."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select, update

from finmeasure import __version__
from finmeasure.errors import NotFound
from finmeasure.photo.record import PhotoMetadata
from finmeasure.scale.calibration import Scale
from finmeasure.scale.storage import scale_from_json
from finmeasure.study.keys import new_key
from finmeasure.study.naming import photo_id_of, utc_now
from finmeasure.study.opened import OpenedStudy
from finmeasure.study.recording import (
    add_photo,
    current_photo,
    newest_scale,
    put_scale,
    record,
    referenced_file,
)
from finmeasure.study.records import PhotoResult, PhotoStanding, RecordedPhoto, RunRow
from finmeasure.study.standing import standings
from finmeasure.study.tables import PhotoRow, Run


class PhotoMethods(OpenedStudy):
    """Runs, photos, scales."""

    def start_run(self, options: Mapping[str, Any]) -> uuid.UUID:
        """Note that a command begins, with its options; give the run's key."""
        run_id = new_key()
        values = {"id": run_id, "version": __version__, "options": dict(options)}
        with self._database.writing() as connection:
            connection.execute(insert(Run), values | {"started_at": utc_now()})
        return run_id

    def end_run(self, run_id: uuid.UUID) -> None:
        """Note that a command came to its end."""
        with self._database.writing() as connection:
            connection.execute(update(Run).where(Run.id == run_id).values(ended_at=utc_now()))

    def runs(self) -> tuple[RunRow, ...]:
        """Give all runs, oldest first; one without an end was broken off."""
        with self._database.reading() as connection:
            rows = connection.execute(select(Run.__table__).order_by(Run.started_at)).all()
        return tuple(
            RunRow(row.id, row.version, row.options, row.started_at, row.ended_at) for row in rows
        )

    def record_photo_result(self, result: PhotoResult, *, run_id: uuid.UUID | None = None) -> bool:
        """Record everything that one photo gave, all of it or nothing.

        Returns
        -------
        bool
            False where the very same result was recorded before (nothing is written then).

        Raises
        ------
        StudyError
            If the result contradicts itself, or cannot be written.
        """
        with self._database.writing() as connection:
            return record(connection, result, study=self.folder, run_id=run_id)

    def add_photo(
        self,
        name: str,
        sha256: str,
        *,
        metadata: PhotoMetadata | None = None,
        file: Path | None = None,
        role: str = "fish",
    ) -> None:
        """Take a photo into the study before anything was measured on it.

        Nothing happens where the same content is there already under that name.

        Parameters
        ----------
        name : str
            Name within the study.
        sha256 : str
            Of the file's bytes.
        metadata : PhotoMetadata, optional
            Size, time and camera.
        file : pathlib.Path, optional
            Where it lies.
        role : str
            ``"fish"``, or what an attachment shows: ``"unopened_bag"``, ``"label"``,
            ``"dead_fish"``.
        """
        with self._database.writing() as connection:
            add_photo(
                connection,
                name,
                sha256,
                study=self.folder,
                metadata=metadata,
                file=file,
                role=role,
            )

    def photo_is_done(self, name: str, sha256: str, given_digest: str) -> bool:
        """Tell whether a photo was recorded with this checksum and everything given as now."""
        with self._database.reading() as connection:
            row = current_photo(connection, name)
        return (
            row is not None
            and row.state != "to_do"
            and row.sha256 == sha256
            and row.given_digest == given_digest
        )

    def recorded_photos(self) -> dict[str, RecordedPhoto]:
        """Give all photos that count now, by name."""
        with self._database.reading() as connection:
            rows = connection.execute(
                select(PhotoRow.__table__).where(PhotoRow.current).order_by(PhotoRow.name)
            ).all()
            return {row.name: self._recorded(row) for row in rows}

    def standings(self) -> tuple[PhotoStanding, ...]:
        """Tell for every photo how far it is: what waits for a person, what is done."""
        with self._database.reading() as connection:
            return standings(connection, self.folder)

    def set_scale(self, photo: str, scale: Scale | None, *, reason: str = "") -> None:
        """Give a photo a new scale; the older ones stay on record.

        Raises
        ------
        StudyError
            If the study has no such photo.
        """
        with self._database.writing() as connection:
            put_scale(connection, photo_id_of(connection, photo), scale, reason)

    def scale_of(self, photo: str) -> Scale | NotFound:
        """Give the newest scale of a photo.

        Raises
        ------
        StudyError
            If the study has no such photo.
        """
        with self._database.reading() as connection:
            row = newest_scale(connection, photo_id_of(connection, photo))
            if row is None or row.document is None:
                return NotFound(row.reason if row is not None else "No scale was looked for yet.")
            return scale_from_json(row.document)

    def _recorded(self, row: Any) -> RecordedPhoto:
        return RecordedPhoto(
            row.name,
            row.sha256,
            row.state,
            row.reason,
            row.given_digest,
            referenced_file(row.file, self.folder),
        )
