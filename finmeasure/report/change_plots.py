"""Plots of change over time: one fin over time with its band, groups, agreement, power."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from typing import cast

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.report.colours import (
    BLACK,
    BLUE,
    BLUISH_GREEN,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILLION,
    Rgb,
)
from finmeasure.study.over_time import ChangeOverTime
from finmeasure.timeseries.curve import monomolecular
from finmeasure.timeseries.judge import JudgedSeries
from finmeasure.timeseries.repeatability import limits_of_agreement

#: Fish in one plot; more lines cannot be told apart.
MOST_FISH = 12
_LOOKS: tuple[tuple[Rgb, str, str], ...] = (
    (BLUE, "o", "-"), (VERMILLION, "s", "--"), (BLUISH_GREEN, "^", "-."),
    (REDDISH_PURPLE, "D", ":"),
    (ORANGE, "v", "-"), (SKY_BLUE, "P", "--"), (BLACK, "X", "-."),
)  # fmt: skip
_SIZE = (8.4, 4.0)


def hex_of(colour: Rgb) -> str:
    """Colour as matplotlib wants it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def fin_over_time(one: JudgedSeries) -> bytes:
    """Plot one fin of one fish: erosion if a whole fin is known, else change, with 95 % bands.

    Parameters
    ----------
    one : JudgedSeries
        At least two visits.

    Returns
    -------
    bytes
        PNG.
    """
    figure, axes = _axes()
    eroded = one.reference is not None
    days = np.array([visit.visit.value.day for visit in one.visits])
    found = [visit.erosion if eroded else visit.change for visit in one.visits]
    values = np.array([0.0 if each is None else each.percent for each in found])
    if eroded:
        values = 100.0 - values
    half = np.array([0.0 if each is None else 1.96 * each.u for each in found])
    axes.fill_between(days, values - half, values + half, color=hex_of(SKY_BLUE), alpha=0.35,
                      label="true value, 95 of 100 cases")  # fmt: skip
    axes.plot(days, values, "o-", color=hex_of(BLUE), lw=2, ms=7, label="measured")
    if eroded:
        axes.axhline(100.0, color=hex_of(BLACK), ls="--", lw=1.5, label="whole")
        _draw_curve(axes, one)
        axes.set_ylabel("length, % of the whole fin")
    else:
        axes.axhline(0.0, color=hex_of(BLACK), ls="--", lw=1.5, label="first visit")
        axes.set_ylabel("change since the first visit, %")
    for visit, value in zip(one.visits, values, strict=True):
        if visit.change_verdict == "changed":
            axes.annotate("changed", (visit.visit.value.day, value), xytext=(0, 11),
                          textcoords="offset points", ha="center", fontsize=9)  # fmt: skip
    _finish(axes, one.visits[0].visit.day.isoformat())
    axes.set_title(f"{one.series.fish}: {fin_definitions()[one.series.fin].shown}")
    return _png(figure)


def _draw_curve(axes: Axes, one: JudgedSeries) -> None:
    if one.regrowth is None:
        return
    start = dict(one.regrowth.fit.values)["lag"]
    days = np.linspace(start, 1.3 * one.last.visit.value.day, 80)
    curve = 100.0 * monomolecular(days, **dict(one.regrowth.fit.values))
    axes.plot(days, curve, ":", color=hex_of(VERMILLION), lw=2.5, label="fitted regrowth")


def group_over_time(change: ChangeOverTime, group: str, fin: str) -> bytes | None:
    """Plot every fish of a group thin, and the mean of the group thick, with its 95 % band.

    Returns
    -------
    bytes or None
        PNG; None where the group has no such fin on two days.
    """
    steps = [
        step for step in change.groups
        if (step.group, step.fin) == (group, fin) and step.side in ("", "left")
    ]  # fmt: skip
    if len(steps) < 2:
        return None
    figure, axes = _axes()
    first = steps[0].visit
    side = steps[0].side
    mine = [
        one for one in change.series
        if (one.group, one.fin) == (group, fin) and one.side == side
    ]  # fmt: skip
    for number, one in enumerate(mine[:MOST_FISH]):
        colour, marker, style = _LOOKS[number % len(_LOOKS)]
        days = [(visit.day - first).days for visit in one.visits]
        lengths = [100 * visit.value.ratio for visit in one.visits]
        label = one.fish if one.named else None
        filled = "full" if number < len(_LOOKS) else "none"  # the second round has hollow marks
        axes.plot(days, lengths, style, marker=marker, fillstyle=filled, color=hex_of(colour),
                  lw=1, ms=5, label=label)  # fmt: skip
    days = [(step.visit - first).days for step in steps]
    means = 100 * np.array([step.mean for step in steps])
    half = np.array(
        [196 * step.sd / math.sqrt(step.fish) if step.fish > 1 else 0.0 for step in steps]
    )
    axes.fill_between(days, means - half, means + half, color="0.8", alpha=0.6)
    axes.plot(days, means, "-", color="black", lw=3.5, label="mean of the group, 95 %")
    axes.set_ylabel("fin length, % of standard length")
    _finish(axes, first.isoformat())
    shown = fin_definitions()[fin].shown
    left_out = f", {MOST_FISH} of {len(mine)} fish drawn" if len(mine) > MOST_FISH else ""
    axes.set_title(f"Group {group}: {shown}{left_out}")
    return _png(figure)


def agreement_plot(pairs: pd.DataFrame, shown: str, unit: str) -> bytes:
    """Plot the difference of two readings against their mean (Bland & Altman 1986).

    Parameters
    ----------
    pairs : DataFrame
        Columns first and second.
    shown, unit : str
        Name and unit of the measure.
    """
    limits = limits_of_agreement(pairs["first"], pairs["second"])
    figure, axes = _axes()
    means = (pairs["first"] + pairs["second"]) / 2
    axes.plot(means, pairs["second"] - pairs["first"], "o", color=hex_of(BLUE), ms=6)
    for value, style, text in (
        (limits.bias, "-", "mean difference"),
        (limits.low, "--", "95 % of differences"),
        (limits.high, "--", ""),
    ):
        axes.axhline(value, color=hex_of(VERMILLION), ls=style, lw=1.8, label=text or None)
        axes.annotate(f"{value:+.3g}", (1.0, value), xycoords=("axes fraction", "data"),
                      xytext=(4, 0), textcoords="offset points", va="center")  # fmt: skip
    axes.set_xlabel(f"mean of both readings{f', {unit}' if unit else ''}")
    axes.set_ylabel("second minus first")
    axes.set_title(f"Two readings of the same fish: {shown} ({limits.pairs} pairs)")
    _legend(axes)
    return _png(figure)


def power_plot(table: pd.DataFrame, change_percent: float) -> bytes:
    """Plot how often a change is found against the number of fish, for each way to photograph."""
    figure, axes = _axes()
    for number, (key, part) in enumerate(table.groupby(["photos", "visits"])):
        photos, visits = cast("tuple[int, int]", key)
        colour, marker, style = _LOOKS[number % len(_LOOKS)]
        label = f"{photos} photo{'s' if photos > 1 else ''}, {visits} visits"
        axes.plot(part["fish"], 100 * part["power"], style, marker=marker, color=hex_of(colour),
                  lw=1.8, label=label)  # fmt: skip
    axes.axhline(80, color="black", ls="--", lw=1)
    axes.annotate("80 %: usual aim", (1.0, 80), xycoords=("axes fraction", "data"),
                  xytext=(-4, 4), textcoords="offset points", ha="right", fontsize=9)  # fmt: skip
    axes.set_ylim(0, 105)
    axes.set_xlabel("fish")
    axes.set_xticks(sorted(set(table["fish"])))
    axes.set_ylabel("found in … of 100 series")
    axes.set_title(f"A change of {change_percent:g} %: how many fish, photos, visits?")
    _legend(axes)
    return _png(figure)


def _axes() -> tuple[Figure, Axes]:
    figure, axes = plt.subplots(figsize=_SIZE)
    # Fixed margins: working them out anew takes as long as drawing
    figure.subplots_adjust(left=0.10, right=0.60, bottom=0.14, top=0.91)
    axes.grid(True, color="0.88")
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _finish(axes: Axes, first_day: str) -> None:
    axes.set_xlabel(f"days since {first_day}")
    axes.margins(y=0.15)
    _legend(axes)


def _legend(axes: Axes) -> None:
    axes.legend(loc="center left", bbox_to_anchor=(1.16, 0.5), frameon=False, fontsize=9)


def _png(figure: Figure) -> bytes:
    target = io.BytesIO()
    figure.savefig(target, format="png", dpi=100)
    plt.close(figure)
    return target.getvalue()


def shown_series(judged: Sequence[JudgedSeries]) -> list[JudgedSeries]:
    """Choose the fins that get a plot: those that changed or miss tissue first."""
    several = [one for one in judged if len(one.visits) > 1 and one.series.method == "rays"]

    def interest(one: JudgedSeries) -> float:
        changes = [abs(v.change.percent) / v.change.u for v in one.visits if v.change]
        return -max(changes, default=0.0)

    return sorted(several, key=interest)
