"""Check lines of a printed card: kept with the study, and every scale is put right by them."""

import csv

import pytest


def scales(study):
    with (study / "photos.csv").open(newline="", encoding="utf-8") as file:
        return {row["photo"]: float(row["px_per_mm"]) for row in csv.DictReader(file)}


def length(study, photo):
    with (study / "measurements.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if (row["photo"], row["measure"]) == (photo, "standard_length"):
                return float(row["value"]), row["flags"].split(";")
    pytest.fail(f"no standard length of {photo}")


def test_a_card_printed_to_fit_letter_is_put_right_once_its_lines_are_kept(drawn, run, tmp_path):
    # An A4 page fitted on letter shrinks to 215.9 / 210 = 0.9407 of 279.4 / 297, the smaller one;
    # the A6 card has check lines of 100 mm and 80 mm (card_design.py).
    shrunk, study = 279.4 / 297, tmp_path / "study"
    measure = ("measure", drawn.path / "a.jpg", "--study", study, *drawn.marks, "--jobs", "0")
    asked = "Was the card printed at 100 %, not “fit to page”"
    assert run(*measure).stdout.count(asked) == 1
    before, (long, flags) = scales(study), length(study, "a.jpg")
    assert "print_unchecked" in flags
    done = run("card", "--paper", "A6", "--check-lines", 100 * shrunk, 80 * shrunk,
               "--study", study)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "94.07 % across" in done.stdout
    again = run(*measure).stdout
    assert again.count("skipped") == 1  # measured anew, because more is known
    assert asked not in again
    assert scales(study)["a.jpg"] == pytest.approx(before["a.jpg"] / shrunk, rel=1e-9)
    short, flags = length(study, "a.jpg")
    assert short == pytest.approx(long * shrunk, rel=1e-9)
    assert "print_unchecked" not in flags


def test_lines_of_another_card_change_nothing(drawn, run, tmp_path):
    plain, study = tmp_path / "plain", tmp_path / "study"
    run("card", "--paper", "A5", "--check-lines", 131, 101, "--study", study)
    for folder in (plain, study):
        run("measure", drawn.path / "a.jpg", "--study", folder, *drawn.marks, "--jobs", "0")
    assert length(study, "a.jpg") == length(plain, "a.jpg")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["--out", "--check-lines"]),
        (["--check-lines", "130", "100"], ["--study"]),
        (["--study", "s"], ["--out", "--check-lines"]),
        (["--check-lines", "13", "10", "--study", "{t}/s"], ["13 mm", "130 mm", "millimetres"]),
        (["--check-lines", "0", "100", "--study", "{t}/s"], ["0", "above 0"]),
        (["--out", "{t}/card.txt"], ["card.txt", ".pdf"]),
        (["--out", "{t}/none/card.pdf"], ["no such folder"]),
        (["--out", "{t}/card.pdf", "--paper", "A5", "--for-fish", "30"], ["not both"]),
        (["--out", "{t}/card.pdf", "--kind", "squares", "--ground", "black"], ["white only"]),
        (["--out", "{t}/card.pdf", "--for-fish", "900"], ["900 mm", "171 mm"]),
    ],
)
def test_a_wrong_card_call_says_what_to_do_and_leaves_nothing(run, tmp_path, arguments, words):
    done = run("card", *[item.format(t=tmp_path) for item in arguments])
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    for word in words:
        assert word in done.stderr
    assert list(tmp_path.iterdir()) == []
