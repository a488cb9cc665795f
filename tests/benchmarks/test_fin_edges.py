"""How well fin edges are measured: accuracy, detection and coverage on drawn fins.

Truth is the drawn margin, closed by shapely's polygon offsets (an independent second way).
Tables go to docs/method/fin_edges.md between the markers.
"""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from scipy.stats import beta

from finmeasure.drawing.damage import Damage
from finmeasure.fins.change import fin_erosion

from ..finmeasure.fins import conftest as drawn_fins

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "method" / "fin_edges.md"
pytestmark = pytest.mark.benchmark
LENGTHS_PX = (50.0, 100.0, 200.0, 400.0)
QUALITIES = {"good": drawn_fins.GOOD, "poor": drawn_fins.POOR}
REPEATS = 2
DAMAGES = {
    "whole": (), "whole again": (), "whole once more": (),
    "bite .05": (("bite", 0.05, 0.0),), "bite .10": (("bite", 0.10, 0.0),),
    "bite .15": (("bite", 0.15, 0.0),),
    "wide slit": (("slit", 0.12, 0.45),), "thin slit": (("slit", 0.15, 0.18),),
}  # fmt: skip


@pytest.fixture(autouse=True)
def one_thread():
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


def share_of_base(kind, width_mm, at):
    """Share of the base that a slit of this width at the margin takes."""
    spec = drawn_fins.fin_spec(kind, damages=())
    drawn = drawn_fins.draw_fin_photo(
        spec, replace(drawn_fins.GOOD, length_px=60), np.random.default_rng(0)
    )
    margin = drawn.true_mm(drawn.whole_margin_px)
    tips = margin[23:-23]
    place = int(at * (len(tips) - 1))
    low, high = max(place - 8, 0), min(place + 8, len(tips) - 1)
    run = np.hypot(*np.diff(tips[low : high + 1], axis=0).T).sum()
    return width_mm * (high - low) / (len(tips) - 1) / run


def damages_of(kind, plan, rng):
    """Place the planned damages at random, clear of edges and of the fork."""
    found = []
    for what, depth, width_mm in plan:
        at = float(rng.uniform(0.15, 0.38) if rng.random() < 0.5 else rng.uniform(0.62, 0.85))
        width = share_of_base(kind, width_mm, at) if width_mm else 0.02
        found.append(Damage(what, at, depth, width))
    return tuple(found)


def one(kind, plan, view, rng, **changes):
    """One photo measured, with the truth beside it."""
    spec = drawn_fins.fin_spec(kind, damages=damages_of(kind, plan, rng), **changes)
    view = replace(view, angle_deg=float(rng.uniform(0, 360)))
    fin = drawn_fins.photographed(spec, view, rng)
    edge = fin.measured()
    least = max(0.03, 2.5 / fin.length_px)
    true = drawn_fins.closing_by_shapely(
        fin.drawn.margin_px, fin.length_px, natural=drawn_fins.fork_of(fin.drawn), least=least
    )
    return fin, edge, true


def figures(fin, edge):
    """Notch area, depth (values and u), and the number of notches and splits together."""
    found = edge.by_id
    area, depth = found[f"{fin.part}_notch_area"], found[f"{fin.part}_notch_depth"]
    if area.state != "measured":
        notches = edge.notches
        return None, None, len(notches)
    count = found[f"{fin.part}_notch_count"].value + found[f"{fin.part}_split_count"].value
    return area, depth, int(count)


def coverage(inside):
    """Observed share and its 95 % limits (Clopper and Pearson), %."""
    hits, tries = int(np.sum(inside)), len(inside)
    low = beta.ppf(0.025, hits, tries - hits + 1) if hits else 0.0
    high = beta.ppf(0.975, hits + 1, tries - hits) if hits < tries else 1.0
    return 100 * hits / tries, 100 * low, 100 * high


def write_table(name, lines):
    """Replace the text between two markers of the page."""
    start, stop = f"<!-- {name} -->", f"<!-- end {name} -->"
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(start)
    after = rest.split(stop)[1]
    PAGE.write_text(f"{before}{start}\n" + "\n".join(lines) + f"\n{stop}{after}", encoding="utf-8")


@pytest.fixture(scope="module")
def runs():
    """Every kind, damage, size and quality, several times."""
    rng = np.random.default_rng(31)
    found = {}
    for quality, view in QUALITIES.items():
        for length in LENGTHS_PX:
            for name, plan in DAMAGES.items():
                cell = found.setdefault((quality, length, name.split(" ")[0] if "whole" in name
                                         else name), [])  # fmt: skip
                for kind in drawn_fins.SMOOTH_KINDS:
                    for _ in range(REPEATS):
                        fin, edge, true = one(kind, plan, replace(view, length_px=length), rng)
                        area, depth, count = figures(fin, edge)
                        cell.append((area, depth, count, true, edge))
    return found


def test_accuracy_and_detection(runs):
    columns = [(quality, length) for quality in QUALITIES for length in LENGTHS_PX]
    head = "| | " + " | ".join(f"{quality} {length:.0f} px" for quality, length in columns) + " |"
    lines = [head, "|" + "---|" * (len(columns) + 1)]

    def row(title, cell_of):
        cells = [cell_of(*column) for column in columns]
        lines.append(f"| {title} | " + " | ".join(cells) + " |")

    def rms(names, which):
        def cell(quality, length):
            errors = [
                (run[which].value - (run[3].area if which == 0 else run[3].depth))
                for name in names
                for run in runs[quality, length, name]
                if run[0] is not None
            ]
            return f"{np.sqrt(np.mean(np.square(errors))):.2f}" if errors else "refused"

        return cell

    def share(names, hit):
        def cell(quality, length):
            hits = [hit(run) for name in names for run in runs[quality, length, name]
                    if run[0] is not None]  # fmt: skip
            return f"{100 * np.mean(hits):.0f} %" if hits else "refused"

        return cell

    bites = ("bite .05", "bite .10", "bite .15")
    row("notch area, rms error, bites (percent points)", rms(bites, 0))
    row("notch area, rms error, wide slits", rms(("wide slit",), 0))
    row("notch depth, rms error, bites (% S)", rms(bites, 1))
    row("notch depth, rms error, wide slits (% S)", rms(("wide slit",), 1))
    row("count wrong, bites and wide slits",
        share((*bites, "wide slit"), lambda run: run[2] != run[3].count))  # fmt: skip
    row("false notch on a whole margin", share(("whole",), lambda run: run[2] > 0))
    for name in (*bites, "wide slit", "thin slit"):
        row(f"{name}: found", share((name,), lambda run: run[2] > 0))
    row(
        "wide slit: called a split",
        share(("wide slit",), lambda run: any(notch.kind == "split" for notch in run[4].notches)),
    )
    row(
        "bites called a split",
        share(bites, lambda run: any(notch.kind == "split" for notch in run[4].notches)),
    )
    write_table("accuracy", lines)
    for length in LENGTHS_PX[1:]:
        whole = runs["good", length, "whole"]
        assert sum(run[2] > 0 for run in whole) == 0
        for name in bites:
            assert all(run[2] > 0 for run in runs["good", length, name])


def test_coverage():
    """Independent fins, damages, openings, sizes and photos: do the limits hold the truth?"""
    rng = np.random.default_rng(77)
    inside = {"notch_area": [], "notch_depth": [], "relative_length": [], "area": []}
    typical = {name: [] for name in inside}
    for _ in range(300):
        kind = str(rng.choice(drawn_fins.SMOOTH_KINDS))
        plan = tuple(
            (("bite", float(rng.uniform(0.05, 0.16)), 0.0),
             ("slit", float(rng.uniform(0.06, 0.2)), float(rng.uniform(0.3, 0.8))))[
                int(rng.random() < 0.4)]
            for _ in range(int(rng.integers(1, 3)))
        )  # fmt: skip
        view = replace(
            drawn_fins.GOOD, length_px=float(np.exp(rng.uniform(np.log(100), np.log(500)))),
            blur_px=float(rng.uniform(0.6, 1.6)), noise=float(rng.uniform(2, 6)),
            contrast=float(rng.uniform(40, 90)), jpeg_quality=int(rng.integers(75, 96)),
        )  # fmt: skip
        opening = float(rng.uniform(0.85, 1.15))
        fin, edge, true = one(kind, plan, view, rng, opening=opening)
        scaled = fin.measured(edge_margin(fin), scale=fin.scale())
        found = {**edge.by_id, f"{fin.part}_area": scaled.by_id[f"{fin.part}_area"]}
        truth = {
            "notch_area": true.area, "notch_depth": true.depth,
            "relative_length": true_length_mm(fin) / drawn_fins.STANDARD_LENGTH_MM,
            "area": true_area_mm2(fin),
        }  # fmt: skip
        for name, value in truth.items():
            measure = found[f"{fin.part}_{name}"]
            if measure.value is None:
                continue
            inside[name].append(abs(measure.value - value) <= 1.96 * measure.u)
            typical[name].append(measure.u / (value if name.endswith(("length", "area"))
                                 and not name.startswith("notch") else 1.0))  # fmt: skip
    lines = ["| figure | fins | covered (95 % limits) | median u |", "|---|---|---|---|"]
    units = {"notch_area": "percent points", "notch_depth": "% S",
             "relative_length": "of the value", "area": "of the value"}  # fmt: skip
    for name, hits in inside.items():
        share, low, high = coverage(hits)
        u = np.median(typical[name]) * (1 if name.startswith("notch") else 100)
        unit = units[name] if name.startswith("notch") else "% of the value"
        lines.append(f"| {name} | {len(hits)} | {share:.1f} % ({low:.1f}–{high:.1f}) "
                     f"| {u:.2f} {unit} |")  # fmt: skip
    write_table("coverage", lines)
    for name, hits in inside.items():
        assert coverage(hits)[2] >= 93.0, name


def edge_margin(fin):
    return fin.traced()


def true_length_mm(fin):
    margin = fin.drawn.true_mm(fin.drawn.margin_px)
    return float(np.hypot(*(margin - margin[[0, -1]].mean(axis=0)).T).max())


def true_area_mm2(fin):
    x, y = fin.drawn.true_mm(fin.drawn.margin_px).T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)


def test_coverage_of_erosion():
    """Pairs of photos: rays shortened by a known share, the fin opened differently."""
    rng = np.random.default_rng(5)
    inside, errors, typical, sectors = [], [], [], []
    for _ in range(200):
        kind = str(rng.choice(drawn_fins.SMOOTH_KINDS))
        view = replace(
            drawn_fins.GOOD, length_px=float(np.exp(rng.uniform(np.log(100), np.log(400)))),
            blur_px=float(rng.uniform(0.6, 1.6)), noise=float(rng.uniform(2, 6)),
        )  # fmt: skip
        lost = float(rng.uniform(0.0, 0.25))
        profiles = []
        for damages in ((), (Damage("shortening", 0.5, lost),)):
            spec = drawn_fins.fin_spec(
                kind, damages=damages, opening=float(rng.uniform(0.85, 1.15))
            )
            turned = replace(view, angle_deg=float(rng.uniform(0, 360)))
            fin = drawn_fins.photographed(spec, turned, rng)
            profiles.append(fin.measured().profile)
        result = fin_erosion(
            profiles[0], profiles[1], fin=fin.part, own_record=True, posture_u_pct=0.0
        )
        measure = result.measure
        errors.append(measure.value - 100 * lost)
        inside.append(abs(errors[-1]) <= 1.96 * measure.u)
        typical.append(measure.u)
        sectors += [abs(each.value - 100 * lost) <= 1.96 * each.u for each in result.sectors]
    share, low, high = coverage(inside)
    write_table("erosion", [
        "| pairs | covered (95 % limits) | bias | rms error | median u | sectors covered |",
        "|---|---|---|---|---|---|",
        f"| {len(inside)} | {share:.1f} % ({low:.1f}–{high:.1f}) | {np.mean(errors):+.2f} | "
        f"{np.sqrt(np.mean(np.square(errors))):.2f} % | {np.median(typical):.2f} % | "
        f"{100 * np.mean(sectors):.1f} % |",
    ])  # fmt: skip
    assert coverage(inside)[2] >= 93.0
