"""Odd fish against published data and drawn boxes."""

import numpy as np
import pytest
from scipy import stats
from sklearn.covariance import MinCovDet
from statsmodels.api import OLS, add_constant

from finmeasure.shipment.chances import (
    TOGETHER_SHARE,
    chance_of_any,
    leave_one_out_t,
    leave_one_out_t_given_others,
    leave_one_out_t_squared,
    most_unusual,
)
from finmeasure.shipment.odd_ones import find_odd
from finmeasure.shipment.odd_shapes import find_odd_shapes

# Squared Mahalanobis distances printed for this table by R's mahalanobis().
TABLE = np.array(
    [[3.853, 2.401, 2.253, 3.067, 1.887, 3.293, 3.995, 2.559, 2.785, 2.228],
     [4.294, 1.915, 1.315, 4.641, 1.611, 2.838, 3.696, 1.337, 2.853, 2.434],
     [4.785, 2.352, 2.023, 4.978, 2.329, 3.101, 4.494, 2.204, 3.468, 3.075]]
).T  # fmt: skip
PRINTED = np.array(
    [2.1838336, 1.9673401, 1.3335029, 4.9191627, 2.1246818, 5.3297995, 4.9022487, 2.5335913,
     0.1952562, 1.5105832]
)  # fmt: skip


def test_leave_one_out_follows_from_the_printed_distances():
    # Algebra (rank-one downdate): T²₋ᵢ = D n(n−2)/((n−1)² − nD) with D printed for all n rows.
    n = len(TABLE)
    expected = PRINTED * n * (n - 2) / ((n - 1) ** 2 - n * PRINTED)
    assert leave_one_out_t_squared(TABLE) == pytest.approx(expected, rel=2e-4)


def test_one_stray_is_taken_out_with_its_reason():
    rng = np.random.default_rng(5)
    box = rng.normal(0, 1, (60, 3))
    box[17, 1] += 9.0
    verdict = find_odd(box)
    assert verdict.fish[0].row == 17
    assert verdict.fish[0].odd
    assert int(np.argmax(np.abs(verdict.fish[0].deviations))) == 1


def test_false_alarms_stay_at_one_box_in_twenty():
    rng = np.random.default_rng(6)
    boxes = 100
    alarms = 0
    for _ in range(boxes):
        verdict = find_odd(rng.normal(0, 1, (60, 3)))
        alarms += any(fish.odd for fish in verdict.fish) or any(verdict.kinds)
    # 5 % with three binomial standard deviations.
    assert alarms / boxes <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / boxes)


def test_t_is_that_of_the_textbook():
    # Student's t of one value against a sample (scipy, two samples of which one has one value).
    values = np.random.default_rng(7).normal(size=(12, 2))
    for row, column in ((0, 0), (5, 1), (11, 0)):
        rest = np.delete(values[:, column], row)
        known = stats.ttest_ind([values[row, column]], rest, equal_var=True)
        assert leave_one_out_t(values)[row, column] == pytest.approx(known.statistic, rel=1e-9)


def test_t_given_the_others_is_that_of_statsmodels():
    values = np.random.default_rng(7).normal(size=(15, 3)) @ np.tri(3)
    for column in range(3):
        known = OLS(values[:, column], add_constant(np.delete(values, column, axis=1))).fit()
        expected = known.get_influence().resid_studentized_external
        assert leave_one_out_t_given_others(values)[:, column] == pytest.approx(expected, rel=1e-9)


def test_one_character_gives_the_same_by_t_and_by_t_squared():
    values = np.random.default_rng(8).normal(size=(25, 1))
    t, t_squared = leave_one_out_t(values), leave_one_out_t_squared(values)
    assert t[:, 0] ** 2 == pytest.approx(t_squared, rel=1e-8)
    known = 2 * stats.t.sf(np.abs(t[:, 0]).max(), 23)
    assert most_unusual(values, range(25), 1.001 * known) == (np.argmax(t_squared), True)
    assert most_unusual(values, range(25), 0.999 * known) == (np.argmax(t_squared), False)


@pytest.mark.parametrize("correlation", [0.0, 0.6])
def test_chance_of_any_look_is_that_of_drawn_normal_vectors(correlation):
    # Counted on 400 000 drawn vectors with numpy alone; three binomial standard deviations.
    matrix = np.full((3, 3), correlation) + (1 - correlation) * np.eye(3)
    drawn = np.random.default_rng(1).multivariate_normal(np.zeros(3), matrix, 400_000)
    inverse, level = np.linalg.inv(matrix), 0.002
    given = drawn @ inverse / np.sqrt(np.diag(inverse))
    far = stats.norm.isf(level / 2)
    together = np.einsum("ij,jk,ik->i", drawn, inverse, drawn)
    hits = (np.abs(drawn) > far).any(axis=1) | (np.abs(given) > far).any(axis=1)
    hits |= together > stats.chi2.isf(TOGETHER_SHARE * level, 3)
    expected = hits.mean()
    room = 3 * np.sqrt(expected / len(drawn)) + 0.02 * expected
    assert chance_of_any(level, matrix) == pytest.approx(expected, abs=room)


def test_a_fish_whose_characters_do_not_go_together_is_found():
    rng = np.random.default_rng(9)
    box = rng.normal(size=(40, 1)) + 0.2 * rng.normal(size=(40, 3))
    box[5] = [1.2, -1.2, 1.2]  # none beyond 2 SD
    verdict = find_odd(box)
    assert [fish.row for fish in verdict.fish if fish.odd] == [5]
    assert np.argmax(np.abs(verdict.fish[0].given_others)) == 1


def test_a_swapped_pair_of_marks_is_named_and_a_strange_shape_is_not_blamed_on_points():
    rng = np.random.default_rng(3)
    base = rng.normal(size=(9, 2))
    fish = base + rng.normal(0, 0.03, (30, 9, 2))
    assert find_odd_shapes(fish) == ()
    fish[4, [2, 6]] = fish[4, [6, 2]]
    fish[11] *= [1.0, 1.4]  # deeper all over
    found = {one.row: set(one.points) for one in find_odd_shapes(fish)}
    assert found == {4: {2, 6}, 11: set()}


def test_five_alike_are_one_second_kind():
    rng = np.random.default_rng(8)
    box = rng.normal(0, 1, (60, 3))
    box[:5] = rng.normal([7.0, -6.0, 5.0], 0.7, (5, 3))
    verdict = find_odd(box)
    assert [row for row, kind in enumerate(verdict.kinds) if kind] == [0, 1, 2, 3, 4]
    assert "second kind" in verdict.sentence


def test_one_character_alone_makes_no_second_kind():
    rng = np.random.default_rng(5)
    boxes = [rng.normal(size=(60, 1)) for _ in range(20)]
    assert not any(any(find_odd(box).kinds) for box in boxes)


def test_few_fish_are_ranked_without_a_verdict():
    rng = np.random.default_rng(9)
    box = rng.normal(0, 1, (12, 2))
    box[3] += 20
    verdict = find_odd(box)
    assert verdict.fish[0].row == 3
    assert not any(fish.odd for fish in verdict.fish)
    assert "too few" in verdict.sentence
    with pytest.raises(ValueError, match="photograph more fish"):
        find_odd(box[:3])


def test_robust_routine_flags_the_known_cases_of_hawkins_bradu_kass():
    """Hawkins, Bradu & Kass 1984, Technometrics 26:197-208: cases 1 to 14 lie out in x.

    The stepwise search must end with the same set as the library's robust distances.
    """
    table = _hawkins_bradu_kass()
    robust = MinCovDet(random_state=0).fit(table).mahalanobis(table)
    flagged = np.flatnonzero(robust > stats.chi2.ppf(0.975, 3)) + 1
    assert list(flagged) == list(range(1, 15))
    verdict = find_odd(table)
    ours = {f.row + 1 for f in verdict.fish if f.odd} | {
        row + 1 for row, kind in enumerate(verdict.kinds) if kind
    }
    assert ours == set(range(1, 15))


def _hawkins_bradu_kass():
    """The 75 × 3 explanatory values as printed in Rousseeuw & Leroy 1987."""
    numbers = """10.1 19.6 28.3 9.5 20.5 28.9 10.7 20.2 31.0 9.9 21.5 31.7 10.3 21.1 31.1 10.8 20.4
    29.2 10.5 20.9 29.1 9.9 19.6 28.8 9.7 20.7 31.0 9.3 19.7 30.3 11.0 24.0 35.0 12.0 23.0 37.0 12.0
    26.0 34.0 11.0 34.0 34.0 3.4 2.9 2.1 3.1 2.2 0.3 0.0 1.6 0.2 2.3 1.6 2.0 0.8 2.9 1.6 3.1 3.4 2.2
    2.6 2.2 1.9 0.4 3.2 1.9 2.0 2.3 0.8 1.3 2.3 0.5 1.0 0.0 0.4 0.9 3.3 2.5 3.3 2.5 2.9 1.8 0.8 2.0
    1.2 0.9 0.8 1.2 0.7 3.4 3.1 1.4 1.0 0.5 2.4 0.3 1.5 3.1 1.5 0.4 0.0 0.7 3.1 2.4 3.0 1.1 2.2 2.7
    0.1 3.0 2.6 1.5 1.2 0.2 2.1 0.0 1.2 0.5 2.0 1.2 3.4 1.6 2.9 0.3 1.0 2.7 0.1 3.3 0.9 1.8 0.5 3.2
    1.9 0.1 0.6 1.8 0.5 3.0 3.0 0.1 0.8 3.1 1.6 3.0 3.1 2.5 1.9 2.1 2.8 2.9 2.3 1.5 0.4 3.3 0.6 1.2
    0.3 0.4 3.3 1.1 3.0 0.3 0.5 2.4 0.9 1.8 3.2 0.9 1.8 0.7 0.7 2.4 3.4 1.5 1.6 2.1 3.0 0.3 1.5 3.3
    0.4 3.4 3.0 0.9 0.1 0.3 1.1 2.7 0.2 2.8 3.0 2.9 2.0 0.7 2.7 0.2 1.8 0.8 1.6 2.0 1.2 0.1 0.0 1.1
    2.0 0.6 0.3 1.0 2.2 2.9 2.2 2.5 2.3 0.6 2.0 1.5 0.3 1.7 2.2 0.0 2.2 1.6 0.3 0.4 2.6"""
    return np.array([float(value) for value in numbers.split()]).reshape(-1, 3)
