"""Calibrate the uncertainty of each measure from proposals on drawn photos; add it to the manifest.

`python -m finmeasure.proposals.training.calibrate_measures --photos 120`, after `calibrate`. Errors
of the landmarks of one fish go together and have heavy tails: what propagation gives is not enough.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
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
from finmeasure.proposals.confidence import PERCENT
from finmeasure.proposals.propose import propose
from finmeasure.proposals.weights import FOLDER, MANIFEST
from finmeasure.quantity import Measure
from finmeasure.scale.find import find_scale

MOST_FACTOR = 5.0  # beyond, a few fish with gross errors would decide for all
FEWEST = 30  # errors of one measure; with fewer, those of all measures of its unit count

#: For each measure (unit, id): (value − truth) / u, or value − truth for percentages.
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
    return dict(_compared(mine, truth))


def _compared(
    mine: Mapping[str, Measure], truth: Mapping[str, Measure]
) -> Iterator[tuple[tuple[str, str], float]]:
    """Errors in units of u; of percentages, which are often 0, the errors themselves."""
    for name, row in mine.items():
        true = truth[name].value if name in truth else None
        if row.value is None or true is None or not row.u:
            continue
        error = row.value - true
        yield (row.unit, name), error if row.unit == PERCENT else error / row.u


def factors(found: Sequence[Scores]) -> dict[str, float]:
    """Factor on u of each measure (for percentages: u to add in squares).

    Chosen so that 95 % of the errors lie within 1.96 u; u never gets smaller, because real photos
    are harder than drawn ones.
    """
    by_name: dict[tuple[str, str], list[float]] = defaultdict(list)
    by_unit: dict[str, list[float]] = defaultdict(list)
    for one in found:
        for (unit, name), score in one.items():
            by_name[unit, name].append(abs(score))
            by_unit[unit].append(abs(score))
    told = {}
    for (unit, name), errors in by_name.items():
        counted = errors if len(errors) >= FEWEST else by_unit[unit]
        # Of so few errors the quantile that holds for the next one (split conformal prediction)
        level = min(0.95 * (len(counted) + 1) / len(counted), 1.0)
        needed = float(np.quantile(counted, level, method="higher")) / 1.96
        told[name] = round(
            needed if unit == PERCENT else float(np.clip(needed, 1.0, MOST_FACTOR)), 2
        )
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
