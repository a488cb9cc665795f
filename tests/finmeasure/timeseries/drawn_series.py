"""Series drawn at the level of values, with a known course: used by tests and the benchmark."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from PIL import Image

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import careful_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.spec import Pattern
from finmeasure.drawing.variation import posed, resized, varied
from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.files import sha256_of
from finmeasure.photo.record import PhotoMetadata
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study
from finmeasure.timeseries.judge import judge
from finmeasure.timeseries.records import Declared, FinRecord
from finmeasure.timeseries.same_fish import flank_view
from finmeasure.timeseries.visits import fin_series

FIRST = date(2026, 1, 1)


@dataclass(frozen=True)
class Course:
    """Truth of one fin: share missing, shed later, rate of regrowth, growth of the body."""

    missing: float = 0.2
    shed: float = 0.0
    shed_day: float = 4.0
    rate: float = 0.08
    growth: float = 0.0
    exponent: float = 1.0

    def share(self, day):
        """Share of the whole length on a day since the first visit."""
        if day < self.shed_day:
            return 1 - self.missing - self.shed * day / self.shed_day
        lowest = 1 - self.missing - self.shed
        return 1 - (1 - lowest) * np.exp(-self.rate * (day - self.shed_day))

    def unchanged(self):
        return self.missing == 0


def photos_of(course, rng, *, days, fish="f", photos=3, mark=0.01, curl=0.02, whole=0.25,
              sl_mm=30.0, own_record=True, group="tank"):  # fmt: skip
    """Records of one fin: marks scatter, curl and bend only shorten (half-normal)."""
    when = [*([-7.0] if own_record else []), *days]
    records = []
    for day in when:
        length = sl_mm * (1 + course.growth) ** max(day, 0.0)
        share = 1.0 if day < 0 else course.share(day)
        truth = whole * share * (length / sl_mm) ** (course.exponent - 1)
        for number in range(photos):
            seen = truth * (1 - abs(rng.normal(0, curl))) * (1 + rng.normal(0, mark))
            records.append(
                FinRecord(
                    photo=f"{fish}/{day}-{number}.jpg", fish=fish, named=True, group=group,
                    visit=FIRST + timedelta(days=day), side="left", fin="caudal", method="rays",
                    ratio=seen, u=mark * seen, sl_mm=length * (1 + rng.normal(0, 0.002)),
                    sl_u_mm=0.002 * length, sectors=(seen,) * 5,
                )
            )  # fmt: skip
    return records


def judged_course(course, rng, **options):
    """Judge one drawn fish as a study of its own; the first visit is the damaged one."""
    records = photos_of(course, rng, **options)
    declared = [Declared(kind="own_record", fish="f", visit=FIRST - timedelta(days=7))]
    (one,) = judge(fin_series(records), declared)
    return one


def patterned_fish(base, kinds, rng):
    """Another individual of a kind: its own fin lengths, markings and scales."""
    patterns = tuple(
        Pattern(kind, (0.15, 0.12, 0.1), place=rng.uniform(0.2, 0.8), size=rng.uniform(0.12, 0.25),
                strength=rng.uniform(0.5, 0.9), seed=int(rng.integers(2**31)))
        for kind in kinds
    )  # fmt: skip
    look = replace(base.look, seed=int(rng.integers(2**31)), patterns=patterns)
    return replace(varied(base, rng), look=look)


def photographed(spec, name, rng):
    """One fish in a small photo, posed, turned and marked as by a person."""
    view = View(420, 260, px_per_mm=10.0, fish_angle_deg=float(rng.normal(0, 6)))
    photo = draw_photo(posed(spec, rng), view, rng)
    return photo.pixels, careful_reading(photo, rng, fish=name)


def two_visits(kinds, rng, *, both=4, others=4):
    """Flanks of fish seen twice and of others seen once, at two visits of one group."""
    return tuple(
        [flank_view(f"{name}.jpg", *photographed(spec, name, rng)) for spec, name in visit]
        for visit in fish_of_two_visits(kinds, rng, both=both, others=others)
    )


def fish_of_two_visits(kinds, rng, *, both, others):
    """Fish with their true names: `both` of them come twice."""
    base = resized(random_spec(np.random.default_rng(23), body_form="plain"), 28.0)
    fish = [patterned_fish(base, kinds, rng) for _ in range(both + 2 * others)]
    names = [f"f{number}" for number in range(len(fish))]
    every = list(zip(fish, names, strict=True))
    return every[: both + others], [*every[:both], *every[both + others :]]


def study_of_two_visits(folder, rng, *, both=3, others=1):
    """Photos and study of a tank of spotted fish, without names; the photos' names tell the truth.

    Returns the study's folder.
    """
    photos, size = folder / "photos", (420, 260)
    photos.mkdir()
    visits = fish_of_two_visits(("blotch", "spots"), rng, both=both, others=others)
    with Study.open(folder / "study", create=True) as study:
        for visit, day in zip(visits, (FIRST, FIRST + timedelta(days=5)), strict=True):
            for spec, name in visit:
                file = photos / f"{day}_{name}.jpg"
                pixels, reading = photographed(spec, "1", rng)
                Image.fromarray(pixels).save(file, quality=95)
                rows = measure_reading(reading, None, size_px=size, edges=False).rows
                fish = FishResult(reading, rows, side="left", visit=day, group="tank",
                                  confirmed=True)  # fmt: skip
                study.record_photo_result(
                    PhotoResult(file.name, sha256_of(file), "measured", "g", PhotoMetadata(*size),
                                fish=(fish,), file=file)
                )  # fmt: skip
    return folder / "study"
