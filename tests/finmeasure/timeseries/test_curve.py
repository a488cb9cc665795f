"""Regrowth laws against NIST's certified nonlinear fits and closed forms."""

import math

import numpy as np
import pytest

from finmeasure.timeseries.curve import fit_law, fit_regrowth, monomolecular

# NIST Statistical Reference Datasets, nonlinear regression: data, starts, certified values.
MISRA1A = (
    [
        77.6,
        114.9,
        141.1,
        190.8,
        239.9,
        289.0,
        332.8,
        378.4,
        434.8,
        477.3,
        536.8,
        593.1,
        689.1,
        760.0,
    ],
    [
        10.07,
        14.73,
        17.94,
        23.93,
        29.61,
        35.18,
        40.02,
        44.82,
        50.76,
        55.05,
        61.01,
        66.40,
        75.47,
        81.78,
    ],
)
BOXBOD = ([1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224])
RAT42 = (
    [9, 14, 21, 28, 42, 57, 63, 70, 79],
    [8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08],
)
RAT43 = (
    range(1, 16),
    [16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92, 724.93, 699.56,
     689.96, 637.56, 717.41],
)  # fmt: skip


@pytest.mark.parametrize(
    ("data", "guess", "whole", "rate", "rss"),
    [
        (MISRA1A, (250, 5e-4), 2.3894212918e2, 5.5015643181e-4, 1.2455138894e-1),
        (BOXBOD, (100, 0.75), 2.1380940889e2, 5.4723748542e-1, 1.1680088766e3),
    ],
    ids=["Misra1a", "BoxBOD"],
)
def test_monomolecular_law_gives_certified_values(data, guess, whole, rate, rss):
    start = {"start": 0.0, "whole": guess[0], "rate": guess[1], "lag": 0.0}
    fit = fit_law("monomolecular", *data, start, fixed=("start", "lag"))
    assert fit.values["whole"] == pytest.approx(whole, rel=1e-6)
    assert fit.values["rate"] == pytest.approx(rate, rel=1e-6)
    assert fit.rss == pytest.approx(rss, rel=1e-6)


def test_standard_errors_are_the_certified_ones():
    # NIST BoxBOD: certified standard deviations of the estimates.
    start = {"start": 0.0, "whole": 100, "rate": 0.75, "lag": 0.0}
    fit = fit_law("monomolecular", *BOXBOD, start, fixed=("start", "lag"))
    assert fit.us["whole"] == pytest.approx(1.2354515176e1, rel=1e-4)
    assert fit.us["rate"] == pytest.approx(1.0455993237e-1, rel=1e-4)
    assert fit.residual_sd == pytest.approx(1.7088072423e1, rel=1e-6)


def test_logistic_law_gives_certified_values():
    fit = fit_law("logistic", *RAT42, {"whole": 75, "shift": 2.5, "rate": 0.07})
    assert fit.values["whole"] == pytest.approx(7.2462237576e1, rel=1e-6)
    assert fit.values["shift"] == pytest.approx(2.6180768402, rel=1e-6)
    assert fit.values["rate"] == pytest.approx(6.7359200066e-2, rel=1e-6)


def test_richards_law_gives_certified_values():
    start = {"whole": 700, "shift": 5, "rate": 0.75, "shape": 1.3}
    fit = fit_law("richards", *RAT43, start)
    certified = {"whole": 6.9964151270e2, "shift": 5.2771253025, "rate": 7.5962938329e-1,
                 "shape": 1.2792483859}  # fmt: skip
    for name, value in certified.items():
        assert fit.values[name] == pytest.approx(value, rel=1e-6)
    assert fit.rss == pytest.approx(8.7864049080e3, rel=1e-6)


def test_days_to_half_and_whole_by_the_closed_form():
    # t50 = ln 2/k, t90 = ln 10/k, t95 = ln 20/k after the lag; here k = 0.15 a day.
    days = np.arange(0, 60, 4.0)
    ratios = monomolecular(days, 0.10, 0.20, 0.15, 3.0)
    found = fit_regrowth(days, ratios, np.full(days.size, 1e-5), whole=0.20, whole_u=1e-7)
    for share, expected in {50: 4.620981, 90: 15.350567, 95: 19.971548}.items():
        assert found.days_to[share].value == pytest.approx(3.0 + expected, abs=0.01)
        assert found.days_to[share].low < 3.0 + expected < found.days_to[share].high


def test_interval_of_the_rate_covers_on_drawn_series():
    """Six visits, no lag: the 95 % interval of the rate holds the truth as often as it says."""
    rng = np.random.default_rng(4)
    days = np.array([0.0, 4, 8, 12, 18, 26])
    inside = 0
    rounds = 120
    for _ in range(rounds):
        drawn = monomolecular(days, 0.12, 0.20, 0.08) + rng.normal(0, 0.003, days.size)
        whole = rng.normal(0.20, 0.002)
        fit = fit_regrowth(days, drawn, np.full(6, 0.003), whole=whole, whole_u=0.002)
        inside += fit.rate.low <= 0.08 <= fit.rate.high
    # Binomial: 106 of 120 or fewer has probability 0.003 where the true coverage is 95 %.
    assert inside >= 107


def test_flat_series_says_that_it_does_not_know():
    days = [0.0, 5, 10, 15]
    fit = fit_regrowth(days, [0.15, 0.151, 0.149, 0.1502], [0.003] * 4, whole=0.2, whole_u=0.004)
    assert not fit.days_to[95].known
    assert str(fit.days_to[95]) == "not enough data to say"
    assert not math.isnan(fit.rate.value)


def test_too_few_visits_are_refused():
    with pytest.raises(ValueError, match="at least 3"):
        fit_regrowth([0, 5], [0.1, 0.12], [0.01, 0.01], whole=0.2, whole_u=0.01)
