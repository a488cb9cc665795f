"""The invented demo says what it promises; its files are checked as they are in the repository."""

import csv
from collections import Counter
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from finmeasure.drawing.photo import draw_photo
from finmeasure.drawing.samples import SEED
from finmeasure.drawing.scenario import JUVENILE_WEEKS, PAID_MM, VISITS, shots
from finmeasure.exchange.inputs import read_events, read_groups, read_labels, read_water
from finmeasure.exchange.landmarks import read_landmarks
from finmeasure.exchange.outlines import read_outlines
from finmeasure.exchange.references import read_references

SAMPLES = Path(__file__).parents[3] / "sample_images"


@pytest.fixture(scope="module")
def all_shots():
    return list(shots(SEED))


def rows(name):
    with (SAMPLES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_bag_holds_three_strays_and_five_small_fish(all_shots):
    bag = [shot for shot in all_shots if shot.group == "bag_7"]
    assert len(bag) == 46
    strays = [shot for shot in bag if shot.spec.fin("adipose") is None]
    assert len(strays) == 3
    own = [shot.spec.standard_length_mm for shot in bag if shot not in strays]
    assert sum(length < PAID_MM[0] for length in own) == 5


def test_the_treatment_has_six_visits_with_an_early_dip(all_shots):
    treated = [shot for shot in all_shots if shot.group == "treatment"]
    assert Counter(shot.fish for shot in treated) == dict.fromkeys(
        ("ember", "reed", "flint", "moss"), len(VISITS)
    )
    missing = [shot.spec.fin("caudal").damages[0].depth for shot in treated if shot.fish == "ember"]
    assert missing[1] > missing[0] > missing[-1]
    flint = [shot.spec for shot in treated if shot.fish == "flint"]
    assert not any(spec.fin("caudal").damages for spec in flint)
    assert flint[-1].standard_length_mm > 1.1 * flint[0].standard_length_mm
    moss = [shot.spec.fin("dorsal").spread for shot in treated if shot.fish == "moss"]
    assert moss[0] == "clamped"
    assert moss[-1] == "spread"


def test_three_groups_of_juveniles_at_four_ages(all_shots):
    groups = Counter(shot.group for shot in all_shots if shot.photo.startswith("juveniles/"))
    assert groups == dict.fromkeys(("tank_a", "tank_b", "tank_c"), 3 * len(JUVENILE_WEEKS))


def test_every_photo_is_there_with_its_time_and_small_enough(all_shots):
    for shot in all_shots:
        with Image.open(SAMPLES / shot.photo) as photo:
            told = photo.getexif().get_ifd(0x8769)[0x9003]
            assert datetime.strptime(told, "%Y:%m:%d %H:%M:%S") == shot.taken_at
            assert photo.size == (shot.view.width_px, shot.view.height_px)
    files = [path for path in SAMPLES.rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in files) < 12e6
    photos = {str(path.relative_to(SAMPLES)) for path in files if path.suffix == ".jpg"}
    assert photos == {shot.photo for shot in all_shots}


def test_marks_scatter_round_the_truth_as_they_say(all_shots):
    shot = next(shot for shot in all_shots if shot.photo.endswith("ember.jpg"))
    number = all_shots.index(shot)
    photo = draw_photo(shot.spec, shot.view, np.random.default_rng([SEED, number]))
    marks = [row for row in rows("landmarks.csv") if row["photo"] == shot.photo]
    placed = [row for row in marks if row["state"] == "placed"]
    assert {row["landmark"] for row in placed} == set(photo.landmarks)
    pulls = [
        np.hypot(
            float(row["x_px"]) - photo.landmarks[row["landmark"]][0],
            float(row["y_px"]) - photo.landmarks[row["landmark"]][1],
        )
        / np.hypot(float(row["u_px"]), float(row["u_across_px"]))
        for row in placed
    ]
    # Root mean square of a pull is 1; about 30 marks give it to 13 %, three times that.
    assert np.sqrt(np.mean(np.square(pulls))) == pytest.approx(1.0, abs=0.4)


def test_truth_table_holds_the_lengths_of_the_drawn_fish(all_shots):
    table = {
        (row["photo"], row["quantity"]): float(row["value"])
        for row in rows("truth.csv")
        if row["part"] == ""
    }
    for shot in all_shots:
        held = table[shot.photo, "standard_length_held_straight"]
        assert held == pytest.approx(shot.spec.standard_length_mm, rel=2e-3)
        # Yaw and bend only shorten.
        assert table[shot.photo, "standard_length"] <= held + 1e-9


def test_tables_name_only_photos_and_groups_that_exist(all_shots):
    photos = {shot.photo for shot in all_shots}
    for name in ("landmarks.csv", "outlines.csv", "truth.csv", "labels.csv"):
        assert {row["photo"] for row in rows(name)} <= photos
    groups = {row["group"] for row in rows("groups.csv")}
    assert {row["group"] for row in rows("events.csv") + rows("water.csv")} <= groups
    assert "invented" in (SAMPLES / "README.md").read_text(encoding="utf-8")


def test_the_program_reads_every_table_without_complaint():
    marks = read_landmarks(SAMPLES / "landmarks.csv")
    edges = read_outlines(SAMPLES / "outlines.csv")
    for table in (marks, edges):
        assert not table.problems_by_photo
        assert not table.notes
    assert {"treatment/2026-03-06_ember.jpg", "counter/customer_photo.jpg"} <= set(marks.by_photo)
    readers = {"groups": read_groups, "labels": read_labels, "events": read_events,
               "water": read_water, "references": read_references}  # fmt: skip
    for name, read in readers.items():
        table = read(SAMPLES / f"{name}.csv")
        assert table.problems == ()
        assert table.rows
