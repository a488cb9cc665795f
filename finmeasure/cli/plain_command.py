"""A command whose help and whose refusals speak of numbers and files, not of types."""

from __future__ import annotations

import re

import typer
from typer.core import TyperCommand

# What the library of the command line says, and how a keeper would say it.
_REFUSALS = (
    (r"^Value error, '(.*?)' is not one of (.*?)\.?$", r"'\1' is not known; give one of \2."),
    (r"^Value error, ", ""),
    (r"^Input should be a valid number.*", "that is not a number; write it like 12.5."),
    (r"^Input should be a valid integer.*", "that is not a whole number; write it like 12."),
    (r"^Input should be greater than or equal to (\S+)$", r"it must be \1 or more."),
    (r"^Input should be less than or equal to (\S+)$", r"it must be \1 or less."),
)
_RANGES = (
    (r"([\d.]+)<=x<=([\d.]+)", r"\1 to \2"),
    (r"x>=([\d.]+)", r"\1 or more"),
)
_TYPE_OF_ARGUMENT = re.compile(r"(?m)^(  [A-Z_]+) (<\S+>|\[\S+\])(?=  )")


class PlainCommand(TyperCommand):
    """A command in plain words."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        """Read what was typed; say plainly what is wrong with it."""
        try:
            return super().parse_args(ctx, args)
        except typer.BadParameter as error:
            error.message = _reworded(error.message, _REFUSALS)
            raise

    def get_help(self, ctx: typer.Context) -> str:  # type: ignore[override]
        """Give the help without the names of types; ranges in words."""
        without_types = _TYPE_OF_ARGUMENT.sub(
            lambda found: found[1] + " " * (len(found[2]) + 1), super().get_help(ctx)
        )
        return _reworded(without_types, _RANGES)


def _reworded(text: str, rules: tuple[tuple[str, str], ...]) -> str:
    for pattern, words in rules:
        text = re.sub(pattern, words, text)
    return text
