"""One photo's results: all or nothing, numbers given once, nothing overwritten."""

import dataclasses
import hashlib

import numpy as np
import pytest
from study_samples import fish_of, plain, reading_of, result_of, scale_of

from finmeasure.errors import NotFound, StudyError
from finmeasure.reading import Landmark, Reading
from finmeasure.study import recording
from finmeasure.study.records import FishResult


def test_result_comes_back_as_it_was_given(study):
    result = result_of(1)
    assert study.record_photo_result(result)
    (stored,) = study.current_readings()
    given = result.fish[0]
    assert plain(stored.reading) == plain(given.reading)
    assert (stored.side, stored.group, stored.visit) == ("left", "tank 1", given.visit)
    assert study.measures(stored.id) == given.measures
    assert study.scale_of(result.photo).px_per_mm == result.scale.px_per_mm


def test_photo_is_done_only_with_same_content_and_same_given(study):
    result = result_of(1)
    study.record_photo_result(result)
    assert study.photo_is_done(result.photo, result.sha256, "given")
    assert not study.photo_is_done(result.photo, result.sha256, "other options")
    assert not study.photo_is_done(result.photo, "0" * 64, "given")
    assert not study.photo_is_done("another.jpg", result.sha256, "given")


def test_same_result_twice_is_written_once(study):
    assert study.record_photo_result(result_of(1))
    assert not study.record_photo_result(result_of(1))
    assert len(study.readings_of(result_of(1).photo)) == 1


def test_other_options_make_a_new_reading_and_keep_the_old(study):
    study.record_photo_result(result_of(1))
    study.record_photo_result(result_of(1, digest="other"))
    old, new = study.readings_of(result_of(1).photo)
    assert (old.ordinal, new.ordinal) == (1, 2)
    assert [reading.id for reading in study.current_readings()] == [new.id]


def test_clock_set_back_changes_nothing_about_what_is_newest(study, monkeypatch):
    study.record_photo_result(result_of(1))
    monkeypatch.setattr(recording, "utc_now", lambda: "1999-01-01T00:00:00.000Z")
    study.record_photo_result(result_of(1, digest="other"))
    old, new = study.readings_of(result_of(1).photo)
    assert new.created_at < old.created_at
    assert [reading.id for reading in study.current_readings()] == [new.id]
    assert study.check(photos=False) == ()


def test_same_scale_is_not_added_again_and_a_new_one_counts(study):
    photo = result_of(1).photo
    study.record_photo_result(result_of(1))
    study.record_photo_result(result_of(1, digest="b"))
    study.set_scale(photo, scale_of(2))
    with study._database.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM scale").scalar() == 2
    assert study.scale_of(photo).px_per_mm == pytest.approx(22.0, rel=1e-12)
    study.set_scale(photo, None, reason="bar was wrong")
    assert study.scale_of(photo) == NotFound("bar was wrong")


def test_measures_of_an_older_scale_do_not_count(study):
    study.record_photo_result(result_of(1))
    assert study.readings_without_measures() == ()
    study.set_scale(result_of(1).photo, scale_of(3))
    (waiting,) = study.readings_without_measures()
    assert study.measures(waiting.id) is None
    study.store_measures(waiting.id, result_of(2).fish[0].measures)
    assert study.measures(waiting.id) == result_of(2).fish[0].measures
    assert study.readings_without_measures() == ()


def test_new_content_under_an_old_name_starts_afresh_and_the_old_stays(study):
    first = result_of(1)
    study.record_photo_result(first)
    other = dataclasses.replace(first, sha256=hashlib.sha256(b"replaced").hexdigest())
    study.record_photo_result(other)
    assert study.recorded_photos()[first.photo].sha256 == other.sha256
    assert len(study.current_readings()) == 1
    assert len(study.table("photos")) == 1
    study.record_photo_result(dataclasses.replace(first, given_digest="back again"))
    assert study.recorded_photos()[first.photo].sha256 == first.sha256
    assert len(study.readings_of(first.photo)) == 2  # the first one was never lost


def test_photo_that_vanished_keeps_its_checksum(study):
    study.record_photo_result(result_of(1))
    gone = result_of(
        1, sha256="", state="refused", reason="The file is gone.", fish=(), metadata=None, digest=""
    )
    study.record_photo_result(gone)
    recorded = study.recorded_photos()[gone.photo]
    assert (recorded.sha256, recorded.state) == (result_of(1).sha256, "refused")
    assert list(study.table("fish")["fish"]) == ["1"]  # what was measured before still counts


def _at(x_px, fish):
    return FishResult(Reading(fish, {"snout_tip": Landmark("snout_tip", x_px, 10.0)}))


def test_new_names_are_numbered_from_left_to_right_after_the_numbers_given(study):
    fish = (_at(900, "red"), _at(100, "blue"), _at(500, "2"))
    study.record_photo_result(result_of(1, fish=fish))
    found = {stored.reading.fish: stored.number for stored in study.current_readings()}
    assert found == {"2": 2, "blue": 3, "red": 4}


def test_numbers_are_never_given_again(study):
    study.record_photo_result(result_of(1, fish=(_at(100, "1"), _at(500, "2"))))
    study.record_photo_result(result_of(1, digest="b", fish=(_at(100, "1"),)))
    study.record_photo_result(result_of(1, digest="c", fish=(_at(100, "1"), _at(50, "new one"))))
    numbers = {stored.reading.fish: stored.number for stored in study.current_readings()}
    assert numbers == {"1": 1, "new one": 3}


def test_fish_no_longer_given_leaves_the_tables_but_not_the_study(study):
    photo = result_of(1).photo
    study.record_photo_result(result_of(1, fish=(_at(100, "1"), _at(500, "2"))))
    study.record_photo_result(result_of(1, digest="b", fish=(_at(100, "1"),)))
    assert list(study.table("fish")["fish"]) == ["1"]
    assert len(study.readings_of(photo, "2")) == 1


def test_a_person_s_reading_outlives_a_batch_that_refuses_the_photo(study):
    photo = result_of(1).photo
    study.record_photo_result(result_of(1))
    study.confirm_reading(photo, reading_of(7, "2", "Keeper"))
    refused = result_of(1, digest="b", state="refused", reason="needs landmarks", fish=())
    study.record_photo_result(refused)
    assert list(study.table("fish")["fish"]) == ["2"]
    assert study.recorded_photos()[photo].state == "measured"


@pytest.mark.parametrize(("first", "second"), [("1", "1"), ("1", "01"), ("red", "red")])
def test_one_fish_given_twice_is_refused_in_one_line_and_nothing_is_written(study, first, second):
    with pytest.raises(StudyError, match="given twice") as caught:
        study.record_photo_result(result_of(1, fish=(_at(1, first), _at(2, second))))
    assert "\n" not in str(caught.value)
    assert study.recorded_photos() == {}


def test_named_fish_is_followed_over_photos(study):
    for number in (1, 2):
        study.record_photo_result(result_of(number, fish=(fish_of(number, "red 7"),)))
    assert {stored.reading.fish for stored in study.current_readings()} == {"red 7"}
    with study._database.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM fish").scalar() == 1


@pytest.mark.parametrize(
    "name",
    [
        "tank/Größe ✓ 魚.jpg",
        "emoji 🐟🐠.jpg",
        "new\nline.jpg",
        "=1+1.jpg",
        "-rf.jpg",
        "ж" * 125 + ".jpg",
        "quote \" and ' and , comma.jpg",
        "%41 %.jpg",
        "<b>bold</b>.jpg",
        "'; DROP TABLE photo; --.jpg",
    ],
)
def test_strange_names_come_back_as_they_were(study, tmp_path, name):
    result = result_of(1, photo=name, file=tmp_path / name)
    study.record_photo_result(result)
    recorded = study.recorded_photos()[name]
    assert recorded.photo == name
    assert recorded.file == tmp_path / name
    assert list(study.table("photos")["photo"]) == [name]


def test_name_that_is_no_text_is_refused_in_one_line(study):
    with pytest.raises(StudyError, match="no UTF-8") as caught:
        study.record_photo_result(result_of(1, photo="caf\udce9.jpg"))
    assert "\n" not in str(caught.value)


def test_file_names_with_any_bytes_are_found_again(study, tmp_path):
    file = tmp_path / "caf\udce9.jpg"
    file.write_bytes(b"1")
    study.record_photo_result(
        result_of(1, photo="caf\\xe9.jpg", file=file, sha256=hashlib.sha256(b"1").hexdigest())
    )
    assert study.check() == ()


def test_outline_without_length_is_refused_in_one_line(study):
    fish = fish_of(1)
    fish.reading.outlines["caudal"] = dataclasses.replace(
        fish.reading.outlines["caudal"], points_px=np.zeros((1, 2))
    )
    with pytest.raises(StudyError, match="has 1 points"):
        study.record_photo_result(result_of(1, fish=(fish,)))
    assert study.recorded_photos() == {}


def test_runs_say_what_was_asked_and_which_were_broken_off(study):
    whole = study.start_run({"question": "size"})
    study.record_photo_result(result_of(1), run_id=whole)
    study.end_run(whole)
    study.start_run({"question": "full"})
    first, second = study.runs()
    assert (first.id, first.options) == (whole, {"question": "size"})
    assert first.ended_at is not None
    assert second.ended_at is None
