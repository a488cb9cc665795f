"""How well fin edges are measured: accuracy, detection and coverage on drawn fins.

Truth is the drawn margin, closed by shapely's polygon offsets (an independent second way), and the
drawing's own lengths and areas. Tables go to docs/method/fin_edges.md between the markers.
"""

from dataclasses import replace
from pathlib import Path
from time import process_time

import cv2
import numpy as np
import pytest
import shapely
from scipy.stats import beta

from finmeasure.drawing.damage import Damage
from finmeasure.fins.change import fin_erosion
from finmeasure.fins.smoothing import resample
from finmeasure.landmarks.scheme import body_forms

from ..finmeasure.fins import conftest as drawn_fins

pytestmark = pytest.mark.benchmark
PAGE = Path(__file__).parents[2] / "docs" / "method" / "fin_edges.md"
KINDS = drawn_fins.SMOOTH_KINDS
LENGTHS_PX = (100.0, 150.0, 200.0, 400.0)
QUALITIES = {"good": drawn_fins.GOOD, "poor": drawn_fins.POOR}
COLUMNS = [(quality, length) for quality in QUALITIES for length in LENGTHS_PX]
# Kind of damage, depth as a share of the fin's length, width at the margin in mm (10 mm fins).
DAMAGES = {
    "whole": (), "bite .03": ("bite", 0.03, 0.0), "bite .05": ("bite", 0.05, 0.0),
    "bite .10": ("bite", 0.10, 0.0), "bite .15": ("bite", 0.15, 0.0),
    "wide slit": ("slit", 0.12, 0.45), "thin slit": ("slit", 0.15, 0.18),
}  # fmt: skip
BITES = ("bite .05", "bite .10", "bite .15")
REPEATS = {"whole": 6, "bite .05": 4, "thin slit": 4}
# Own hollows on the margin: free spine tips, and the step behind a drawn-out ray.
UNEVEN_KINDS = ("lobed", "long_rayed")
UNEVEN_COLUMNS = (("good", 100.0), ("good", 200.0), ("good", 400.0), ("poor", 200.0))
UNEVEN_FINS = 4
NATURAL = {"forked": "caudal_fork", "lobed": "dorsal_dip"}


@pytest.fixture(autouse=True)
def one_thread():
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


def share_of_base(kind, width_mm, at):
    """Share of the base that a slit of this width at the margin takes."""
    small = replace(drawn_fins.GOOD, length_px=60)
    drawn = drawn_fins.draw_fin_photo(drawn_fins.fin_spec(kind), small, np.random.default_rng(0))
    tips = drawn.true_mm(drawn.whole_margin_px)[23:-23]
    place = int(at * (len(tips) - 1))
    low, high = max(place - 8, 0), min(place + 8, len(tips) - 1)
    run = np.hypot(*np.diff(tips[low : high + 1], axis=0).T).sum()
    return width_mm * (high - low) / (len(tips) - 1) / run


def placed(kind, plans, rng):
    """Damages at random places, clear of the edges and of the fork."""
    found = []
    for what, depth, width_mm in plans:
        at = float(rng.uniform(0.15, 0.38) if rng.random() < 0.5 else rng.uniform(0.62, 0.85))
        width = share_of_base(kind, width_mm, at) if width_mm else 0.02
        found.append(Damage(what, at, depth, width))
    return tuple(found)


def one(kind, plans, view, rng, **changes):
    """One photo: the fin as photographed, what was measured, and the truth of its closing."""
    fin, edge = photographed_and_measured(kind, plans, view, rng, **changes)
    return fin, edge, closing_of(fin, edge)


def photographed_and_measured(kind, plans, view, rng, **changes):
    spec = drawn_fins.fin_spec(kind, damages=placed(kind, plans, rng), **changes)
    fin = drawn_fins.photographed(spec, replace(view, angle_deg=float(rng.uniform(0, 360))), rng)
    return fin, fin.measured(scale=fin.scale())


def closing_of(fin, edge):
    """Truth of a fin's closing, with its natural notch left out."""
    mark = fin.drawn.landmarks.get(NATURAL.get(fin.drawn.spec.kind, ""))
    return drawn_fins.closing_by_shapely(
        fin.drawn.margin_px, fin.length_px, natural=[] if mark is None else [mark],
        least=drawn_fins.least_counted(edge, fin.length_px),
    )  # fmt: skip


def figure(edge, name):
    return edge.by_id[f"{edge.fin}_{name}"]


def found(edge):
    """Notches and splits together."""
    return int(figure(edge, "notch_count").value + figure(edge, "split_count").value)


def coverage(inside):
    """Observed share and its 95 % limits (Clopper and Pearson), %."""
    hits, tries = int(np.sum(inside)), len(inside)
    low = beta.ppf(0.025, hits, tries - hits + 1) if hits else 0.0
    high = beta.ppf(0.975, hits + 1, tries - hits) if hits < tries else 1.0
    return 100 * hits / tries, 100 * low, 100 * high


def write_table(name, lines):
    """Replace the text between two markers of the page."""
    start, stop = f"<!-- {name} -->", f"<!-- end {name} -->"
    before, rest = PAGE.read_text(encoding="utf-8").split(start)
    after = rest.split(stop)[1]
    text = "\n".join(lines)
    PAGE.write_text(f"{before}{start}\n\n{text}\n\n{stop}{after}", encoding="utf-8")


def medium_view(rng, longest_px=500):
    """Good to medium photos, 100 px per fin length and more."""
    return replace(
        drawn_fins.GOOD, length_px=float(np.exp(rng.uniform(np.log(100), np.log(longest_px)))),
        blur_px=float(rng.uniform(0.6, 1.6)), noise=float(rng.uniform(2, 6)),
        contrast=float(rng.uniform(40, 90)), jpeg_quality=int(rng.integers(75, 96)),
    )  # fmt: skip


@pytest.fixture(scope="module")
def runs():
    """Every kind, damage, size and quality: (edge, truth, edge of the true margin) by cell."""
    rng = np.random.default_rng(31)
    cells = {(*column, name): [] for column in COLUMNS for name in DAMAGES}
    for (quality, length, name), cell in cells.items():
        view = replace(QUALITIES[quality], length_px=length)
        plans = (DAMAGES[name],) if DAMAGES[name] else ()
        for kind in KINDS * REPEATS.get(name, 2):
            fin, edge, true = one(kind, plans, view, rng)
            cell.append((edge, true, fin.true_edge()))
    return cells


def rms_error(runs, name, names):
    """Row of root mean square errors over all kinds and damages."""
    truth = "area" if name == "notch_area" else "depth"
    for column in COLUMNS:
        errors = [
            figure(edge, name).value - getattr(true, truth)
            for damage in names for edge, true, _ in runs[(*column, damage)]
        ]  # fmt: skip
        yield f"{np.sqrt(np.mean(np.square(errors))):.2f}"


def against_own(runs, name, names, summary):
    """Row of what the photo alone adds: errors against the same figure of the true margin."""
    for column in COLUMNS:
        errors = [
            figure(edge, name).value - figure(own, name).value
            for damage in names for edge, _, own in runs[(*column, damage)]
        ]  # fmt: skip
        yield f"{summary(errors):.2f}"


def rms(errors):
    return np.sqrt(np.mean(np.square(errors)))


def spread_of_lengths(runs, of):
    """Row of the scatter of a length by standard length, % of the value, clicks included."""
    for column in COLUMNS:
        errors = [of(edge) / of(own) - 1 for edge, _, own in runs[(*column, "whole")]]
        yield f"{100 * np.std(errors):.2f}"


def grossly_wrong(runs):
    """Row of outlines whose area is off by more than a tenth."""
    for column in COLUMNS:
        off = [
            abs(polygon_area(edge) / polygon_area(own) - 1) > 0.1
            for name in DAMAGES for edge, _, own in runs[(*column, name)]
        ]  # fmt: skip
        yield f"{100 * np.mean(off):.1f} %"


def polygon_area(edge):
    return shapely.Polygon(edge.margin_px).area


def share(runs, names, hit):
    """Row of shares of photos."""
    for column in COLUMNS:
        hits = [hit(edge, true) for damage in names for edge, true, _ in runs[(*column, damage)]]
        yield f"{100 * np.mean(hits):.0f} %"


def has_split(edge, _true):
    return any(notch.kind == "split" for notch in edge.notches)


def test_accuracy_and_detection(runs):
    slit, thin = ("wide slit",), ("thin slit",)
    rows = {
        "notch area, rms error, bites (percent points)": rms_error(runs, "notch_area", BITES),
        "notch area, rms error, slits 0.45 mm": rms_error(runs, "notch_area", slit),
        "notch depth, rms error, bites (% S)": rms_error(runs, "notch_depth", BITES),
        "notch depth, rms error, slits 0.45 mm (% S)": rms_error(runs, "notch_depth", slit),
        "the photo alone: notch area, bites": against_own(runs, "notch_area", BITES, rms),
        "the photo alone: notch depth, bites (% S)": against_own(runs, "notch_depth", BITES, rms),
        "the photo alone: notch area, slits 0.45 mm": against_own(runs, "notch_area", slit, rms),
        "median error of depth, slits 0.45 mm (% S)": against_own(
            runs, "notch_depth", slit, np.median),
        "median error of depth, slits 0.18 mm (% S)": against_own(
            runs, "notch_depth", thin, np.median),
        "ray profile by standard length, sd (%)": spread_of_lengths(
            runs, lambda edge: edge.profile.mean_to_sl),
        "relative length, sd (%)": spread_of_lengths(
            runs, lambda edge: figure(edge, "relative_length").value),
        "outline's area off by a tenth": grossly_wrong(runs),
        "count wrong, bites and slits 0.45 mm": share(
            runs, (*BITES, *slit), lambda edge, true: found(edge) != true.count),
        "false notch on a whole margin": share(runs, ("whole",), lambda edge, _: found(edge) > 0),
        **{f"{name} found": share(runs, (name,), lambda edge, _: found(edge) > 0)
           for name in DAMAGES if name != "whole"},
        "slit 0.45 mm called a split": share(runs, slit, has_split),
        "bite called a split": share(runs, BITES, has_split),
    }  # fmt: skip
    heads = " | ".join(f"{quality} {length:.0f} px" for quality, length in COLUMNS)
    lines = [f"| | {heads} |", "|---" * (len(COLUMNS) + 1) + "|"]
    lines += [f"| {title} | {' | '.join(cells)} |" for title, cells in rows.items()]
    write_table("accuracy", lines)
    for length in LENGTHS_PX:
        assert not any(found(edge) for edge, *_ in runs["good", length, "whole"])
        for name in BITES:
            assert all(found(edge) for edge, *_ in runs["good", length, name])


def deepest_place(fin):
    """Where the true margin lies deepest inside the whole one."""
    whole = shapely.LineString(fin.drawn.whole_margin_px)
    away = shapely.distance(shapely.points(fin.drawn.margin_px), whole)
    return fin.drawn.margin_px[np.argmax(away)]


def is_found_at(edge, place, length_px):
    """Whether a counted notch ends within a twentieth of the fin's length of a place."""
    return any(np.hypot(*(n.deepest_px - place)) < 0.05 * length_px for n in edge.notches)


def is_flagged(edge):
    return bool({"free_tips", "broad_hollow"} & set(figure(edge, "notch_area").flags))


def told_of_spines(fin):
    """The same fin measured as that of a body form whose dorsal has free spine tips."""
    form = next(form for form in body_forms().values() if "dorsal" in form.free_tips)
    told = replace(fin, reading=replace(fin.reading, body_form=form.id))
    return told.measured(scale=fin.scale())


def test_fins_with_hollows_of_their_own():
    """Lobed fins with free spine tips, and fins with one drawn-out ray: flagged, never judged."""
    rng = np.random.default_rng(58)
    heads = ("fin", "photo", "whole: own hollows counted", "of these flagged by the outline alone",
             "and where the body form is told", "bite .05 found",
             "bite .10 found", "notch area, rms error", "notch depth, rms error")  # fmt: skip
    lines = [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    for kind in UNEVEN_KINDS:
        for quality, length in UNEVEN_COLUMNS:
            view = replace(QUALITIES[quality], length_px=length)
            whole = [photographed_and_measured(kind, (), view, rng) for _ in range(UNEVEN_FINS)]
            counted = [fin for fin, edge in whole if found(edge)]
            flagged = [is_flagged(edge) for _, edge in whole if found(edge)]
            told = [is_flagged(told_of_spines(fin)) for fin in counted]
            hits, errors = {"bite .05": [], "bite .10": []}, []
            for name, cell in hits.items():
                for _ in range(UNEVEN_FINS):
                    fin, edge, true = one(kind, (DAMAGES[name],), view, rng)
                    cell.append(is_found_at(edge, deepest_place(fin), fin.length_px))
                    errors.append([figure(edge, "notch_area").value - true.area,
                                   figure(edge, "notch_depth").value - true.depth])  # fmt: skip
            area, depth = np.sqrt(np.mean(np.square(errors), axis=0))
            lines.append(
                f"| {kind.replace('_', '-')} | {quality} {length:.0f} px "
                f"| {len(counted)} of {UNEVEN_FINS} | {sum(flagged)} of {len(counted)} "
                f"| {sum(told)} of {len(counted)} | {sum(hits['bite .05'])} of {UNEVEN_FINS} "
                f"| {sum(hits['bite .10'])} of {UNEVEN_FINS} "
                f"| {area:.2f} | {depth:.2f} % S |"
            )
            assert all(told)
    write_table("uneven", lines)


def random_plans(rng):
    """One or two bites or slits of random size."""
    return tuple(
        ("slit", float(rng.uniform(0.06, 0.2)), float(rng.uniform(0.3, 0.8)))
        if rng.random() < 0.4 else ("bite", float(rng.uniform(0.05, 0.16)), 0.0)
        for _ in range(int(rng.integers(1, 3)))
    )  # fmt: skip


def true_lengths(fin, true):
    """Truth of all figures with an uncertainty."""
    margin = fin.drawn.true_mm(fin.drawn.margin_px)
    reach = np.hypot(*(margin - margin[[0, -1]].mean(axis=0)).T).max()
    return {
        "notch_area": true.area, "notch_depth": true.depth,
        "relative_length": reach / drawn_fins.STANDARD_LENGTH_MM,
        "area": shapely.Polygon(margin).area,
    }  # fmt: skip


def test_coverage():
    """Independent fins, damages, openings, sizes and photos: do the limits hold the truth?"""
    rng = np.random.default_rng(77)
    inside, typical = {}, {}
    for _ in range(300):
        kind = str(rng.choice(KINDS))
        opening = float(rng.uniform(0.85, 1.15))
        fin, edge, true = one(kind, random_plans(rng), medium_view(rng), rng, opening=opening)
        for name, wanted in true_lengths(fin, true).items():
            measure = figure(edge, name)
            inside.setdefault(name, []).append(abs(measure.value - wanted) <= 1.96 * measure.u)
            relative = 1.0 if name.startswith("notch") else 100.0 / wanted
            typical.setdefault(name, []).append(measure.u * relative)
    units = {"notch_area": "percent points", "notch_depth": "% S"}
    lines = ["| figure | fins | covered (95 % limits) | median u |", "|---|---|---|---|"]
    for name, hits in inside.items():
        observed, low, high = coverage(hits)
        lines.append(
            f"| {name} | {len(hits)} | {observed:.1f} % ({low:.1f}–{high:.1f}) "
            f"| {np.median(typical[name]):.2f} {units.get(name, '% of the value')} |"
        )
    write_table("coverage", lines)
    for name, hits in inside.items():
        observed, low, high = coverage(hits)
        assert high >= 93.0, name
        assert name.startswith("notch") or low <= 97.0, name
    assert np.median(typical["notch_area"]) < 0.3
    assert np.median(typical["notch_depth"]) < 1.0


def test_coverage_of_erosion():
    """Pairs of photos: rays shortened by a known share, the fin opened differently."""
    rng = np.random.default_rng(5)
    errors, uncertainties, sectors = [], [], []
    for _ in range(200):
        kind, view = str(rng.choice(KINDS)), medium_view(rng, 400)
        lost = float(rng.uniform(0.0, 0.25))
        profiles = []
        for damages in ((), (Damage("shortening", 0.5, lost),)):
            opening = float(rng.uniform(0.85, 1.15))
            spec = drawn_fins.fin_spec(kind, damages=damages, opening=opening)
            turned = replace(view, angle_deg=float(rng.uniform(0, 360)))
            fin = drawn_fins.photographed(spec, turned, rng)
            profiles.append(fin.measured().profile)
        result = fin_erosion(*profiles, fin=fin.part, own_record=True, posture_u_pct=0.0)
        errors.append(result.measure.value - 100 * lost)
        uncertainties.append(result.measure.u)
        sectors += [abs(each.value - 100 * lost) <= 1.96 * each.u for each in result.sectors]
    inside = np.abs(errors) <= 1.96 * np.array(uncertainties)
    observed, low, high = coverage(inside)
    write_table("erosion", [
        "| pairs | covered (95 % limits) | bias | rms error | median u | sectors covered |",
        "|---|---|---|---|---|---|",
        f"| {len(inside)} | {observed:.1f} % ({low:.1f}–{high:.1f}) | {np.mean(errors):+.2f} "
        f"| {np.sqrt(np.mean(np.square(errors))):.2f} % | {np.median(uncertainties):.2f} % "
        f"| {100 * np.mean(sectors):.1f} % |",
    ])  # fmt: skip
    assert high >= 93.0
    assert low <= 97.0
    assert abs(np.mean(errors)) < 0.5


def test_hand_traced_margins():
    """Margins clicked point by point at 200 px per fin length."""
    rng = np.random.default_rng(12)
    lines = ["| a point every | click sd | false notch | bite .05 | bite .10 found | refused |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    for step_px, click_px in ((5, 0.7), (10, 0.7), (10, 1.0), (10, 2.0), (20, 1.0), (20, 1.5)):
        cells, refused = [], set[str]()
        for name in ("whole", "bite .05", "bite .10"):
            plans = (DAMAGES[name],) if DAMAGES[name] else ()
            hits = []
            for kind in KINDS * 3:
                view = replace(drawn_fins.GOOD, length_px=200.0)
                fin, _, _ = one(kind, plans, view, rng)
                points = resample(fin.drawn.margin_px, step_px)
                points[1:-1] += rng.normal(0, click_px, points[1:-1].shape)
                edge = fin.measured(points)
                if reason := figure(edge, "notch_count").reason:
                    refused.add(f"{kind}: {reason}")
                else:
                    hits.append(found(edge) > 0)
            cells.append(f"{100 * np.mean(hits):.0f} %")
        why = "; ".join(sorted(refused)) or "none"
        lines.append(f"| {step_px} px | {click_px} px | {' | '.join(cells)} | {why} |")
    write_table("traced", lines)


def milliseconds(do, *given):
    """Result and the processor time it took."""
    start = process_time()
    result = do(*given)
    return result, 1000 * (process_time() - start)


def yardstick():
    """An exact distance transform of a million pixels: what any machine needs for it."""
    half = np.zeros((1000, 1000), np.uint8)
    half[300:700, 300:700] = 1
    return cv2.distanceTransform(half, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)


def test_time_per_fin():
    """Processor time to follow one fin's edge, blur undone, and to measure it."""
    rng = np.random.default_rng(41)
    heads = ("pixels per fin length", "edge followed", "measured", "together",
             "of one exact distance transform of 1 MP")  # fmt: skip
    lines = [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    for length in (100.0, 200.0, 400.0):
        times, unit = [], []
        for kind in KINDS * 4:
            plans = (DAMAGES["bite .10"], DAMAGES["wide slit"])
            spec = drawn_fins.fin_spec(kind, damages=placed(kind, plans, rng))
            fin = drawn_fins.photographed(spec, replace(QUALITIES["good"], length_px=length), rng)
            line, followed = milliseconds(fin.traced)
            times.append((followed, milliseconds(fin.measured, line)[1]))
            unit.append(milliseconds(yardstick)[1])
        followed, measured = np.median(times, axis=0)
        both = np.median(np.sum(times, axis=1))
        ratio = both / np.median(unit)
        lines.append(
            f"| {length:.0f} | {followed:.0f} ms | {measured:.0f} ms | {both:.0f} ms "
            f"| {ratio:.1f} times |"
        )
        assert ratio < 15.0
    write_table("time", lines)
