"""Sides, and turns and mirrors that must leave the numbers alone."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finmeasure.measurements.measure import measure_reading
from finmeasure.measurements.orientation import side_of

from .conftest import FISH

# The fish of conftest has its snout at the left and its back up: its left side is seen.
SIDES = {
    (False, 0): "left",
    (True, 0): "right",
    (False, 180): "left",  # upside down, snout to the right
    (True, 180): "right",
    (False, 77): "left",
    (True, -120): "right",
}


def turned(points, degrees=0.0, mirror=False, grow=1.0, shift=(0.0, 0.0)):
    angle = math.radians(degrees)
    matrix = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    matrix = grow * matrix @ np.diag([-1.0 if mirror else 1.0, 1.0])
    return {name: matrix @ np.array(point, float) + shift for name, point in points.items()}


@pytest.mark.parametrize(("how", "side"), SIDES.items())
def test_side_in_any_position(reading_of, how, side):
    mirror, degrees = how
    assert side_of(reading_of(turned(FISH, degrees, mirror))) == (side, ())


def test_side_is_unknown_without_back_or_belly(reading_of):
    ends = {name: FISH[name] for name in ("snout_tip", "caudal_base")}
    assert side_of(reading_of(ends)) == ("", ())
    assert side_of(reading_of({"dorsal_origin": (4, 5)})) == ("", ())


def test_contradicting_marks_are_named(reading_of, card_scale):
    points = dict(FISH) | {"pelvic_tip": (48, -21)}
    measures = measure_reading(reading_of(points), card_scale())
    assert measures.side == "left"
    assert any("pelvic_tip" in note for note in measures.notes)


@settings(max_examples=60, deadline=None)
@given(
    degrees=st.floats(-180, 180),
    mirror=st.booleans(),
    grow=st.floats(0.2, 20),
    x=st.floats(-1e4, 1e4),
    y=st.floats(-1e4, 1e4),
    seed=st.integers(0, 10_000),
)
def test_turning_mirroring_and_enlarging_change_nothing(
    reading_of, card_scale, degrees, mirror, grow, x, y, seed
):
    jitter = np.random.default_rng(seed).normal(0, 1.0, (len(FISH), 2))
    points = {name: np.add(FISH[name], move) for name, move in zip(FISH, jitter, strict=True)}
    before = measure_reading(reading_of(points, u_px=0.8), card_scale(20.0))
    moved = reading_of(turned(points, degrees, mirror, grow, (x, y)), u_px=0.8 * grow)
    after = measure_reading(moved, card_scale(20.0 * grow))
    for one, other in zip(before.rows, after.rows, strict=True):
        assert (one.id, one.state, one.flags) == (other.id, other.state, other.flags)
        if one.state == "measured":
            assert other.value == pytest.approx(one.value, rel=1e-6)
            assert other.u == pytest.approx(one.u, rel=0.05)
    assert (before.side == after.side) is not mirror


@settings(max_examples=30, deadline=None)
@given(factor=st.floats(0.01, 100))
def test_ratios_need_no_true_scale(reading_of, card_scale, factor):
    reading = reading_of(FISH)
    one, other = (
        measure_reading(reading, card_scale(px_per_mm)).by_id for px_per_mm in (20, 20 * factor)
    )
    for name, row in one.items():
        if row.unit == "1" and row.state == "measured":
            assert other[name].value == pytest.approx(row.value, rel=1e-9)
        elif row.state == "measured":
            assert other[name].value == pytest.approx(row.value / factor, rel=1e-9)


def test_without_a_card_turning_changes_nothing_either(reading_of):
    for degrees in (0, 40, 90):
        found = measure_reading(reading_of(turned(FISH, degrees)), None, size_px=None).by_id
        assert found["dorsal_height_to_sl"].value == pytest.approx(0.2)


def test_local_scale_counts_where_the_fish_is(reading_of, card_scale):
    # A tilted card: x is stretched twice as much at the right end as at the left one; the mapping
    # is a homography whose mm coordinates are known in closed form.
    matrix = np.array([[1.0, 0, 0], [0, 1.0, 0], [-0.002, 0, 1.0]])
    scale = replace(card_scale(1.0), pixel_to_mm=matrix)
    found = measure_reading(reading_of(FISH), scale).by_id
    assert found["standard_length"].value == pytest.approx(100 / (1 - 0.2))
    across = found["peduncle_depth"]
    assert across.value == pytest.approx(10 / (1 - 0.18))
    # One pixel at x = 90 is 1 / 0.82 mm across: √2 times that for both ends.
    assert across.u == pytest.approx(math.sqrt(2) / 0.82, rel=0.03)
