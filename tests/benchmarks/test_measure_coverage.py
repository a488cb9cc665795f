"""Do the 95 % limits of every length and ratio hold? Writes docs/method/measures.md."""

import importlib.util
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from finmeasure.measurements.definitions import MEASURES
from finmeasure.measurements.measure import measure_reading

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
