"""Random views, cards in drawn photos, and changes to fish."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from finmeasure.card_design import card_design
from finmeasure.drawing.forms import BODY_FORMS, long_finned, random_spec
from finmeasure.drawing.grounds import GROUNDS
from finmeasure.drawing.photo import View, draw_photo, draw_several
from finmeasure.drawing.variation import damaged, folded, posed, resized, varied, with_fin
from finmeasure.drawing.views import random_card_view, random_view


@pytest.mark.parametrize("kind", ["window", "squares"])
@pytest.mark.parametrize("seed", range(4))
def test_card_lies_where_the_mapping_says(kind, seed):
    """Corners found by an independent sub-pixel search agree with the mapping."""
    rng = np.random.default_rng(seed)
    view = random_card_view(rng, (1200, 850), kind=kind, careless=0.6)
    photo = draw_photo(random_spec(rng), replace(view, glare=0.0), rng)
    design = card_design(kind, "ID1")
    truth = photo.to_pixel(design.corners_mm - np.array(design.size_mm) / 2)
    size = np.array(photo.pixels.shape[1::-1])
    assert ((truth > 0) & (truth < size - 1)).all()
    away = np.array([np.hypot(*(photo.outlines["body"] - point).T).min() for point in truth])
    seen = truth[(away > 60) & ~_on_fish(photo, truth)].astype(np.float32)
    gray = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    rule = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
    window = (6, 6) if kind == "window" else (3, 3)
    found = cv2.cornerSubPix(gray, seen.reshape(-1, 1, 2).copy(), window, (-1, -1), rule)
    slips = found.reshape(-1, 2) - seen
    assert len(slips) >= 10
    # One corner is good to about 0.1 px in such photos (from memory), the median of n to less.
    assert np.abs(np.median(slips, axis=0)).max() < 0.02 + 3 * 0.1 / np.sqrt(len(slips))
    assert np.median(np.hypot(*slips.T)) < 0.12


def _on_fish(photo, points):
    at = np.rint(points).astype(int)
    fat = cv2.dilate((photo.part_mask > 0).astype(np.uint8), np.ones((31, 31), np.uint8))
    return fat[at[:, 1], at[:, 0]] > 0


@pytest.mark.parametrize("seed", range(8))
def test_any_random_view_of_any_fish_can_be_drawn(seed):
    rng = np.random.default_rng(seed)
    form = str(rng.choice(list(BODY_FORMS)))
    spec = damaged(folded(posed(random_spec(rng, body_form=form), rng), rng), rng)
    photo = draw_photo(spec, random_view(rng, (220, 160)), rng)
    assert photo.pixels.shape == (160, 220, 3)
    assert photo.pixels.std() > 2
    assert all(np.isfinite(edge).all() for edge in photo.outlines.values())


@pytest.mark.parametrize("ground", GROUNDS)
def test_every_ground_fills_the_picture(ground):
    rng = np.random.default_rng(1)
    photo = draw_photo(random_spec(rng), View(160, 120, ground=ground), rng)
    assert photo.pixels.shape == (120, 160, 3)


def test_several_fish_share_one_picture_and_keep_their_own_truth():
    rng = np.random.default_rng(2)
    left, right = random_spec(rng), random_spec(rng, body_form="betta")
    view = View(700, 300, px_per_mm=6.0, fish_at_mm=(-26.0, 0.0))
    other = View(fish_at_mm=(28.0, 2.0), facing="right")
    first, second = draw_several([(left, view), (right, other)], rng)
    assert first.pixels is second.pixels
    assert first.landmarks["snout_tip"][0] < second.landmarks["caudal_base"][0]
    alone = draw_photo(left, view, np.random.default_rng(3))
    assert dict(first.landmarks) == dict(alone.landmarks)


def test_resizing_keeps_every_ratio():
    spec = random_spec(np.random.default_rng(5), body_form="cichlid")
    small, large = (
        draw_photo(fish, View(), np.random.default_rng(0)) for fish in (spec, resized(spec, 90.0))
    )
    share = 90.0 / spec.standard_length_mm
    expected = {name: share * length for name, length in small.lengths_mm.items()}
    assert large.lengths_mm == pytest.approx(expected, rel=1e-6)


def test_varied_fish_keep_their_size_and_body():
    rng = np.random.default_rng(6)
    spec = random_spec(rng)
    other = varied(spec, rng, 0.05)
    assert other.standard_length_mm == spec.standard_length_mm
    assert other.fin("caudal").length_mm != spec.fin("caudal").length_mm


def test_clamped_fins_lie_flat_and_say_so():
    rng = np.random.default_rng(7)
    spec = random_spec(rng)
    clamped = with_fin(with_fin(spec, "dorsal", folded=0.95), "caudal", folded=0.5)
    spread, flat = (draw_photo(s, View(px_per_mm=9.0), np.random.default_rng(0))
                    for s in (spec, clamped))  # fmt: skip
    assert (flat.spread["dorsal"], flat.spread["caudal"]) == ("clamped", "part_folded")
    assert flat.spread["anal"] == "spread"
    rise = [photo.landmarks["dorsal_origin"][1] - photo.landmarks["dorsal_tip"][1]
            for photo in (spread, flat)]  # fmt: skip
    assert rise[1] < 0.5 * rise[0]
    assert flat.lengths_mm["caudal_span"] < 0.85 * spread.lengths_mm["caudal_span"]


def test_long_finned_fish_belong_to_the_long_fin_form():
    spec = random_spec(np.random.default_rng(8))
    veiled = long_finned(spec)
    assert veiled.body_form == "plain+long_fin"
    assert veiled.fin("caudal").length_mm == pytest.approx(1.8 * spec.fin("caudal").length_mm)
