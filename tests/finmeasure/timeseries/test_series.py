"""From records to verdicts: rules of reference, odd series, drawn courses with a known truth."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.record import PhotoMetadata
from finmeasure.reading import Landmark, Reading
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study
from finmeasure.timeseries.care import VETERINARIAN, what_to_look_at
from finmeasure.timeseries.change import posture_spread
from finmeasure.timeseries.judge import judge
from finmeasure.timeseries.records import Declared, Happening
from finmeasure.timeseries.remarks import remarks, split_by_date
from finmeasure.timeseries.shoals import group_steps, mixed_descriptions, tank_arms
from finmeasure.timeseries.visits import fin_series

from .drawn_series import FIRST, Course, judged_course, photos_of

DAYS = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)


@pytest.fixture
def rng():
    return np.random.default_rng(20261125)


def test_erosion_needs_a_declared_whole_fin(rng):
    # A box that is eroded all over looks whole against itself: nobody can tell (design).
    course = Course(missing=0.3, rate=1e-9)
    records = [
        record
        for number in range(6)
        for record in photos_of(course, rng, days=DAYS, fish=f"f{number}", own_record=False)
    ]
    for one in judge(fin_series(records)):
        assert one.reference is None
        assert all(visit.erosion is None and visit.loss == "cannot tell" for visit in one.visits)
        assert one.regrowth is None
        assert "no whole fin is on record" in one.regrowth_reason


def test_change_runs_against_the_mean_of_the_first_visit_not_the_longest(rng):
    records = photos_of(Course(missing=0.0), rng, days=(0.0, 5.0), own_record=False)
    (one,) = judge(fin_series(records))
    first = np.mean([r.ratio for r in records if r.visit == FIRST])
    later = np.mean([r.ratio for r in records if r.visit != FIRST])
    assert one.last.change.percent == pytest.approx(100 * (later / first - 1), abs=0.02)


def test_the_own_record_comes_before_mates_and_mates_carry_their_spread(rng):
    fish = photos_of(Course(missing=0.2), rng, days=DAYS)
    mates = [
        record
        for number in range(8)
        for record in photos_of(Course(missing=0.0), rng, days=(0.0,), fish=f"m{number}",
                                whole=0.25 * (1 + rng.normal(0, 0.05)), own_record=False)
    ]  # fmt: skip
    whole_mates = [Declared(kind="healthy_mates", fish=f"m{n}") for n in range(8)]
    own = Declared(kind="own_record", fin="caudal", fish="f", visit=FIRST - timedelta(days=7))
    series = fin_series([*fish, *mates])
    against_mates = next(o for o in judge(series, whole_mates) if o.series.fish == "f")
    against_own = next(o for o in judge(series, [*whole_mates, own]) if o.series.fish == "f")
    assert against_own.reference.own
    assert "8 whole mates of group tank" in against_mates.reference.words
    # Fish differ by 5 %: one whole fish against the mean of eight is uncertain by more than that.
    assert against_mates.visits[1].erosion.u > 4.0 > against_own.visits[1].erosion.u


def test_only_the_same_side_of_paired_fins_is_compared(rng):
    drawn = photos_of(Course(missing=0), rng, days=(0.0, 5.0), own_record=False)
    left = [replace(r, fin="pelvic", method="straight", sectors=()) for r in drawn]
    right = [replace(r, side="right", ratio=r.ratio * 1.5, photo=r.photo + "r") for r in left]
    found = judge(fin_series([*left, *right]))
    assert {one.series.side for one in found} == {"left", "right"}
    assert all(abs(one.last.change.percent) < 8 for one in found)


def test_straight_lengths_are_not_mixed_with_lengths_along_the_rays(rng):
    rays = photos_of(Course(missing=0), rng, days=(0.0, 5.0), own_record=False)
    straight = [replace(r, method="straight", ratio=0.4, sectors=(), photo="s",
                        visit=FIRST + timedelta(days=9)) for r in rays[:1]]  # fmt: skip
    (one,) = judge(fin_series([*rays, *straight]))
    assert len(one.visits) == 2
    assert one.series.method == "rays"


@pytest.mark.parametrize("growth", [0.004, 0.01])
def test_a_fish_that_only_grows_is_never_called_regrown(rng, growth):
    # Exponents of whole fins between 0.9 and 1.1 are on record (facts: Ellis et al. 2009 found
    # negative allometry); growth by up to a third.
    wrong = 0
    for _ in range(60):
        course = Course(missing=0.0, growth=growth, exponent=rng.uniform(0.9, 1.1))
        one = judged_course(course, rng, days=DAYS)
        assert one.regrowth is None
        wrong += any(v.change_verdict == "changed" and v.change.percent > 0 for v in one.visits)
    # 95 % are due; 8 of 60 or more would have probability 0.01.
    assert wrong < 8


def test_drawn_courses_short(rng):
    """Bias and coverage over 40 courses; the long form is in tests/benchmarks/test_regrowth.py."""
    errors, inside, rates = [], [], []
    for _ in range(40):
        course = Course(missing=rng.uniform(0.15, 0.35), rate=rng.uniform(0.05, 0.12), shed_day=0)
        one = judged_course(course, rng, days=DAYS)
        for visit in one.visits[1:]:
            true = 100 * (1 - course.share(visit.visit.value.day - 7))
            errors.append(visit.erosion.percent - true)
            low, high = visit.erosion.interval
            inside.append(low <= true <= high)
        rates.append(one.regrowth.rate.low <= course.rate <= one.regrowth.rate.high)
    assert abs(np.mean(errors)) < 0.5
    assert np.mean(inside) > 0.88
    assert np.sum(rates) >= 34  # binomial: below this has probability 0.01 at 95 %


def test_an_early_dip_is_no_error_and_the_curve_begins_at_the_shortest_visit(rng):
    course = Course(missing=0.15, shed=0.2, shed_day=5.0, rate=0.08)
    one = judged_course(course, rng, days=DAYS, photos=4)
    assert one.visits[2].step_verdict == "changed"
    assert one.visits[2].step.percent < 0
    assert one.regrowth.fit.values["lag"] == pytest.approx(12.0, abs=0.1)  # day 5 + 7 before
    assert one.regrowth.rate.low < 0.08 < one.regrowth.rate.high


def test_rays_begin_where_the_base_is_on_the_mean_of_all_photos(rng):
    drawn = photos_of(Course(missing=0.0), rng, days=(0.0, 5.0), curl=0, mark=0, own_record=False)
    bases = rng.normal(0.02, 0.005, len(drawn))  # clicks of the base's middle scatter
    records = [
        replace(r, ratio=(0.85 if r.visit > FIRST else 1.0) * r.ratio + 0.02,
                sectors=(r.ratio + 0.02,) * 5, base=(base,) * 5)
        for r, base in zip(drawn, bases, strict=True)
    ]  # fmt: skip
    (one,) = judge(fin_series(records))
    whole = drawn[0].ratio + 0.02 - bases.mean()
    gone = 0.15 * drawn[0].ratio
    assert one.last.change.percent == pytest.approx(-100 * gone / whole, abs=0.05)
    assert [part.percent for part in one.last.sector_change] == pytest.approx([0.0] * 5, abs=0.05)


def test_undated_and_future_photos_are_left_out_and_said(rng):
    records = photos_of(Course(missing=0), rng, days=(0.0, 5.0, 400.0), own_record=False)
    records[0] = replace(records[0], visit=None)
    usable, told = split_by_date(records, FIRST + timedelta(days=30))
    assert len(usable) == 5
    assert len(told) == 2
    assert "no date" in told[0]
    assert "future" in told[1]


def _said(records, happenings=(), declared=()):
    return " | ".join(remarks(records, judge(fin_series(records), declared), declared, happenings))


def test_odd_series_are_said_in_plain_words(rng):
    course = Course(missing=0)
    stays = photos_of(course, rng, days=(0.0, 5.0, 10.0), fish="stays", own_record=False)
    gone = photos_of(course, rng, days=(0.0, 5.0), fish="gone", own_record=False)
    died = photos_of(course, rng, days=(0.0,), fish="died", own_record=False)
    shrank = photos_of(course, rng, days=(0.0,), fish="shrank", own_record=False)
    shrank += [replace(r, sl_mm=27.0, camera="B", scale_method="bar", order=-1,
                       visit=FIRST + timedelta(days=10)) for r in shrank]  # fmt: skip
    shrank[0] = replace(shrank[0], camera="A", scale_method="window_card")
    reason = "The anal fin could not be seen."
    hidden = replace(stays[0], fin="anal", ratio=np.nan, u=np.nan, reason=reason)
    death = Happening("tank", "2026-01-03", "death", fish="died")
    said = _said([*stays, *gone, *died, *shrank, hidden], [death])
    assert "1 fish no longer in the series at the last visit, fate not on record: gone" in said
    assert "1 fish died: died" in said
    assert "Fish do not shrink" in said
    assert "another camera" in said
    assert "another scale" in said
    assert "another order" in said
    assert "The anal fin could not be seen" in said
    assert "seen on one day only" in said


def test_fish_named_anew_at_every_visit_did_not_vanish(rng):
    sampled = [
        record
        for day in (0.0, 5.0)
        for record in photos_of(Course(), rng, days=(day,), fish=f"w{day}", own_record=False)
    ]
    said = _said(sampled)
    assert "no longer in the series" not in said
    assert "2 fish (w0.0, w5.0) seen on one day only" in said


def test_two_fish_on_a_photo_of_a_followed_group_are_said(rng):
    followed = photos_of(Course(missing=0), rng, days=(0.0, 5.0), own_record=False)
    both = [replace(followed[0], photo="both.jpg", fish=fish, named=False) for fish in "12"]
    assert "1 photo (both.jpg) with fish that have no name" in _said([*followed, *both])
    assert "no name" not in _said(followed)
    assert "no name" not in _said(both)  # a shoal without names is no mistake


def test_fish_of_two_tanks_with_one_name_are_two_fish(tmp_path):
    """Else the difference of two animals would count as posture, and widen every limit."""
    with Study.open(tmp_path, create=True) as study:
        for number, (tank, day, depth) in enumerate(
            [("a", 1, 20), ("a", 6, 20), ("b", 1, 30), ("b", 6, 30), ("", 6, 20)]
        ):
            marks = {"snout_tip": (0, 0), "caudal_base": (100, 0), "pelvic_origin": (40, 20),
                     "pelvic_tip": (40, 20 + depth), "dorsal_origin": (50, -20)}  # fmt: skip
            marks = {name: Landmark(name, 50.0 + x, 90.0 + y) for name, (x, y) in marks.items()}
            reading = Reading("w1", marks)
            size = (400, 300)
            fish = FishResult(reading, measure_reading(reading, None, size_px=size).rows,
                              side="left", visit=date(2026, 1, day), group=tank,
                              confirmed=True)  # fmt: skip
            study.record_photo_result(
                PhotoResult(photo=f"{number}.jpg", sha256=f"{number:064}", state="measured",
                            given_digest="g", metadata=PhotoMetadata(*size), fish=(fish,))
            )  # fmt: skip
        change = study.change_over_time()
        repeated = study.repeat_frame()
    pelvic = [one for one in change.judged if one.series.fin == "pelvic"]
    assert [one.series.fish for one in pelvic if len(one.visits) == 2] == ["w1 (a)", "w1 (b)"]
    assert all(abs(one.last.change.percent) < 1e-6 for one in pelvic if len(one.visits) == 2)
    assert change.posture["pelvic"] == posture_spread([])  # no photo is a repeat of another
    assert repeated.empty
    assert "1 name (w1) on photos of a, b of one day" in " | ".join(change.remarks)


def test_an_own_record_of_a_treated_fish_is_doubted(rng):
    records = photos_of(Course(), rng, days=DAYS, own_record=False)
    declared = [Declared(kind="own_record", fish="f", visit=FIRST)]
    begun = [Happening("tank", FIRST.isoformat(), "treatment started")]
    assert "mostly eroded already" in _said(records, begun, declared)
    assert "no fin was measured there" in _said(
        records, (), [Declared(kind="own_record", fish="f", visit=date(2020, 1, 1))]
    )


def test_first_checks_begin_with_the_water_and_end_with_the_veterinarian(rng):
    one_visit = judge(fin_series(photos_of(Course(), rng, days=(0.0,), own_record=False)))
    (advice,) = what_to_look_at(one_visit, [])
    assert advice.because == "first visit"
    assert advice.lines[0].startswith("Water test: none on record")
    assert advice.lines[-1] == VETERINARIAN
    known = [
        Happening("tank", "2025-12-31T08:00", "ammonia", value=0.5, unit="mg/l"),
        Happening("tank", "2025-12-30", "new tank mates added"),
    ]
    (advice,) = what_to_look_at(one_visit, known)
    said = " ".join(advice.lines)
    assert "ammonia was 0.5 mg/l" in said
    assert "Tank mates on record" in said
    steady = photos_of(Course(missing=0), rng, days=(0.0, 5.0), own_record=False)
    assert what_to_look_at(judge(fin_series(steady)), []) == ()


def test_shoals_without_names_and_tanks(rng):
    nameless = [
        replace(r, named=False, fish="1", photo=f"{r.visit}-{n}.jpg")
        for n in range(12)
        for r in photos_of(Course(missing=0.2, rate=0.05, shed_day=0), rng, days=(0.0, 20.0),
                           photos=1, whole=0.25 * (1 + rng.normal(0, 0.03)), own_record=False)
    ]  # fmt: skip
    steps = group_steps(fin_series(nameless))
    assert [step.fish for step in steps] == [12, 12]
    assert not steps[1].same_fish
    low, high = steps[1].change.interval
    assert low < 100 * (Course(rate=0.05, shed_day=0).share(20.0) / 0.8 - 1) < high
    named = [
        record
        for tank in range(4)
        for number in range(3)
        for record in photos_of(
            Course(missing=0.2, rate=0.1 if tank < 2 else 1e-9, shed_day=0), rng, days=DAYS[:4],
            fish=f"{tank}-{number}", own_record=False, group=f"tank {tank}")
    ]  # fmt: skip
    judged = judge(fin_series(named))
    treated = [Happening(f"tank {tank}", "2026-01-01", "treatment started") for tank in (0, 1)]
    (arms,) = tank_arms(judged, treated)
    assert arms.comparison.freedom < 2.01  # two tanks each: Welch has at most 2 degrees
    assert arms.comparison.difference > 0
    found = mixed_descriptions(judged)
    assert found["tank 0", "caudal"].slope > 0.4
