"""Repeatability against published worked values."""

import numpy as np
import pandas as pd
import pytest

from finmeasure.timeseries.repeatability import (
    LIMIT_FACTOR,
    intraclass_correlations,
    limits_of_agreement,
    mean_squares,
    observer_spread,
    repeatability,
    within_variance,
)

# Shrout & Fleiss 1979, Psychol. Bull. 86:420-428, Table 2: 6 targets, 4 judges.
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float
)
# NIST StRD one-way analysis of variance, data set SiRstv: 5 instruments, 5 repeats.
SIRSTV = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
]


def test_mean_squares_are_those_of_shrout_and_fleiss():
    squares = mean_squares(SHROUT_FLEISS)
    # Printed in the paper as BMS 11.24, WMS 6.26, JMS 32.49, EMS 1.02.
    found = [squares.between, squares.within, squares.observers, squares.error]
    assert np.round(found, 2) == pytest.approx([11.24, 6.26, 32.49, 1.02])


@pytest.mark.parametrize(
    ("name", "printed", "low", "high"),
    [
        ("ICC(1,1)", 0.17, -0.1329, 0.7226),
        ("ICC(2,1)", 0.29, 0.0188, 0.7611),
        ("ICC(3,1)", 0.71, 0.3425, 0.9459),
        ("ICC(1,k)", 0.44, -0.8844, 0.9124),
        ("ICC(2,k)", 0.62, 0.0711, 0.9272),
        ("ICC(3,k)", 0.91, 0.6757, 0.9859),
    ],
)
def test_the_six_correlations_and_their_intervals(name, printed, low, high):
    # Values printed in the paper; intervals as published for this table by reference software.
    agreement = intraclass_correlations(SHROUT_FLEISS)[name]
    assert round(agreement.value, 2) == printed
    assert agreement.low == pytest.approx(low, abs=5e-5)
    assert agreement.high == pytest.approx(high, abs=5e-5)


def test_within_variance_is_the_certified_mean_square():
    # NIST StRD SiRstv: certified within-instrument mean square 1.0831828E-02 (20 degrees).
    variance, freedom = within_variance(dict(enumerate(SIRSTV)))
    assert freedom == 20
    assert variance == pytest.approx(1.0831828e-02, rel=1e-6)


def test_technical_error_of_pairs():
    # TEM = sqrt(sum D^2 / 2N), Harris & Smith; D = 0.2, -0.1, 0.3, 0, -0.2.
    differences = [0.2, -0.1, 0.3, 0.0, -0.2]
    groups = {i: [10.0 + i, 10.0 + i + d] for i, d in enumerate(differences)}
    assert repeatability(groups).sd == pytest.approx(np.sqrt(0.18 / 10))


def test_limit_factor_is_that_of_iso_5725():
    # ISO 5725-6: r = 2.8 s_r, where 2.8 stands for 1.96 sqrt 2.
    assert round(LIMIT_FACTOR, 1) == 2.8
    groups = {0: [1.0, 3.0], 1: [5.0, 7.0]}
    assert repeatability(groups).minimal_detectable_change == pytest.approx(
        1.96 * np.sqrt(2) * 2**0.5
    )


def test_limits_of_agreement_hold_95_percent_of_drawn_differences():
    rng = np.random.default_rng(1)
    first = rng.normal(10, 2, 4000)
    limits = limits_of_agreement(first, first + rng.normal(0.3, 0.2, 4000))
    # Standard error of a mean of 4000 differences of sd 0.2 is 0.003.
    assert limits.bias == pytest.approx(0.3, abs=0.012)
    fresh = rng.normal(0.3, 0.2, 4000)
    inside = np.mean((fresh > limits.low) & (fresh < limits.high))
    assert 0.93 < inside < 0.97


def test_people_and_repeats_are_told_apart():
    rng = np.random.default_rng(2)
    offsets = rng.normal(0, 0.5, 40)
    cells = {
        (thing, person): thing + offsets[person] + rng.normal(0, 0.2, 3)
        for thing in range(12)
        for person in range(40)
    }
    spread = observer_spread(cells)
    assert spread.within_sd == pytest.approx(0.2, rel=0.05)
    assert spread.between_sd == pytest.approx(np.std(offsets, ddof=1), rel=0.05)
    # ISO 5725-6: R = 2.8 s_R, as r = 2.8 s_r.
    assert spread.reproducibility_limit == pytest.approx(1.96 * 2**0.5 * spread.reproducibility_sd)
    assert spread.reproducibility_sd == pytest.approx(
        np.hypot(0.2, np.std(offsets, ddof=1)), rel=0.05
    )


def test_one_reading_each_is_refused_in_plain_words():
    with pytest.raises(ValueError, match="none was measured twice"):
        repeatability({1: [2.0], 2: [3.0]})
    with pytest.raises(ValueError, match="without gaps"):
        mean_squares([[1.0, np.nan], [2.0, 3.0]])


def test_real_repeats_of_bluegill_against_an_analysis_of_variance(shared):
    """60 photos × 4 repeats: standard length in mm by statsmodels' own analysis of variance."""
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    folder = shared / "tables" / "04_bluegill_landmarks"
    frame = pd.read_csv(folder / "landmarks_replicates.csv")
    wide = frame[frame["landmark"].isin([1, 7])].pivot_table(
        index=["image", "replicate"], columns="landmark", values=["x_px", "y_px_up", "mm_per_px"]
    )
    length = (
        np.hypot(wide["x_px"][1] - wide["x_px"][7], wide["y_px_up"][1] - wide["y_px_up"][7])
        * wide["mm_per_px"][1]
    )
    table = length.rename("length").reset_index().dropna()
    ours = repeatability({name: part["length"] for name, part in table.groupby("image")})
    theirs = anova_lm(ols("length ~ C(image)", table).fit())
    assert ours.objects >= 50
    assert ours.sd == pytest.approx(np.sqrt(theirs.loc["Residual", "mean_sq"]), rel=1e-9)
