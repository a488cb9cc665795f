"""Tables of the keeper found beside the photos: groups, labels, events, water, references."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from finmeasure.errors import StudyError, TableError
from finmeasure.exchange.inputs import (
    EventRow,
    GroupRow,
    InputTable,
    LabelRow,
    WaterRow,
    read_events,
    read_groups,
    read_labels,
    read_water,
)
from finmeasure.exchange.references import WholeFinRow, read_references
from finmeasure.study.records import ReferenceRow

if TYPE_CHECKING:
    from finmeasure.study.store import Study

READERS: dict[str, Callable[[Path], InputTable[Any]]] = {
    "groups": read_groups,
    "labels": read_labels,
    "events": read_events,
    "water": read_water,
    "references": read_references,
}
#: Who is said to have declared a row of references.csv.
DECLARED_BY = "references.csv"


@dataclass(slots=True)
class KeeperTables:
    """What the keeper's tables say.

    Parameters
    ----------
    groups, labels, events, water, references : list
        Rows of all tables that were read, in the order in which they were read.
    read : list of str
        One line for each table that was read.
    problems : list of str
        One line for each row that was left out.
    """

    groups: list[GroupRow] = field(default_factory=list)
    labels: list[LabelRow] = field(default_factory=list)
    events: list[EventRow] = field(default_factory=list)
    water: list[WaterRow] = field(default_factory=list)
    references: list[WholeFinRow] = field(default_factory=list)
    read: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)

    def put_into(self, study: Study) -> dict[str, str]:
        """Write what does not need the photos; give the body form of each group of the study."""
        study.set_groups(self.groups)
        study.add_events(self.events)
        study.add_water(self.water)
        self._declare_references(study)
        return {row.group: row.body_form for row in study.groups() if row.body_form}

    def _declare_references(self, study: Study) -> None:
        """Declare the whole fins of references.csv; rows that stand as they are stay as they are.

        The newest declaration counts, so that a corrected row takes the place of the old one.
        """
        newest = {_held_for(row): row.document for row in study.references()}
        for whole in self.references:
            row = _declared(whole)
            if newest.get(_held_for(row)) != row.document:
                study.declare_reference(row)

    def put_labels_into(self, study: Study) -> list[str]:
        """Write the labels, once the photos are there; give one line for each that does not fit."""
        lines = []
        for row in self.labels:
            try:
                study.add_labels([row])
            except StudyError as error:
                lines.append(f"labels.csv: the label of fish {row.fish!r} is left out: {error}")
        return lines


def read_keeper_tables(sources: Sequence[Path], study_folder: Path) -> KeeperTables:
    """Read the keeper's tables that lie in the folders of photos and in the study's folder.

    Parameters
    ----------
    sources : sequence of Path
        Photos and folders as given to `measure`; a photo stands for the folder it lies in.
    study_folder : Path
        Folder of the study; its tables are read last, so they have the last word.

    Returns
    -------
    KeeperTables
        The rows that are in order.

    Raises
    ------
    TableError
        If a table cannot be read, or none of its rows can.
    """
    tables = KeeperTables()
    for folder in _folders(sources, study_folder):
        for name, reader in READERS.items():
            file = folder / f"{name}.csv"
            if os.path.lexists(file):
                _add(tables, name, file, reader(file))
    return tables


def add_references(tables: KeeperTables, file: Path) -> None:
    """Read one more table of whole fins; its rows have the last word.

    Raises
    ------
    TableError
        If the table cannot be read, or none of its rows can.
    """
    _add(tables, "references", file, read_references(file))


def _declared(whole: WholeFinRow) -> ReferenceRow:
    document = {
        "ratio": whole.length_to_sl,
        "u": whole.sd,
        "sl_mm": whole.sl_mm,
        "method": whole.length_along,
        "of_kind": whole.kind,
    }
    return ReferenceRow(
        "species_row",
        fin=whole.fin,
        group=whole.group,
        name=whole.name,
        document={name: value for name, value in document.items() if value not in (None, "")},
        declared_by=DECLARED_BY,
    )


def _held_for(row: ReferenceRow) -> tuple[str, ...]:
    """Tell what a reference holds for: the newest of one key counts."""
    document = row.document
    method, kind = str(document.get("method", "")), str(document.get("of_kind", ""))
    return row.kind, row.fin, row.fish, row.group, row.name, method, kind


def _folders(sources: Sequence[Path], study_folder: Path) -> Iterator[Path]:
    """Give each folder once, the study's last."""
    given = [Path(os.path.abspath(source)) for source in sources]
    folders = [source if source.is_dir() else source.parent for source in given]
    last = Path(os.path.abspath(study_folder))
    yield from dict.fromkeys(folder for folder in folders if folder != last)
    yield last


def _add(tables: KeeperTables, name: str, file: Path, table: InputTable[Any]) -> None:
    """Take over the rows of one table."""
    if table.problems and not table.rows:
        message = f"{file}: no row can be used. {table.problems[0]}"
        raise TableError(message)
    getattr(tables, name).extend(table.rows)
    rows = f"{len(table.rows)} row{'' if len(table.rows) == 1 else 's'}"
    left_out = f", {len(table.problems)} left out" if table.problems else ""
    tables.read.append(f"Read {file} ({rows}{left_out}).")
    tables.problems.extend(table.problems)
