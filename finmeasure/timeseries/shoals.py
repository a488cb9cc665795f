"""Groups over time: shoals sampled without names, named fish, and tanks under treatment."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from scipy import stats

from finmeasure.timeseries.change import Change, Verdict, verdicts
from finmeasure.timeseries.groups import (
    ArmComparison,
    MixedDescription,
    change_of_group,
    compare_arms,
    describe_named_fish,
    slopes_per_tank,
)
from finmeasure.timeseries.judge import JudgedSeries
from finmeasure.timeseries.records import Happening
from finmeasure.timeseries.visits import FinSeries

FEW_FISH = 5
#: First words of events that make a tank a treated one (as keepers write them).
TREATED_WORDS = ("treat", "medic", "salt")


@dataclass(frozen=True, slots=True, eq=False)
class GroupStep:
    """One fin of one group at one visit, against the group's first visit.

    Parameters
    ----------
    fish : int
        Fish measured at this visit.
    mean, sd : float
        Of fin length / SL over the fish.
    same_fish : bool
        The change is that of the same named fish; else of two samples of the shoal.
    change : Change, optional
        None at the first visit and where too few fish were measured.
    """

    group: str
    fin: str
    side: str
    visit: date
    fish: int
    mean: float
    sd: float
    same_fish: bool = False
    change: Change | None = None
    verdict: Verdict | None = None

    @property
    def flags(self) -> tuple[str, ...]:
        """``few_fish`` where fewer than five were measured."""
        return ("few_fish",) if self.fish < FEW_FISH else ()


@dataclass(frozen=True, slots=True)
class TankArms:
    """Treated against other tanks, for one fin."""

    fin: str
    comparison: ArmComparison


def group_steps(series: Sequence[FinSeries]) -> tuple[GroupStep, ...]:
    """Compare each visit of each group with its first one.

    Fish with names at both visits are compared with themselves; else the spread between the fish
    of both samples makes the uncertainty. Groups with one visit show their mean only.
    """
    parts: dict[tuple[str, str, str, str], list[FinSeries]] = {}
    for one in series:
        if one.group:
            parts.setdefault((one.group, one.fin, one.side, one.method), []).append(one)
    steps = [step for key, part in sorted(parts.items()) for step in _steps(key, part)]
    changes = [step.change for step in steps if step.change is not None]
    judged = iter(verdicts(changes))
    return tuple(
        step if step.change is None else replace(step, verdict=next(judged)) for step in steps
    )


def _steps(key: tuple[str, str, str, str], part: Sequence[FinSeries]) -> list[GroupStep]:
    group, fin, side, _ = key
    by_day: dict[date, dict[tuple[str, ...], float]] = {}
    for one in part:
        for visit in one.visits:
            name = (one.fish,) if one.named else (visit.records[0].photo, one.fish)
            by_day.setdefault(visit.day, {})[name] = visit.value.ratio
    named = all(one.named for one in part)
    days = sorted(by_day)
    first = by_day[days[0]]
    steps = []
    for day in days:
        values = np.array(list(by_day[day].values()))
        change = None if day == days[0] else _group_change(first, by_day[day], named)
        spread = float(values.std(ddof=1)) if values.size > 1 else math.nan
        steps.append(
            GroupStep(
                group, fin, side, day, values.size, float(values.mean()), spread, named, change
            )
        )
    return steps


def _group_change(
    first: dict[tuple[str, ...], float], later: dict[tuple[str, ...], float], named: bool
) -> Change | None:
    """Change of the same fish where they have names, else of two samples."""
    if not named:
        few = min(len(first), len(later)) < 2
        return None if few else change_of_group(list(first.values()), list(later.values()))
    both = sorted(first.keys() & later.keys())
    if len(both) < 2:
        return None
    changes = np.array([100.0 * (later[name] / first[name] - 1.0) for name in both])
    half_width = float(stats.t.ppf(0.975, len(both) - 1)) * float(stats.sem(changes))
    return Change(float(changes.mean()), max(half_width / 1.96, 1e-9))


def is_treatment(happening: Happening) -> bool:
    """Whether an event is a treatment, by its first word."""
    return happening.what.casefold().startswith(TREATED_WORDS)


def tank_arms(
    judged: Sequence[JudgedSeries], happenings: Sequence[Happening]
) -> tuple[TankArms, ...]:
    """Compare the slopes of treated and other tanks, fin by fin, where both are followed."""
    treated = {one.group for one in happenings if is_treatment(one)}
    found = []
    for fin in sorted({one.series.fin for one in judged}):
        rows = [
            (one.series.group, one.series.fish, visit.visit.value.day, visit.change.percent
             if visit.change else 0.0)
            for one in judged
            for visit in one.visits
            if one.series.fin == fin and one.series.group and len(one.visits) > 1
        ]  # fmt: skip
        frame = pd.DataFrame(rows, columns=["tank", "fish", "day", "value"])
        slopes = slopes_per_tank(frame)
        if len(slopes) > 1 and treated & slopes.keys():
            arms = compare_arms(slopes, {tank: tank in treated for tank in slopes})
            found.append(TankArms(fin, arms))
    return tuple(found)


def mixed_descriptions(
    judged: Sequence[JudgedSeries],
) -> dict[tuple[str, str], MixedDescription]:
    """Describe the mean course of named fish (percent of the first visit) by group and fin.

    Only from three fish with three visits on; left out where the model finds no solution.
    """
    parts: dict[tuple[str, str], list[tuple[str, float, float]]] = {}
    fish: dict[tuple[str, str], int] = {}
    for one in judged:
        if len(one.visits) >= 3 and one.series.side in ("", "left"):
            key = (one.series.group, one.series.fin)
            fish[key] = fish.get(key, 0) + 1
            parts.setdefault(key, []).extend(
                (
                    one.series.fish,
                    visit.visit.value.day,
                    visit.change.percent if visit.change else 0.0,
                )
                for visit in one.visits
            )
    found = {}
    for key, rows in parts.items():
        if fish[key] >= 3:
            frame = pd.DataFrame(rows, columns=["fish", "day", "value"])
            try:
                found[key] = describe_named_fish(frame)
            except (np.linalg.LinAlgError, ValueError, ZeroDivisionError):
                continue
    return found
