"""`--square-mm`: the spacing of square paper is told, because no picture can show it."""

import csv
from pathlib import Path

import pytest

PHOTO = Path(__file__).parents[3] / "sample_images/juveniles/tank_a/2026-02-16_w04-1.jpg"


def scale(run, study, *options):
    run("measure", PHOTO, "--study", study, "--jobs", "0", *options)
    with (study / "photos.csv").open(newline="", encoding="utf-8") as file:
        row = next(csv.DictReader(file))
    return row["scale_method"], float(row["px_per_mm"])


def test_squares_of_a_told_spacing_agree_with_the_tags_of_the_same_card(run, tmp_path):
    # The grid has 5 mm squares (card_design.py); the tags in its corners are a second way to it.
    method, by_tags = scale(run, tmp_path / "tags", "--card", "squares")
    assert method == "squares_card"
    told = ("--card", "squares", "--square-mm")
    method, by_spacing = scale(run, tmp_path / "spacing", *told, "5")
    assert method == "square_paper"
    assert by_spacing == pytest.approx(by_tags, rel=1e-3)
    _, wrongly_told = scale(run, tmp_path / "wrong", *told, "10")
    assert wrongly_told == pytest.approx(by_spacing / 2, rel=1e-9)


@pytest.mark.parametrize(
    ("options", "words"),
    [(["--square-mm", "-5"], "above 0"), (["--card", "window", "--square-mm", "5"], "squares")],
)
def test_a_spacing_that_cannot_be_is_one_line(run, tmp_path, options, words):
    done = run("measure", PHOTO, "--study", tmp_path / "study", *options)
    assert done.returncode == 2
    assert words in done.stderr
    assert len(done.stderr.splitlines()) == 1
