"""The part of a study that keeps what the keeper knows: groups, events, water, labels, cards."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import insert, select

from finmeasure.exchange.inputs import EventRow, GroupRow, LabelRow, WaterRow
from finmeasure.scale.lens import Lens
from finmeasure.scale.request import PrintCheck
from finmeasure.study import keeper_rows
from finmeasure.study.keeper_tables import Camera, CardPrint, Setting
from finmeasure.study.naming import utc_now
from finmeasure.study.opened import OpenedStudy
from finmeasure.study.records import CameraRow, CardPrintRow, ReferenceRow


class KeeperMethods(OpenedStudy):
    """Groups, events, water tests, labels, references, card prints, cameras, settings.

    Giving the same rows again changes nothing, so that a table can be read in at every run.
    """

    def set_groups(self, rows: Iterable[GroupRow]) -> None:
        """Write what is known of groups; what a row does not say stays as it was."""
        with self._database.writing() as connection:
            for row in rows:
                keeper_rows.put_group(connection, row)

    def groups(self) -> tuple[GroupRow, ...]:
        """Give all groups, by name."""
        with self._database.reading() as connection:
            return keeper_rows.groups(connection)

    def add_events(self, rows: Iterable[EventRow]) -> int:
        """Add events that are not there yet; give their number."""
        with self._database.writing() as connection:
            return sum([keeper_rows.put_event(connection, row) for row in rows])

    def events(self, group: str = "") -> tuple[EventRow, ...]:
        """Give all events (of a group) by date."""
        with self._database.reading() as connection:
            return keeper_rows.events(connection, group)

    def add_water(self, rows: Iterable[WaterRow]) -> None:
        """Write water tests; the same quantity of the same group and time is corrected."""
        with self._database.writing() as connection:
            for row in rows:
                keeper_rows.put_water(connection, row)

    def water(self, group: str = "") -> tuple[WaterRow, ...]:
        """Give all water tests (of a group) by time."""
        with self._database.reading() as connection:
            return keeper_rows.water(connection, group)

    def add_labels(self, rows: Iterable[LabelRow]) -> None:
        """Write labels; a person's label of the same fish and character is corrected.

        Raises
        ------
        StudyError
            If a row names a fish by number without its photo, or a fish that the photo lacks.
        """
        with self._database.writing() as connection:
            for row in rows:
                keeper_rows.put_label(connection, row)

    def labels(self) -> tuple[LabelRow, ...]:
        """Give all labels; a fish without a name comes with its photo."""
        with self._database.reading() as connection:
            return keeper_rows.labels(connection)

    def declare_reference(self, row: ReferenceRow) -> None:
        """Declare what a whole fin is compared with; the newest declaration counts."""
        with self._database.writing() as connection:
            keeper_rows.put_reference(connection, row)

    def references(self) -> tuple[ReferenceRow, ...]:
        """Give all declared references, oldest first."""
        with self._database.reading() as connection:
            return keeper_rows.references(connection)

    def add_card_print(self, row: CardPrintRow) -> None:
        """Keep the check lines of a printed card as they were measured."""
        with self._database.writing() as connection:
            connection.execute(insert(CardPrint).values(**_fields(row)))

    def card_prints(self) -> tuple[CardPrintRow, ...]:
        """Give all measured card prints, oldest first."""
        query = select(CardPrint.__table__).order_by(CardPrint.measured_at)
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        return tuple(CardPrintRow(**_without_id(row)) for row in rows)

    def print_checks(self) -> tuple[PrintCheck, ...]:
        """Give the measured check lines in the form that a scale is found with."""
        return tuple(
            PrintCheck(row.across_measured_mm, row.down_measured_mm, row.u_mm, row.design)
            for row in self.card_prints()
        )

    def add_camera(self, row: CameraRow) -> None:
        """Keep the calibration of a camera; the newest of a name counts."""
        values = _fields(row) | {"calibrated_at": row.calibrated_at or utc_now()}
        with self._database.writing() as connection:
            connection.execute(insert(Camera).values(**values))

    def cameras(self) -> tuple[CameraRow, ...]:
        """Give all camera calibrations, oldest first."""
        query = select(Camera.__table__).order_by(Camera.calibrated_at)
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        return tuple(CameraRow(**_without_id(row)) for row in rows)

    def lenses(self) -> tuple[Lens, ...]:
        """Give the calibrated cameras in the form that a scale is found with, oldest first."""
        documents = [row.document for row in self.cameras()]
        return tuple(Lens.from_json(one) for one in documents if Lens.is_in(one))

    def set_setting(self, key: str, value: Any) -> None:
        """Keep a fact of the study itself (anything that JSON can hold) under a key."""
        with self._database.writing() as connection:
            keeper_rows.put(connection, Setting, {"key": key}, {"value": value})

    def setting(self, key: str) -> Any:
        """Give what is kept under a key; None where there is nothing."""
        with self._database.reading() as connection:
            return connection.scalar(select(Setting.value).where(Setting.key == key))


def _fields(row: Any) -> dict[str, Any]:
    return {name: getattr(row, name) for name in row.__dataclass_fields__}


def _without_id(row: Any) -> dict[str, Any]:
    return {name: value for name, value in row._mapping.items() if name != "id"}
