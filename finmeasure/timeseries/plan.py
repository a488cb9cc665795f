"""How many fish, photos and visits a wanted change needs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from scipy import stats


@dataclass(frozen=True, slots=True)
class Design:
    """One way to run a series: fish photographed at every visit, photos of each, visits."""

    fish: int
    photos: int
    visits: int


@dataclass(frozen=True, slots=True)
class Power:
    """Share of simulated series in which the change was found."""

    design: Design
    power: float
    u: float


@dataclass(frozen=True, slots=True)
class Spread:
    """Spread that a series has to see through, in percent of fin length.

    Parameters
    ----------
    between_fish : float
        Standard deviation of the true change between fish.
    between_photos : float
        Standard deviation of one photo (posture and marks).
    """

    between_fish: float
    between_photos: float


def simulated_power(
    design: Design,
    spread: Spread,
    change_percent: float,
    *,
    draws: int = 2000,
    rng: np.random.Generator | None = None,
) -> Power:
    """Power to see a steady change from the first to the last visit, by simulation.

    Parameters
    ----------
    design : Design
        Fish, photos per fish and visit, visits.
    spread : Spread
        What hides the change.
    change_percent : float
        Change from the first to the last visit, percent of fin length.
    draws : int
        Simulated series.
    rng : numpy Generator, optional
        Fixed seed otherwise.

    Returns
    -------
    Power
        Two-sided t test at 5 % on the fish's own fitted changes.

    Raises
    ------
    ValueError
        If fewer than 2 fish, 1 photo or 2 visits are asked for.
    """
    if design.fish < 2 or design.photos < 1 or design.visits < 2:
        message = (
            f"{design} was given. At least 2 fish, 1 photo and 2 visits are needed for a test."
        )
        raise ValueError(message)
    generator = rng or np.random.default_rng(7)
    time = np.linspace(0.0, 1.0, design.visits)
    true = generator.normal(change_percent, spread.between_fish, (draws, design.fish, 1))
    noise = spread.between_photos / math.sqrt(design.photos)
    seen = true * time + generator.normal(0.0, noise, (draws, design.fish, design.visits))
    weights = (time - time.mean()) / ((time - time.mean()) ** 2).sum()
    slopes = seen @ weights
    p_values = np.asarray(stats.ttest_1samp(slopes, 0.0, axis=1).pvalue)
    power = float((p_values < 0.05).mean())
    return Power(design, power, math.sqrt(power * (1 - power) / draws))


def plan(
    designs: Iterable[Design],
    spread: Spread,
    change_percent: float,
    *,
    draws: int = 2000,
    progress: Callable[[], None] = lambda: None,
) -> list[Power]:
    """Power of several designs, in the order given.

    Parameters
    ----------
    progress : callable
        Called after each design.
    """
    results = []
    for number, design in enumerate(designs):
        generator = np.random.default_rng([7, number])
        results.append(simulated_power(design, spread, change_percent, draws=draws, rng=generator))
        progress()
    return results
