"""Odd fish: false alarms and finds on drawn boxes, and on real reef fish; writes its table."""

from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from finmeasure.shipment.odd_ones import find_odd, find_odd_against
from finmeasure.shipment.shapes import shape_scores

PAGE = Path(__file__).parents[2] / "docs" / "method" / "shipment.md"
MARK = "<!-- table written by `make benchmark` -->"
BOXES = 250


@pytest.mark.benchmark
def test_write_the_table(shared):
    heads = "| drawn boxes of 60, 3 characters | alone | against a reference box of 60 |"
    lines = [MARK, "", heads, "|---|---|---|"]
    rng = np.random.default_rng(2026)
    alarms = _drawn(rng, 0)
    lines.append(f"| no stray: boxes that alarm | {alarms[0]:.1%} | {alarms[1]:.1%} |")
    found = {}
    for measured, moved in ((3, 1), (3, 2), (3, 3), (1, 1)):
        found[measured, moved] = _drawn(rng, moved, measured=measured)
        shares = " | ".join(f"{share:.1%}" for share in found[measured, moved])
        lines.append(f"| one stray at 4 SD in {moved} of {measured}: found | {shares} |")
    large = _drawn(rng, 1, reference=300)[1]
    lines.append(f"| the same in 1 of 3, reference box of 300 | | {large:.1%} |")
    assert min(found[3, 2]) >= 0.95
    assert min(found[3, 3]) >= 0.95
    assert found[1, 1][0] >= 0.80
    assert max(alarms) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / BOXES)
    together = np.mean([_five(rng) for _ in range(BOXES)])
    lines.append(f"| five alike (6 SD away): named as a second kind | {together:.1%} | |")
    lines += ["", *_reef(shared, rng)]
    head = PAGE.read_text(encoding="utf-8").split(MARK)[0]
    PAGE.write_text(head + "\n".join(lines).replace("%", " %") + "\n", encoding="utf-8")


def _drawn(rng, characters, *, measured=3, reference=60):
    """Share of boxes that alarm; the stray's values stand 4 SD from the mean of its kind."""
    alone = against = 0
    for _ in range(BOXES):
        box = rng.normal(size=(60, measured))
        box[0, :characters] = 4.0 if characters else box[0, :characters]
        verdict = find_odd(box)
        known = find_odd_against(box, rng.normal(size=(reference, measured)))
        hit = [f.odd and (f.row == 0 or not characters) for f in verdict.fish]
        kinds = verdict.kinds
        alone += any(hit) or bool(any(kinds) if not characters else kinds[0])
        against += any(f.odd and (f.row == 0 or not characters) for f in known)
    return alone / BOXES, against / BOXES


def _five(rng):
    box = rng.normal(size=(60, 3))
    box[:5] = rng.normal([6.0, -6.0, 6.0], 0.7, (5, 3))
    return set(np.flatnonzero(find_odd(box).kinds)) == {0, 1, 2, 3, 4}


def _share_of_three(blamed):
    return sum(count for _, count in blamed.most_common(3)) / max(sum(blamed.values()), 1)


def _reef(shared, rng):
    """Boxes of 17 of the commonest genus with 3 others; no species has 17 specimens."""
    folder = shared / "tables" / "05_coralfish_outlines_landmarks"
    marks = pd.read_csv(folder / "landmarks12.csv").set_index("specimen")
    traits = pd.read_csv(folder / "traits.csv", index_col=0)
    genus = traits["species"].str.split().str[0]
    names = [n for n in traits.index if n in marks.index]
    main = genus[names].value_counts().index[0]
    points = {n: marks.loc[n].sort_values("landmark")[["x", "y_up"]].to_numpy(float) for n in names}
    names = [n for n in names if points[n].shape == (12, 2) and np.isfinite(points[n]).all()]
    ours, others = ([n for n in names if (genus[n] == main) is wanted] for wanted in (True, False))
    recall, false, blamed = [], [], Counter()
    for _ in range(200):
        strays = [others[i] for i in rng.choice(len(others), 3, replace=False)]
        box = strays + [ours[i] for i in rng.choice(len(ours), 17, replace=False)]
        verdict = find_odd(shape_scores(np.stack([points[n] for n in box]), 3))
        told = {f.row for f in verdict.fish if f.odd} | set(np.flatnonzero(verdict.kinds))
        recall.append(len(told & {0, 1, 2}) / 3)
        false.append(len(told - {0, 1, 2}))
        blamed.update(box[row] for row in told - {0, 1, 2})
    return [
        f"| real reef fish: 17 *{main}* ({len(ours)} specimens) + 3 of other genera, 200 boxes | |",
        "|---|---|",
        f"| strays found, median of boxes | {np.median(recall):.1%} |",
        f"| strays found, mean | {np.mean(recall):.1%} |",
        f"| fish of the genus called odd, mean per box | {np.mean(false):.2f} |",
        f"| boxes with at least one such | {np.mean(np.array(false) > 0):.1%} |",
        f"| of these fish, share that three specimens take | {_share_of_three(blamed):.1%} |",
    ]
