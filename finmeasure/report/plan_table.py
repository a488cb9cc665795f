"""How many fish, photos and visits: the table, from the spread that a study shows."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from finmeasure.errors import FinmeasureError
from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.study.over_time import ChangeOverTime
from finmeasure.timeseries.change import ASSUMED_POSTURE_REL
from finmeasure.timeseries.plan import Design, Spread, plan

#: Where a study has no series: spread of marks and of true changes between fish, % (assumed,
#: common practice, no source).
ASSUMED_MARKS_PCT = 1.5
ASSUMED_BETWEEN_FISH_PCT = 3.0
FISH, PHOTOS, VISITS = (3, 5, 8, 12, 20), (1, 3), (2, 4, 6)


def plan_designs() -> list[Design]:
    """Give the ways to run a series that are tried."""
    return [Design(fish, photos, visits) for photos in PHOTOS for visits in VISITS for fish in FISH]


def study_spread(change: ChangeOverTime, fin: str) -> tuple[Spread, str]:
    """Find how much one fin's length spreads in a study, and say where the figures come from.

    Raises
    ------
    FinmeasureError
        If there is no such fin.
    """
    if fin not in fin_definitions():
        message = f"Fin {fin!r} is not known. Allowed: {', '.join(fin_definitions())}."
        raise FinmeasureError(message)
    records = [one for one in change.records if one.fin == fin and one.measured]
    marks = 100.0 * float(np.median([one.u / one.ratio for one in records])) if records else 0.0
    posture = 100.0 * change.posture.get(fin, ASSUMED_POSTURE_REL)
    between = _between_fish(change, fin)
    spread = Spread(
        between_fish=between or ASSUMED_BETWEEN_FISH_PCT,
        between_photos=math.hypot(posture, marks or ASSUMED_MARKS_PCT),
    )
    words = (
        f"{fin_definitions()[fin].shown}: one photo spreads by {spread.between_photos:.1f} % "
        f"({f'{len(records)} photos of this study' if records else 'assumed'}), the change differs "
        f"between fish by {spread.between_fish:.1f} % "
        f"({'from this study' if between else 'assumed'})."
    )
    return spread, words


def _between_fish(change: ChangeOverTime, fin: str) -> float:
    """Spread of the true change between fish, noise taken out; 0 where it cannot be told."""
    last = [one.last.change for one in change.judged if one.series.fin == fin and one.last.change]
    if len(last) < 5:
        return 0.0
    noise = float(np.mean([one.u**2 for one in last]))
    return math.sqrt(max(0.0, float(np.var([one.percent for one in last], ddof=1)) - noise))


def plan_table(
    designs: Sequence[Design],
    spread: Spread,
    change_percent: float,
    *,
    draws: int,
    progress: Callable[[], None],
) -> pd.DataFrame:
    """Simulate all ways and give a table, one row each."""
    return pd.DataFrame(
        {
            "fish": one.design.fish,
            "photos": one.design.photos,
            "visits": one.design.visits,
            "pictures": one.design.fish * one.design.photos * one.design.visits,
            "power": one.power,
            "power_u": one.u,
        }
        for one in plan(designs, spread, change_percent, draws=draws, progress=progress)
    )
