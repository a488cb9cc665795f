"""CSV tables: what is read, what is refused with which words, and that nothing is lost."""

import csv
import os
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finmeasure.errors import TableError
from finmeasure.exchange.tables import (
    Row,
    guarded,
    photo_key,
    read_rows,
    unguarded,
    write_table,
)

# Any text that a file name or a person may bring; lone surrogates cannot be stored as UTF-8.
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
QUICK = settings(max_examples=200, deadline=None, derandomize=True,
                 suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip


def table(tmp_path, data, name="marks.csv"):
    path = tmp_path / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def cells(path, needed=("a",)):
    return [dict(row.cells) for row in read_rows(path, needed)]


def refusal(path, needed=("a",)):
    with pytest.raises(TableError) as caught:
        list(read_rows(path, needed))
    line = str(caught.value)
    assert line.isprintable()
    assert len(line) < 500
    return line


@pytest.mark.parametrize(
    "data",
    [
        "a,b\n1,2\n",
        "a,b\r\n1,2\r\n",
        "\ufeffa,b\n1,2\n",
        "a,b\n1,2",
        '"a","b"\n"1","2"\n',
        "a, b \n1,2\n\n,\n",
    ],
)
def test_the_ordinary_kinds_of_csv_are_read(tmp_path, data):
    assert cells(table(tmp_path, data)) == [{"a": "1", "b": "2"}]


def test_rows_are_counted_as_a_spreadsheet_counts_them(tmp_path):
    path = table(tmp_path, 'a,b\n"x\ny",1\n\nz,2\n')
    assert [(row.number, row.cells["a"]) for row in read_rows(path, ("a",))] == [
        (2, "x\ny"),
        (4, "z"),
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("", ["no header line", "Needed columns: a, b"]),
        ("\n1,2\n", ["no header line"]),
        ("a;b\n1;2\n", ["semicolons", "commas", "CSV UTF-8"]),
        ("a\tb\n1\t2\n", ["tabs"]),
        ("a,c\n1,2\n", ["no column 'b'", "Given: a, c", "Needed: a, b"]),
        ("a,bb\n1,2\n", ["no column 'b'"]),
        ("a,b,a\n1,2,3\n", ["column 'a' twice"]),
        ("a,b\n1,2\n".encode("utf-16"), ["not UTF-8", "CSV UTF-8"]),
        (b"a,b\n\xe4,1\n", ["not UTF-8"]),
    ],
)
def test_a_wrong_table_is_refused_as_a_whole(tmp_path, data, words):
    line = refusal(table(tmp_path, data), ("a", "b"))
    for word in ["marks.csv", *words]:
        assert word in line


def test_a_missing_column_names_the_one_that_was_probably_meant(tmp_path):
    assert "Nearest: x_pix." in refusal(table(tmp_path, "photo,x_pix\n"), ("photo", "x_px"))


def test_folders_pipes_missing_and_huge_files_are_refused_at_once(tmp_path):
    (tmp_path / "folder.csv").mkdir()
    os.mkfifo(tmp_path / "pipe.csv")
    with (tmp_path / "huge.csv").open("wb") as file:
        file.truncate(10**10)
    started = time.monotonic()
    assert "no ordinary file" in refusal(tmp_path / "folder.csv")
    assert "no ordinary file" in refusal(tmp_path / "pipe.csv")
    assert "larger than" in refusal(tmp_path / "huge.csv")
    assert "cannot be read" in refusal(tmp_path / "none.csv")
    assert "no file can have" in refusal(tmp_path / "a\x00b.csv")
    assert time.monotonic() - started < 1


def test_a_cell_of_eleven_million_characters_is_refused(tmp_path):
    assert "not a CSV table" in refusal(table(tmp_path, "a\n" + "x" * 11_000_000))


ROW = Row("marks.csv", 7, {"n": "3,5", "w": "spred", "t": "", "d": "1.5.2026", "g": "'=x"})


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda r: r.number_in("n", 0, 9), ["column n", "'3,5'", "0 to 9", "decimal point"]),
        (lambda r: r.one_of("w", ["spread", "clamped"]), ["'spred'", "Nearest: spread."]),
        (lambda r: r.text("t"), ["column t", "empty", "fill the cell"]),
        (lambda r: r.number_in("t", 0, 9), ["column t", "empty"]),
        (lambda r: r.time("d"), ["'1.5.2026'", "2026-05-01"]),
        (lambda r: r.time("t"), ["empty"]),
    ],
)
def test_a_wrong_cell_is_named_by_file_row_and_column(call, words):
    with pytest.raises(TableError) as caught:
        call(ROW)
    for word in ["marks.csv", "row 7", *words]:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    "text",
    ["nan", "NaN", "inf", "-Infinity", "1_000", "１２", "0x10", "1e999", "1 000", "--1", ".", "e5"],
)
def test_what_only_looks_like_a_number_is_refused(text):
    with pytest.raises(TableError, match="decimal point"):
        Row("t.csv", 2, {"n": text}).number_or_none("n", -1e6, 1e6)


@pytest.mark.parametrize(
    ("text", "value"), [("1", 1.0), (" 2.50 ", 2.5), ("-3e2", -300.0), ("+.5", 0.5), ("7.", 7.0)]
)
def test_numbers_are_read(text, value):
    assert Row("t.csv", 2, {"n": text}).number_in("n", -1e3, 1e3) == value


@pytest.mark.parametrize("text", ["2.5", "-1"])
def test_counts_are_whole(text):
    with pytest.raises(TableError):
        Row("t.csv", 2, {"n": text}).count_or_none("n")


@pytest.mark.parametrize(
    ("text", "stored"),
    [
        ("2026-05-01", "2026-05-01"),
        ("20260501", "2026-05-01"),
        ("2026-05-01T14:30", "2026-05-01T14:30:00"),
        ("2026-05-01 14:30:05", "2026-05-01T14:30:05"),
    ],
)
def test_times_are_stored_as_iso_8601(text, stored):
    assert Row("t.csv", 2, {"d": text}).time("d") == stored


@pytest.mark.parametrize("text", ["2026-05-01T14:30Z", "2026-05-01T14:30+02:00", "2026-02-30"])
def test_times_with_a_zone_and_days_that_do_not_exist_are_refused(text):
    with pytest.raises(TableError, match="without a zone"):
        Row("t.csv", 2, {"d": text}).time("d")


# The contract: a text cell that would start a formula (= + - @ tab) gets a leading apostrophe.
@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_cell_starts_a_formula(tmp_path, sign):
    path = tmp_path / "out.csv"
    write_table(path, ["text", "number"], [[f"{sign}cmd|' /C calc'!A0", -1.5]])
    with path.open(encoding="utf-8", newline="") as file:
        row = list(csv.reader(file))[1]
    assert row == [f"'{sign}cmd|' /C calc'!A0", "-1.5"]


@QUICK
@given(TEXT)
def test_the_guard_is_taken_away_again(text):
    assert unguarded(guarded(text)) == text
    assert guarded(text)[:1] not in set("=+-@\t\r")


@QUICK
@given(
    st.lists(st.tuples(TEXT, TEXT, st.floats(allow_nan=False, allow_infinity=False)), max_size=5)
)
def test_what_is_written_is_read_back_the_same(tmp_path, rows):
    path = tmp_path / "out.csv"
    write_table(path, ["a", "b", "n"], [("x" + a, b, n) for a, b, n in rows])
    read = [
        (row.exact_text("a")[1:], row.exact_text("b"), float(row.cells["n"]))
        for row in read_rows(path, ("a", "b", "n"))
    ]
    assert read == rows


def test_the_file_is_utf_8_with_one_header_and_pandas_reads_it(tmp_path):
    """Independent reader: pandas."""
    import pandas as pd

    path = tmp_path / "out.csv"
    write_table(path, ["photo", "n"], [["🐟 'a'\n\"b\",c.jpg", 0.1], ["b.jpg", None]])
    frame = pd.read_csv(path)
    assert list(frame.columns) == ["photo", "n"]
    assert frame["photo"][0] == "🐟 'a'\n\"b\",c.jpg"
    assert frame["n"][0] == 0.1
    assert frame["n"].isna()[1]


def test_undecodable_names_can_be_written(tmp_path):
    path = tmp_path / "out.csv"
    write_table(path, ["photo"], [[os.fsdecode(b"\xff.jpg")]])
    assert path.read_bytes() == b"photo\r\n\\udcff.jpg\r\n"


def test_a_failed_write_leaves_the_older_table_and_no_rest(tmp_path):
    path = tmp_path / "out.csv"
    write_table(path, ["a"], [["old"]])

    def rows():
        yield ["new"]
        raise OSError(28, "No space left on device")

    with pytest.raises(TableError, match=r"out\.csv cannot be written: No space left"):
        write_table(path, ["a"], rows())
    assert cells(path) == [{"a": "old"}]
    assert os.listdir(tmp_path) == ["out.csv"]


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(TableError, match="folder you may write in"):
        write_table(tmp_path / "none" / "out.csv", ["a"], [])


def test_photos_have_one_way_of_writing():
    assert photo_key(".\\bag 7\\a.jpg") == photo_key("./bag 7/a.jpg") == "bag 7/a.jpg"


@QUICK
@given(st.binary(max_size=200) | TEXT.map(str.encode),
       st.sampled_from([b"", b"a,b\n", b"a\n", b"\xef\xbb\xbfa,b\r\n"]))  # fmt: skip
def test_arbitrary_bytes_give_rows_or_a_table_error(tmp_path, data, start):
    path = table(tmp_path, start + data)
    try:
        rows = list(read_rows(path, ("a",)))
    except TableError:
        return
    assert all(isinstance(row, Row) for row in rows)
