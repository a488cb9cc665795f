"""What all parts of an open study share."""

from __future__ import annotations

from pathlib import Path

from finmeasure.study.connecting import Database


class OpenedStudy:
    """A folder and its database; the methods come from the parts of `Study`."""

    def __init__(self, folder: Path, database: Database) -> None:
        self.folder = folder
        self._database = database
