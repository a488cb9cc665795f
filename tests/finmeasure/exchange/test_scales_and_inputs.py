"""scales.csv, groups.csv, labels.csv, events.csv, water.csv."""

import pytest

from finmeasure.errors import TableError
from finmeasure.exchange.inputs import (
    EventRow,
    GroupRow,
    LabelRow,
    WaterRow,
    read_events,
    read_groups,
    read_labels,
    read_water,
)
from finmeasure.exchange.scales import read_scales
from finmeasure.scale.references import Ruler
from finmeasure.scale.request import Bar

SCALES = "photo,x1_px,y1_px,x2_px,y2_px,length_mm,length_mm_u\n"


def written(tmp_path, name, text):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_bar_per_photo_is_read(tmp_path):
    path = written(tmp_path, "scales.csv", SCALES + "a.jpg,0,0,300,400,50,0.1\nb.jpg,0,0,9,0,3,\n")
    table = read_scales(path)
    assert table.reference("a.jpg").length_px == 500  # 3-4-5
    assert (table.reference("a.jpg").length_mm, table.reference("a.jpg").length_mm_u) == (50, 0.1)
    assert table.reference("b.jpg").length_mm_u == 0
    assert table.reference("c.jpg") is None
    assert table.problems("a.jpg") == ()


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("a.jpg,0,0,300,400,0,", ["column length_mm", "'0'"]),
        ("a.jpg,0,0,300,400,-5,", ["column length_mm", "'-5'"]),
        ("a.jpg,0,0,300,400,five,", ["column length_mm", "'five'", "decimal point"]),
        ("a.jpg,0,0,300,400,50,60", ["column length_mm_u", "0 to 50"]),
        ("a.jpg,7,7,7,7,50,", ["apart"]),
        ("a.jpg,,0,300,400,50,", ["column x1_px", "empty"]),
        ("a.jpg,nan,0,300,400,50,", ["column x1_px", "'nan'"]),
        ("a.jpg,0,0,300,400,50,\na.jpg,0,0,300,400,50,", ["row 4", "one reference per photo"]),
    ],
)
def test_a_bad_bar_refuses_its_photo_only(tmp_path, row, words):
    path = written(tmp_path, "scales.csv", SCALES + "b.jpg,0,0,300,400,50,\n" + row)
    table = read_scales(path)
    assert table.reference("a.jpg") is None
    (problem,) = table.problems("a.jpg")
    for word in ["scales.csv, row ", *words]:
        assert word in problem
    assert table.reference("b.jpg") is not None


def test_a_bar_without_a_photo_is_told(tmp_path):
    table = read_scales(written(tmp_path, "scales.csv", SCALES + ",0,0,300,400,50,\n"))
    assert table.references == {}
    assert "column photo" in table.notes[0]


KINDS = "photo,kind,x1_px,y1_px,x2_px,y2_px,length_mm,tick_mm,coin,points_px,click_sd_px\n"


def test_every_kind_of_reference_is_read(tmp_path):
    text = (
        KINDS
        + "a.jpg,,0,0,300,400,50,,,,2\n"
        + "b.jpg,ruler,5,6,700,8,,,,,\n"
        + "c.jpg,ruler,5,6,700,8,,1.5875,,,\n"
        + "d.jpg,id1,,,,,,,,10 10; 866 10; 866 550; 10 550,\n"
        + "e.jpg,coin,,,,,,,EUR 1,1 0; 2 0; 3 1; 3 2; 2 3; 1 3; 0 2; 0 1;,0.5\n"
    )
    table = read_scales(written(tmp_path, "scales.csv", text))
    assert table.problems_by_photo == {}
    assert table.reference("a.jpg") == Bar(0, 0, 300, 400, 50, click_sd_px=2)
    assert table.reference("b.jpg") == Ruler(5, 6, 700, 8, tick_mm=1.0)
    assert table.reference("c.jpg").tick_mm == 25.4 / 16  # a sixteenth of an inch
    assert table.reference("d.jpg").points_px == ((10, 10), (866, 10), (866, 550), (10, 550))
    assert (table.reference("e.jpg").name, table.reference("e.jpg").click_sd_px) == ("EUR 1", 0.5)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("a.jpg,stick,,,,,,,,,", ["column kind", "'stick'", "bar, ruler, id1, coin"]),
        ("a.jpg,ruler,5,6,5,6,,,,,", ["apart"]),
        ("a.jpg,ruler,5,6,700,8,,0,,,", ["column tick_mm", "'0'"]),
        ("a.jpg,bar,5,6,700,8,,,,,", ["column length_mm", "empty"]),
        ("a.jpg,id1,,,,,,,,1 2; 3 4; 5 6,", ["column points_px", "3 points", "4 are needed"]),
        ("a.jpg,id1,,,,,,,,1 2; 3; 5 6; 7 8,", ["column points_px", "x y; x y"]),
        ("a.jpg,id1,,,,,,,,1 2; 3 nan; 5 6; 7 8,", ["column points_px"]),
        ("a.jpg,coin,,,,,,,EUR 3,1 2; 3 4,", ["column coin", "'EUR 3'", "EUR 1"]),
        ("a.jpg,coin,,,,,,,EUR 1,1 2; 3 4,", ["2 points", "8 are needed"]),
    ],
)
def test_a_wrong_reference_refuses_its_photo_only(tmp_path, row, words):
    table = read_scales(written(tmp_path, "scales.csv", KINDS + "b.jpg,,0,0,9,9,5,,,,\n" + row))
    (problem,) = table.problems("a.jpg")
    for word in ["scales.csv, row 3", *words]:
        assert word in problem
    assert table.reference("b.jpg") is not None


def test_groups_are_read(tmp_path):
    text = (
        "group,kind,body_form,from,box,bag,invoiced,grade_mm_from,grade_mm_to,alive,dead,"
        "opened_at,claim_until\n"
        "Bag 7,invented tetra,adipose,invented hatchery,2,7,48,25,30,46,2,2026-05-01T09:30,"
        "2026-05-03\nTank 1,,betta+long_fin,,,,,,,,,,\n"
    )
    table = read_groups(written(tmp_path, "groups.csv", text))
    assert table.problems == ()
    assert table.rows == (
        GroupRow(
            "Bag 7", "invented tetra", "adipose", "invented hatchery", "2", "7", 48, 25.0, 30.0,
            46, 2, "2026-05-01T09:30:00", "2026-05-03",
        ),
        GroupRow("Tank 1", body_form="betta+long_fin"),
    )  # fmt: skip


def test_labels_events_and_water_tests_are_read(tmp_path):
    labels = written(tmp_path, "labels.csv", "fish,character,value,set_by\nGoldie,sex,'-1,Ann\n")
    assert read_labels(labels).rows == (LabelRow("Goldie", "sex", "-1", "Ann"),)
    labels = written(tmp_path, "labels.csv", "photo,fish,character,value\na.jpg,3,sex,male\n")
    assert read_labels(labels).rows == (LabelRow("3", "sex", "male", "", "a.jpg"),)
    events = written(tmp_path, "events.csv", "group,date,event,note\nT1,2026-05-01,moved,\n")
    assert read_events(events).rows == (EventRow("T1", "2026-05-01", "moved"),)
    water = written(
        tmp_path, "water.csv", "group,taken_at,quantity,value,unit\nT1,2026-05-01,pH,-0.5,1\n"
    )
    assert read_water(water).rows == (WaterRow("T1", "2026-05-01", "pH", -0.5, "1"),)


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (read_groups, "group,alive\nA,4.5\n", ["column alive", "'4.5'", "whole number"]),
        (read_groups, "group,dead\nA,-1\n", ["column dead", "'-1'"]),
        (read_groups, "group,body_form\nA,shark\n", ["column body_form", "'shark'", "plain"]),
        (read_groups, "group,opened_at\nA,yesterday\n", ["column opened_at", "2026-05-01"]),
        (read_groups, "group,grade_mm_from,grade_mm_to\nA,30,20\n", ["grade_mm_to", "30 to"]),
        (read_groups, "group\nNA\n", ["column group", "'NA'", "no value"]),
        (read_groups, "group,kind\nA,x\nA,y\n", ["row 3", "each once"]),
        (read_groups, "group,kind\n,x\n", ["column group", "empty"]),
        (read_labels, "fish,character,value\n3,sex,male\n", ["column fish", "needs the photo"]),
        (read_labels, "fish,character,value\nA,sex,\n", ["column value", "empty"]),
        (read_events, "group,date,event\nA,1/5/26,moved\n", ["column date", "2026-05-01"]),
        (read_water, "group,taken_at,quantity,value\nA,2026-05-01,pH,7;2\n", ["column value"]),
        (read_water, "group,taken_at,quantity,value\nA,2026-05-01,pH,\n", ["column value"]),
    ],
)
def test_a_bad_row_is_told_and_the_others_are_read(tmp_path, read, text, words):
    table = read(written(tmp_path, "table.csv", text))
    (problem,) = table.problems
    for word in ["table.csv, row ", *words]:
        assert word in problem
    assert len(table.rows) == text.count("\n") - 2


@pytest.mark.parametrize("read", [read_groups, read_labels, read_events, read_water, read_scales])
def test_a_wrong_header_refuses_the_table(tmp_path, read):
    with pytest.raises(TableError, match=r"table\.csv has no column '.*Needed: "):
        read(written(tmp_path, "table.csv", "x,y\n1,2\n"))
