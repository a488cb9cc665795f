"""A scale survives the database and maps back and forth."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finmeasure.scale.bar import bar_scale
from finmeasure.scale.calibration import Scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import Bar, ScaleRequest
from finmeasure.scale.storage import scale_from_json, scale_to_json

from .drawn import Camera, Conditions
from .series import as_photo, draw_card


def a_card_scale():
    camera = Camera(distance_mm=330.0, tilt_deg=9.0, radial=-0.04, aim_mm=(105.0, 74.0))
    return find_scale(as_photo(draw_card("window", "A5", camera, Conditions())), ScaleRequest())


@pytest.mark.parametrize("scale", [a_card_scale(), bar_scale(Bar(1.5, 2, 300.25, 40, 12.7))])
def test_stored_and_read_back_is_the_same(scale):
    again = scale_from_json(json.loads(json.dumps(scale_to_json(scale))))
    points = np.random.default_rng(0).random((20, 2)) * 1500
    np.testing.assert_array_equal(again.to_mm(points), scale.to_mm(points))
    for name in ("method", "u_rel", "rectified", "centre_px", "flags", "budget", "radial"):
        assert getattr(again, name) == getattr(scale, name)
    if scale.region_px is None:
        assert again.region_px is None
    else:
        np.testing.assert_array_equal(again.region_px, scale.region_px)


@settings(deadline=None, max_examples=60)
@given(
    radial=st.floats(-0.12, 0.12),
    tilt=st.floats(-2e-4, 2e-4),
    turn=st.floats(0, 6.3),
    x=st.floats(0, 4000),
    y=st.floats(0, 3000),
)
def test_to_px_undoes_to_mm(radial, tilt, turn, x, y):
    c, s = np.cos(turn), np.sin(turn)
    matrix = np.array([[0.1 * c, -0.1 * s, 3], [0.1 * s, 0.1 * c, -7], [tilt / 10, 0, 1]])
    scale = Scale("window_card", matrix, 0.001, True, (2000, 1500), radial, (1999.5, 1499.5), 2500)
    np.testing.assert_allclose(scale.to_px(scale.to_mm([[x, y]])), [[x, y]], atol=1e-6)
