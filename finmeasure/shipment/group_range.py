"""What the ratios of a group's fish span, so that a misplaced point or an odd fish stands out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import t

from finmeasure.quantity import Measure

FEWEST_FISH = 5
CONFIDENCE = 0.99  # one fish in a hundred of the same kind lies outside


@dataclass(frozen=True, slots=True)
class GroupRange:
    """Where a further fish of the group is expected.

    Parameters
    ----------
    low, high : float
        Prediction interval for one further fish.
    fish : int
        How many confirmed fish it comes from.
    """

    low: float
    high: float
    fish: int

    def contradicts(self, measure: Measure) -> str:
        """Say that a measure lies outside, beyond its own 95 % limits; empty where it does not.

        Parameters
        ----------
        measure : Measure
            The same measure of another fish.
        """
        if measure.state != "measured" or measure.value is None:
            return ""
        room = 1.96 * (measure.u or 0.0)
        if self.low - room <= measure.value <= self.high + room:
            return ""
        word = "above" if measure.value > self.high else "below"
        return (
            f"{word} what the group's {self.fish} confirmed fish show "
            f"({max(self.low, 0.0):.3g} to {self.high:.3g}): check its points, else it is an odd "
            "fish."
        )


def group_ranges(fish: Iterable[Mapping[str, Measure]]) -> dict[str, GroupRange]:
    """Give the range of every ratio that at least five fish of a group have.

    The interval for one further observation of a normal sample: mean ± t s √(1 + 1/n), 99 %
    (ISO 16269-8; from memory). Lengths are left out: fish of one group grow.

    Parameters
    ----------
    fish : iterable of mapping of str to Measure
        Measures by id, one mapping per fish; only confirmed ones belong here.

    Returns
    -------
    dict of str to GroupRange
        By measure.

    Examples
    --------
    >>> rows = [{"a_to_sl": Measure("a_to_sl", "1", "measured", v)} for v in (2, 3, 4, 5, 6)]
    >>> found = group_ranges(rows)["a_to_sl"]
    >>> round(found.low, 2), round(found.high, 2)
    (-3.97, 11.97)
    """
    values: dict[str, list[float]] = {}
    for one in fish:
        for name, measure in one.items():
            if measure.state == "measured" and measure.unit == "1" and measure.value is not None:
                values.setdefault(name, []).append(measure.value)
    return {name: _range(found) for name, found in values.items() if len(found) >= FEWEST_FISH}


def _range(values: list[float]) -> GroupRange:
    """Prediction interval of one ratio."""
    count = len(values)
    factor = float(t.ppf((1 + CONFIDENCE) / 2, count - 1)) * math.sqrt(1 + 1 / count)
    middle, reach = float(np.mean(values)), factor * float(np.std(values, ddof=1))
    return GroupRange(middle - reach, middle + reach, count)
