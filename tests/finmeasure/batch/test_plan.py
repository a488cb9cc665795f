"""Which photos a run measures, and under which names. Expected values follow from the contract."""

import os
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finmeasure.batch.plan import KnownPhoto, plain_text, plan_photos
from finmeasure.errors import FinmeasureError


def touch(folder, *names, content=b"x"):
    for name in names:
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)


def names(plan):
    return [photo.name for photo in plan.photos]


def test_only_photo_endings_and_every_folder_below(tmp_path):
    touch(tmp_path, "b.JPG", "a.jpeg", "sub/deep/c.png", "d.tif", "e.heic", "notes.txt", "f.csv")
    plan = plan_photos([tmp_path])
    assert names(plan) == ["a.jpeg", "b.JPG", "d.tif", "e.heic", "sub/deep/c.png"]
    assert plan.notes == ()


def test_single_files_are_named_by_their_file_name(tmp_path):
    touch(tmp_path, "x/a.jpg", "x/b.jpg")
    plan = plan_photos([tmp_path / "x" / "b.jpg", tmp_path / "x" / "a.jpg"])
    assert names(plan) == ["a.jpg", "b.jpg"]


def test_the_same_file_given_twice_is_one_photo(tmp_path):
    touch(tmp_path, "a.jpg")
    assert names(plan_photos([tmp_path, tmp_path / "a.jpg", tmp_path / "." / "a.jpg"])) == ["a.jpg"]


def test_on_a_clash_the_folder_name_is_put_in_front(tmp_path):
    touch(tmp_path, "monday/1.jpg", "monday/2.jpg", "friday/1.jpg")
    plan = plan_photos([tmp_path / "monday", tmp_path / "friday"])
    assert names(plan) == ["2.jpg", "friday/1.jpg", "monday/1.jpg"]


def test_a_clash_of_folder_names_takes_the_folder_above(tmp_path):
    touch(tmp_path, "may/tank/1.jpg", "june/tank/1.jpg")
    plan = plan_photos([tmp_path / "may" / "tank", tmp_path / "june" / "tank"])
    assert names(plan) == ["june/tank/1.jpg", "may/tank/1.jpg"]


def test_a_photo_that_the_study_knows_keeps_its_name(tmp_path):
    touch(tmp_path, "monday/1.jpg", "friday/1.jpg")
    known = {"1.jpg": KnownPhoto(str(tmp_path / "monday" / "1.jpg"), "0" * 64)}
    plan = plan_photos([tmp_path / "friday", tmp_path / "monday"], known=known)
    assert {photo.name: photo.path.parent.name for photo in plan.photos} == {
        "1.jpg": "monday",
        "friday/1.jpg": "friday",
    }


def test_a_moved_photo_is_told_by_its_checksum(tmp_path):
    touch(tmp_path, "stick/1.jpg", content=b"abc")
    # SHA-256 of "abc": FIPS 180-4 example value
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    plan = plan_photos([tmp_path / "stick"], known={"1.jpg": KnownPhoto("/gone/1.jpg", abc)})
    assert names(plan) == ["1.jpg"]


def test_a_folder_named_like_a_photo_is_a_folder(tmp_path):
    touch(tmp_path, "x.jpg/inside.jpg")
    assert names(plan_photos([tmp_path])) == ["x.jpg/inside.jpg"]
    assert names(plan_photos([tmp_path / "x.jpg"])) == ["inside.jpg"]


def test_links_to_folders_are_not_followed_and_said_so(tmp_path):
    touch(tmp_path, "a/1.jpg")
    (tmp_path / "a" / "loop").symlink_to(tmp_path)
    plan = plan_photos([tmp_path])
    assert names(plan) == ["a/1.jpg"]
    assert len(plan.notes) == 1
    assert "link to a folder" in plan.notes[0]


def test_a_link_to_itself_is_listed_and_left_to_the_reader_to_refuse(tmp_path):
    (tmp_path / "self.jpg").symlink_to(tmp_path / "self.jpg")
    assert names(plan_photos([tmp_path])) == ["self.jpg"]


def test_studies_and_their_pictures_are_left_out(tmp_path):
    touch(tmp_path, "1.jpg", "study/study.db", "study/overlays/1_ab.jpg", "study/extra.jpg")
    assert names(plan_photos([tmp_path])) == ["1.jpg"]


def test_photos_beside_a_study_in_the_folder_given_count_but_its_overlays_do_not(tmp_path):
    touch(tmp_path, "1.jpg", "study.db", "overlays/1_ab.jpg", "overlays/fish/2.jpg")
    assert names(plan_photos([tmp_path])) == ["1.jpg"]


def test_side_files_of_some_systems_are_left_out(tmp_path):
    touch(tmp_path, "1.jpg", "._1.jpg")
    assert names(plan_photos([tmp_path])) == ["1.jpg"]


@pytest.mark.parametrize(
    "name",
    ["äöü 鱼.jpg", "🐟.jpg", "two\nlines.jpg", "=1+1.jpg", "-rf.jpg", "a b;c,d'\".jpg",
     "x" * 251 + ".jpg"],
)  # fmt: skip
def test_strange_names_are_kept_as_they_are(tmp_path, name):
    touch(tmp_path, name)
    assert names(plan_photos([tmp_path])) == [name]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux allows any bytes in a name")
def test_names_that_are_no_text_become_text(tmp_path):
    raw = os.fsencode(tmp_path) + b"/caf\xe9.jpg"
    Path(os.fsdecode(raw)).write_bytes(b"x")
    plan = plan_photos([tmp_path])
    assert names(plan) == ["caf\\xe9.jpg"]
    assert plan.photos[0].path.read_bytes() == b"x"


def test_two_names_that_become_the_same_text_stay_apart(tmp_path):
    touch(tmp_path, os.fsdecode(b"caf\xe9.jpg"), "caf\\xe9.jpg")
    found = names(plan_photos([tmp_path]))
    assert len(set(found)) == 2


def test_a_missing_source_and_a_wrong_ending_are_wrong_calls(tmp_path):
    with pytest.raises(FinmeasureError, match=r"no such file or folder. Check the spelling"):
        plan_photos([tmp_path / "nothing"])
    touch(tmp_path, "notes.txt")
    with pytest.raises(FinmeasureError, match=r"notes.txt is no photo by its ending. Give photo"):
        plan_photos([tmp_path / "notes.txt"])


def test_an_empty_folder_is_an_empty_plan(tmp_path):
    assert plan_photos([tmp_path]).photos == ()


@given(st.binary(min_size=1, max_size=40))
def test_any_name_becomes_text_that_a_table_can_hold(raw):
    plain_text(os.fsdecode(raw)).encode("utf-8")
