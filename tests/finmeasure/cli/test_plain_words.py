"""Help and refusals of the command line speak to a keeper: no types, no library's words."""

import re

import pytest
from typer.main import get_command

from finmeasure.cli import app

PROGRAMMERS_WORDS = re.compile(
    r"<(list|str|int|float|path|text|file)\b|<=|>=|list\[|Path\]|Input should|Value error",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", get_command(app).commands)
def test_help_names_what_to_give_not_its_type(run, name):
    told = run(name, "--help").stdout
    assert "Usage:" in told
    assert PROGRAMMERS_WORDS.findall(told) == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["card", "--paper", "A9", "--out", "x.pdf"], "'A9' is not known; give one of 'A4'"),
        (["measure", "x", "--study", "y", "--photo-seconds", "0"], "it must be 1 or more"),
        (["plan", "x", "--change", "500"], "it must be 100 or less"),
        (["plan", "x", "--change", "much"], "not a number; write it like 12.5"),
        (["plan", "x", "--draws", "1.5"], "not a whole number; write it like 12"),
    ],
)
def test_a_wrong_value_is_refused_in_plain_words(run, arguments, words):
    done = run(*arguments)
    assert done.returncode == 2
    told = " ".join(done.stderr.split())
    assert words in told
    assert PROGRAMMERS_WORDS.findall(told) == []
