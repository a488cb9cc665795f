"""The command line: every command is one module, and loads what it needs only when it runs."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from finmeasure.cli.app import app
from finmeasure.cli.printing import complain, make_output_safe
from finmeasure.errors import FinmeasureError

__all__ = ["app", "main"]


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command; end with the exit status of the contract.

    0: done; 1: done, but some photos were refused; 2: wrong call or unusable study;
    130: stopped by the user (the usual status for that).

    Parameters
    ----------
    arguments : sequence of str, optional
        What was typed after the program's name; that of this process if None.
    """
    make_output_safe()
    try:
        app(arguments, prog_name="finmeasure")
    except FinmeasureError as error:
        complain(str(error))
        sys.exit(2)
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        complain(f"{named}{error.strerror or error}.")
        sys.exit(2)
