"""The command that opens the window."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Annotated

import typer

from finmeasure.errors import FinmeasureError


def open_window(
    what: Annotated[
        Path | None, typer.Argument(help="A photo, a folder of photos or a study.", metavar="WHAT")
    ] = None,
) -> None:
    """Open the window, at the photos that need a person."""
    if importlib.util.find_spec("napari") is None or importlib.util.find_spec("qtpy") is None:
        message = (
            "The window needs napari, which is not installed. "
            'Install it with: pip install "finmeasure[app]"'
        )
        raise FinmeasureError(message)
    if what is not None and not what.exists():
        message = f"{what}: there is no such file or folder. Check the spelling."
        raise FinmeasureError(message)
    import subprocess
    import sys

    # the window in a process of its own: the core never imports napari
    command = [sys.executable, "-m", "napari_finmeasure"]
    command += [str(what)] if what is not None else []
    raise typer.Exit(subprocess.call(command))
