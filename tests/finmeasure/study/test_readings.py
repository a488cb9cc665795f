"""Readings: never changed, the newest confirmed one counts, drafts are kept until then."""

import math
from datetime import date
from types import MappingProxyType

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from study_samples import fish_of, measures_of, plain, reading_of, result_of

from finmeasure.errors import NotFound, StudyError
from finmeasure.reading import EDGE_MARKS, PARTS, Landmark, Outline, Reading
from finmeasure.study import naming

PHOTO = result_of(1).photo


@pytest.fixture
def with_photo(study):
    study.record_photo_result(result_of(1))
    return study


def test_confirmed_reading_is_the_current_one(with_photo):
    reading = reading_of(5, placed_by="Keeper")
    key = with_photo.confirm_reading(PHOTO, reading, measures=measures_of(5), seconds=41.5)
    (current,) = with_photo.current_readings()
    assert current.id == key
    assert plain(current.reading) == plain(reading)
    assert (current.source, current.purpose, current.confirmed) == ("person", "work", True)
    assert with_photo.measures(key) == measures_of(5)


def test_repeat_never_becomes_the_current_reading(with_photo):
    first = with_photo.confirm_reading(PHOTO, reading_of(5, placed_by="Keeper"))
    again = with_photo.confirm_reading(PHOTO, reading_of(6, placed_by="Keeper"), purpose="repeat")
    assert [stored.id for stored in with_photo.current_readings()] == [first]
    repeated = [stored.id for stored in with_photo.repeat_readings()]
    assert repeated[-2:] == [first, again]


def test_proposal_gives_way_to_a_person_and_never_comes_back(study):
    proposal = fish_of(1, source="program", confirmed=False)
    study.record_photo_result(result_of(1, fish=(proposal,)))
    assert [stored.confirmed for stored in study.current_readings()] == [False]
    key = study.confirm_reading(PHOTO, reading_of(5, placed_by="Keeper"))
    study.record_photo_result(result_of(1, digest="newer model", fish=(proposal,)))
    assert [stored.id for stored in study.current_readings()] == [key]


def test_clock_that_was_set_back_does_not_bring_an_old_reading_back(with_photo, monkeypatch):
    monkeypatch.setattr("finmeasure.study.recording.utc_now", lambda: "1999-01-01T00:00:00.000Z")
    key = with_photo.confirm_reading(PHOTO, reading_of(5, placed_by="Keeper"))
    (current,) = with_photo.current_readings()
    assert (current.id, current.created_at[:4]) == (key, "1999")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reading SET confirmed = 0",
        "DELETE FROM reading",
        "UPDATE reading_landmark SET x_px = x_px + 1",
        "DELETE FROM reading_landmark",
        "UPDATE reading_outline SET wkt = ''",
        "DELETE FROM reading_outline",
        "UPDATE scale SET px_per_mm = 1",
        "DELETE FROM scale",
    ],
)
def test_nothing_can_change_a_reading_or_a_scale(with_photo, statement):
    before = with_photo.table("landmarks")
    with (
        pytest.raises(StudyError, match="never changed"),
        with_photo._database.writing() as connection,
    ):
        connection.execute(text(statement))
    assert with_photo.table("landmarks").equals(before)


def test_draft_is_overwritten_and_goes_when_the_reading_is_confirmed(with_photo):
    for change in range(3):
        with_photo.save_draft(PHOTO, "1", "Keeper", {"change": change, "places": [1.5, None]})
    with_photo.save_draft(PHOTO, "1", "Helper", {"change": 9})
    assert with_photo.load_draft(PHOTO, "1", "Keeper") == {"change": 2, "places": [1.5, None]}
    with_photo.confirm_reading(PHOTO, reading_of(5, placed_by="Keeper"))
    assert with_photo.load_draft(PHOTO, "1", "Keeper") is None
    assert with_photo.load_draft(PHOTO, "1", "Helper") == {"change": 9}
    with_photo.drop_draft(PHOTO, "1", "Helper")
    assert with_photo.drafts_of(PHOTO, "Helper") == {}


def test_draft_of_a_second_marking_is_apart_from_the_first(with_photo):
    with_photo.save_draft(PHOTO, "1", "Keeper", {"first": 1})
    with_photo.save_draft(PHOTO, "1", "Keeper", {"second": 2}, purpose="repeat")
    assert with_photo.load_draft(PHOTO, "1", "Keeper") == {"first": 1}
    assert with_photo.load_draft(PHOTO, "1", "Keeper", purpose="repeat") == {"second": 2}


def test_photo_can_be_marked_before_anything_was_measured(study):
    study.add_photo("new.jpg", "a" * 64)
    study.save_draft("new.jpg", "1", "Keeper", {"at": "snout_tip"})
    assert [(row.photo, row.state) for row in study.standings()] == [("new.jpg", "begun")]
    study.confirm_reading("new.jpg", reading_of(1, placed_by="Keeper"))
    assert [(row.photo, row.state) for row in study.standings()] == [("new.jpg", "confirmed")]
    assert study.scale_of("new.jpg") == NotFound("")
    assert study.check() == ()


def test_standing_of_every_kind_of_photo(study):
    proposal = fish_of(2, source="program", confirmed=False)
    proposal.reading.landmarks["snout_tip"] = Landmark("snout_tip", 1, 2, confidence=0.4)
    study.record_photo_result(result_of(1))
    study.record_photo_result(result_of(2, fish=(proposal,)))
    study.record_photo_result(result_of(3, state="refused", reason="blurred", fish=()))
    study.add_photo("tank 1/00004.jpg", "b" * 64)
    study.add_photo("bag.jpg", "c" * 64, role="unopened_bag")
    found = [(row.state, row.reason, row.confidence) for row in study.standings()]
    assert found == [
        ("confirmed", "", None),
        ("proposal", "", 0.4),
        ("refused", "blurred", None),
        ("to_do", "", None),
    ]


def test_fish_gets_a_name_and_loses_it_again(with_photo):
    with_photo.save_draft(PHOTO, "1", "Keeper", {"a": 1})
    with_photo.name_fish(PHOTO, "1", "red 7")
    assert [stored.reading.fish for stored in with_photo.current_readings()] == ["red 7"]
    assert with_photo.load_draft(PHOTO, "red 7", "Keeper") == {"a": 1}
    assert len(with_photo.readings_of(PHOTO, "1")) == 1  # the number still finds it
    with_photo.name_fish(PHOTO, "red 7", "")
    assert list(with_photo.table("fish")["fish"]) == ["1"]


def test_two_fish_on_one_photo_cannot_have_one_name(study):
    study.record_photo_result(result_of(1, fish=(fish_of(1, "1"), fish_of(2, "2"))))
    study.name_fish(PHOTO, "1", "red 7")
    with pytest.raises(StudyError, match="already named 'red 7'"):
        study.name_fish(PHOTO, "2", "red 7")


@pytest.mark.parametrize("name", ["7", "  ", "007"])
def test_bare_numbers_and_blanks_are_no_names(with_photo, name):
    with pytest.raises(StudyError, match="no name for a fish"):
        with_photo.name_fish(PHOTO, "1", name)


def test_withdrawn_fish_leaves_the_tables_and_keeps_its_readings(with_photo):
    with_photo.withdraw_fish(PHOTO, "1")
    assert with_photo.table("fish").empty
    assert len(with_photo.readings_of(PHOTO, "1")) == 1


@pytest.mark.parametrize(("photo", "fish"), [("other.jpg", "1"), (PHOTO, "2"), (PHOTO, "red")])
def test_unknown_photo_or_fish_is_said_in_one_line(with_photo, photo, fish):
    with pytest.raises(StudyError, match="has no") as caught:
        with_photo.readings_of(photo, fish)
    assert "\n" not in str(caught.value)


def test_readings_of_a_group(study):
    study.record_photo_result(result_of(1))
    assert len(study.current_readings(group="tank 1")) == 1
    assert study.current_readings(group="tank 2") == ()
    assert study.current_readings(PHOTO)[0].visit == date(2026, 5, 3)


numbers = st.floats(allow_nan=False, allow_infinity=False)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
landmarks = st.builds(
    Landmark,
    name=st.sampled_from(["snout_tip", "caudal_base", "eye_front", "dorsal_tip"]),
    x_px=st.one_of(numbers, st.just(math.nan)),
    y_px=numbers,
    state=st.sampled_from(["placed", "absent", "hidden"]),
    u_px=st.none() | numbers,
    u_across_px=st.none() | numbers,
    placed_by=texts,
    confidence=st.none() | st.floats(0, 1),
)
points = st.lists(st.tuples(numbers, numbers), min_size=3, max_size=12)
outlines = st.builds(
    Outline,
    part=st.sampled_from(PARTS),
    points_px=points.map(lambda given: np.array(given, float)),
    closed=st.booleans(),
    placed_by=texts,
    confidence=st.none() | st.floats(0, 1),
    spread=st.sampled_from(["spread", "part_folded", "clamped"]),
    edge=st.sampled_from(("", *EDGE_MARKS)),
)
readings = st.builds(
    Reading,
    fish=st.sampled_from(["1", "12", "red", "=1+1", "ü🐟\n"]),
    landmarks=st.lists(landmarks, max_size=4, unique_by=lambda mark: mark.name).map(
        lambda marks: {mark.name: mark for mark in marks}
    ),
    outlines=st.lists(outlines, max_size=3, unique_by=lambda outline: outline.part).map(
        lambda traced: MappingProxyType({outline.part: outline for outline in traced})
    ),
    body_form=st.sampled_from(["plain", "betta"]),
    placed_by=texts,
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(reading=readings)
def test_any_reading_comes_back_digit_for_digit(with_photo, reading):
    key = with_photo.confirm_reading(PHOTO, reading)
    (stored,) = [r for r in with_photo.readings_of(PHOTO, reading.fish) if r.id == key]
    # Names are kept without blanks around them.
    expected = plain(reading)
    assert plain(stored.reading)[1:] == expected[1:]
    assert stored.reading.fish == reading.fish.strip()


def test_number_of_a_fish_is_no_name(study):
    assert naming.is_number("12")
    assert not naming.is_number("١٢")  # digits of another script are letters to a keeper
