"""Whatever is traced and marked, a fin gives six measures and no traceback."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from finmeasure.fins.measure import measure_fin
from finmeasure.fins.records import BASE_POINTS, MEDIAN_FINS
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.scale.calibration import Scale

NAMES = ("snout_tip", "caudal_base", "caudal_fork", "dorsal_dip", "dorsal_last_ray_tip",
         *(name for pair in BASE_POINTS.values() for name in pair))  # fmt: skip
GRAY = np.random.default_rng(0).integers(0, 256, (120, 160)).astype(np.uint8)


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    fin=st.sampled_from(MEDIAN_FINS),
    closed=st.booleans(),
    points=st.integers(0, 40),
    kind=st.sampled_from(["star", "wild", "line", "dot", "fan"]),
    scaled=st.booleans(),
    gray=st.booleans(),
)
def test_any_outline_gives_six_measures(seed, fin, closed, points, kind, scaled, gray):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(np.pi, 2 * np.pi, points))
    reach = {"star": rng.uniform(5, 60, points), "wild": rng.normal(0, 400, points),
             "line": np.full(points, 30.0), "dot": np.zeros(points),
             "fan": rng.uniform(45, 50, points)}[kind]  # fmt: skip
    around = np.array([80.0, 70.0])
    line = around + np.column_stack([np.cos(angle), np.sin(angle)]) * reach[:, None]
    if kind == "line":
        line[:, 1] = 70.0
    marks = {
        name: Landmark(name, *(around + rng.normal(0, 25, 2)))
        for name in NAMES if rng.random() < 0.7
    }  # fmt: skip
    if points and rng.random() < 0.7:
        for name, place in zip(BASE_POINTS[fin], line[[0, -1]], strict=True):
            marks[name] = Landmark(name, *place)
    scale = Scale("known", np.diag([0.1, 0.1, 1.0]), 0.01, True, (80, 60)) if scaled else None
    edge = measure_fin(
        fin, Outline(fin, line, closed=closed), Reading("1", marks), scale,
        gray=GRAY if gray else None,
    )  # fmt: skip
    assert len(edge.measures) == 6
    for measure in edge.measures:
        if measure.state == "measured":
            assert np.isfinite(measure.value)
            assert measure.u is None or (np.isfinite(measure.u) and measure.u > 0)
        else:
            assert measure.reason or measure.state == "absent"
