"""How exact scales are, and whether their uncertainty covers: long series of drawn photos.

Truth is a pinhole camera with Brown's radial term (tests/finmeasure/scale/drawn.py), not the
mapping that the program fits. The tables go to docs/method/scale.md between the markers.
"""

import time
from pathlib import Path

import cv2
import numpy as np
import pytest

from finmeasure.card_design import PAPER_MM, card_design
from finmeasure.scale.find import find_scale
from finmeasure.scale.lens import SeenRadial, lens_from
from finmeasure.scale.request import Bar, ScaleRequest

from ..finmeasure.scale.drawn import Camera, Conditions, draw
from ..finmeasure.scale.paper_sheets import ruler_sheet, square_paper
from ..finmeasure.scale.series import (
    as_photo,
    draw_card,
    length_errors,
    random_camera,
    random_conditions,
    random_lengths_mm,
)
from ..finmeasure.scale.test_lens import META, card_photo, true_radial
from ..finmeasure.scale.test_paper import KINDS, SHEET
from ..finmeasure.scale.test_ruler import clicked, error_of

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


def paper_series(count, seed):
    """Square paper of all kinds; 1 mm lines need a nearer photo than bold ones."""
    rng = np.random.default_rng(seed)
    sheets = {kind: square_paper(kind) for kind in KINDS}
    series = Series()
    for number in range(count):
        sheet, spacing = sheets[KINDS[number % 4]]
        camera = random_camera(rng, SHEET, fill=(1.3, 1.7) if spacing == 1 else (0.8, 1.6))
        conditions = random_conditions(rng, camera, SHEET, blur_px=(0.7, 1.5))
        pixels = draw(sheet, 16.0, camera, conditions)
        ends = random_lengths_mm(rng, SHEET, camera=camera)
        scale = find_scale(as_photo(pixels), ScaleRequest(square_mm=spacing))
        if scale:
            series.add(scale, length_errors(scale, camera, ends))
        else:
            series.refused += 1
    return series


def test_square_paper():
    series = paper_series(300, 300)
    write("paper", [*HEAD, series.row("square paper, 1, 5, 10, 5 + 10 mm")])
    assert np.median(series.rms) <= 0.0006
    assert max(series.rms) <= 0.0035
    assert series.gross == 0
    assert series.coverage()[1] >= 0.93


def ruler_series(count, seed):
    rng = np.random.default_rng(seed)
    sheet, series, two_clicks = ruler_sheet(), Series(), Series()
    for number in range(count):
        camera = Camera(
            distance_mm=rng.uniform(190, 250),
            tilt_deg=rng.uniform(0, 25),
            tilt_direction_deg=rng.uniform(0, 360),
            roll_deg=rng.uniform(-40, 220),
            radial=float(rng.choice([-0.1, -0.04, 0.0, 0.05])),
            aim_mm=(80 + rng.normal(0, 5), 12 + rng.normal(0, 15)),
        )
        conditions = Conditions(
            blur_px=rng.uniform(0.7, 2.0), noise=rng.uniform(2, 8), jpeg=85, background=130.0,
            seed=number,
        )  # fmt: skip
        ruler, length_mm = clicked(camera, flip=bool(number % 2))
        scale = find_scale(
            as_photo(draw(sheet, 16.0, camera, conditions)), ScaleRequest(ruler=ruler)
        )
        if scale:
            series.add(scale, np.array([error_of(scale, ruler, length_mm)]))
        else:
            series.refused += 1
        ends = np.array([ruler.x1_px, ruler.y1_px, ruler.x2_px, ruler.y2_px])
        marked = ends + rng.normal(0, 1.0, 4)
        plain = find_scale(
            as_photo(np.zeros((9, 9, 3), np.uint8)), ScaleRequest(bar=Bar(*marked, length_mm))
        )
        two_clicks.add(plain, np.array([error_of(plain, ruler, length_mm)]))
    return series, two_clicks


def test_ruler_and_bar():
    series, two_clicks = ruler_series(300, 400)
    lines = [*HEAD, series.row("ruler, all ticks"), two_clicks.row("bar, two clicks of 1 px")]
    write("ruler", lines)
    assert np.median(series.rms) <= 0.0018
    assert max(series.rms) <= 0.013
    assert series.gross == 0
    assert series.coverage()[1] >= 0.93


def test_lens_calibration():
    """Small cards half hidden by a fish, before a bending lens, without and with a calibration."""
    rng = np.random.default_rng(600)
    lens = lens_from([SeenRadial(true_radial(), 0.001)] * 5, META)
    series = {(): Series(), (lens,): Series()}
    for _ in range(300):
        pixels, camera = card_photo(rng, "ID1", 6.0, hidden=True, roll_deg=180,
                                    shift_px=rng.uniform(-1, 1, 2) * [550, 350])  # fmt: skip
        ends = random_lengths_mm(rng, card_design("window", "ID1"), camera=camera)
        photo = as_photo(pixels, camera=META.camera, focal_35mm=META.focal_35mm)
        for lenses, one in series.items():
            scale = find_scale(photo, ScaleRequest(lenses=lenses))
            if scale:
                one.add(scale, length_errors(scale, camera, ends))
            else:
                one.refused += 1
    plain, known = series.values()
    write("lens", [*HEAD, plain.row("half hidden ID-1 card"), known.row("same, lens calibrated")])
    assert known.gross == 0
    assert np.mean(known.rms) < np.mean(plain.rms)
    assert known.coverage()[2] >= 0.93


def test_speed_of_twelve_megapixels():
    """Processor time of one 12-megapixel photo on one core, decoding not counted."""
    rng = np.random.default_rng(5)
    lines = ["| reference | ms, median of 5 |", "|---|---|"]
    size = {"width": 4000, "height": 3000}
    sheet, spacing = square_paper("5+10")
    cases = {
        "window card": ("window", ScaleRequest()),
        "squares card": ("squares", ScaleRequest()),
        "square paper": (None, ScaleRequest(square_mm=spacing)),
        "no card in the photo": ("none", ScaleRequest()),
    }
    for name, (kind, request) in cases.items():
        design = SHEET if kind in (None, "none") else card_design(kind, "A5")
        camera = random_camera(rng, design, fill=(0.8, 0.9), **size)
        conditions = random_conditions(rng, camera, design)
        if kind is None or kind == "none":
            pixels = draw(sheet, 16.0, camera, conditions)
        else:
            pixels = draw_card(kind, "A5", camera, conditions)
        photo, spent = as_photo(pixels), []
        for _ in range(5):
            started = time.process_time()
            find_scale(photo, request)
            spent.append(1000 * (time.process_time() - started))
        lines.append(f"| {name} | {np.median(spent):.0f} |")
    write("speed", lines)
