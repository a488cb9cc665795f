"""How exact scales are, and whether their uncertainty covers: long series of drawn photos.

Truth is a pinhole camera with Brown's radial term (tests/finmeasure/scale/drawn.py), not the
mapping that the program fits. The tables go to docs/method/scale.md between the markers.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest

from finmeasure.card_design import PAPER_MM, card_design
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest

from ..finmeasure.scale.series import (
    as_photo,
    draw_card,
    length_errors,
    random_camera,
    random_conditions,
    random_lengths_mm,
)

pytestmark = pytest.mark.benchmark
PAGE = Path(__file__).parents[2] / "docs" / "method" / "scale.md"
PAPERS = list(PAPER_MM)
GROUNDS = ("white", "grey", "black")
HEAD = [
    "| reference | photos | refused | rms error %, median / 95 % / worst | > 2 % | "
    "lengths inside 1.96 u (95 % limits) | u %, median / worst |",
    "|---|---|---|---|---|---|---|",
]


def write(name, lines):
    """Put a table between its markers in the page."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- {name} -->\n", f"<!-- end {name} -->"
    before, _, rest = page.partition(start)
    _, _, after = rest.partition(end)
    PAGE.write_text(before + start + "\n".join(lines) + "\n" + end + after, encoding="utf-8")


class Series:
    """Errors of one reference over photos with independent draws."""

    def __init__(self):
        self.rms, self.covered, self.u_rel, self.refused, self.gross = [], [], [], 0, 0

    def add(self, scale, errors):
        self.rms.append(np.sqrt(np.mean(errors**2)))
        self.covered.append(np.mean(np.abs(errors) < 1.96 * scale.u_rel))
        self.u_rel.append(scale.u_rel)
        self.gross += bool(self.rms[-1] > 0.02)

    def coverage(self):
        """Coverage and its 95 % limits by a bootstrap over photos (lengths of one go together)."""
        shares = np.array(self.covered)
        rng = np.random.default_rng(0)
        means = shares[rng.integers(0, len(shares), (4000, len(shares)))].mean(axis=1)
        return shares.mean(), *np.quantile(means, [0.025, 0.975])

    def row(self, name):
        rms, u_rel = 100 * np.array(self.rms), 100 * np.array(self.u_rel)
        share, low, high = (100 * value for value in self.coverage())
        return (
            f"| {name} | {len(rms) + self.refused} | {self.refused} "
            f"| {np.median(rms):.3f} / {np.quantile(rms, 0.95):.3f} / {rms.max():.3f} "
            f"| {self.gross} | {share:.1f} % ({low:.1f} to {high:.1f}) "
            f"| {np.median(u_rel):.3f} / {u_rel.max():.3f} |"
        )


def card_series(kind, count, *, tilt_deg, blur_px, seed):
    rng = np.random.default_rng(seed)
    series = Series()
    for number in range(count):
        design = card_design(kind, PAPERS[number % 5])
        camera = random_camera(rng, design, tilt_deg=tilt_deg)
        conditions = random_conditions(rng, camera, design, blur_px=blur_px)
        ground = GROUNDS[number % 3] if kind == "window" else "white"
        pixels = draw_card(kind, design.paper, camera, conditions, ground)
        ends = random_lengths_mm(rng, design)
        scale = find_scale(as_photo(pixels), ScaleRequest(card=kind))
        if scale:
            series.add(scale, length_errors(scale, camera, ends))
        else:
            series.refused += 1
    return series


@pytest.fixture(autouse=True, scope="module")
def one_thread():
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


def test_cards_in_ordinary_photos():
    lines = list(HEAD)
    for seed, kind in enumerate(("window", "squares")):
        series = card_series(kind, 300, tilt_deg=(0, 20), blur_px=(0.7, 1.5), seed=100 + seed)
        lines.append(series.row(f"our {kind} card"))
        assert np.median(series.rms) <= 0.001
        assert max(series.rms) <= 0.005
        assert series.coverage()[1] >= 0.93
        assert np.median(series.u_rel) <= 0.0015
        assert series.refused <= 6
    write("cards, ordinary", lines)


def test_cards_in_poor_photos():
    lines = list(HEAD)
    for seed, kind in enumerate(("window", "squares")):
        series = card_series(kind, 150, tilt_deg=(0, 25), blur_px=(0.7, 3.3), seed=200 + seed)
        lines.append(series.row(f"our {kind} card"))
        assert series.gross == 0
        assert series.coverage()[2] >= 0.93
    write("cards, poor", lines)
