"""landmarks.csv and outlines.csv in and out."""

import csv
import math

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finmeasure.errors import TableError
from finmeasure.exchange.landmarks import read_landmarks, write_landmarks
from finmeasure.exchange.marks import MarksTable
from finmeasure.exchange.outlines import read_outlines, wkt_of, write_outlines
from finmeasure.landmarks.scheme import landmark_definitions
from finmeasure.reading import EDGE_MARKS, PARTS, Landmark, Outline, Reading

HEAD = "photo,fish,landmark,x_px,y_px,u_px,state,placed_by,confidence\n"
GOOD = "b.jpg,1,snout_tip,5,6,,placed,hand,\n"


def landmarks(tmp_path, text):
    path = tmp_path / "landmarks.csv"
    path.write_text(text, encoding="utf-8")
    return read_landmarks(path)


def outlines(tmp_path, *rows, head="photo,fish,part,wkt,placed_by,confidence,spread,edge"):
    path = tmp_path / "outlines.csv"
    path.write_text("\n".join([head, *rows]), encoding="utf-8")
    return read_outlines(path)


def test_a_table_becomes_readings(tmp_path):
    marks = landmarks(
        tmp_path,
        HEAD + "a.jpg,1,snout_tip,10.5,20,1.5,placed,Ann,0.9\na.jpg,1,adipose_tip,,,,absent,Ann,\n"
        "a.jpg,Goldie,snout_tip,30,40,,,,\n",
    )
    first, second = marks.readings("a.jpg")
    assert (first.fish, second.fish) == ("1", "Goldie")
    expected = Landmark("snout_tip", 10.5, 20, "placed", 1.5, placed_by="Ann", confidence=0.9)
    assert first.landmarks["snout_tip"] == expected
    assert first.state_of("adipose_tip") == "absent"
    assert first.state_of("dorsal_tip") == "hidden"  # not given counts as hidden
    assert first.placed_by == "Ann"
    assert second.landmarks["snout_tip"].u_px is None
    assert second.landmarks["snout_tip"].state == "placed"
    assert marks.photos == ("a.jpg",)
    assert marks.notes == ()


def test_few_columns_are_enough_and_more_are_let_pass(tmp_path):
    marks = landmarks(
        tmp_path,
        "remark,photo,landmark,x_px,y_px,u_across_px\nhello,sub\\a.jpg,snout_tip,1,2,3.5\n",
    )
    (reading,) = marks.readings("sub/a.jpg")
    assert reading.fish == "1"
    assert reading.landmarks["snout_tip"].u_across_px == 3.5


def test_where_nothing_is_placed_the_coordinates_do_not_count(tmp_path):
    marks = landmarks(tmp_path, HEAD + "a.jpg,1,dorsal_tip,nan,7,,hidden,,\n")
    assert math.isnan(marks.readings("a.jpg")[0].landmarks["dorsal_tip"].x_px)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("a.jpg,1,snout_tp,1,2,,,,", ["column landmark", "'snout_tp'", "Nearest: snout_tip"]),
        ("a.jpg,1,zzzz,1,2,,,,", ["column landmark", "'zzzz'", "Allowed: snout_tip"]),
        ("a.jpg,1,ventral,1,2,,,,", ["'ventral' is not known"]),
        ("a.jpg,1,,1,2,,,,", ["column landmark", "empty"]),
        ("a.jpg,1,snout_tip,NaN,2,,,,", ["column x_px", "'NaN'", "decimal point"]),
        ("a.jpg,1,snout_tip,1,inf,,,,", ["column y_px", "'inf'"]),
        ('a.jpg,1,snout_tip,"1,5",2,,,,', ["column x_px", "'1,5'", "decimal point"]),
        ("a.jpg,1,snout_tip,,2,,,,", ["column x_px", "empty"]),
        ("a.jpg,1,snout_tip,1,2,0,,,", ["column u_px", "'0'"]),
        ("a.jpg,1,snout_tip,1,2,-1,,,", ["column u_px", "'-1'"]),
        ("a.jpg,1,snout_tip,1,2,,there,,", ["column state", "'there'", "placed, absent, hidden"]),
        ("a.jpg,1,snout_tip,1,2,,,,1.5", ["column confidence", "0 to 1"]),
        ("a.jpg,1,snout_tip,1,2,,,,,extra", ["10 cells under 9 columns", "quotes"]),
        ("a.jpg,1,snout_tip,1,2,,,,\na.jpg,1,nose,1,2,,,,", ["row 4", "row 3 has it already"]),
    ],
)
def test_a_bad_row_refuses_its_photo_only(tmp_path, row, words):
    marks = landmarks(tmp_path, HEAD + GOOD + row + "\na.jpg,1,caudal_base,9,9,,,,\n")
    assert marks.readings("a.jpg") == ()
    (problem,) = marks.problems("a.jpg")
    for word in ["landmarks.csv, row ", *words]:
        assert word in problem
    assert problem.isprintable()
    assert len(problem) < 1000
    assert len(marks.readings("b.jpg")) == 1
    assert marks.problems("b.jpg") == ()
    assert set(marks.photos) == {"a.jpg", "b.jpg"}


def test_many_bad_rows_of_a_photo_are_counted_not_listed(tmp_path):
    marks = landmarks(tmp_path, HEAD + "a.jpg,1,zzzz,1,2,,,,\n" * 1000)
    assert len(marks.problems("a.jpg")) == 6
    assert marks.problems("a.jpg")[-1] == "… and 995 more rows."


def test_a_row_without_a_photo_refuses_none_and_is_told(tmp_path):
    marks = landmarks(tmp_path, HEAD + GOOD + ",1,snout_tip,1,2,,,,\n")
    assert marks.photos == ("b.jpg",)
    assert "row 3, column photo" in marks.notes[0]


def test_ventral_is_read_as_pelvic_and_the_mapping_is_told_once(tmp_path):
    marks = landmarks(
        tmp_path, HEAD + "".join(f"{n}.jpg,1,ventral_tip,1,2,,,,\n" for n in range(5))
    )
    assert marks.readings("3.jpg")[0].placed("pelvic_tip")
    (note,) = marks.notes
    assert note.startswith("landmarks.csv: ventral_tip is read as pelvic_tip")
    assert "anal" in note


def test_a_wrong_header_refuses_the_table(tmp_path):
    with pytest.raises(TableError, match=r"no column 'x_px'.*Needed: photo, landmark, x_px, y_px"):
        landmarks(tmp_path, "photo,fish,landmark,x,y\n")


FINITE = st.floats(-1e5, 1e5)
NAME = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
WORD = NAME.map(lambda text: text.strip(" ")).filter(bool)
U_PX = st.none() | st.floats(1e-3, 100)


@st.composite
def readings(draw):
    names = draw(st.lists(st.sampled_from(list(landmark_definitions())), unique=True, max_size=6))
    placed_by = draw(WORD)
    marks = {}
    for name in names:
        state = draw(st.sampled_from(["placed", "absent", "hidden"]))
        x_px, y_px = (draw(FINITE), draw(FINITE)) if state == "placed" else (math.nan, math.nan)
        confidence = draw(st.none() | st.floats(0, 1))
        marks[name] = Landmark(
            name, x_px, y_px, state, draw(U_PX), draw(U_PX), placed_by, confidence
        )
    outlines = {}
    for part in draw(st.lists(st.sampled_from(PARTS), unique=True, max_size=3)):
        closed = part in ("body", "fish") or draw(st.booleans())
        points = draw(st.lists(st.tuples(FINITE, FINITE), min_size=3, max_size=12, unique=True))
        spread = draw(st.sampled_from(["spread", "part_folded", "clamped"]))
        edge = draw(st.sampled_from(["", *EDGE_MARKS]))
        outlines[part] = Outline(part, np.array(points), closed, placed_by, None, spread, edge)
    return Reading(draw(WORD), marks, outlines, placed_by=placed_by)


@settings(max_examples=60, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(st.lists(st.tuples(NAME, readings()), max_size=4, unique_by=lambda mark: mark[0]))
def test_what_is_written_is_read_back_the_same(tmp_path, marks):
    """Any photo name, any fish name, any mark; digits are not lost."""
    marks = [(photo, r) for photo, r in marks if "\\" not in photo and not photo.startswith("./")]
    write_landmarks(tmp_path / "l.csv", marks)
    write_outlines(tmp_path / "o.csv", marks)
    table = read_landmarks(tmp_path / "l.csv").joined(read_outlines(tmp_path / "o.csv"))
    assert table.problems_by_photo == {}
    assert table.notes == ()
    for photo, reading in marks:
        found = table.readings(photo)
        if not reading.landmarks and not reading.outlines:
            assert found == ()
            continue
        (got,) = found
        assert got.fish == reading.fish
        assert got.placed_by == reading.placed_by
        assert repr(dict(got.landmarks)) == repr(dict(reading.landmarks))
        assert list(got.outlines) == list(reading.outlines)
        for part, outline in reading.outlines.items():
            read = got.outlines[part]
            assert (read.points_px == outline.points_px).all()
            assert (read.closed, read.spread, read.edge) == (
                outline.closed, outline.spread, outline.edge,
            )  # fmt: skip


def test_lines_are_open_and_polygons_closed(tmp_path):
    marks = outlines(
        tmp_path,
        'a.jpg,1,dorsal,"LINESTRING (0 0, 1 2, 3 0)",hand,,part_folded,red',
        'a.jpg,1,tail,"POLYGON ((0 0, 4 0, 4 3, 0 0))",,,,',
        'a.jpg,1,whole,"linestring(0 0, 4 0, 4 3, 0 0)",,,,',
    )
    (reading,) = marks.readings("a.jpg")
    dorsal = reading.outlines["dorsal"]
    assert (dorsal.closed, dorsal.spread, dorsal.edge) == (False, "part_folded", "red")
    assert dorsal.points_px.tolist() == [[0, 0], [1, 2], [3, 0]]
    assert reading.outlines["caudal"].closed
    assert reading.outlines["caudal"].points_px.tolist() == [[0, 0], [4, 0], [4, 3]]
    assert reading.outlines["fish"].closed
    assert any("tail is read as caudal" in note for note in marks.notes)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("a.jpg,1,pelvic_far,POINT (0 0),,,,", ["column part", "'pelvic_far'", "Nearest: pelvic"]),
        ("a.jpg,1,dorsal,POINT (0 0),,,,", ["column wkt", "LINESTRING", "POLYGON"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 1)",,,,', ["at least 3 points"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 1, 2 x)",,,,', ["column wkt"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 1, 2 nan)",,,,', ["column wkt"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 1, 2 1e999)",,,,', ["column wkt"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 1, 2 9e9)",,,,', ["column wkt"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0 1, 1 1 1, 2 0 1)",,,,', ["two numbers per point"]),
        ('a.jpg,1,dorsal,"POLYGON ((0 0, 9 0, 9 9, 0 0), (1 1, 2 1, 2 2, 1 1))",,,,', ["no holes"]),
        ('a.jpg,1,dorsal,"POLYGON ((0 0, 9 0, 9 9))",,,,', ["column wkt"]),
        ("a.jpg,1,dorsal,POLYGON EMPTY,,,,", ["column wkt"]),
        ("a.jpg,1,dorsal,,,,,", ["column wkt", "empty"]),
        ('a.jpg,1,body,"LINESTRING (0 0, 1 2, 3 0)",,,,', ["POLYGON", "body and fish"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 2, 3 0)",,,open,', ["column spread", "clamped"]),
        ('a.jpg,1,dorsal,"LINESTRING (0 0, 1 2, 3 0)",,,,ragged', ["column edge", "fluffy"]),
        ("a.jpg,1,dorsal," + "GEOMETRYCOLLECTION (" * 20_000 + ",,,,", ["column wkt"]),
    ],
)
def test_a_bad_outline_refuses_its_photo_only(tmp_path, row, words):
    good = 'b.jpg,1,dorsal,"LINESTRING (0 0, 1 2, 3 0)",,,,'
    marks = outlines(tmp_path, good, row)
    assert marks.readings("a.jpg") == ()
    (problem,) = marks.problems("a.jpg")
    for word in ["outlines.csv, row 3", *words]:
        assert word in problem
    assert len(problem) < 400
    assert len(marks.readings("b.jpg")) == 1


@settings(max_examples=300, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(st.text(st.sampled_from("LINESTRINGPOLYGON()0123456789.,-+eE \n"), max_size=80)
       | st.text(st.sampled_from("()0123456789.,-+eE "), max_size=60).map("LINESTRING ({})".format)
       | st.text(st.sampled_from("()0123456789.,-+eE "), max_size=60).map("POLYGON (({}))".format)
       | NAME)  # fmt: skip
def test_arbitrary_geometry_gives_an_outline_or_a_problem(tmp_path, text):
    path = tmp_path / "outlines.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["photo", "part", "wkt"], ["a.jpg", "anal", text]])
    marks = read_outlines(path)
    assert len(marks.readings("a.jpg")) + len(marks.problems("a.jpg")) == 1
    for reading in marks.readings("a.jpg"):
        assert np.isfinite(reading.outlines["anal"].points_px).all()


def test_the_geometry_written_is_that_of_the_open_standard():
    """Independent reader: shapely (GEOS). Area of a 3-4-5 triangle is 6."""
    ring = Outline("body", np.array([[0, 0], [4, 0], [4, 3]]), closed=True)
    geometry = shapely.from_wkt(wkt_of(ring))
    assert geometry.geom_type == "Polygon"
    assert geometry.area == 6
    line = Outline("dorsal", np.array([[0.1, 1e-9], [4, 0], [4, 3]]))
    assert shapely.get_coordinates(shapely.from_wkt(wkt_of(line))).tolist()[0] == [0.1, 1e-9]


def test_tables_are_joined_fish_by_fish_and_a_problem_in_either_refuses(tmp_path):
    first = landmarks(
        tmp_path, HEAD + GOOD + "a.jpg,1,snout_tip,1,2,,,,\nc.jpg,1,snout_tip,1,2,,,,\n"
    )
    second = outlines(
        tmp_path,
        'b.jpg,1,dorsal,"LINESTRING (0 0, 1 2, 3 0)",,,,',
        'b.jpg,2,dorsal,"LINESTRING (0 0, 1 2, 3 0)",,,,',
        "a.jpg,1,dorsal,nonsense,,,,",
        'd.jpg,1,dorsal,"LINESTRING (0 0, 1 2, 3 0)",,,,',
    )
    marks = first.joined(second)
    one, two = marks.readings("b.jpg")
    assert one.placed("snout_tip")
    assert "dorsal" in one.outlines
    assert two.landmarks == {}
    assert marks.readings("a.jpg") == ()
    assert len(marks.problems("a.jpg")) == 1
    assert len(marks.readings("c.jpg")) == len(marks.readings("d.jpg")) == 1
    assert MarksTable().joined(first).photos == first.photos


def test_landmarks_of_real_photographs_are_read_whole(shared):
    """Truth: the rows of the file as the csv module gives them."""
    path = shared / "photos" / "landmarks.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    marks = read_landmarks(path)
    assert marks.problems_by_photo == {}
    assert marks.notes == ()
    for row in rows:
        (reading,) = marks.readings(row["photo"])
        landmark = reading.landmarks[row["landmark"]]
        assert landmark.state == row["state"]
        if row["state"] == "placed":
            assert landmark.point == (float(row["x_px"]), float(row["y_px"]))
        if row["u_across_px"]:
            assert landmark.u_across_px == float(row["u_across_px"])
    assert sum(len(marks.readings(photo)[0].landmarks) for photo in marks.photos) == len(rows)


def test_outlines_of_real_photographs_are_read_and_an_unknown_part_refuses_its_photo(shared):
    """The file names the far pelvic fin of one carp, a part that the contract has not."""
    path = shared / "photos" / "outlines.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    marks = read_outlines(path)
    odd = {row["photo"] for row in rows if row["part"] not in PARTS}
    assert odd == {"common_carp_white.jpg"} == set(marks.problems_by_photo)
    (problem,) = marks.problems("common_carp_white.jpg")
    assert "'pelvic_far'" in problem
    assert "Nearest: pelvic" in problem
    for row in rows:
        if row["photo"] in odd:
            continue
        outline = marks.readings(row["photo"])[0].outlines[row["part"]]
        assert outline.closed
        ring = shapely.from_wkt(row["wkt"])
        assert len(outline.points_px) == len(ring.exterior.coords) - 1
