"""Calibrate the uncertainty of each measure from proposals on drawn photos; add it to the manifest.

`python -m finmeasure.proposals.training.calibrate_measures --photos 120`, after `calibrate`. Errors
of the landmarks of one fish go together and have heavy tails: what propagation gives is not enough.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from multiprocessing import get_context

import cv2
import numpy as np

from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import DrawnPhoto, draw_photo
from finmeasure.drawing.views import random_card_view
from finmeasure.drawing.wild import wild_spec
from finmeasure.errors import NotFound
from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.proposals.propose import propose
from finmeasure.proposals.weights import FOLDER, MANIFEST
from finmeasure.scale.find import find_scale

FEWEST = 30  # errors of one measure; with fewer, those of all measures of its unit count
LEAST_FACTOR, MOST_FACTOR = 0.5, 5.0

#: For each measure its unit and (value − truth) / u.
Scores = dict[tuple[str, str], float]


def drawn(seed: int) -> DrawnPhoto:
    """Draw the held-out card photo of a number."""
    rng = np.random.default_rng([2027, seed])
    return draw_photo(wild_spec(rng), random_card_view(rng, (1200, 900)), rng)


def scores(seed: int) -> Scores:
    """Compare the measures of a proposal with those of the true marks on the same photo."""
    cv2.setNumThreads(1)
    photo = drawn(seed)
    pixels = np.ascontiguousarray(photo.pixels)
    seen = Photo(pixels, "", PhotoMetadata(pixels.shape[1], pixels.shape[0]))
    found, scale = propose(seen), find_scale(seen)
    if isinstance(found, NotFound) or isinstance(scale, NotFound):
        return {}
    gray = seen.gray()
    reading = max(found, key=lambda proposal: proposal.confidence).reading
    mine = measure_reading(reading, scale, gray=gray).by_id
    truth = measure_reading(true_reading(photo), scale, gray=gray).by_id
    return {
        (row.unit, name): (row.value - truth[name].value) / row.u
        for name, row in mine.items()
        if row.value is not None and row.u and name in truth and truth[name].value is not None
    }  # fmt: skip


def factors(found: Sequence[Scores]) -> dict[str, float]:
    """Factor on u of each measure, so that 95 % of the errors lie within 1.96 u."""
    by_name: Mapping[tuple[str, str], list[float]] = defaultdict(list)
    by_unit: Mapping[str, list[float]] = defaultdict(list)
    for one in found:
        for (unit, name), score in one.items():
            by_name[unit, name].append(abs(score))
            by_unit[unit].append(abs(score))
    told = {}
    for (unit, name), errors in by_name.items():
        counted = errors if len(errors) >= FEWEST else by_unit[unit]
        factor = float(np.quantile(counted, 0.95)) / 1.96
        told[name] = round(float(np.clip(factor, LEAST_FACTOR, MOST_FACTOR)), 2)
    return dict(sorted(told.items()))


def main() -> None:
    """Draw, propose, measure, compare, and add the factors to the manifest."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=120)
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    with get_context("spawn").Pool(given.workers) as pool:
        found = pool.map(scores, range(given.photos))
    content = json.loads((FOLDER / MANIFEST).read_text("utf-8"))
    content["measures"] = factors(found)
    (FOLDER / MANIFEST).write_text(json.dumps(content, indent=1) + "\n", "utf-8")
    print(content["measures"])


if __name__ == "__main__":
    main()
