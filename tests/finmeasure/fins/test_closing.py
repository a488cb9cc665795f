"""Masks and closings against other libraries and closed forms."""

import numpy as np
import pytest
import shapely
from scipy import ndimage
from skimage.morphology import closing, disk

from finmeasure.fins.closing import closed_with_disc, outer_rings, polygon_mask
from finmeasure.fins.notches import find_notches, split_or_notch
from finmeasure.fins.smoothing import resample


def blob(rng, size=160, room=40):
    """A random ragged mask with room round it."""
    noise = ndimage.gaussian_filter(rng.standard_normal((size, size)), 5)
    mask = np.zeros((size, size), bool)
    inner = slice(room, size - room)
    mask[inner, inner] = noise[inner, inner] > -0.01
    return mask


@pytest.mark.parametrize("radius", [3, 9, 20])
def test_closing_equals_that_of_two_other_libraries(radius, rng):
    for _ in range(4):
        mask = blob(rng)
        ours = closed_with_disc(mask, radius)
        assert np.array_equal(ours, closing(mask.astype(np.uint8), disk(radius)) > 0)
        other = ndimage.binary_closing(mask, disk(radius))
        assert np.array_equal(ours, other)


def test_filled_ring_holds_the_pixels_whose_centres_lie_inside(rng):
    angle = np.sort(rng.uniform(0, 2 * np.pi, 40))
    reach = rng.uniform(10, 30, 40)
    ring = np.column_stack([40 + reach * np.cos(angle), 35 + reach * np.sin(angle)])
    y, x = np.indices((70, 80))
    inside = shapely.contains_xy(shapely.Polygon(ring), x, y)
    assert np.array_equal(polygon_mask(ring, (70, 80)), inside)


def test_area_of_a_filled_ring_agrees_with_the_polygon():
    angle = np.linspace(0, 2 * np.pi, 300, endpoint=False)
    ring = np.column_stack([150.3 + 100 * np.cos(angle), 149.6 + 80 * np.sin(angle)])
    area = shapely.Polygon(ring).area
    assert polygon_mask(ring, (300, 300)).sum() == pytest.approx(area, rel=1e-3)


def test_ring_round_a_mask():
    mask = np.zeros((30, 40), bool)
    mask[5:15, 8:28] = True
    (ring,) = outer_rings(mask)
    assert ring.min(axis=0).tolist() == [8, 5]
    assert ring.max(axis=0).tolist() == [27, 14]


def flat_fin(top, *, height=1.0, half_width=1.2):
    """A rectangular fin of length 1 whose upper edge is `top`, from left to right."""
    margin = np.vstack([[-half_width, 0.0], [-half_width, -height], top,
                        [half_width, -height], [half_width, 0.0]])  # fmt: skip
    return resample(margin, 0.004)


def find(margin, **options):
    settings = {"least_depth": 0.03, "natural": np.empty((0, 2))} | options
    return find_notches(margin, 1.0, **settings)


def sagitta(radius, half_chord):
    return radius - np.sqrt(radius**2 - half_chord**2)


def segment(radius, half_chord):
    """Area between a circle and its chord."""
    return radius**2 * np.arcsin(half_chord / radius) - half_chord * np.sqrt(
        radius**2 - half_chord**2
    )


@pytest.mark.parametrize("bite", [0.05, 0.1, 0.15, 0.25])
def test_half_disc_bite_has_the_depth_and_area_of_the_closed_form(bite):
    angle = np.linspace(np.pi, 0, 80)
    top = np.column_stack([bite * np.cos(angle), -1 + bite * np.sin(angle)])
    (notch,) = find(flat_fin(top)).notches
    # The disc of radius 0.5 rests on both lips of the bite and hangs into it by its sagitta.
    depth = bite - sagitta(0.5, bite)
    area = np.pi * bite**2 / 2 - segment(0.5, bite)
    # Grid of 1/250: half a step in depth; one step along half of the wall in area.
    assert notch.depth == pytest.approx(depth, abs=0.003)
    assert notch.area == pytest.approx(area, abs=0.004 * np.pi * bite / 2)
    assert notch.wall == pytest.approx(np.pi * bite, abs=0.03)
    assert notch.kind == "notch"
    # The bottom of a bite is level, so the deepest pixel may lie a little to one side.
    assert notch.deepest == pytest.approx([0, -1 + bite], abs=0.03)
    assert notch.deepest[1] == pytest.approx(-1 + bite, abs=0.006)


def test_zigzag_edge_has_the_depth_of_the_closed_form():
    height, period, teeth = 0.12, 0.2, 8
    x = np.arange(-teeth, teeth + 1) * period / 2
    top = np.column_stack([x, -1 + height * (np.arange(len(x)) % 2)])
    found = find(flat_fin(top)).notches
    assert len(found) == teeth
    hang = sagitta(0.5, period / 2)
    for notch in found:
        # A pointed trough is narrower than a grid step for the last 0.003, a crest likewise.
        assert notch.depth == pytest.approx(height - hang, abs=0.007)
        assert notch.area == pytest.approx(height * period / 2 - segment(0.5, period / 2),
                                           abs=0.0012)  # fmt: skip


def test_sine_edge_has_the_depth_at_which_the_disc_comes_to_rest():
    amplitude, period, waves = 0.05, 0.3, 6
    x = np.linspace(-waves / 2 * period, waves / 2 * period, 2001)
    top = np.column_stack([x, -1 + amplitude - amplitude * np.cos(2 * np.pi * x / period)])
    found = find(flat_fin(top)).notches
    # Disc of radius 0.5 over a trough at 0, resting on the flanks of the crests.
    u = np.linspace(-period / 2, period / 2, 20001)
    crest = -amplitude * np.cos(2 * np.pi * u / period)
    lowest = (crest + np.sqrt(0.25 - u**2)).max() - 0.5
    assert len(found) == waves
    assert np.median([notch.depth for notch in found]) == pytest.approx(
        lowest + amplitude, abs=0.004
    )


def test_hollows_of_a_larger_radius_than_the_disc_are_no_notches():
    angle = np.linspace(0, np.pi, 200)
    top = np.column_stack([0.7 * np.cos(angle)[::-1], -1 + 0.7 * np.sin(angle)[::-1] * 0.4])
    assert find(flat_fin(top, half_width=0.75)).notches == ()


def test_two_bites_joined_by_a_slightly_short_tooth_are_two_notches():
    angle = np.linspace(np.pi, 0, 60)
    arc = np.column_stack([0.1 * np.cos(angle), 0.1 * np.sin(angle)])
    tooth = 0.008
    top = np.vstack([arc - [0.11, 1.0], [[0.0, -1 + tooth]], arc - [-0.11, 1.0]])
    assert len(find(flat_fin(top)).notches) == 2


def test_a_cut_at_a_fork_leaves_it_alone():
    fork = np.array([[-1.0, -1.0], [0.0, -0.5], [1.0, -1.0]])
    margin = resample(np.vstack([[-0.3, 0.0], fork, [0.3, 0.0]]), 0.004)
    assert len(find(margin).notches) == 1
    assert find(margin, natural=fork[1:2]).notches == ()


def test_the_body_side_of_the_base_loses_no_tissue():
    # The rear lobe hangs below the line of the base points.
    margin = np.array([[0, 0], [0.2, -0.8], [1.0, -0.6], [1.4, 0.3], [0.9, 0.02], [0.8, 0.0]])
    assert find(resample(margin, 0.004)).notches == ()


@pytest.mark.parametrize("size", [0.05, 0.1, 0.2, 0.4])
def test_bites_and_nips_are_never_splits(size):
    # Mean widths by closed form: half disc pi r / 2, V-shaped nip half of its opening.
    assert split_or_notch(size, np.pi * size / 2, 1.0) == "notch"
    assert split_or_notch(size, size / 2, 1.0) == "notch"


def test_narrow_deep_gaps_are_splits():
    assert split_or_notch(0.15, 0.03, 1.0) == "split"
    assert split_or_notch(0.3, 0.055, 1.0) == "split"
    # As wide as a lost ray: tissue is missing, however deep.
    assert split_or_notch(0.5, 0.08, 1.0) == "notch"
