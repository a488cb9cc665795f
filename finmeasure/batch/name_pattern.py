"""Group, date and fish read from a photo's name by a pattern such as ``{group}/{date}_{fish}``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import PurePosixPath

from finmeasure.errors import FinmeasureError

FIELDS = ("group", "date", "fish")
_DATE = r"\d{4}-\d{2}-\d{2}|\d{8}"


@dataclass(frozen=True, slots=True)
class NameParts:
    """What a photo's name says; None where the pattern has no such field."""

    group: str | None = None
    taken_on: date | None = None
    fish: str | None = None


@dataclass(frozen=True, slots=True)
class NamePattern:
    """A pattern that photo names, without their ending, are read by.

    Parameters
    ----------
    text : str
        The pattern as given, for example ``"{group}/{date}_{fish}"``.
    expression : re.Pattern
        The same as a regular expression.
    """

    text: str
    expression: re.Pattern[str]

    def read(self, name: str) -> NameParts | None:
        """Read a photo's name.

        Parameters
        ----------
        name : str
            The photo's name in the study, with its ending.

        Returns
        -------
        NameParts or None
            None where the name does not follow the pattern or its date does not exist.

        Examples
        --------
        >>> parse_name_pattern("{group}/{date}_{fish}").read("tank 4/2026-05-01_anna.jpg").fish
        'anna'
        """
        match = self.expression.fullmatch(str(PurePosixPath(name).with_suffix("")))
        if match is None:
            return None
        found = match.groupdict()
        # "." and ".." would lead to another folder if a name were ever used in a path
        if any(value.strip() in ("", ".", "..") for value in found.values()):
            return None
        try:
            taken_on = date.fromisoformat(found["date"]) if "date" in found else None
        except ValueError:
            return None
        return NameParts(found.get("group"), taken_on, found.get("fish"))


def parse_name_pattern(text: str) -> NamePattern:
    """Turn the text of ``--name-pattern`` into a pattern.

    A field matches anything but a slash; a date is written 2026-05-01 or 20260501 (ISO 8601).
    Folders above the pattern's own are free.

    Parameters
    ----------
    text : str
        Any of the fields {group}, {date} and {fish}, each at most once, with text between them.

    Returns
    -------
    NamePattern
        To read names with.

    Raises
    ------
    FinmeasureError
        If the pattern has no field, an unknown one, one twice, or two without text between them.
    """
    pieces = re.split(r"(\{[^{}]*\})", text)
    fields = [piece[1:-1] for piece in pieces[1::2]]
    if (problem := _problem(pieces, fields)) is not None:
        message = (
            f"Name pattern {text!r}: {problem}. Allowed are {{group}}, {{date}} and {{fish}}, each "
            'once, with text between them, for example "{group}/{date}_{fish}".'
        )
        raise FinmeasureError(message)
    parts = [_expression(piece) for piece in pieces]
    return NamePattern(text, re.compile("(?:.*/)?" + "".join(parts), re.DOTALL))


def _problem(pieces: list[str], fields: list[str]) -> str | None:
    """Say what is wrong with a pattern."""
    if not fields:
        return "it has no field"
    if unknown := [name for name in fields if name not in FIELDS]:
        return f"{{{unknown[0]}}} is not known"
    if len(set(fields)) < len(fields):
        return "a field stands twice"
    if not all(pieces[2:-1:2]):
        return "two fields stand side by side"
    if any("{" in piece or "}" in piece for piece in pieces[::2]):
        return "a brace has no partner"
    return None


def _expression(piece: str) -> str:
    """Regular expression of one piece of the pattern."""
    if not piece.startswith("{"):
        return re.escape(piece)
    name = piece[1:-1]
    return f"(?P<{name}>{_DATE if name == 'date' else '[^/]+?'})"
