"""The command `measure` from photos to tables, as a user runs it."""

import csv
import shutil
from dataclasses import replace

import pytest
from PIL import Image

from finmeasure.batch.given import read_given
from finmeasure.batch.measure_photo import measure_photo
from finmeasure.batch.plan import PlannedPhoto, plan_photos
from finmeasure.proposals.weights import weights_id


def table(study, name):
    with (study / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def measured(study, measure):
    return {
        row["photo"]: (float(row["value"]), float(row["u"]))
        for row in table(study, "measurements")
        if row["measure"] == measure and row["state"] == "measured"
    }


@pytest.fixture(scope="module")
def study(drawn, run_process, tmp_path_factory):
    folder = tmp_path_factory.mktemp("measured") / "study"
    done = run_process("measure", drawn.path, "--study", folder, *drawn.marks)
    assert done.returncode == 0, done.stderr
    assert "5 photos: 5 measured, 0 refused" in done.stdout
    return folder


def test_every_file_of_the_contract_is_there(study):
    for name in ("study.db", "photos.csv", "landmarks.csv", "outlines.csv", "measurements.csv",
                 "fish.csv", "report.html"):  # fmt: skip
        assert (study / name).is_file(), name
    assert len(list((study / "overlays").glob("*.jpg"))) == 5


def test_columns_are_those_of_the_contract(study):
    # design.md, "Public contract": these first, others may follow
    expected = {
        "photos": "photo, sha256, taken_at, width_px, height_px, scale_method, px_per_mm, "
        "px_per_mm_u, fish_found, state, reason, seconds",
        "landmarks": "photo, fish, landmark, x_px, y_px, u_px, state, placed_by, confidence",
        "outlines": "photo, fish, part, wkt, placed_by, confidence, spread, edge",
        "measurements": "photo, fish, measure, value, unit, u, state, placed_by, confidence, flags",
        "fish": "photo, fish, group, visit, side, dorsal_height_to_sl, caudal_fork_depth_to_sl, "
        "pelvic_length_to_sl, dorsal_notch_area",
    }
    for name, columns in expected.items():
        wanted = columns.split(", ")
        assert list(table(study, name)[0])[: len(wanted)] == wanted


def test_lengths_are_those_that_were_drawn(drawn, study):
    # truth: the millimetres that the photos were drawn from; marks are exact, so what is left is
    # the scale found in the picture: within 3 standard uncertainties for all four
    found = measured(study, "standard_length")
    assert sorted(found) == ["a.jpg", "b.jpg", "c.jpg", "d.jpg"]
    for photo, (value, u) in found.items():
        assert abs(value - drawn.truth[photo].lengths_mm["standard_length"]) <= 3 * u


def test_without_a_card_ratios_are_measured_and_lengths_refused(drawn, study):
    row = next(r for r in table(study, "photos") if r["photo"] == "e.jpg")
    assert (row["state"], row["px_per_mm"]) == ("measured", "")
    value, u = measured(study, "dorsal_height_to_sl")["e.jpg"]
    truth = drawn.truth["e.jpg"].lengths_mm
    assert abs(value - truth["dorsal_height"] / truth["standard_length"]) <= 3 * u
    refused = [r for r in table(study, "measurements")
               if r["photo"] == "e.jpg" and r["measure"] == "standard_length"]  # fmt: skip
    assert refused[0]["state"] == "refused"
    assert "no_scale" in refused[0]["flags"]


def test_the_second_run_skips_and_changes_nothing(drawn, study, run):
    before = {name: table(study, name) for name in ("photos", "landmarks", "measurements")}
    done = run("measure", drawn.path, "--study", study, *drawn.marks, "--jobs", "0")
    assert done.returncode == 0
    assert "5 of them as before and skipped" in done.stdout
    assert {name: table(study, name) for name in before} == before


def test_changed_marks_make_a_new_reading_of_that_photo_only(drawn, run, tmp_path):
    study = tmp_path / "study"
    marks = tmp_path / "landmarks.csv"
    shutil.copy(drawn.path / "landmarks.csv", marks)
    options = ["--study", study, "--landmarks", marks, "--jobs", "0"]
    run("measure", drawn.path, *options)
    old = measured(study, "standard_length")
    rows = marks.read_text().splitlines(keepends=True)
    moved = next(n for n, row in enumerate(rows) if row.startswith("a.jpg,1,caudal_base,"))
    cells = rows[moved].split(",")
    cells[3] = str(float(cells[3]) + 10)
    rows[moved] = ",".join(cells)
    marks.write_text("".join(rows))
    done = run("measure", drawn.path, *options)
    assert "4 of them as before and skipped" in done.stdout
    new = measured(study, "standard_length")
    assert {photo for photo in old if old[photo] != new[photo]} == {"a.jpg"}
    # 10 px at the drawn 4.2 px/mm, along a level fish
    assert abs(abs(new["a.jpg"][0] - old["a.jpg"][0]) - 10 / 4.2) < 0.1


def test_refusals_of_skipped_photos_still_count(drawn, run, tmp_path):
    folder = tmp_path / "photos"
    folder.mkdir()
    shutil.copy(drawn.path / "a.jpg", folder / "a.jpg")
    Image.new("RGB", (300, 200), "white").save(folder / "empty.png")
    options = ["--study", tmp_path / "study", *drawn.marks, "--jobs", "0"]
    first = run("measure", folder, *options)
    assert first.returncode == 1
    assert "empty.png: refused." in first.stdout
    second = run("measure", folder, *options)
    assert second.returncode == 1
    assert "2 photos: 1 measured, 1 refused; 2 of them as before and skipped" in second.stdout


def marks_of(given, plan):
    return given.task(plan.photos[0]).readings[0].landmarks


def test_a_table_made_for_a_folder_serves_for_each_folder_below_it(drawn, tmp_path):
    """Names count from the table's folder, and win over the bare name of another photo."""
    rows = (drawn.path / "landmarks.csv").read_text().splitlines()
    moved = [f"bag/{row}".replace("b.jpg", "a.jpg") for row in rows if row.startswith("b.jpg")]
    own = [row for row in rows if row.startswith("a.jpg")]
    (tmp_path / "landmarks.csv").write_text("\n".join([rows[0], *own, *moved]) + "\n")
    given = read_given(landmarks=tmp_path / "landmarks.csv")
    (tmp_path / "bag").mkdir()
    for place in (tmp_path / "a.jpg", tmp_path / "bag" / "a.jpg"):
        shutil.copy(drawn.path / "a.jpg", place)
    table = read_given(landmarks=drawn.path / "landmarks.csv").marks
    below, elsewhere = plan_photos([tmp_path / "bag"]), plan_photos([drawn.path / "a.jpg"])
    assert below.photos[0].name == elsewhere.photos[0].name == "a.jpg"
    assert marks_of(given, below) == table.readings("b.jpg")[0].landmarks
    assert marks_of(given, elsewhere) == table.readings("a.jpg")[0].landmarks  # by its name
    assert "1 photo (a.jpg), not among" in given.notes(below)[0]


def test_only_photos_without_given_marks_are_proposed(drawn, tmp_path, monkeypatch):
    given = read_given(landmarks=drawn.path / "landmarks.csv")

    def task(photo):
        return given.task(PlannedPhoto(drawn.path / photo, photo))

    assert not task("a.jpg").proposing
    assert task("new.jpg").proposing
    assert not task("new.jpg").readings
    # a package that came without its networks
    monkeypatch.setattr(weights_id, "__defaults__", (tmp_path,))
    assert not task("new.jpg").proposing
    shutil.copy(drawn.path / "b.jpg", tmp_path / "new.jpg")
    result = measure_photo(replace(task("new.jpg"), path=tmp_path / "new.jpg"))
    assert (result.state, result.reason[:15]) == ("refused", "needs landmarks")


def test_several_fish_in_one_photo_go_through_the_whole_chain(drawn, run, tmp_path):
    import cv2
    import numpy as np

    left, right = drawn.truth["a.jpg"].pixels, drawn.truth["b.jpg"].pixels
    cv2.imwrite(str(tmp_path / "two.png"), np.hstack([left, right])[..., ::-1])
    shift = left.shape[1]
    lines = ["photo,fish,landmark,x_px,y_px"]
    for fish, photo, dx in (("2", "b.jpg", shift), ("1", "a.jpg", 0)):
        for name in ("snout_tip", "caudal_base", "dorsal_origin", "dorsal_tip"):
            x, y = drawn.truth[photo].landmarks[name]
            lines.append(f"two.png,{fish},{name},{x + dx},{y}")
    (tmp_path / "marks.csv").write_text("\n".join(lines))
    study = tmp_path / "study"
    done = run("measure", tmp_path / "two.png", "--study", study, "--landmarks",
               tmp_path / "marks.csv", "--px-per-mm", "4.2", "--px-per-mm-u", "0.05",
               "--jobs", "0")  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert table(study, "photos")[0]["fish_found"] == "2"
    rows = {row["fish"]: row for row in table(study, "fish")}
    assert list(rows) == ["1", "2"]
    for fish, photo in (("1", "a.jpg"), ("2", "b.jpg")):
        truth = drawn.truth[photo].lengths_mm
        ratio = truth["dorsal_height"] / truth["standard_length"]
        assert abs(float(rows[fish]["dorsal_height_to_sl"]) - ratio) < 0.02 * ratio
    page = (study / "report.html").read_text(encoding="utf-8")
    assert "two.png · fish 1" in page
    assert "two.png · fish 2" in page


def test_names_tell_group_date_and_fish(drawn, run, tmp_path):
    folder = tmp_path / "photos"
    (folder / "tank 4").mkdir(parents=True)
    shutil.copy(drawn.path / "a.jpg", folder / "tank 4" / "2026-05-01_anna.jpg")
    shutil.copy(drawn.path / "b.jpg", folder / "tank 4" / "2026-05-01_07.jpg")
    marks = (drawn.path / "landmarks.csv").read_text()
    marks = marks.replace("a.jpg", "tank 4/2026-05-01_anna.jpg")
    (tmp_path / "marks.csv").write_text(marks.replace("b.jpg", "tank 4/2026-05-01_07.jpg"))
    study = tmp_path / "study"
    done = run("measure", folder, "--study", study, "--landmarks", tmp_path / "marks.csv",
               "--name-pattern", "{group}/{date}_{fish}", "--jobs", "0")  # fmt: skip
    assert done.returncode == 0, done.stderr
    rows = {row["fish"]: row for row in table(study, "fish")}
    # a bare number would only count fish within a photo: it is joined to its group
    assert sorted(rows) == ["anna", "tank 4 07"]
    assert {(r["group"], r["visit"]) for r in rows.values()} == {("tank 4", "2026-05-01")}
    photo = table(study, "photos")[0]
    assert photo["taken_at"].startswith("2026-05-01")
    assert "date_from_name" in photo["flags"]


def test_marks_for_photos_that_are_not_there_are_told(drawn, run, tmp_path):
    done = run("measure", drawn.path / "a.jpg", "--study", tmp_path / "study", *drawn.marks,
               "--jobs", "0")  # fmt: skip
    assert done.returncode == 0
    assert "4 photos (b.jpg, c.jpg, d.jpg, …), not among the photos of this run" in done.stderr


def test_the_real_photos_run_with_their_marks(shared, run_process, tmp_path):
    photos = shared / "photos"
    study = tmp_path / "study"
    done = run_process("measure", photos, "--study", study, "--landmarks", photos / "landmarks.csv",
               "--outlines", photos / "outlines.csv")  # fmt: skip
    rows = {row["photo"]: row for row in table(study, "photos")}
    assert len(rows) == 22
    # no photo shows our card, and none was given a bar: no scale may be invented
    assert {row["px_per_mm"] for row in rows.values()} == {""}
    assert done.returncode == 1
    with (photos / "landmarks.csv").open(newline="") as file:
        marked = {row["photo"] for row in csv.DictReader(file)}
    for photo, row in rows.items():
        if photo not in marked:
            assert row["reason"] or row["state"] == "measured"
    # every fully marked photo whose tables hold only parts of the contract is measured
    assert sum(row["state"] == "measured" for row in rows.values()) >= len(marked) - 2


def test_exif_orientations_give_the_same_lengths(drawn, run, tmp_path):
    """Eight orientations of one photo, marks given on the upright picture (EXIF 2.32, tag 274)."""
    upright = Image.fromarray(drawn.truth["a.jpg"].pixels)
    # how a picture is stored so that the tag's turn makes it upright again
    stored = {
        1: None, 2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }  # fmt: skip
    folder = tmp_path / "photos"
    folder.mkdir()
    marks = []
    for tag, turn in stored.items():
        picture = upright if turn is None else upright.transpose(turn)
        exif = Image.Exif()
        exif[274] = tag
        picture.save(folder / f"o{tag}.png", exif=exif)
        text = (drawn.path / "landmarks.csv").read_text().splitlines()
        marks += [row.replace("a.jpg", f"o{tag}.png") for row in text if row.startswith("a.jpg")]
    header = (drawn.path / "landmarks.csv").read_text().splitlines()[0]
    (tmp_path / "marks.csv").write_text("\n".join([header, *marks]))
    study = tmp_path / "study"
    done = run("measure", folder, "--study", study, "--landmarks", tmp_path / "marks.csv",
               "--jobs", "0")  # fmt: skip
    assert done.returncode == 0, done.stdout
    lengths = measured(study, "standard_length")
    assert len(lengths) == 8
    values = [value for value, _ in lengths.values()]
    assert max(values) - min(values) < 1e-6  # lossless copies of the same pixels
