"""Counting by peaks: drawn fans with a known number of rays, drawn here and by nothing else."""

import cv2
import numpy as np
import pytest

from finmeasure.errors import MarkingError
from finmeasure.fins.counting import count_along, strip_along

FINER = 4  # drawn so many times larger and averaged down


def fan(rng, rays, size=(420, 560)):
    """Dark or light rays that spread from a base, and a line across all of them."""
    base = np.linspace(140, 420, rays) + rng.normal(0, 0.03, rays) * 280 / rays
    spread = np.radians(np.linspace(-25, 25, rays) * rng.uniform(0.3, 1.2))
    large = np.zeros((size[0] * FINER, size[1] * FINER), np.uint8)
    for x, angle in zip(base, spread, strict=True):
        tip = (x + 300 * np.sin(angle), 400 - 300 * np.cos(angle))
        ends = [(round(FINER * a), round(FINER * b)) for a, b in ((x, 400), tip)]
        strength, wide = int(rng.uniform(140, 255)), int(rng.uniform(5, 9))
        cv2.line(large, *ends, strength, wide, cv2.LINE_AA)
    ink = cv2.resize(large, size[::-1], interpolation=cv2.INTER_AREA) / 255.0
    ground = rng.uniform(120, 180) + 20 * np.sin(np.linspace(0, rng.uniform(1, 4), size[1]))
    drawn = ground + rng.choice([-1, 1]) * rng.uniform(15, 60) * ink
    drawn = cv2.GaussianBlur(drawn, (0, 0), rng.uniform(0.7, 1.4))
    drawn = drawn + rng.normal(0, rng.uniform(2, 5), size)
    out, beside = 300 * rng.uniform(0.2, 0.5), 140 / rays
    line = [
        (base[i] + step * beside + out * np.sin(spread[i]), 400 - out * np.cos(spread[i]))
        for i, step in ((0, -1), (rays // 2, 0), (-1, 1))
    ]
    return drawn.clip(0, 255).astype(np.uint8), np.array(line)


def test_rays_of_drawn_fans_are_counted_and_the_range_holds():
    """Bars (our choice): exact in 4 of 5, off by more than one in at most 1 of 20."""
    rng = np.random.default_rng(21)
    off, inside = [], []
    for _ in range(60):
        rays = int(rng.integers(6, 32))
        gray, line = fan(rng, rays)
        found = count_along(strip_along(gray, line))
        off.append(abs(found.count - rays))
        inside.append(found.low <= rays <= found.high)
    assert np.mean(np.equal(off, 0)) >= 0.8
    assert np.mean(np.greater(off, 1)) <= 0.05
    assert np.mean(inside) >= 0.85


@pytest.mark.parametrize("turn", [cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180])
def test_a_turned_photo_and_the_line_drawn_backwards_give_the_same_count(turn):
    gray, line = fan(np.random.default_rng(5), 14)
    height, width = gray.shape
    turned = {
        cv2.ROTATE_90_CLOCKWISE: np.column_stack([height - 1 - line[:, 1], line[:, 0]]),
        cv2.ROTATE_180: [width - 1, height - 1] - line,
    }[turn]
    counts = {
        count_along(strip_along(gray, line)).count,
        count_along(strip_along(gray, line[::-1])).count,
        count_along(strip_along(np.ascontiguousarray(cv2.rotate(gray, turn)), turned)).count,
    }
    assert counts == {14}


def test_columns_of_the_strip_lie_on_the_rays():
    """Truth: upright rays every 20 px from x = 100 on."""
    gray = np.full((200, 500), 180, np.uint8)
    for number in range(12):
        gray[:, 99 + 20 * number : 102 + 20 * number] = 90
    strip = strip_along(gray, [(88, 60), (332, 130)])
    found = count_along(strip)
    places = strip.line_px[found.columns]
    np.testing.assert_allclose(places[:, 0], 100 + 20 * np.arange(12), atol=1.5)
    assert (found.low, found.count, found.high) == (12, 12, 12)
    assert str(found) == "12"


def test_a_hidden_ray_widens_the_range_upwards():
    gray = np.full((200, 500), 180, np.uint8)
    for number in (0, 1, 2, 3, 4, 6, 7, 8, 9):
        gray[:, 99 + 20 * number : 102 + 20 * number] = 90
    found = count_along(strip_along(gray, [(88, 100), (292, 100)]))
    assert (found.count, found.high) == (9, 10)
    assert str(found) == "9 (9 to 10)"


def test_an_even_ground_has_nothing_to_count_and_a_short_line_is_refused():
    gray = np.full((200, 500), 180, np.uint8)
    assert count_along(strip_along(gray, [(50, 100), (400, 100)])).count == 0
    with pytest.raises(MarkingError, match="at least 30 px"):
        strip_along(gray, [(50, 100), (60, 100)])
