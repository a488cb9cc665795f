"""Change, erosion, rate and days to whole over drawn series. Writes docs/method/regrowth.md."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from finmeasure.drawing.damage import Damage
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import careful_reading, traced_edge
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.variation import posed, resized, varied, with_fin
from finmeasure.fins.records import BASE_POINTS
from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.record import PhotoMetadata
from finmeasure.scale.calibration import Scale
from finmeasure.study.records import FishResult, PhotoResult, ReferenceRow
from finmeasure.study.store import Study
from finmeasure.timeseries.change import posture_spread
from finmeasure.timeseries.same_fish import likely_pairs

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "method" / "regrowth.md"
_spec = importlib.util.spec_from_file_location(
    "drawn_series", ROOT / "tests" / "finmeasure" / "timeseries" / "drawn_series.py"
)
drawn = importlib.util.module_from_spec(_spec)
sys.modules["drawn_series"] = drawn
_spec.loader.exec_module(drawn)

pytestmark = pytest.mark.benchmark
SERIES = 400
CASES = {
    "6 visits, no dip": ({"shed_day": 0.0}, (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)),
    "6 visits, dip": ({"shed": 0.10}, (0.0, 4.0, 8.0, 14.0, 20.0, 30.0)),
    "10 visits, dip": ({"shed": 0.10}, tuple(float(day) for day in range(0, 40, 4))),
}


def write(name, lines):
    """Put a table between its markers in the page."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- {name} -->\n", f"<!-- end {name} -->"
    before, _, rest = page.partition(start)
    _, _, after = rest.partition(end)
    PAGE.write_text(before + start + "\n".join(lines) + "\n" + end + after, encoding="utf-8")


def share(hits):
    """Observed coverage with its 95 % limits (Clopper–Pearson), percent."""
    hits = np.asarray(hits, bool)
    limits = stats.binomtest(int(hits.sum()), hits.size).proportion_ci(0.95)
    return f"{100 * hits.mean():.1f} ({100 * limits.low:.1f}–{100 * limits.high:.1f})"


def inside(interval, true):
    return interval[0] <= true <= interval[1]


def outcomes(options, days, rng):
    """One series per entry: errors and hits of every figure."""
    found = {
        name: [] for name in ("bias_c", "bias_e", "change", "erosion", "rate", "days", "known")
    }
    for _ in range(SERIES):
        course = drawn.Course(missing=rng.uniform(0.12, 0.35), rate=rng.uniform(0.04, 0.12),
                              growth=rng.uniform(0, 0.004), **options)  # fmt: skip
        records = drawn.photos_of(course, rng, days=days)
        own = drawn.Declared(
            kind="own_record", fish="f", visit=drawn.FIRST - drawn.timedelta(days=7)
        )
        series = drawn.fin_series(records)
        # The keeper's first visit is the damaged one; the record before it is the reference only
        (one,) = drawn.judge(series, [own])
        (damaged,) = drawn.judge(drawn.fin_series([r for r in records if r.visit >= drawn.FIRST]))
        last = damaged.last
        true_c = 100 * (course.share(days[-1]) / course.share(0.0) - 1)
        true_e = 100 * (1 - course.share(days[-1]))
        found["bias_c"].append(last.change.percent - true_c)
        found["bias_e"].append(one.last.erosion.percent - true_e)
        found["change"].append(inside(last.change.interval, true_c))
        found["erosion"].append(inside(one.last.erosion.interval, true_e))
        if one.regrowth is None:
            continue
        rate, to_90 = one.regrowth.rate, one.regrowth.days_to[90]
        begin = 7 + max(course.shed_day, 0.0)
        found["rate"].append(inside((rate.low, rate.high), course.rate))
        found["known"].append(to_90.known)
        if to_90.known:
            true_days = begin + np.log(10) / course.rate
            found["days"].append(inside((to_90.low, to_90.high), true_days))
    return found


def test_drawn_series():
    lines = ["| series | bias of change, points | bias of erosion | change | erosion | rate | "
             "days to 90 % | days told |", "|---" * 8 + "|"]  # fmt: skip
    for place, (name, (options, days)) in enumerate(CASES.items()):
        found = outcomes(options, days, np.random.default_rng([8, place]))
        bias = [np.mean(found[key]) for key in ("bias_c", "bias_e")]
        cells = [share(found[key]) for key in ("change", "erosion", "rate", "days")]
        told = f"{100 * np.mean(found['known']):.0f} % of {len(found['known'])}"
        lines.append(f"| {name} | {bias[0]:+.2f} | {bias[1]:+.2f} | {' | '.join(cells)} | {told} |")
        assert max(np.abs(bias)) < 0.5
    write("series", lines)


def test_unchanged_fish():
    """How often an unchanged or only growing fin is called changed, or gets a regrowth curve."""
    rng = np.random.default_rng(81)
    lines = ["| fish | verdicts “changed”, of all intervals | called regrown |", "|---|---|---|"]
    for name, growth, low, high in (
        ("unchanged", 0.0, 1.0, 1.0), ("only growing, exponent 0.9 to 1.1", 0.008, 0.9, 1.1)
    ):  # fmt: skip
        wrong, regrown = [], 0
        for _ in range(SERIES):
            course = drawn.Course(missing=0.0, growth=growth, exponent=rng.uniform(low, high))
            one = drawn.judged_course(course, rng, days=(0.0, 5.0, 10.0, 15.0, 20.0, 30.0))
            wrong += [visit.change_verdict == "changed" for visit in one.visits[1:]]
            regrown += one.regrowth is not None and one.last.loss == "tissue missing"
        lines.append(f"| {name} | {share(wrong)} % | {regrown} of {SERIES} |")
        assert np.mean(wrong) <= 0.05
        assert regrown <= 0.01 * SERIES
    write("unchanged", lines)


def test_which_of_three_photos():
    """Mean, median and most side-on photo on drawn postures that only shorten."""
    rng = np.random.default_rng(82)
    lines = [
        "| of three photos | bias of the change, points | sd | coverage, % |",
        "|---|---|---|---|",
    ]
    rules = {
        "mean": lambda ratio, _: ratio.mean(axis=1),
        "median": lambda ratio, _: np.median(ratio, axis=1),
        "most side-on": lambda ratio, length: ratio[np.arange(len(ratio)), length.argmax(axis=1)],
        "longest fin": lambda ratio, _: ratio.max(axis=1),
    }
    spread = None
    visits = [drawn_postures(rng, 4000) for _ in range(2)]
    pairs = [(ratio, 0.01 * ratio) for ratio in visits[0][0][:300]]
    spread = np.hypot(posture_spread(pairs), 0.01)
    factors = {"mean": np.sqrt(1 / 3), "median": 1.16 * np.sqrt(1 / 3), "most side-on": 1.0,
               "longest fin": np.sqrt(1 / 3)}  # fmt: skip
    later = 0.9
    found = {}
    for name, rule in rules.items():
        first, last = (rule(*visit) for visit in visits)
        # The first visit of the longest rule takes all six photos seen so far, as is often done
        if name == "longest fin":
            first = np.maximum(first, rule(*drawn_postures(rng, 4000)))
        change = 100 * (later * last / first - 1)
        u = 100 * later * spread * factors[name] * np.sqrt(2)
        covered = np.abs(change + 10) <= 1.96 * u
        found[name] = abs(change.mean() + 10)
        lines.append(
            f"| {name} | {change.mean() + 10:+.2f} | {change.std():.2f} | {share(covered)} |"
        )
    write("photos", lines)
    assert found["mean"] < 0.5
    assert found["mean"] < found["longest fin"]


def drawn_postures(rng, count):
    """Ratios and lengths of three photos: yaw and bend shorten body and fin, folding the fin."""
    yaw = np.cos(np.radians(rng.normal(0, 8, (count, 3))))
    bend = 1 - np.abs(rng.normal(0, 0.01, (count, 3)))
    fold = 1 - np.abs(rng.normal(0, 0.02, (count, 3)))
    turned = np.cos(np.radians(rng.normal(0, 8, (count, 3))))  # the fin's own angle to the body
    mark = 1 + rng.normal(0, 0.01, (count, 3))
    length = yaw * bend
    return yaw * turned * fold * mark / length, length


def test_likely_same_fish():
    """Two visits of many groups: four fish seen twice, four at each visit seen once."""
    rng = np.random.default_rng(86)
    lines = [
        "| markings | groups | found again | suggested strangers, of all pairs |",
        "|---|---|---|---|",
    ]
    for kinds in (("spots",), ("blotch", "spots"), ("bars",)):
        pairs = [
            pair for _ in range(12)
            for pair in likely_pairs(*drawn.two_visits(kinds, rng))
        ]  # fmt: skip
        same = [pair.earlier.fish == pair.later.fish for pair in pairs]
        hits = sum(pair.suggested and true for pair, true in zip(pairs, same, strict=True))
        wrong = sum(pair.suggested and not true for pair, true in zip(pairs, same, strict=True))
        lines.append(
            f"| {' and '.join(kinds)} | 12 | {hits} of {sum(same)} | {wrong} of "
            f"{len(pairs) - sum(same)} |"
        )
        assert wrong <= 0.05 * max(hits, 1)
    write("same", lines)


def photo_result(spec, rng, *, fish, visit, number):
    """One full drawn photo of a fish, marked and traced by hand, as the batch records it."""
    view = View(1000, 640, px_per_mm=20.0, fish_angle_deg=float(rng.normal(0, 5)))
    photo = draw_photo(posed(spec, rng), view, np.random.default_rng([84, number]))
    marked = careful_reading(photo, rng, fish=fish)
    edge = traced_edge(marked.outlines["caudal"].points_px, rng)
    # A person traces from one marked base point to the other.
    edge[0], edge[-1] = (marked.point(name) for name in BASE_POINTS["caudal"])
    reading = replace(
        marked, outlines={"caudal": replace(marked.outlines["caudal"], points_px=edge)}
    )
    scale = Scale("known", np.diag([1 / 20.0, 1 / 20.0, 1.0]), 0.001, True, (0.0, 0.0))
    measures = measure_reading(reading, scale, size_px=(1000, 640)).rows
    result = FishResult(reading, measures, side="left", visit=visit, group="tank", confirmed=True)
    return PhotoResult(
        photo=f"{visit}_{fish}_{number}.jpg", sha256=f"{number:064}", state="measured",
        given_digest="g", metadata=PhotoMetadata(1000, 640), scale=scale, fish=(result,),
    )  # fmt: skip


def full_chain(folder, later_of, rng, place):
    """Study of PAIRS fish: whole on the first day, something else ten days later."""
    with Study.open(folder, create=True) as study:
        for number in range(PAIRS):
            fish, whole = f"fish {number}", varied(BASE, rng)
            days = (drawn.FIRST, whole), (drawn.FIRST + drawn.timedelta(days=10), later_of(whole))
            for turn, (day, spec) in enumerate([each for each in days for _ in range(PHOTOS)]):
                mark = (place * PAIRS + number) * 2 * PHOTOS + turn
                study.record_photo_result(
                    photo_result(spec, rng, fish=fish, visit=day, number=mark)
                )
            study.declare_reference(ReferenceRow(
                "own_record", fin="caudal", fish=fish,
                document={"visits": [drawn.FIRST.isoformat()]},
            ))  # fmt: skip
        return [one for one in study.change_over_time().judged if one.series.fin == "caudal"]


PAIRS, PHOTOS = 40, 2
BASE = with_fin(
    resized(random_spec(np.random.default_rng(23), body_form="plain"), 28.0),
    "caudal", length_mm=8.0, kind="forked", depth=0.3,
)  # fmt: skip
SHORTER = (Damage("shortening", depth=0.15),)
CHANGES = {
    "15 % shorter": (lambda fish: with_fin(fish, "caudal", damages=SHORTER), -15.0),
    "unchanged": (lambda fish: fish, 0.0),
    "opened 15 % wider": (lambda fish: with_fin(fish, "caudal", opening=1.15), 0.0),
    "closed by 15 %": (lambda fish: with_fin(fish, "caudal", opening=0.85), 0.0),
    "grown by 15 %": (lambda fish: resized(fish, fish.standard_length_mm * 1.15), 0.0),
}  # fmt: skip


def test_full_drawn_photos(tmp_path):
    """Whole drawn fish from pixels and hand marks through the study to change and erosion."""
    lines = [
        "| the same fish later | true change, % | mean of the pairs | sd | change covered | "
        "erosion covered | called changed |",
        "|---" * 7 + "|",
    ]
    errors = []
    for place, (name, (later_of, true)) in enumerate(CHANGES.items()):
        rng = np.random.default_rng([83, place])
        last = [one.last for one in full_chain(tmp_path / str(place), later_of, rng, place)]
        assert len(last) == PAIRS
        changes = np.array([visit.change.percent for visit in last])
        cells = [
            share([inside(visit.change.interval, true) for visit in last]),
            share([inside(visit.erosion.interval, -true) for visit in last]),
        ]
        mean, sd = changes.mean(), changes.std(ddof=1)
        called = sum(visit.change_verdict == "changed" for visit in last)
        lines.append(
            f"| {name} | {true:+.0f} | {mean:+.1f} ± {sd / np.sqrt(PAIRS):.1f} | {sd:.1f} "
            f"| {' | '.join(cells)} | {called} of {PAIRS} |"
        )
        errors.append(mean - true)
        if true == 0.0:
            assert called <= 0.05 * PAIRS
    write("full", lines)
    assert abs(errors[0]) < 0.5
