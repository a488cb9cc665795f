"""The name that a person's marks carry."""

from __future__ import annotations

from finmeasure.errors import MarkingError
from finmeasure.marking.proposed import PROGRAM

NAMELESS = "hand"  # `placed_by` of a person whose name is not known
LONGEST_NAME = 40


def person_name(typed: str) -> str:
    """Give the name of a person without blanks around it.

    Parameters
    ----------
    typed : str
        As the person wrote it.

    Raises
    ------
    MarkingError
        If it is empty, too long, holds a line break, or is what the program calls its own marks.

    Examples
    --------
    >>> person_name(" Ina ")
    'Ina'
    """
    name = typed.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        message = (
            f"{typed[:LONGEST_NAME]!r} is no name: 1 to {LONGEST_NAME} letters on one line are. "
            "Initials will do."
        )
        raise MarkingError(message)
    if name.casefold().startswith(PROGRAM):
        message = (
            f"{name!r} is what the program calls its own marks, so no person can be called that. "
            "Write your name or initials."
        )
        raise MarkingError(message)
    return name
