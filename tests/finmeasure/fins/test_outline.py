"""Outlines: cutting, turning, and one plain line for each that cannot be used."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finmeasure.errors import NotFound
from finmeasure.fins.outline import Margin, margin_of
from finmeasure.reading import Landmark, Outline, Reading

ANGLE = np.linspace(0, 1, 21)
MARGIN = np.column_stack([200 + 100 * ANGLE + 30 * np.sin(np.pi * ANGLE),
                          300 - 120 * np.sin(np.pi * ANGLE)])  # fmt: skip
BASE_ARC = np.array([[280.0, 305.0], [250.0, 308.0], [220.0, 304.0]])


def reading(**moved):
    places = {
        "snout_tip": (50.0, 340.0), "caudal_base": (450.0, 340.0),
        "dorsal_origin": (200.0, 300.0), "dorsal_end": (300.0, 300.0),
    } | moved  # fmt: skip
    return Reading("1", {name: Landmark(name, *at) for name, at in places.items() if at})


def cut(points=MARGIN, *, closed=False, part="dorsal", size_px=(600, 500), marks=None):
    outline = Outline(part, np.asarray(points, float), closed=closed)
    return margin_of("dorsal", outline, marks or reading(), size_px)


def refusal(*args, **options):
    found = cut(*args, **options)
    assert isinstance(found, NotFound)
    assert "\n" not in str(found)
    assert found.remedy
    return found.reason


def test_open_line_is_kept():
    assert np.allclose(cut().points_px, MARGIN)


def test_line_from_rear_to_front_is_turned():
    assert np.allclose(cut(MARGIN[::-1]).points_px, MARGIN)


@pytest.mark.parametrize("first", [0, 5, 15, 23])
@pytest.mark.parametrize("step", [1, -1])
def test_ring_is_cut_at_the_base_points(first, step):
    ring = np.roll(np.vstack([MARGIN, BASE_ARC]), first, axis=0)[::step]
    found = cut(ring, closed=True).points_px
    assert np.allclose(found, MARGIN)


def test_ring_is_cut_beside_its_points():
    ring = np.vstack([MARGIN, BASE_ARC])
    found = cut(ring, closed=True, marks=reading(dorsal_origin=(206.0, 301.0)))
    assert isinstance(found, Margin)
    assert np.hypot(*(found.points_px[0] - [206, 301])) < 12


def test_closed_ring_may_repeat_its_first_point():
    ring = np.vstack([MARGIN, BASE_ARC, MARGIN[:1]])
    assert np.allclose(cut(ring, closed=True).points_px, MARGIN)


def test_without_base_points_an_open_line_gives_its_own_ends():
    marks = reading(dorsal_origin=None, dorsal_end=None)
    assert np.allclose(cut(MARGIN[::-1], marks=marks).points_px, MARGIN)


def test_ring_without_base_points():
    ring = np.vstack([MARGIN, BASE_ARC])
    assert "cannot be cut" in refusal(ring, closed=True, marks=reading(dorsal_end=None))


def test_wrong_part():
    assert "named 'anal'" in refusal(part="anal")


def test_too_few_points():
    assert "has 4 points, at least 6" in refusal(MARGIN[::5][:4])


def test_point_without_a_number():
    points = MARGIN.copy()
    points[3, 0] = np.nan
    assert "without a number" in refusal(points)


def test_self_crossing():
    points = MARGIN.copy()
    points[[6, 12]] = points[[12, 6]]
    assert "crosses itself" in refusal(points)


def test_outside_the_photo():
    assert "outside the photo of 250 × 500" in refusal(size_px=(250, 500))


def test_base_points_far_from_the_line():
    assert "from dorsal_end" in refusal(marks=reading(dorsal_end=(380.0, 300.0)))


def test_both_base_points_in_one_place():
    same = reading(dorsal_origin=(210.0, 300.0), dorsal_end=(210.0, 300.0))
    ring = np.vstack([MARGIN, BASE_ARC])
    assert "are the same" in refusal(ring, closed=True, marks=same)


def test_margin_on_the_body_side():
    below = MARGIN * [1, -1] + [0, 600]
    assert "body's side" in refusal(below)


@given(
    turn=st.floats(0, 2 * np.pi), mirrored=st.booleans(), size=st.floats(0.5, 4.0),
)  # fmt: skip
def test_turned_mirrored_and_enlarged_fish_give_the_same_margin(turn, mirrored, size):
    cos, sin = np.cos(turn), np.sin(turn)
    matrix = size * np.array([[cos, -sin], [sin, cos]]) @ np.diag([1, -1 if mirrored else 1])
    marks = Reading("1", {
        name: Landmark(name, *(matrix @ mark.point)) for name, mark in reading().landmarks.items()
    })  # fmt: skip
    ring = np.vstack([MARGIN, BASE_ARC]) @ matrix.T
    found = margin_of("dorsal", Outline("dorsal", ring, closed=True), marks)
    assert np.allclose(found.points_px, MARGIN @ matrix.T)
