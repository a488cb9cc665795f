"""Plane geometry against shapely, an independent library, and by hand."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from finmeasure.geometry import (
    along_axis,
    distance,
    polygon_area,
    polyline_length,
    signed_offset,
)

coordinate = st.floats(-1e3, 1e3)
points = st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=12)


@given(points)
def test_lengths_agree_with_shapely(line):
    assert polyline_length(line) == pytest.approx(shapely.LineString(line).length)
    assert distance(line[0], line[1]) == pytest.approx(
        shapely.Point(line[0]).distance(shapely.Point(line[1]))
    )


@given(st.integers(3, 40), st.floats(0.5, 100), st.floats(0, 360))
def test_area_agrees_with_shapely_and_the_regular_polygon(corners, radius, turn):
    angles = np.radians(turn) + np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = radius * np.column_stack([np.cos(angles), np.sin(angles)])
    by_hand = corners / 2 * radius**2 * math.sin(2 * math.pi / corners)
    assert polygon_area(ring) == pytest.approx(by_hand)
    assert polygon_area(ring[::-1]) == pytest.approx(shapely.Polygon(ring).area)


@given(st.floats(-180, 180), st.floats(-50, 50), st.floats(-50, 50))
def test_place_along_and_beside_an_axis(turn, along, beside):
    # By hand: the axis is turned by an angle, "beside" is a quarter turn further (y points down).
    angle = math.radians(turn)
    forward = np.array([math.cos(angle), math.sin(angle)])
    right = np.array([-math.sin(angle), math.cos(angle)])
    start = np.array([3.0, -7.0])
    point = start + along * forward + beside * right
    assert along_axis(point, start, start + 25 * forward) == pytest.approx(along, abs=1e-9)
    assert signed_offset(point, start, start + 25 * forward) == pytest.approx(beside, abs=1e-9)
