"""Numbers of our printed number labels ("tags"): the one place that drawing and reading both use.

A tag shows its number to people, and to the program as a block of two by two markers: hundreds and
tens above, ones and a check digit below. The digit d is marker 120 + d of the public dictionary
(:data:`finmeasure.card_design.DIGIT_MARKERS`); no card uses these. The check digit is that of
ISO/IEC 7812-1 (Luhn), which notices every single wrong digit.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from finmeasure.card_design import DIGIT_MARKERS, Rectangle, marker_rectangles
from finmeasure.errors import DefinitionError

TAG_MM = (46.0, 26.0)
MARKER_MM = 8.0
PITCH_MM = 10.0  # from one marker of the block to the next
BLOCK_MM = (4.0, 4.0)  # upper left corner of the block on the tag
LARGEST_NUMBER = 999


def tag_name(number: int) -> str:
    """Give the name that a tag stands for, as a group's or a fish's.

    Examples
    --------
    >>> tag_name(12)
    'tag 12'
    """
    return f"tag {number}"


def tag_digits(number: int) -> tuple[int, int, int, int]:
    """Give the digits of a tag's four markers, the check digit last.

    Raises
    ------
    DefinitionError
        If no tag has this number.

    Examples
    --------
    >>> tag_digits(7), tag_digits(123)
    ((0, 0, 7, 5), (1, 2, 3, 0))
    """
    if not 1 <= number <= LARGEST_NUMBER:
        message = f"Tag {number} does not exist. Allowed: 1 to {LARGEST_NUMBER}."
        raise DefinitionError(message)
    hundreds, tens, ones = number // 100, number // 10 % 10, number % 10
    return hundreds, tens, ones, _check_digit((hundreds, tens, ones))


def number_of(digits: tuple[int, ...]) -> int | None:
    """Give the number of four digits; None where the check digit is wrong or there is no such tag.

    Examples
    --------
    >>> number_of((0, 0, 7, 5)), number_of((0, 0, 7, 6))
    (7, None)
    """
    number = 100 * digits[0] + 10 * digits[1] + digits[2]
    good = number > 0 and digits[3] == _check_digit(digits[:3])
    return number if good else None


def marker_corners_mm() -> NDArray[np.float64]:
    """Corners of the four markers on the tag, shape (4, 4, 2), clockwise from the upper left."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * MARKER_MM
    starts = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * PITCH_MM + BLOCK_MM
    return np.asarray(starts[:, None, :] + square)


def tag_rectangles(number: int) -> list[Rectangle]:
    """Black cells of a tag's markers, millimetres from its upper left corner."""
    return [
        rectangle
        for digit, corners in zip(tag_digits(number), marker_corners_mm(), strict=True)
        for rectangle in marker_rectangles(
            DIGIT_MARKERS[digit], tuple(corners.mean(axis=0)), MARKER_MM
        )
    ]


def _check_digit(digits: tuple[int, ...]) -> int:
    """Digit that makes the sum of ISO/IEC 7812-1 (Luhn) a multiple of ten."""
    doubled = [2 * digit if place % 2 == 0 else digit for place, digit in enumerate(digits[::-1])]
    return -sum(digit // 10 + digit % 10 for digit in doubled) % 10
