"""The diary of a tank: what is typed is checked, kept, and shown newest first."""

from datetime import date, timedelta

import pytest

from finmeasure.errors import FinmeasureError
from finmeasure.report.change_diary import groups_of, on_record, write_event, write_water
from finmeasure.study.store import Study
from finmeasure.timeseries.shoals import is_treatment


@pytest.fixture
def study(tmp_path):
    with Study.open(tmp_path, create=True) as opened:
        yield opened


def test_what_was_written_is_on_record_newest_first(study):
    write_event(study, "tank 4", "2026-03-01", "treatment started", note="as agreed")
    write_event(study, "tank 4", "2026-03-03", "death", fish="ember")
    assert (
        write_water(study, " tank 4 ", "2026-03-02", {"pH": "6,8", "ammonia": "", "hardness": "4"})
        == 2
    )
    write_event(study, "tank 5", "2026-03-04", "water change")
    assert groups_of(study) == ("tank 4", "tank 5")
    assert on_record(study, "tank 4") == (
        "2026-03-03  death, ember",
        "2026-03-02  water: hardness 4 °dH, pH 6.8",
        "2026-03-01  treatment started (as agreed)",
    )
    happened = study.change_over_time().happenings
    assert [one.what for one in happened if is_treatment(one)] == ["treatment started"]


@pytest.mark.parametrize(
    ("group", "day", "what", "words"),
    [
        ("", "2026-03-01", "water change", "Choose the group"),
        ("t", "1.3.2026", "water change", "Write it like 2026-03-01"),
        ("t", (date.today() + timedelta(days=2)).isoformat(), "death", "in the future"),
        ("t", "2026-03-01", "  ", "say what happened"),
    ],
)
def test_what_cannot_be_is_refused_in_plain_words(study, group, day, what, words):
    with pytest.raises(FinmeasureError, match=words):
        write_event(study, group, day, what)
    assert study.events() == ()


def test_the_same_twice_and_values_that_are_no_numbers(study):
    write_event(study, "t", "2026-03-01", "water change")
    with pytest.raises(FinmeasureError, match="on record already"):
        write_event(study, "t", "2026-03-01", "water change")
    for values, words in (({"pH": "six"}, "'six' is no number"), ({"pH": " "}, "at least one")):
        with pytest.raises(FinmeasureError, match=words):
            write_water(study, "t", "2026-03-01", values)
    assert study.water() == ()
