"""Group, date and fish from photo names."""

import contextlib
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finmeasure.batch.name_pattern import NameParts, parse_name_pattern
from finmeasure.errors import FinmeasureError


@pytest.mark.parametrize(
    ("pattern", "name", "expected"),
    [
        ("{group}/{date}_{fish}", "tank 4/2026-05-01_anna.jpg",
         NameParts("tank 4", date(2026, 5, 1), "anna")),
        ("{group}/{date}_{fish}", "spring/tank 4/20260501_anna.b.JPG",
         NameParts("tank 4", date(2026, 5, 1), "anna.b")),
        ("{fish}", "anna.jpg", NameParts(fish="anna")),
        ("{date}", "2024-02-29.jpg", NameParts(taken_on=date(2024, 2, 29))),
        ("{group}-{fish}", "a-b-c.jpg", NameParts("a", None, "b-c")),
        ("IMG.{fish}", "IMG.7.jpg", NameParts(fish="7")),
    ],
)  # fmt: skip
def test_names_that_follow_the_pattern(pattern, name, expected):
    assert parse_name_pattern(pattern).read(name) == expected


@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("{date}", "2025-02-29.jpg"),  # 2025 is no leap year
        ("{date}", "2025-13-01.jpg"),
        ("{date}_{fish}", "anna.jpg"),
        ("{group}/{fish}", "../anna.jpg"),
        ("{group}/{fish}", "./anna.jpg"),
        ("{group}_{fish}", " _anna.jpg"),
        ("IMG.{fish}", "IMGx7.jpg"),  # a dot is a dot, not any letter
    ],
)
def test_names_that_do_not(pattern, name):
    assert parse_name_pattern(pattern).read(name) is None


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("", "it has no field"),
        ("plain", "it has no field"),
        ("{tank}", "{tank} is not known"),
        ("{fish}{date}", "two fields stand side by side"),
        ("{fish}_{fish}", "a field stands twice"),
        ("{fish}_}", "a brace has no partner"),
        ("{fish", "it has no field"),
    ],
)
def test_wrong_patterns_say_what_is_allowed(pattern, words):
    with pytest.raises(FinmeasureError) as error:
        parse_name_pattern(pattern)
    assert words in str(error.value)
    assert "Allowed are {group}, {date} and {fish}" in str(error.value)


@given(st.text(max_size=60))
def test_no_name_and_no_pattern_breaks_it(text):
    parts = parse_name_pattern("{group}/{date}_{fish}").read(text + ".jpg")
    assert parts is None or ("/" not in (parts.group or "") and parts.group != "..")
    with contextlib.suppress(FinmeasureError):
        parse_name_pattern(text)
