"""The command that joins the studies of several benches."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import counted, say
from finmeasure.cli.study_commands import StudyFolder


def merge(
    study: StudyFolder,
    other: Annotated[
        Path, typer.Argument(help="Folder of the other study.", metavar="OTHER_STUDY")
    ],
) -> None:
    """Join what another bench recorded; nothing is dropped, contradictions are listed."""
    from finmeasure.study.store import Study

    with Study.open(study) as ours, Study.open(other, read_only=True) as theirs:
        found = ours.merge(theirs)
    for conflict in found.conflicts:
        say(f"differs: {conflict}")
    for plain, number in found.added.items():
        say(f"{counted(number, f'{plain} row')} added.")
    say(
        f"{counted(sum(found.known.values()), 'row')} here already, "
        f"{counted(len(found.conflicts), 'contradiction')}."
    )
