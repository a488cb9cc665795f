"""Commands on a study that exists: report, export, check."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import counted, say

MOST_ALIKE = 5  # a disk that is not plugged in gives one line for each photo
StudyFolder = Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")]


class ReportKind(StrEnum):
    """Kinds of report."""

    TABLE = "table"
    REGROWTH = "regrowth"
    CONDITION = "condition"


class ExportForm(StrEnum):
    """File formats of `export`."""

    CSV = "csv"
    PARQUET = "parquet"
    DWC = "dwc"


def report(
    study: StudyFolder,
    out: Annotated[
        Path,
        typer.Option(
            help="File to write: .html; for condition and regrowth also .pdf.", metavar="FILE"
        ),
    ],
    kind: Annotated[ReportKind, typer.Option(help="What the report shows.")] = ReportKind.TABLE,
    group: Annotated[
        str, typer.Option(help="For condition: the bag or shipment.", metavar="GROUP")
    ] = "",
    attach: Annotated[
        list[Path] | None,
        typer.Option(
            help="For condition: photo of the unopened bag, the label, a dead fish; once for "
            "each photo.",
            metavar="FILE",
        ),
    ] = None,
) -> None:
    """Write a report that opens in any browser and prints on A4."""
    from finmeasure.errors import FinmeasureError
    from finmeasure.report.html import write_table_report
    from finmeasure.study.store import Study

    _check_ending(out, (".html", ".htm") if kind is ReportKind.TABLE else (".html", ".pdf"))
    if kind is ReportKind.CONDITION:
        from finmeasure.report.condition import claim_page
        from finmeasure.report.condition_pages import write_box_page

        if not group:
            message = "Give --group with --kind condition: the bag or shipment it is about."
            raise FinmeasureError(message)
        with Study.open(study, read_only=True) as opened:
            write_box_page(claim_page(opened, group, attach or ()), out)
        say(f"Wrote {out}.")
        return
    if kind is ReportKind.REGROWTH:
        from finmeasure.report.change_report import write_change_report

        with Study.open(study, read_only=True) as opened:
            write_change_report(opened, out)
        say(f"Wrote {out}.")
        return
    with Study.open(study, read_only=True) as opened:
        write_table_report(opened, out)
    say(f"Wrote {out}.")


def _check_ending(out: Path, allowed: tuple[str, ...]) -> None:
    """Refuse a wrong ending before anything is computed."""
    from finmeasure.errors import FinmeasureError

    if out.suffix.lower() not in allowed:
        message = (
            f"Report file {out.name!r}: the ending must be {' or '.join(allowed)}, "
            "for example report.html."
        )
        raise FinmeasureError(message)


def export(
    study: StudyFolder,
    to: Annotated[
        ExportForm, typer.Option(help="csv, parquet, or dwc: one Darwin Core Archive.")
    ] = (ExportForm.CSV),
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the tables; the study's own if not given.", metavar="FOLDER"),
    ] = None,
) -> None:
    """Write the study's tables as files."""
    from finmeasure.study.store import Study

    with Study.open(study) as opened:
        written = opened.export(to.value, out)
    for file in written:
        say(f"Wrote {file}.")


def check(
    study: StudyFolder,
    backup: Annotated[
        Path | None,
        typer.Option(help="Also write a backup of the database to this new file.", metavar="FILE"),
    ] = None,
) -> None:
    """Check that nothing in the study is lost or damaged."""
    from finmeasure.study.store import Study

    with Study.open(study) as opened:
        findings = opened.check()
        if backup is not None:
            opened.back_up(backup)
            say(f"Wrote {backup}.")
    for kind in dict.fromkeys(finding.kind for finding in findings):
        alike = [finding for finding in findings if finding.kind == kind]
        for finding in alike[:MOST_ALIKE]:
            say(f"{finding.severity}: {finding.text}")
        if len(alike) > MOST_ALIKE:
            say(f"… and {len(alike) - MOST_ALIKE} more like these.")
    faults = sum(finding.severity == "fault" for finding in findings)
    say(f"{counted(faults, 'fault')}, {counted(len(findings) - faults, 'note')}.")
    if faults:
        raise typer.Exit(2)
