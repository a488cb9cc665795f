"""The command `sort`: odd ones of a box, sex, size grade, fins."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import say


def sort(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", metavar="STUDY")],
    group: Annotated[str, typer.Option(help="Group to sort: a box, bag or tank.", metavar="GROUP")],
    reference: Annotated[
        str,
        typer.Option(
            help="Group known to be all of one kind; remembered for the next time.", metavar="GROUP"
        ),
    ] = "",
    character: Annotated[
        list[str] | None,
        typer.Option(
            help="Ratio to compare, up to four times.", metavar="RATIO", show_default=False
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Page to write, .html or .pdf; in the study if not given.", metavar="FILE"
        ),
    ] = None,
) -> None:
    """Sort a mixed box: fish unlike the rest, sex, size grade, fins."""
    from finmeasure.errors import FinmeasureError
    from finmeasure.measurements.definitions import MEASURES
    from finmeasure.report.condition import sort_page
    from finmeasure.report.condition_pages import write_box_page
    from finmeasure.shipment.reference_table import IN_STUDY, SHIPPED
    from finmeasure.study.store import Study

    names = list(character or ())
    unknown = [name for name in names if name not in MEASURES or not name.endswith("_to_sl")]
    if len(names) > 4 or unknown:
        message = (
            f"--character {' '.join(unknown or names)}: give at most four ratios such as "
            "body_depth_to_sl; `finmeasure export` lists the measures of a study."
        )
        raise FinmeasureError(message)
    table = study / IN_STUDY
    with Study.open(study) as opened:
        if not table.exists():
            table.write_bytes(SHIPPED.read_bytes())
        key = f"reference_box:{group}"
        stored = str(opened.setting(key) or "")
        page = sort_page(
            opened, group, characters=names, reference=reference or stored, species=table
        )
        if reference:
            opened.set_setting(key, reference)
        file = out or study / "sort.html"
        write_box_page(page, file)
    for line in page.summary:
        say(line)
    say(f"Wrote {file}. The reference table {table} is yours to edit.")
