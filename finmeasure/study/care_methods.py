"""The part of a study that gives tables out, looks after the file, and backs it up."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from finmeasure.errors import StudyError
from finmeasure.study.opened import OpenedStudy
from finmeasure.study.records import Finding, MergeReport

if TYPE_CHECKING:
    import pandas as pd

    from finmeasure.study.store import Study


class CareMethods(OpenedStudy):
    """Export, check, backup. What they need is imported when they are used: it is heavy."""

    def export(self, form: str = "csv", folder: Path | None = None) -> tuple[Path, ...]:
        """Write the tables of the contract, by default into the study's folder.

        Parameters
        ----------
        form : {"csv", "parquet", "dwc"}
            Kind of file; `dwc` is one Darwin Core Archive, ``darwin_core.zip``.
        folder : pathlib.Path, optional
            Made where it is missing.

        Returns
        -------
        tuple of pathlib.Path
            The files written; each replaced its older one in one step.

        Raises
        ------
        StudyError
            If `form` is not known, or the folder cannot be written to.
        """
        from finmeasure.study.exporting import export_tables

        return export_tables(self._database, folder or self.folder, form)

    def table(self, name: str) -> pd.DataFrame:
        """Give one table of the contract as a data frame.

        Parameters
        ----------
        name : {"photos", "landmarks", "outlines", "measurements", "fish"}
            Which table.

        Raises
        ------
        StudyError
            If there is no such table.
        """
        from finmeasure.study.exporting import table_frame

        return table_frame(self._database, name)

    def check(self, *, photos: bool = True) -> tuple[Finding, ...]:
        """Look at everything that could be wrong; empty where all is well.

        Parameters
        ----------
        photos : bool
            Also read every photo file and compare its checksum.
        """
        from finmeasure.study.checking import check_study

        return check_study(self._database, self.folder, photos=photos)

    def back_up(self, target: Path) -> None:
        """Copy the database into one file, while others may go on writing; look at the copy.

        Raises
        ------
        StudyError
            If the file cannot be written, or the copy is not sound.
        """
        from finmeasure.study.checking import back_up

        back_up(self._database, target)

    def merge(self, other: Study) -> MergeReport:
        """Join what another bench recorded, in one transaction.

        Parameters
        ----------
        other : Study
            Only read; open it with ``read_only=True``.

        Returns
        -------
        MergeReport
            What was added, what was known, and every contradiction.

        Raises
        ------
        StudyError
            If the other study is this one, or a database cannot be used.
        """
        from finmeasure.study.merging import merge_studies

        if other.folder.resolve() == self.folder.resolve():
            message = f"{self.folder} was given twice. Give the folder of the other bench."
            raise StudyError(message)
        return merge_studies(self._database, other._database, other.folder.name)
