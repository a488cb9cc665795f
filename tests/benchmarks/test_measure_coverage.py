"""Do the 95 % limits of every length and ratio hold? Writes docs/method/measures.md."""

import importlib.util
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from finmeasure.card_design import PAPER_MM
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import draw_photo
from finmeasure.drawing.variation import resized
from finmeasure.drawing.views import random_card_view
from finmeasure.measurements.definitions import MEASURES
from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "method" / "measures.md"
_spec = importlib.util.spec_from_file_location(
    "coverage_of_measures", ROOT / "tests" / "finmeasure" / "measurements" / "coverage.py"
)
coverage = importlib.util.module_from_spec(_spec)
sys.modules["coverage_of_measures"] = coverage
_spec.loader.exec_module(coverage)

pytestmark = pytest.mark.benchmark
PHOTOS = 2000


def write(name, lines):
    """Put a table between its markers in the page."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- {name} -->\n", f"<!-- end {name} -->"
    before, _, rest = page.partition(start)
    _, _, after = rest.partition(end)
    PAGE.write_text(before + start + "\n".join(lines) + "\n" + end + after, encoding="utf-8")


def cell(rows):
    """Coverage with its limits, and the median relative u."""
    inside = sum(hit for hit, _ in rows)
    low, high = coverage.limits(inside, len(rows))
    u_median = 100 * np.median([u for _, u in rows])
    share = 100 * inside / len(rows)
    return f"{share:.1f} ({100 * low:.1f}–{100 * high:.1f}); {u_median:.2g} %", (low, high)


def test_coverage():
    outcomes = [
        coverage.study(case, PHOTOS, seed=2026 + place) for place, case in enumerate(coverage.CASES)
    ]
    head = "| measure | " + " | ".join(case.shown for case in coverage.CASES) + " |"
    lines = [head, "|---" * (len(coverage.CASES) + 1) + "|"]
    missed = []
    for name in MEASURES:
        if not any(name in outcome for outcome in outcomes):
            continue
        cells = []
        for case, outcome in zip(coverage.CASES, outcomes, strict=True):
            if name not in outcome:
                cells.append("–")
                continue
            text, (low, high) = cell(outcome[name])
            cells.append(text)
            if high < 0.93 or low > 0.97:
                missed.append((name, case.shown, text))
        lines.append(f"| {name} | {' | '.join(cells)} |")
    write("coverage", lines)
    assert not missed


def test_table_of_definitions():
    lines = ["| id | shown | unit | formula | plausible | source |", "|---|---|---|---|---|---|"]
    for row in MEASURES.values():
        limits = "" if row.plausible is None else "{:.2g}–{:.2g}".format(*row.plausible)
        cells = (row.id, row.shown, row.unit, row.formula, limits, row.source)
        lines.append(f"| {' | '.join(cells)} |")
    write("definitions", lines)


def test_speed():
    rng = np.random.default_rng(1)
    form, points, _ = coverage.drawn_fish(rng)
    case = coverage.CASES[2]
    pixels = {name: point * 20 + 500 for name, point in points.items()}
    marks = coverage.marked(pixels, case, rng)
    reading = coverage.Reading("1", marks, body_form=form)
    scale = coverage.Scale("window_card", np.diag([0.05, 0.05, 1]), 0.001, True, (0.0, 0.0))
    lines = ["| full set, default u | best ms | median ms |", "|---|---|---|"]
    for shown, given in (("with a card", scale), ("without a scale", None)):
        times = []
        for _ in range(200):
            start = time.perf_counter()
            measure_reading(reading, given, edges=False)
            times.append(1000 * (time.perf_counter() - start))
        lines.append(f"| {shown} | {min(times):.1f} | {np.median(times):.1f} |")
        assert min(times) <= 8
    write("speed", lines)


KINDS = ("plain", "adipose", "cichlid", "livebearer_female", "killifish")
CHAIN_PHOTOS = 300


def photographed(rng):
    """A fish before a window card, side-on and straight, tilt up to 20°, and its body form."""
    kind, paper = str(rng.choice(KINDS)), str(rng.choice(["A6", "ID1"]))
    view = random_card_view(rng, (1600, 1200), paper=paper, largest_tilt_deg=20.0)
    spec = resized(random_spec(rng, body_form=kind), rng.uniform(0.35, 0.55) * PAPER_MM[paper][0])
    drawn = draw_photo(replace(spec, bend_deg=0.0, yaw_deg=0.0), view, rng)
    return drawn, kind.partition("_female")[0]


def chain(rng):
    """Outcomes of one photo: the card found in the pixels, marks jittered by 1 px; or None."""
    drawn, form = photographed(rng)
    height, width = drawn.pixels.shape[:2]
    photo = Photo(drawn.pixels, "0" * 64, PhotoMetadata(width, height))
    region = np.array(list(drawn.landmarks.values()))
    scale = find_scale(photo, ScaleRequest(card="window"), fish_region_px=region)
    if not scale:
        return None
    marks = {
        name: coverage.Landmark(name, *rng.normal(place, 1.0), u_px=1.0)
        for name, place in drawn.landmarks.items()
    }
    reading = coverage.Reading("1", marks, body_form=form)
    base = drawn.lengths_mm["standard_length"]
    ratios = {f"{name}_to_sl": value / base for name, value in drawn.lengths_mm.items()}
    truth = drawn.lengths_mm | ratios
    return {
        row.id: (abs(row.value - truth[row.id]) <= 1.96 * row.u, row.u / truth[row.id])
        for row in measure_reading(reading, scale, size_px=(width, height)).rows
        if row.state == "measured" and row.id in truth
    }


def test_whole_chain_on_drawn_photos():
    cv2.setNumThreads(1)
    rng, outcomes, without, missed = np.random.default_rng(31), {}, 0, []
    for _ in range(CHAIN_PHOTOS):
        found = chain(rng)
        without += found is None
        for name, outcome in (found or {}).items():
            outcomes.setdefault(name, []).append(outcome)
    lines = ["| measure | photos | inside 95 % limits | median u |", "|---|---|---|---|"]
    for name in MEASURES:
        if name in outcomes:
            text, (low, high) = cell(outcomes[name])
            share, u_median = text.split("; ")
            lines.append(f"| {name} | {len(outcomes[name])} | {share} | {u_median} |")
            missed += [name] if high < 0.93 or low > 0.97 else []
    lines += ["", f"Photos in which no scale was found: {without} of {CHAIN_PHOTOS}."]
    write("chain", lines)
    assert without <= 0.1 * CHAIN_PHOTOS
    assert not missed
