"""What a group teaches: offsets and shapes that are known are taken back, noise is left alone."""

import pickle
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from finmeasure.batch.given import Given
from finmeasure.batch.plan import PlannedPhoto
from finmeasure.batch.priors import group_priors
from finmeasure.proposals.group_prior import FEWEST_PAIRS, learned
from finmeasure.proposals.layout import LANDMARKS
from finmeasure.reading import Landmark, Reading
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study

RNG = np.random.default_rng(12)
MEAN = RNG.uniform((0.1, -0.2), (0.9, 0.2), (len(LANDMARKS), 2))
MEAN[LANDMARKS.index("snout_tip")] = 0, 0
MEAN[LANDMARKS.index("caudal_base")] = 1, 0
MEAN[LANDMARKS.index("body_top")] = 0.4, -0.2
MEAN[LANDMARKS.index("body_bottom")] = 0.4, 0.2
TURNED = ("anal_tip", "pelvic_tip")  # the program puts these 10 % too far back
KEPT = ("snout_tip", "caudal_base", "body_top", "body_bottom")


def reading(level, *, placed_by="finmeasure", facing_right=False, turn_deg=0.0):
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    mirrored = level * (np.array([-1.0, 1.0]) if facing_right else 1.0)
    points = 500 * mirrored @ turn.T + 900
    marks = {
        name: Landmark(name, *at, "placed") for name, at in zip(LANDMARKS, points, strict=True)
    }
    return Reading("1", MappingProxyType(marks), placed_by=placed_by)


def pair(rng, offset=0.1, noise=0.01):
    """A fish of the group as proposed and as confirmed, any way round."""
    true = MEAN + rng.normal(0, 0.01, MEAN.shape)
    proposed = true + rng.normal(0, noise, MEAN.shape)
    for name in TURNED:
        proposed[LANDMARKS.index(name)] += offset, 0
    for name in KEPT:
        proposed[LANDMARKS.index(name)] = true[LANDMARKS.index(name)]
    pose = {"facing_right": rng.random() < 0.5, "turn_deg": rng.uniform(-180, 180)}
    return reading(proposed, **pose), reading(true, **pose)


def points(one):
    return np.array([one.point(name) for name in LANDMARKS])


def test_an_offset_is_taken_back_on_fish_that_lie_any_way():
    rng = np.random.default_rng(1)
    prior = learned([pair(rng) for _ in range(20)])
    proposed, true = pair(rng)
    moved, u_px = prior.sharpened(points(proposed))
    for name in TURNED:
        index = LANDMARKS.index(name)
        assert prior.helps[index]
        before = np.hypot(*(proposed.point(name) - true.point(name)))
        assert np.hypot(*(moved[index] - true.point(name))) < 0.5 * before
        assert 0 < u_px[index] < 0.1 * 500


def test_marks_without_a_fault_stay_as_proposed():
    rng = np.random.default_rng(2)
    prior = learned([pair(rng) for _ in range(20)])
    proposed, _ = pair(rng)
    moved, u_px = prior.sharpened(points(proposed))
    for name in KEPT:
        index = LANDMARKS.index(name)
        assert not prior.helps[index]
        assert moved[index] == pytest.approx(proposed.point(name))
        assert np.isnan(u_px[index])


def test_a_gross_error_gives_way_to_the_shape_of_the_group():
    rng = np.random.default_rng(3)
    prior = learned([pair(rng) for _ in range(20)])
    proposed, true = pair(rng)
    level = points(proposed)
    level[LANDMARKS.index("anal_tip")] += 300  # over half the fish's length
    moved, _ = prior.sharpened(level)
    away = moved[LANDMARKS.index("anal_tip")] - true.point("anal_tip")
    assert np.hypot(*away) < 0.08 * 500


def test_it_is_off_where_it_does_not_help_or_pairs_are_few():
    rng = np.random.default_rng(4)
    same = [(one, one) for one, _ in (pair(rng) for _ in range(20))]
    assert learned(same) is None
    assert learned([pair(rng) for _ in range(FEWEST_PAIRS - 1)]) is None
    assert learned([]) is None


def test_its_uncertainty_holds_on_fish_it_has_not_seen():
    rng = np.random.default_rng(5)
    prior = learned([pair(rng, noise=0.02) for _ in range(30)])
    index = LANDMARKS.index("anal_tip")
    inside = []
    for _ in range(200):
        proposed, true = pair(rng, noise=0.02)
        moved, u_px = prior.sharpened(points(proposed))
        inside += list(np.abs(moved[index] - true.point("anal_tip")) < 1.96 * u_px[index])
    assert 0.9 < np.mean(inside) <= 1.0


def test_a_study_teaches_the_tasks_of_its_group(tmp_path):
    rng = np.random.default_rng(6)
    with Study.open(tmp_path / "study", create=True) as study:
        for number in range(12):
            proposed, true = pair(rng)
            fish = FishResult(proposed, group="bag 7", source="program", confirmed=False)
            study.record_photo_result(
                PhotoResult(f"{number}.jpg", f"{number:064d}", "measured", "d", fish=(fish,))
            )
            study.confirm_reading(f"{number}.jpg", replace(true, placed_by="ann"), group="bag 7")
        priors = group_priors(study)
    assert list(priors) == ["bag 7"]
    assert priors["bag 7"].pairs == 12
    given = Given(priors=priors)
    photo = PlannedPhoto(tmp_path / "new.jpg", "new.jpg")
    assert given.task(photo).prior is None
    grouped = replace(given, options=replace(given.options, group="bag 7"))
    task = pickle.loads(pickle.dumps(grouped.task(photo)))  # as it goes to a worker
    assert task.prior.helps[LANDMARKS.index("anal_tip")]
