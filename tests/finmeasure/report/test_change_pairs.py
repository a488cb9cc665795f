"""Likely pairs from drawn photos: what is shown, what is written, what can be taken back."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from finmeasure.errors import FinmeasureError
from finmeasure.report.change_likely import (
    SNOUT_AT,
    TAIL_BASE_AT,
    flank_of,
    level_picture,
    pairs_to_look_at,
    seen_fish,
)
from finmeasure.report.change_pairs import (
    CHARACTERS,
    answers,
    decide,
    free_name,
    left_after,
    take_back,
)
from finmeasure.report.change_report import write_change_report
from finmeasure.study.store import Study

_spec = importlib.util.spec_from_file_location(
    "drawn_series", Path(__file__).parents[1] / "timeseries" / "drawn_series.py"
)
drawn = importlib.util.module_from_spec(_spec)
sys.modules["drawn_series"] = drawn
_spec.loader.exec_module(drawn)


@pytest.fixture(scope="module")
def tank(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tank")
    return drawn.study_of_two_visits(folder, np.random.default_rng(40))


@pytest.fixture
def study(tank):
    with Study.open(tank) as opened:
        yield opened


@pytest.fixture(scope="module")
def looked(tank):
    with Study.open(tank, read_only=True) as opened:
        return [(fish, flank_of(fish)) for fish in seen_fish(opened)]


def true_name(fish):
    return fish.photo.removesuffix(".jpg").split("_")[1]


def test_suggested_pairs_are_true_ones_and_say_why(study, looked):
    pairs = pairs_to_look_at(study, looked)
    assert len(pairs) >= 2
    for pair in pairs:
        assert true_name(pair.earlier) == true_name(pair.later)
        assert pair.earlier.visit < pair.later.visit
        assert f"agrees to {100 * pair.likeness:.0f} %" in pair.reasons[0]
    assert free_name(study, "tank") == "tank-1"


def test_pictures_are_level_and_of_one_size(study, looked):
    """The darkest place of the eye, by the drawn truth of its mark, lies where geometry says."""
    fish = [fish for fish, _ in looked]
    assert len({true_name(one) for one in fish}) == 5
    for one in fish[:3]:
        picture = level_picture(one, (600, 300)).astype(float)
        assert picture.shape == (300, 600, 3)
        snout, base, eye = (one.reading.point(name) for name in
                            ("snout_tip", "caudal_base", "eye_centre"))  # fmt: skip
        along = (eye - snout) @ (base - snout) / np.hypot(*(base - snout)) ** 2
        x = 600 * (SNOUT_AT + along * (TAIL_BASE_AT - SNOUT_AT))
        near = picture[110:190, round(x) - 12 : round(x) + 12].mean(axis=2)
        assert near.min() < 60  # the pupil is black
    gone = fish[0].__class__(**{n: getattr(fish[0], n) for n in fish[0].__dataclass_fields__}
                             | {"file": Path("gone.jpg")})  # fmt: skip
    assert level_picture(gone, (600, 300)).size == 0
    assert "cannot be read" in str(flank_of(gone))


def test_same_gives_both_the_name_and_can_be_taken_back(study, looked):
    first, *_ = pairs = pairs_to_look_at(study, looked)
    with pytest.raises(FinmeasureError, match="has no name yet"):
        decide(study, first, "same", person="ada")
    decision = decide(study, first, "same", person="ada", name=" blue ")
    named = {one.photo for one in study.current_readings() if one.reading.fish == "blue"}
    assert named == {first.earlier.photo, first.later.photo}
    (label,) = [one for one in study.labels() if one.character == CHARACTERS["same"]]
    assert (label.photo, label.set_by) == (first.later.photo, "ada")
    assert first.earlier.photo in label.value
    assert len(left_after(pairs, decision)) == len(pairs) - 1
    # A day later the program asks no more, and the fish is a series of two visits.
    assert first.earlier.place not in {one.earlier.place for one in pairs_to_look_at(study, looked)}
    fish = [one for one in study.change_over_time().judged if one.series.fish == "blue"]
    assert fish
    assert all(len(one.visits) == 2 for one in fish)
    take_back(study, decision)
    assert all(one.reading.fish == "1" for one in study.current_readings())
    assert answers(study) == {}
    assert len(pairs_to_look_at(study, looked)) == len(pairs)


def test_different_is_not_asked_again_and_not_sure_comes_last(study, looked):
    first, second, *_ = pairs = pairs_to_look_at(study, looked)
    unsure = decide(study, first, "not sure", person="ada")
    assert left_after(pairs, unsure)[-1].unsure
    again = pairs_to_look_at(study, looked)
    assert again[0].likeness == second.likeness
    assert (again[-1].likeness, again[-1].unsure) == (first.likeness, True)
    different = decide(study, first, "different", person="ada")
    assert len(pairs_to_look_at(study, looked)) == len(pairs) - 1
    assert set(answers(study).values()) == {"different"}
    take_back(study, different)
    take_back(study, unsure)
    assert answers(study) == {}


def test_a_name_that_one_photo_cannot_take_leaves_both_without(study, looked):
    first, *_ = pairs_to_look_at(study, looked)
    with pytest.raises(FinmeasureError):
        decide(study, first, "same", person="ada", name="17")  # digits only: no name
    assert all(one.reading.fish == "1" for one in study.current_readings())
    assert answers(study) == {}


def test_a_first_visit_lists_what_to_look_at_on_page_and_pdf(study, looked, tmp_path):
    """Common practice is marked so, and the last line sends to a veterinarian."""
    fish, _ = looked[0]
    study.name_fish(fish.photo, "1", "sand")
    for ending in ("html", "pdf"):
        write_change_report(study, tmp_path / f"r.{ending}")
    study.name_fish(fish.photo, "1", "")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    pages = pypdfium2.PdfDocument(tmp_path / "r.pdf")
    printed = " ".join(" ".join(one.get_textpage().get_text_range().split()) for one in pages)
    for text in (page, printed):
        assert "common practice, no source; this is no diagnosis" in text
        assert "first visit" in text
        assert "Test the water first" in text
        assert "ask a veterinarian" in text
        assert "seen on one day only" in text


def test_fish_that_all_have_names_are_not_asked(study, looked):
    for number, (fish, _) in enumerate(looked):
        study.name_fish(fish.photo, "1", f"n{number}")
    assert seen_fish(study) == ()
    for fish, _ in looked:
        study.name_fish(fish.photo, "1", "")
    assert len(seen_fish(study)) == len(looked)
