"""The tables that a study gives out: columns of the public contract, safe in a spreadsheet."""

import csv

import pandas as pd
import pytest
from study_samples import fish_of, measures_of, reading_of, result_of

from finmeasure.errors import StudyError
from finmeasure.quantity import Measure
from finmeasure.reading import PARTS
from finmeasure.study.records import FishResult

# The contract of the project's design, word for word; further columns may follow.
CONTRACT = {
    "photos": "photo, sha256, taken_at, width_px, height_px, scale_method, px_per_mm, "
    "px_per_mm_u, fish_found, state, reason, seconds",
    "landmarks": "photo, fish, landmark, x_px, y_px, u_px, state, placed_by, confidence",
    "outlines": "photo, fish, part, wkt, placed_by, confidence, spread, edge",
    "measurements": "photo, fish, measure, value, unit, u, state, placed_by, confidence, flags",
    "fish": "photo, fish, group, visit, side, dorsal_height_to_sl, caudal_fork_depth_to_sl, "
    "pelvic_length_to_sl",
}


def _rows(file):
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


@pytest.mark.parametrize("table", CONTRACT)
def test_columns_are_those_of_the_contract(study, table):
    for result in (None, result_of(1)):
        if result is not None:
            study.record_photo_result(result)
        study.export("csv")
        header = (study.folder / f"{table}.csv").read_text(encoding="utf-8").split("\n")[0]
        wanted = CONTRACT[table].replace(" ", "")
        assert header == wanted or header.startswith(wanted + ",")


def test_raggedness_follows_the_headline_ratios(study):
    study.record_photo_result(result_of(1))
    study.export("csv")
    header = next(csv.reader((study.folder / "fish.csv").open(encoding="utf-8")))
    fins = ("dorsal", "second_dorsal", "caudal", "anal")
    assert set(fins) < set(PARTS)
    assert header[8:12] == [f"{fin}_notch_area" for fin in fins]
    assert header[12:] == ["standard_length", "caudal_area"]


def test_cells_hold_what_was_recorded(study):
    study.record_photo_result(result_of(1))
    study.record_photo_result(result_of(2, state="refused", reason="blurred, and dark", fish=()))
    study.export("csv")
    (photo, refused) = _rows(study.folder / "photos.csv")
    assert photo["taken_at"] == "2026-05-03T10:11:12"
    assert (photo["width_px"], photo["fish_found"], photo["state"]) == ("4000", "1", "measured")
    assert photo["scale_method"] == "bar"
    assert float(photo["px_per_mm"]) == pytest.approx(21.0, rel=1e-12)
    assert (refused["reason"], refused["fish_found"]) == ("blurred, and dark", "0")
    by_name = {row["landmark"]: row for row in _rows(study.folder / "landmarks.csv")}
    given = reading_of(1).landmarks["snout_tip"]
    assert float(by_name["snout_tip"]["x_px"]) == given.x_px
    assert (by_name["adipose_tip"]["state"], by_name["adipose_tip"]["x_px"]) == ("absent", "")
    for row, measure in zip(_rows(study.folder / "measurements.csv"), measures_of(1), strict=True):
        assert row["measure"] == measure.id
        assert row["value"] == ("" if measure.value is None else repr(measure.value))
        assert row["flags"] == ";".join(measure.flags)
    (fish,) = _rows(study.folder / "fish.csv")
    assert (fish["group"], fish["visit"], fish["side"]) == ("tank 1", "2026-05-03", "left")
    assert float(fish["dorsal_height_to_sl"]) == measures_of(1)[1].value
    assert fish["caudal_area"] == ""


def test_rows_stand_by_photo_then_fish_then_as_marked(study):
    for number in (3, 1):
        fish = (fish_of(number, "2"), fish_of(number + 10, "1"))
        study.record_photo_result(result_of(number, fish=fish))
    found = study.table("landmarks")
    order = list(dict.fromkeys(zip(found["photo"], found["fish"], strict=True)))
    names = [result_of(1).photo, result_of(3).photo]
    assert order == [(name, fish) for name in names for fish in ("1", "2")]
    assert list(found["landmark"][:6]) == list(reading_of(1).landmarks)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_starts_a_formula(study, start):
    name = f"{start}cmd|' /C calc'!A0"
    reading = reading_of(1, placed_by=name)
    fish = FishResult(reading, (Measure("x", "mm", "refused", reason=name),), group=name)
    study.record_photo_result(result_of(1, photo=f"{name}.jpg", reason=name, fish=(fish,)))
    study.name_fish(f"{name}.jpg", "1", f"{start}fish")
    study.export("csv")
    for table in CONTRACT:
        for row in _rows(study.folder / f"{table}.csv"):
            guarded = [cell for cell in row.values() if cell.startswith(f"'{start}")]
            assert guarded
            risky = [cell for cell in row.values() if cell.startswith(("=", "+", "@", "\t", "\r"))]
            assert not risky
            assert not [c for c in row.values() if c.startswith("-") and not _is_number(c)]


def _is_number(cell):
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_names_with_anything_in_them_survive_a_csv_reader(study):
    names = ['a,b"c\nd.jpg', "car\rriage.jpg", "ünï 🐟.jpg", " blank .jpg", "NA", "null"]
    for number, name in enumerate(names):
        study.record_photo_result(result_of(number, photo=name))
    study.export("csv")
    assert [row["photo"] for row in _rows(study.folder / "photos.csv")] == sorted(names)


def test_parquet_holds_the_same_as_csv(study):
    for number in range(3):
        study.record_photo_result(result_of(number))
    study.export("csv")
    study.export("parquet")
    for table in CONTRACT:
        from_csv = pd.read_csv(
            study.folder / f"{table}.csv", dtype={"fish": str}, float_precision="round_trip"
        )
        from_parquet = pd.read_parquet(study.folder / f"{table}.parquet")
        assert list(from_csv) == list(from_parquet)
        for name in from_csv:
            one, other = from_csv[name], from_parquet[name]
            if pd.api.types.is_numeric_dtype(other):
                assert one.astype(float).equals(other.astype(float))
            else:
                assert list(one.astype(object).fillna("")) == list(other.fillna(""))


def test_empty_study_gives_empty_tables(study):
    for form in ("csv", "parquet"):
        study.export(form)
    assert len((study.folder / "fish.csv").read_text().splitlines()) == 1
    assert pd.read_parquet(study.folder / "fish.parquet").empty


def test_export_elsewhere_makes_the_folder(study, tmp_path):
    files = study.export("csv", tmp_path / "a" / "b")
    assert all(file.exists() for file in files)
    assert not list((tmp_path / "a" / "b").glob(".*"))


def test_unknown_kind_and_table_name_what_is_allowed(study):
    with pytest.raises(StudyError, match="Allowed: csv, parquet"):
        study.export("xls")
    with pytest.raises(StudyError, match="Allowed: photos, landmarks"):
        study.table("fishes")


def test_folder_that_cannot_be_written_is_one_line_and_the_old_tables_stay(study, ordinary_user):
    study.record_photo_result(result_of(1))
    (ordinary_user / "photos.csv").write_text("old\n")
    ordinary_user.chmod(0o555)
    with pytest.raises(StudyError, match="cannot be written") as caught:
        study.export("csv", ordinary_user)
    ordinary_user.chmod(0o777)
    assert "\n" not in str(caught.value)
    assert (ordinary_user / "photos.csv").read_text() == "old\n"


def test_what_a_killed_export_left_is_tidied_and_a_running_one_is_left_alone(study, processes):
    child = processes.Process(target=int)
    child.start()
    child.join()
    killed = study.folder / f".fish.csv.{child.pid}.part"
    running = study.folder / ".fish.csv.1.part"
    for part in (killed, running):
        part.write_text("half a")
    study.export("csv")
    assert not killed.exists()
    assert running.exists()
