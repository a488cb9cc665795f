"""KEEP or RETAKE, on drawn photos with one thing wrong each."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from finmeasure.batch.arrivals import Arrivals
from finmeasure.batch.given import read_given
from finmeasure.batch.measure_photo import measure_photo
from finmeasure.batch.plan import PlannedPhoto
from finmeasure.batch.verdict import judge
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scenario import with_fin
from finmeasure.drawing.scene import printed_card
from finmeasure.photo.reading import read_photo
from finmeasure.proposals.sharpness import photo_blur_px

GOOD = View(1300, 950, card=printed_card("window", "A6"), px_per_mm=8.0, tilt_deg=3.0)


def drawn(view=GOOD, **caudal):
    rng = np.random.default_rng(5)
    spec = random_spec(rng, body_form="plain")
    return draw_photo(with_fin(spec, "caudal", **caudal) if caudal else spec, view, rng).pixels


def cropped_to_fish(room_px=60):
    rng = np.random.default_rng(5)
    photo = draw_photo(random_spec(rng, body_form="plain"), GOOD, rng)
    points = np.vstack(list(photo.outlines.values()))
    left, top = (points.min(axis=0) - room_px).astype(int)
    right, bottom = (points.max(axis=0) + room_px).astype(int)
    return np.ascontiguousarray(photo.pixels[top:bottom, left:right])


def verdict_on(pixels, folder, **options):
    path = folder / "photo.png"
    cv2.imwrite(str(path), pixels[..., ::-1])
    result = measure_photo(read_given(**options).task(PlannedPhoto(path, "photo.png")))
    return judge(result, read_photo(path).gray())


@pytest.fixture(scope="module")
def good():
    return drawn()


def test_a_good_photo_is_kept(good, tmp_path):
    assert verdict_on(good, tmp_path).keep


def test_a_folded_tail_is_to_be_waited_out(tmp_path):
    verdict = verdict_on(drawn(folded=0.95), tmp_path)
    assert not verdict.keep
    assert "tail is folded" in verdict.reason
    assert "spreads" in verdict.remedy


@pytest.mark.parametrize("blur_px", [5.0, 12.0])
def test_blur_is_named(good, tmp_path, blur_px):
    verdict = verdict_on(cv2.GaussianBlur(good, (0, 0), blur_px), tmp_path)
    assert not verdict.keep
    assert "lurred" in verdict.reason or "card" in verdict.reason
    if "card" not in verdict.reason:
        assert "Hold the camera still" in verdict.remedy


def test_no_card_and_a_card_cut_off_are_told(good, tmp_path):
    without = verdict_on(drawn(View(1000, 700, ground="water")), tmp_path)
    assert not without.keep
    assert "card is found" in without.reason
    cut = verdict_on(cropped_to_fish(), tmp_path)
    assert not cut.keep
    assert "marker" in cut.reason or "card" in cut.reason
    assert cut.remedy


def test_a_fish_too_far_away_is_told_with_its_pixels(good, tmp_path):
    small = cv2.resize(good, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    verdict = verdict_on(small, tmp_path, question="fin:caudal")
    assert not verdict.keep
    assert "px" in verdict.reason
    assert "nearer" in verdict.remedy


def test_a_blurred_step_gives_its_blur():
    # the truth is the Gaussian that made it
    step = np.zeros((200, 200), np.uint8)
    step[:, 100:] = 200
    for blur_px in (2.0, 4.0, 6.0):
        found = photo_blur_px(cv2.GaussianBlur(step, (0, 0), blur_px))
        assert found == pytest.approx(blur_px, rel=0.2)
    assert photo_blur_px(np.full((50, 50, 3), 90, np.uint8)) == 0.0


def test_a_file_that_grows_is_waited_for(tmp_path):
    old, new = tmp_path / "old.jpg", tmp_path / "new.jpg"
    old.write_bytes(b"x")
    arrivals = Arrivals(tmp_path, steady_s=0.0)
    assert arrivals.begin() == 1
    assert arrivals.ready() == []
    new.write_bytes(b"a")
    assert arrivals.ready() == []
    new.write_bytes(b"ab")  # has grown since
    assert arrivals.ready() == []
    assert arrivals.ready() == [new]
    assert arrivals.ready() == []  # told once
    new.unlink()
    assert arrivals.ready() == []


def test_a_file_is_not_complete_before_its_time(tmp_path):
    arrivals = Arrivals(tmp_path, steady_s=3600.0)
    arrivals.begin()
    (tmp_path / "new.jpg").write_bytes(b"a")
    assert [arrivals.ready() for _ in range(3)] == [[], [], []]


def test_one_reason_and_one_remedy(good, tmp_path):
    path = tmp_path / "photo.png"
    cv2.imwrite(str(path), good[..., ::-1])
    result = measure_photo(read_given().task(PlannedPhoto(path, "photo.png")))
    none = replace(result, scale=None, scale_reason="No card is found in the photo. Place it.")
    told = judge(none)
    assert (told.keep, told.reason, told.remedy) == (
        False, "No card is found in the photo.", "Place it.",
    )  # fmt: skip
    assert judge(none, scale_wanted=False).keep
