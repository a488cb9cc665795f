"""Likely same fish from the flank; the long form is in tests/benchmarks/test_regrowth.py."""

from dataclasses import replace

import numpy as np
import pytest

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.variation import resized
from finmeasure.reading import Landmark, Reading
from finmeasure.timeseries.same_fish import FlankView, flank_view, likely_pairs

from .drawn_series import patterned_fish, two_visits


def is_same(pair):
    return pair.earlier.fish == pair.later.fish


def test_spotted_fish_are_found_again_and_strangers_are_not_suggested():
    pairs = likely_pairs(*two_visits(("blotch", "spots"), np.random.default_rng(40)))
    assert len(pairs) == 64
    suggested = [pair for pair in pairs if pair.suggested]
    assert pairs[: len(suggested)] == tuple(suggested)  # first what a person should look at
    assert len(suggested) >= 2
    assert all(is_same(pair) for pair in suggested)
    assert np.median([p.likeness for p in pairs if not is_same(p)]) < 0.3


def test_visits_without_a_common_fish_give_no_suggestion():
    visits = two_visits(("spots",), np.random.default_rng(41), both=0, others=5)
    assert not any(pair.suggested for pair in likely_pairs(*visits))


def test_a_flank_is_the_same_whichever_way_the_photo_is_turned():
    spec = patterned_fish(resized(random_spec(np.random.default_rng(23), body_form="plain"), 28.0),
                          ("spots",), np.random.default_rng(2))  # fmt: skip
    views = []
    for angle in (0.0, 90.0, 180.0):
        view = View(420, 420, px_per_mm=10.0, fish_angle_deg=angle)
        photo = draw_photo(spec, view, np.random.default_rng(1))
        views.append(flank_view("a.jpg", photo.pixels, true_reading(photo)))
    for turned in views[1:]:
        assert turned.side == views[0].side
        alike = np.corrcoef(views[0].patch.ravel(), turned.patch.ravel())[0, 1]
        assert alike > 0.9
    (pair,) = likely_pairs(views[:1], views[1:2])
    assert pair.suggested  # of two photos alone the likeness decides
    mirrored = replace(views[1], side="right")
    assert likely_pairs(views[:1], [mirrored]) == ()


def test_a_flank_without_marks_is_a_value_not_an_error():
    pixels = np.zeros((10, 10, 3), np.uint8)
    found = flank_view("a.jpg", pixels, Reading("1", {"snout_tip": Landmark("snout_tip", 1, 1)}))
    assert not found
    assert "snout_tip, caudal_base" in str(found)


@pytest.mark.parametrize("flat", [True, False])
def test_plain_flanks_are_never_suggested(flat):
    rng = np.random.default_rng(3)
    patches = [
        np.zeros((52, 160), np.float32) if flat else rng.standard_normal((52, 160), np.float32)
        for _ in range(8)
    ]
    views = [FlankView(f"{n}.jpg", str(n), "left", patch) for n, patch in enumerate(patches)]
    pairs = likely_pairs(views[:4], views[4:])
    assert len(pairs) == 16
    assert not any(pair.suggested for pair in pairs)
    assert all(np.isfinite(pair.likeness) for pair in pairs)
