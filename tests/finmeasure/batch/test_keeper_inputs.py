"""Tables of the keeper beside the photos: read into the study, refused in one line each."""

import pytest

from finmeasure.batch.given import Given, parse_name_pattern, read_given
from finmeasure.batch.keeper_inputs import read_keeper_tables
from finmeasure.batch.plan import PlannedPhoto
from finmeasure.errors import TableError
from finmeasure.exchange.landmarks import read_landmarks
from finmeasure.study.store import Study


def _write(folder, **tables):
    folder.mkdir(exist_ok=True)
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def test_tables_of_both_folders_reach_the_study_and_the_study_has_the_last_word(tmp_path):
    photos = _write(
        tmp_path / "photos",
        groups="group,body_form,invoiced\nbag 7,adipose,48\n",
        events="group,date,event\nbag 7,2026-05-02,arrival\n",
        water="group,taken_at,quantity,value,unit\nbag 7,2026-05-02T08:50,pH,6.6,1\n",
        labels="fish,character,value\nb01,sex,male\n",
    )
    own = _write(tmp_path / "study", groups="group,body_form\nbag 7,livebearer\n")
    tables = read_keeper_tables([photos], own)
    assert len(tables.read) == 5
    with Study.open(own, create=True) as study:
        assert tables.put_into(study) == {"bag 7": "livebearer"}
        assert tables.put_labels_into(study) == []
        assert study.groups()[0].invoiced == 48
        assert study.events("bag 7")[0].event == "arrival"
        assert study.water("bag 7")[0].value == 6.6
        assert study.labels()[0].value == "male"


def test_a_bad_row_is_named_and_the_others_are_used(tmp_path):
    photos = _write(tmp_path / "p", groups="group,invoiced\nbag 7,48\nbag 8,many\n")
    tables = read_keeper_tables([photos / "one.jpg"], tmp_path / "study")
    assert [row.group for row in tables.groups] == ["bag 7"]
    (problem,) = tables.problems
    assert all(part in problem for part in ("groups.csv", "row 3", "invoiced", "many"))
    assert "1 row, 1 left out" in tables.read[0]


@pytest.mark.parametrize("text", ["group,invoiced\nbag 8,many\n", "bag\n7\n", "\0\1"])
def test_a_table_without_a_usable_row_stops_the_run(tmp_path, text):
    photos = _write(tmp_path / "p", groups=text)
    with pytest.raises(TableError, match=r"groups\.csv"):
        read_keeper_tables([photos], tmp_path / "study")


def test_a_label_that_fits_no_fish_is_named_and_left_out(tmp_path):
    photos = _write(tmp_path / "p", labels="fish,character,value,photo\n1,sex,male,none.jpg\n")
    tables = read_keeper_tables([photos], tmp_path / "study")
    with Study.open(tmp_path / "study", create=True) as study:
        (line,) = tables.put_labels_into(study)
    assert "none.jpg" in line


def test_the_group_gives_the_body_form_unless_the_option_does(tmp_path):
    marks = tmp_path / "landmarks.csv"
    marks.write_text("photo,fish,landmark,x_px,y_px\nbag 7/1_a.jpg,1,snout_tip,1,2\n")
    photo = PlannedPhoto(tmp_path / "a.jpg", "bag 7/1_a.jpg")
    given = read_given(landmarks=marks, name_pattern="{group}/1_{fish}")
    forms = {"bag 7": "livebearer", "bag 8": "plain"}
    told = Given(given.options, read_landmarks(marks), body_forms=forms)
    assert told.task(photo).readings[0].body_form == "livebearer"
    assert given.task(photo).readings[0].body_form == "plain"
    said = read_given(landmarks=marks, body_form="betta", name_pattern="{group}/1_{fish}")
    both = Given(said.options, read_landmarks(marks), body_forms=forms)
    assert both.task(photo).readings[0].body_form == "betta"
    assert parse_name_pattern("{group}/1_{fish}").read(photo.name).group == "bag 7"


WHOLE = "name,fin,length_to_sl,sd,kind\nInvented table,caudal,0.30,0.02,blue lanternback\n"


def test_rows_of_whole_fins_are_declared_once_and_a_corrected_row_counts(tmp_path):
    photos = _write(tmp_path / "p", references=WHOLE)
    with Study.open(tmp_path / "study", create=True) as study:
        for _ in range(2):
            read_keeper_tables([photos], tmp_path / "study").put_into(study)
        (row,) = study.references()
        assert (row.kind, row.fin, row.name) == ("species_row", "caudal", "Invented table")
        assert row.document == {
            "ratio": 0.30, "u": 0.02, "method": "straight", "of_kind": "blue lanternback"
        }  # fmt: skip
        _write(tmp_path / "p", references=WHOLE.replace("0.30", "0.33"))
        read_keeper_tables([photos], tmp_path / "study").put_into(study)
        assert [row.document["ratio"] for row in study.references()] == [0.30, 0.33]


@pytest.mark.parametrize(
    ("row", "word"),
    [("T,tail,0.3,,", "caudal"), ("T,caudal,30,,", "length_to_sl"), ("T,caudal,0.3,-1,", "sd"),
     (",caudal,0.3,,", "name")],
)  # fmt: skip
def test_a_wrong_row_of_whole_fins_is_named(tmp_path, row, word):
    photos = _write(tmp_path / "p", references=WHOLE + row + "\n")
    (problem,) = read_keeper_tables([photos], tmp_path / "study").problems
    assert "references.csv, row 3" in problem
    assert word in problem
