"""Errors of the program, and "not found" as a value.

Every text says what was given, what is allowed and what to do next.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


class FinmeasureError(Exception):
    """Base of all errors that finmeasure raises on purpose; its text is meant for the user."""


class PhotoError(FinmeasureError):
    """A photo file cannot be read or must not be read."""


class TableError(FinmeasureError):
    """An input table (CSV or TOML) holds something that is not allowed."""


class ScaleError(FinmeasureError):
    """An option for the scale holds something that is not allowed."""


class StudyError(FinmeasureError):
    """A study cannot be opened or used."""


class DefinitionError(FinmeasureError):
    """A landmark, body form, measure or question is not known."""


class MarkingError(FinmeasureError):
    """A mark cannot be set as asked; nothing was changed."""


@dataclass(frozen=True, slots=True)
class NotFound:
    """Something was looked for in a photo and is not there.

    False in a truth test, so that ``if scale:`` reads naturally.

    Parameters
    ----------
    reason : str
        What was seen, with the figure behind it.
    remedy : str
        What to do for the next photo.
    """

    reason: str
    remedy: str = ""

    def __bool__(self) -> Literal[False]:
        """Tell that nothing is there."""
        return False

    def __str__(self) -> str:
        """Give reason and remedy as one sentence pair."""
        return f"{self.reason} {self.remedy}".strip()
