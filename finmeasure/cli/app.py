"""The commands by name. Only commands that work are listed."""

from __future__ import annotations

from functools import partial
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
from finmeasure.cli.plain_command import PlainCommand

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


_command = partial(app.command, cls=PlainCommand)
_command("card", short_help="Write a card to print.")(card.card)
_command("measure", short_help="Measure photos: lengths, ratios, fin edges.")(measure.measure)
_command("watch", short_help="Say KEEP or RETAKE for each new photo.")(watch.watch)
_command("open", short_help="Open the window.")(window.open_window)
_command("ask", short_help="Say which fin tells the sex, and what it says.")(ask.ask)
_command("sort", short_help="Sort a mixed box: odd fish, sex, size grade, fins.")(sort.sort)
_command("regrowth", short_help="Tell whether fins grow back, and how fast.")(
    change_commands.regrowth
)
_command("repeat", short_help="Tell how well the same fish is measured twice.")(
    change_commands.repeat
)
_command("plan", short_help="Tell how many fish, photos and visits are needed.")(
    change_commands.plan
)
_command("report", short_help="Write a report to read, send and print.")(study_commands.report)
_command("export", short_help="Write the study's tables as files.")(study_commands.export)
_command("check", short_help="Look for anything lost or damaged; make a backup.")(
    study_commands.check
)
_command("merge", short_help="Join what another bench recorded.")(merging.merge)
_command("fins", short_help="Tell which fin is which.")(fin_guide.fins)
