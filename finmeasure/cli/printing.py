"""What the commands write to the terminal: results to stdout, complaints to stderr."""

from __future__ import annotations

import sys

import typer


def one_line(text: object) -> str:
    r"""Put any text into one line that a terminal shows as it is.

    File names may hold newlines and codes that would change the terminal.

    Examples
    --------
    >>> one_line("a\nb\x1b[31m")
    'a\\nb\\x1b[31m'
    """
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape", "replace").decode()
        for letter in str(text)
    )


def say(text: object) -> None:
    """Write one line to stdout."""
    typer.echo(one_line(text))


def complain(text: object) -> None:
    """Write one line to stderr."""
    typer.echo(f"finmeasure: {one_line(text)}", err=True)


def make_output_safe() -> None:
    """Let no name stop the program because the terminal cannot show one of its letters."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def counted(number: int, word: str) -> str:
    """Give number and noun, in the plural where it is due.

    Examples
    --------
    >>> counted(1, "photo"), counted(3, "photo")
    ('1 photo', '3 photos')
    """
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
