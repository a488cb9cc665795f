"""Default uncertainty of marks from the study's own repeats, against closed forms and real data."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from finmeasure.landmarks.placement import Placement, with_placement
from finmeasure.landmarks.scheme import landmark_definition
from finmeasure.measurements.measure import measure_reading
from finmeasure.reading import Landmark, Reading
from finmeasure.scale.calibration import Scale
from finmeasure.study.store import Study
from finmeasure.timeseries.placement import TABLE_REPEATS, own_placement

from .test_repeat_command import BLUEGILL, put, run

FISH = {"snout_tip": (100, 300), "caudal_base": (1100, 300), "dorsal_origin": (500, 120)}


def reading(points):
    return Reading("1", {name: Landmark(name, *point) for name, point in points.items()})


def blended(name, squares, freedom, axis):
    """The table counts as ten repeats beside the pooled sum of squares."""
    table = getattr(landmark_definition(name), f"u_{axis}_pct_sl")
    return np.sqrt((TABLE_REPEATS * table**2 + squares) / (TABLE_REPEATS + freedom))


def test_two_marks_that_differ_by_a_known_step():
    # 6 px along a body of 1000 px: squares about the mean 2 × 0.3², one degree of freedom.
    moved = FISH | {"dorsal_origin": (506, 120)}
    own = own_placement([[reading(FISH), reading(moved)]])
    found = own["dorsal_origin"]
    assert found.along_pct_sl == pytest.approx(blended("dorsal_origin", 0.18, 1, "along"))
    assert found.across_pct_sl == pytest.approx(blended("dorsal_origin", 0.0, 1, "across"))
    assert found.repeats == 1
    # A copy of a reading is no second look.
    assert own_placement([[reading(FISH), reading(FISH)]]) == {}


@pytest.mark.parametrize("sd_pct", [0.2, 2.0])
def test_many_repeats_outweigh_the_table_along_and_across(sd_pct):
    rng = np.random.default_rng(4)
    turn = np.array([[0.6, 0.8], [-0.8, 0.6]])  # a fish that lies askew
    fish = []
    for _ in range(300):
        slips = {name: rng.normal(0, (10 * sd_pct, 5 * sd_pct), (2, 2)) for name in FISH}
        fish.append([
            reading({n: tuple((np.array(FISH[n]) + slips[n][turnr]) @ turn) for n in FISH})
            for turnr in (0, 1)
        ])  # fmt: skip
    own = own_placement(fish)
    for placed in own.values():
        assert placed.repeats == 300
    found = own["dorsal_origin"]
    table = landmark_definition("dorsal_origin")
    for value, true, known in (
        (found.along_pct_sl, sd_pct, table.u_along_pct_sl),
        (found.across_pct_sl, sd_pct / 2, table.u_across_pct_sl),
    ):
        expected = np.sqrt((TABLE_REPEATS * known**2 + 300 * true**2) / (TABLE_REPEATS + 300))
        assert value == pytest.approx(expected, rel=0.12)  # three standard errors of a variance


def test_only_marks_without_an_uncertainty_take_the_study_s():
    marks = dict(reading(FISH).landmarks)
    marks["caudal_base"] = replace(marks["caudal_base"], u_px=2.0)
    own = {name: Placement(0.5, 0.25, 9) for name in FISH}
    told = with_placement(Reading("1", marks), own).landmarks
    assert (told["dorsal_origin"].u_px, told["dorsal_origin"].u_across_px) == (5.0, 2.5)
    assert told["caudal_base"].u_px == 2.0
    bodiless = Reading("1", {"dorsal_origin": marks["dorsal_origin"]})
    assert with_placement(bodiless, own) is bodiless


def test_real_repeats_reach_the_next_measures(shared, tmp_path, capsys):
    """15 real photos × 4 markings: pooled by numpy here; table 04 (Gupta, MIT licence)."""
    file = shared / "tables" / "04_bluegill_landmarks" / "landmarks_replicates.csv"
    frame = pd.read_csv(file)
    frame = frame[frame["landmark"].isin(BLUEGILL)].dropna()
    frame = frame[frame["image"].isin(sorted(frame["image"].unique())[::4])]
    squares, freedom = 0.0, 0
    with Study.open(tmp_path, create=True) as study:
        for image, part in frame.groupby("image"):
            fish = [
                {BLUEGILL[row.landmark]: (row.x_px, 3000 - row.y_px_up) for row in one.itertuples()}
                for _, one in part.groupby("replicate")
            ]
            fish = [one for one in fish if len(one) == len(BLUEGILL)]
            for points in fish:
                put(study, image, "digitiser", points)
            # One of the four markings is a copy of another in all marks of a photo.
            fish = [one for place, one in enumerate(fish) if one not in fish[:place]]
            line = np.mean([np.subtract(p["caudal_base"], p["snout_tip"]) for p in fish], axis=0)
            along = [np.dot(p["dorsal_origin"], line) / (line @ line) * 100 for p in fish]
            squares += np.var(along) * len(along)
            freedom += len(along) - 1
    assert run("repeat", tmp_path) == 0
    assert "how exactly you place them is the" in capsys.readouterr().out
    table = pd.read_csv(tmp_path / "repeat" / "landmarks.csv").set_index("landmark")
    expected = blended("dorsal_origin", squares, freedom, "along")
    assert table.loc["dorsal_origin", "u_along_pct_sl"] == pytest.approx(expected, rel=1e-6)
    assert table.loc["dorsal_origin", "repeats"] == freedom
    with Study.open(tmp_path) as study:
        own = study.own_placement()
    fish, scale = reading(FISH), Scale("known", np.diag([0.1, 0.1, 1.0]), 0.001, True, (0, 0))
    usual = measure_reading(fish, scale).by_id["predorsal_length_to_sl"]
    ours = measure_reading(with_placement(fish, own), scale).by_id["predorsal_length_to_sl"]
    assert ours.value == pytest.approx(usual.value)
    assert ours.u < 0.8 * usual.u  # this digitiser is steadier than the people of the table
    assert "u_default" not in ours.flags
