"""Margin filter against the published transmissions of the Gaussian profile filter."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipe

from finmeasure.fins.smoothing import ALPHA, gaussian_weights, resample, smooth
from finmeasure.geometry import polyline_length


# ISO 16610-21: transmission of the mean line 2^-((cut-off / wavelength)^2): half at the cut-off.
@pytest.mark.parametrize(
    ("wavelengths_per_cutoff", "transmission"),
    [(0.5, 0.0625), (1.0, 0.5), (2.0, 0.840896415), (4.0, 0.957603281)],
)
def test_transmission_of_the_gaussian_filter(wavelengths_per_cutoff, transmission):
    cutoff, step = 1.0, 0.01
    x = np.arange(0.0, 40.0, step)
    phase = 2 * np.pi * x / (wavelengths_per_cutoff * cutoff)
    kept = smooth(np.column_stack([x, np.sin(phase)]), step, cutoff)
    middle = slice(1000, 3000)
    amplitude = 2 * np.mean(kept[middle, 1] * np.sin(phase[middle]))
    # Whole periods of the sine in the middle, filter sampled a hundredfold: 1e-4 is reached.
    assert amplitude == pytest.approx(transmission, abs=1e-4)


def test_constant_of_the_filter():
    # ISO 16610-21: alpha = sqrt(ln 2 / pi) = 0.4697.
    assert pytest.approx(0.4697, abs=5e-5) == ALPHA
    # Weights of a cut-off length 1: s(0) = 1 / alpha = 2.128934.
    weights = gaussian_weights(0.001, 1.0)
    assert weights.max() / 0.001 == pytest.approx(2.128934, abs=1e-5)
    assert weights.sum() == pytest.approx(1.0)


def test_ends_stay_and_straight_lines_stay():
    line = np.column_stack([np.linspace(0, 3, 61), np.linspace(1, 2, 61)])
    assert np.allclose(smooth(line, 0.05, 0.4), line, atol=1e-12)
    bent = resample(np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 0.0]]), 0.01)
    kept = smooth(bent, 0.01, 0.3)
    assert np.allclose(kept[[0, -1]], bent[[0, -1]])


def test_shorter_than_the_filter():
    few = np.array([[0.0, 0.0], [1.0, 0.5], [2.0, 0.0]])
    assert smooth(few, 1.0, 30.0).shape == (3, 2)


@pytest.mark.parametrize(
    ("amplitude", "ratio"),
    [(0.05, 1.024235229), (0.10, 1.092383547), (0.25, 1.463695472), (0.50, 2.304892661)],
)
def test_length_of_a_sine_edge(amplitude, ratio):
    """Arc length by chord of a sine edge: (2/pi) sqrt(1+k²) E(k²/(1+k²)), k = 2 pi A / l."""
    k = 2 * np.pi * amplitude
    closed_form = 2 / np.pi * np.sqrt(1 + k**2) * ellipe(k**2 / (1 + k**2))
    assert closed_form == pytest.approx(ratio, abs=1e-8)
    x = np.linspace(0, 5, 20001)
    edge = resample(np.column_stack([x, amplitude * np.sin(2 * np.pi * x)]), 0.002)
    assert polyline_length(edge) / 5 == pytest.approx(ratio, rel=1e-5)


def test_length_of_a_zigzag_edge():
    height, period = 0.3, 0.5
    x = np.arange(0, 10.01, period / 2)
    edge = np.column_stack([x, height * (np.arange(len(x)) % 2)])
    expected = x[-1] * np.sqrt(1 + (2 * height / period) ** 2)
    assert polyline_length(edge) == pytest.approx(expected)


def test_resampling_keeps_the_length_of_a_curve():
    angle = np.linspace(0, np.pi, 4001)
    even = resample(np.column_stack([np.cos(angle), np.sin(angle)]), 0.01)
    spacing = np.hypot(*np.diff(even, axis=0).T)
    assert spacing.std() / spacing.mean() < 1e-4
    arc, _ = quad(lambda _: 1.0, 0, np.pi)
    assert polyline_length(even) == pytest.approx(arc, rel=1e-4)
