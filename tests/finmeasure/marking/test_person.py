"""Names of people who mark."""

import pytest

from finmeasure.errors import MarkingError
from finmeasure.marking.person import LONGEST_NAME, person_name


@pytest.mark.parametrize("name", ["Ina", "Jörg K.", "王芳", "x" * LONGEST_NAME, "7"])
def test_a_name_is_kept_as_it_is(name):
    assert person_name(f"  {name} ") == name


@pytest.mark.parametrize("typed", ["", "   ", "x" * (LONGEST_NAME + 1), "Ina\nBea", "Finmeasure"])
def test_what_is_no_name_is_said_in_one_sentence(typed):
    with pytest.raises(MarkingError, match="nitials"):
        person_name(typed)
