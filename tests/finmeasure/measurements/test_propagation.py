"""Published worked examples through the propagation that the measures use."""

import numpy as np
import pytest
import uncertainties

from finmeasure.measurements.propagation import (
    propagate,
    propagate_draws,
    shortest_interval,
    sources_of,
)


def end_gauge(x):
    """GUM H.1: lS, d, delta_alpha, theta, alpha_S, delta_theta."""
    length, difference, delta_alpha, theta, alpha, delta_theta = x.T
    return length + difference - length * (delta_alpha * theta + alpha * delta_theta)


def test_end_gauge_of_the_gum(truth):
    # JCGM 100:2008 H.1: l = 50.000838 mm, u_c = 32 nm, shares of table H.1.
    rows = truth("gum_h1_end_gauge")
    estimates = [float(row["estimate"]) for row in rows]
    result = propagate(end_gauge, estimates, np.diag([float(row["u"]) for row in rows]))
    assert result.values[0] == pytest.approx(50_000_838, abs=0.5)
    published = [float(row["published_share_nm"]) for row in rows]
    # The GUM gives one decimal and truncates the last share (16.675 → 16.6).
    assert np.abs(result.shares[:, 0]) == pytest.approx(published, abs=0.1)
    assert result.u[0] == pytest.approx(32, abs=0.5)


def curvilinear_trapezoid(rng, half_width, doubt, size):
    """JCGM 101:2008, 6.4.3.2."""
    low = -half_width - doubt + 2 * doubt * rng.random(size)
    return low - 2 * low * rng.random(size)


def test_gauge_block_of_jcgm_101(truth):
    # JCGM 101:2008, 9.5: distributions of table 9, result of table 10.
    rng, size = np.random.default_rng(101), 400_000
    draws = np.column_stack([
        50_000_623 + 25 * rng.standard_t(18, size),
        215 + 6 * rng.standard_t(24, size) + 4 * rng.standard_t(5, size)
        + 7 * rng.standard_t(8, size),
        curvilinear_trapezoid(rng, 1e-6, 1e-7, size),
        -0.1 + 0.2 * rng.standard_normal(size) + 0.5 * np.sin(2 * np.pi * rng.random(size)),
        rng.uniform(9.5e-6, 13.5e-6, size),
        curvilinear_trapezoid(rng, 0.05, 0.025, size),
    ])  # fmt: skip
    estimates = [50_000_623, 215, 0, -0.1, 11.5e-6, 0]
    results, u = propagate_draws(end_gauge, estimates, draws)
    deviation = results[:, 0] - 50e6
    published = {row["quantity"]: float(row["value"]) for row in truth("jcgm101_gauge_block")}
    # 400,000 draws leave 0.06 nm in the mean and about 0.4 nm in the ends of the interval.
    assert deviation.mean() == pytest.approx(published["estimate"], abs=0.5)
    assert u[0] == pytest.approx(published["u"], abs=0.5)
    low, high = shortest_interval(deviation, 0.99)
    assert (low, high) == pytest.approx((published["low_99"], published["high_99"]), abs=1.5)


@pytest.mark.parametrize("place", range(3))
def test_ratio_of_correlated_lengths(truth, place):
    row = {key: float(value) for key, value in truth("ratio_with_correlation")[place].items()}
    covariance = row["rho"] * row["u_h"] * row["u_sl"]
    sources = sources_of([[row["u_h"] ** 2, covariance], [covariance, row["u_sl"] ** 2]])

    def ratio(x):
        return x[:, 0] / x[:, 1]

    estimates = [row["h"], row["sl"]]
    assert propagate(ratio, estimates, sources).values[0] == row["r"]
    # A small step gives the derivative itself, nine decimals as published …
    small = propagate(ratio, estimates, sources * 1e-3).u[0] * 1e3
    assert small == pytest.approx(row["u_r"], abs=2e-9)
    # … the step of one u, as the measures use it, differs by (u/SL)² of the value.
    assert propagate(ratio, estimates, sources).u[0] == pytest.approx(row["u_r"], rel=2e-4)


def test_shared_scale_cancels_and_agrees_with_the_uncertainties_package():
    # Independent second way: the package `uncertainties` with the scale as one variable.
    height_px, length_px = uncertainties.ufloat(250, 1), uncertainties.ufloat(1000, 1)
    scale = uncertainties.ufloat(0.05, 0.001)
    expected = (height_px * scale) / (length_px * scale)

    def model(x):
        return np.column_stack([
            x[:, 0] * x[:, 2], x[:, 1] * x[:, 2], (x[:, 0] * x[:, 2]) / (x[:, 1] * x[:, 2])
        ])  # fmt: skip

    result = propagate(model, [250, 1000, 0.05], np.diag([1.0, 1.0, 0.001]))
    assert result.shares[2, 2] == pytest.approx(0, abs=1e-15)
    assert result.u[2] == pytest.approx(expected.s, rel=1e-5)
    assert result.u[0] == pytest.approx((height_px * scale).s, rel=1e-9)
    assert result.shares[2, 0] == pytest.approx(250 * 0.001)


def test_full_covariance_agrees_with_draws():
    # Independent second way: Monte Carlo of a rotated, correlated input.
    covariance = np.array([[4.0, 1.5, 0.0], [1.5, 2.0, -0.5], [0.0, -0.5, 1.0]])
    estimates = np.array([300.0, 40.0, 500.0])

    def model(x):
        return np.hypot(x[:, 2] - x[:, 0], x[:, 1])

    linear = propagate(model, estimates, sources_of(covariance)).u[0]
    draws = np.random.default_rng(5).multivariate_normal(estimates, covariance, 100_000)
    assert linear == pytest.approx(propagate_draws(model, estimates, draws)[1][0], rel=0.01)
