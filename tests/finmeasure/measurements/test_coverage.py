"""Short form of tests/benchmarks/test_measure_coverage.py: the stated limits hold."""

import time

import numpy as np
import pytest

from finmeasure.drawing.anatomy import build_fish
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.marks import landmarks_mm, lengths_mm
from finmeasure.measurements.measure import measure_reading

from .coverage import CASES, limits, study

PHOTOS = 150


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.shown)
def test_limits_hold(case):
    outcomes = study(case, PHOTOS, seed=11)
    every = [inside for rows in outcomes.values() for inside, _ in rows]
    assert 0.93 <= np.mean(every) <= 0.97
    for name, rows in outcomes.items():
        low, high = limits(sum(inside for inside, _ in rows), len(rows))
        assert high >= 0.93, name
        assert low <= 0.97, name


def test_exact_marks_give_the_drawn_lengths(reading_of, card_scale):
    # Independent second way: the drawing's own lengths from its millimetre geometry.
    for form in ("plain", "cichlid", "betta", "gourami", "two_dorsals", "puffer"):
        fish = build_fish(random_spec(np.random.default_rng(2), body_form=form))
        points = landmarks_mm(fish)
        found = measure_reading(reading_of(points, body_form=form), card_scale(1.0)).by_id
        for name, true_mm in lengths_mm(points).items():
            assert found[name].value == pytest.approx(true_mm, abs=1e-9), (form, name)


def test_marks_on_one_place_keep_zero_inside_their_limits(reading_of, card_scale, fish_points):
    # Two marks of 1 px on one place: 95 % of the readings must hold the true distance 0 (exactly so
    # by the two-dimensional normal distribution; binomial limits of 400 readings are 92.4–96.9 %).
    rng, inside = np.random.default_rng(4), []
    for _ in range(400):
        moved = {
            name: rng.normal(fish_points["eye_front"], 1.0) for name in ("eye_front", "eye_back")
        }
        row = measure_reading(reading_of(fish_points | moved), card_scale(1.0, u_rel=1e-6)).by_id
        inside.append(row["eye_diameter"].value <= 1.96 * row["eye_diameter"].u)
    assert 0.924 <= np.mean(inside) <= 0.969


@pytest.mark.benchmark  # a slow machine is no fault of the program
def test_live_numbers_are_in_time_for_a_frame(reading_of, card_scale, fish_points):
    # 16 ms are a frame; half of it is left to drawing. Best of 20: other work may be running.
    reading = reading_of(fish_points, u_px=None)
    times = []
    for scale in (card_scale(), None):
        for _ in range(20):
            start = time.perf_counter()
            measure_reading(reading, scale, edges=False)
            times.append(time.perf_counter() - start)
    assert min(times[:20]) <= 0.008
    assert min(times[20:]) <= 0.008
