"""Two benches join what they recorded: all rows of both, each once."""

import shutil
from dataclasses import replace

import pytest
from study_samples import fish_of, reading_of, result_of

from finmeasure.errors import StudyError
from finmeasure.exchange.inputs import GroupRow
from finmeasure.study.store import Study


@pytest.fixture
def other(tmp_path, empty_study):
    folder = tmp_path / "bench two"
    folder.mkdir()
    shutil.copy(empty_study, folder)
    with Study.open(folder) as opened:
        yield opened


def rows(study, name="measurements"):
    return set(map(tuple, study.table(name).astype(str).to_numpy()))


def test_photos_of_both_benches_are_there_afterwards(study, other):
    for number in range(4):
        study.record_photo_result(result_of(number))
    for number in range(4, 9):
        other.record_photo_result(result_of(number))
    expected = rows(study) | rows(other)
    found = study.merge(other)
    assert rows(study) == expected
    assert found.added["photo"] == 5
    assert found.conflicts == ()
    assert [finding for finding in study.check(photos=False) if finding.severity == "fault"] == []


def test_merging_twice_changes_nothing(study, other):
    other.record_photo_result(result_of(1))
    study.merge(other)
    before = {name: rows(study, name) for name in ("photos", "landmarks", "measurements")}
    again = study.merge(other)
    assert again.added == {}
    assert {name: rows(study, name) for name in before} == before


def test_the_same_photo_and_reading_at_both_benches_is_known(study, other):
    study.record_photo_result(result_of(3))
    other.record_photo_result(result_of(3))
    before = rows(study)
    found = study.merge(other)
    assert "photo" not in found.added
    assert "reading" not in found.added
    assert found.conflicts == ()
    assert rows(study) == before


def test_two_readings_of_one_fish_are_both_kept_and_listed(study, other):
    study.record_photo_result(result_of(3))
    theirs = result_of(3)
    other.record_photo_result(replace(theirs, fish=(fish_of(77),)))
    mine = study.current_readings()
    found = study.merge(other)
    assert found.added["reading"] == 1
    assert any("ours goes on to count" in text for text in found.conflicts)
    assert [entry.reading.landmarks for entry in study.current_readings()] == [
        entry.reading.landmarks for entry in mine
    ]


def test_another_photo_of_the_same_name_gets_the_benchs_name(study, other):
    study.record_photo_result(result_of(3))
    other.record_photo_result(replace(result_of(4), photo=result_of(3).photo))
    found = study.merge(other)
    names = set(study.table("photos")["photo"])
    assert names == {result_of(3).photo, f"bench two/{result_of(3).photo}"}
    assert any("another photo here has this name" in text for text in found.conflicts)


def test_a_group_that_differs_is_listed_and_ours_kept(study, other):
    fields = {name: None for name in GroupRow.__dataclass_fields__}
    for bench, alive in ((study, 46), (other, 45)):
        row = {**fields, "group": "bag 7", "kind": "", "body_form": "", "alive": alive}
        text = {"came_from": "", "box": "", "bag": ""}
        bench.set_groups([GroupRow(**{**row, **{k: v for k, v in text.items() if k in fields}})])
    found = study.merge(other)
    assert any("alive is 46 here and 45 there" in text for text in found.conflicts)


def test_a_study_is_not_merged_with_itself(study):
    with Study.open(study.folder, read_only=True) as same, pytest.raises(StudyError, match="twice"):
        study.merge(same)


def test_readings_of_a_shared_photo_keep_their_marks(study, other):
    study.add_photo("a.jpg", "0" * 64)
    other.add_photo("a.jpg", "0" * 64)
    other.confirm_reading("a.jpg", reading_of(5))
    study.merge(other)
    [entry] = study.current_readings()
    assert entry.reading.landmarks == reading_of(5).landmarks
