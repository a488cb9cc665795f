"""The commands by name. Only commands that work are listed."""

from __future__ import annotations

from typing import Annotated

import typer

from finmeasure import __version__
from finmeasure.cli import (
    ask,
    card,
    change_commands,
    fin_guide,
    measure,
    merging,
    sort,
    study_commands,
    watch,
    window,
)

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Measure fish fins on side-view photographs, every number with its uncertainty.",
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"finmeasure {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show it.")
    ] = False,
) -> None:
    """Measure fish fins on side-view photographs, every number with its uncertainty."""


app.command("card")(card.card)
app.command("measure")(measure.measure)
app.command("watch")(watch.watch)
app.command("open")(window.open_window)
app.command("ask")(ask.ask)
app.command("sort")(sort.sort)
app.command("regrowth")(change_commands.regrowth)
app.command("repeat")(change_commands.repeat)
app.command("plan")(change_commands.plan)
app.command("report")(study_commands.report)
app.command("export")(study_commands.export)
app.command("check")(study_commands.check)
app.command("merge")(merging.merge)
app.command("fins")(fin_guide.fins)
