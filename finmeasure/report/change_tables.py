"""Tables of change over time, and one sentence per fin for a tired keeper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from finmeasure.fins.records import SECTORS
from finmeasure.flags import FLAGS
from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.study.over_time import ChangeOverTime
from finmeasure.timeseries.change import Change
from finmeasure.timeseries.judge import JudgedSeries, JudgedVisit


def changes_table(change: ChangeOverTime) -> pd.DataFrame:
    """Give one row per fish, fin and visit.

    Parameters
    ----------
    change : ChangeOverTime
        Of a study.

    Returns
    -------
    DataFrame
        ``change_pct`` since the first visit, ``step_pct`` since the visit before, ``erosion_pct``
        against the whole reference, each with its standard uncertainty ``…_u``;
        ``smallest_seen_pct`` is the smallest change that this set-up sees in 95 of 100 cases.
    """
    return pd.DataFrame([_row(one, visit) for one in change.judged for visit in one.visits])


def _row(one: JudgedSeries, judged: JudgedVisit) -> dict[str, Any]:
    visit, series = judged.visit, one.series
    row: dict[str, Any] = {
        "fish": series.fish,
        "group": series.group,
        "fin": series.fin,
        "side": series.side,
        "visit": visit.day.isoformat(),
        "day": visit.value.day,
        "photos": visit.value.photos,
        "method": series.method,
        "length_to_sl": visit.value.ratio,
        "length_to_sl_u": visit.value.u,
        "standard_length": visit.value.sl_mm,
        **_numbers("change", judged.change),
        "smallest_seen_pct": judged.change.minimal_detectable if judged.change else math.nan,
        "verdict": judged.change_verdict or "",
        **_numbers("step", judged.step),
        "step_verdict": judged.step_verdict or "",
        **_numbers("erosion", judged.erosion),
        "erosion_verdict": judged.loss,
        "reference": one.reference.words if one.reference else "none: no whole reference",
        "notch_area": visit.notch_area,
        "notch_depth": visit.notch_depth,
        "flags": ";".join(flags_of(one, judged)),
    }
    for name in ("sector_change", "sector_erosion"):
        sectors: tuple[Change, ...] = getattr(judged, name)
        for number in range(SECTORS):
            value = sectors[number].percent if number < len(sectors) else math.nan
            row[f"{name}_{number + 1}_pct"] = value
    return row


def flags_of(one: JudgedSeries, judged: JudgedVisit) -> tuple[str, ...]:
    """Give the flags of a visit's photos and reference, in the order of the table of flags."""
    found = {flag for record in judged.visit.records for flag in record.flags}
    if one.reference is None:
        found.add("no_whole_reference")
    elif one.reference.few:
        found.add("few_fish")
    return tuple(flag for flag in FLAGS if flag in found)


def _numbers(name: str, change: Change | None) -> dict[str, float]:
    if change is None:
        return {f"{name}_pct": math.nan, f"{name}_u": math.nan}
    return {f"{name}_pct": change.percent, f"{name}_u": change.u}


def curves_table(change: ChangeOverTime) -> pd.DataFrame:
    """Give one row per fish and fin: rate of regrowth and days to 50, 90 and 95 % of the loss."""
    rows = []
    for one in change.judged:
        row: dict[str, Any] = {
            "fish": one.series.fish,
            "group": one.series.group,
            "fin": one.series.fin,
            "side": one.series.side,
            "visits": len(one.visits),
        }
        if one.regrowth is None:
            rows.append(row | {"note": one.regrowth_reason})
            continue
        found = one.regrowth
        estimates = {"rate_per_day": found.rate}
        estimates |= {f"days_to_{share}": days for share, days in found.days_to.items()}
        for name, estimate in estimates.items():
            row |= {
                name: estimate.value,
                f"{name}_low": estimate.low,
                f"{name}_high": estimate.high,
            }
        row["note"] = "" if found.days_to[90].known else "days: not enough data to say"
        if found.alternative is not None:
            row |= {"aicc": found.fit.aicc, "aicc_logistic": found.alternative.aicc}
        rows.append(row)
    return pd.DataFrame(rows)


def groups_table(change: ChangeOverTime) -> pd.DataFrame:
    """Give one row per group, fin and visit."""
    return pd.DataFrame(
        {
            "group": step.group,
            "fin": step.fin,
            "side": step.side,
            "visit": step.visit.isoformat(),
            "fish": step.fish,
            "mean_length_to_sl": step.mean,
            "sd_between_fish": step.sd,
            "compared": "the same named fish" if step.same_fish else "samples of the shoal",
            **_numbers("change", step.change),
            "verdict": step.verdict or "",
            "flags": ";".join(step.flags),
        }
        for step in change.groups
    )


def fin_words(one: JudgedSeries) -> str:
    """Name of the fin as shown, with its side where it is paired."""
    shown = fin_definitions()[one.series.fin].shown
    return f"{shown} ({one.series.side})" if one.series.side else shown


def sentence(one: JudgedSeries) -> str:
    """Say in one sentence what became of a fin."""
    if len(one.visits) == 1:
        return "Seen once: no change can be told yet."
    last = one.last
    if last.change is None:
        return "Seen once: no change can be told yet."
    low, high = last.change.interval
    word = "longer" if last.change.percent > 0 else "shorter"
    seen = f"{abs(last.change.percent):.0f} % {word} than at the first visit"
    limits = f"(95 % {low:+.0f} to {high:+.0f} %)"
    smallest = f"{last.change.minimal_detectable:.0f} %"
    told = {
        "changed": f"Changed: {seen} {limits}.",
        "no change to be seen": f"No change to be seen {limits}; it would show from {smallest} on.",
        "cannot tell": f"Cannot tell {limits}; a change shows for sure from {smallest} on.",
    }
    parts = [told[last.change_verdict or "cannot tell"], _loss_words(one), _curve_words(one)]
    return " ".join(part for part in parts if part)


def _loss_words(one: JudgedSeries) -> str:
    erosion = one.last.erosion
    if erosion is None or one.reference is None:
        return "How much is missing cannot be told: no whole fin is on record."
    low, high = erosion.interval
    limits = f"(95 % {low:.0f} to {high:.0f} %) against {one.reference.words}"
    if one.last.loss == "tissue missing":
        return f"{erosion.percent:.0f} % missing {limits}."
    if one.last.loss == "no loss to be seen":
        smallest = f"one would show from {erosion.minimal_detectable:.0f} % on"
        return f"No loss to be seen {limits}; {smallest}."
    return f"{one.last.loss.capitalize()} {limits}."


def _curve_words(one: JudgedSeries) -> str:
    if one.regrowth is None:
        return ""
    days = one.regrowth.days_to[90]
    if not days.known:
        return "Days until whole: not enough data to say."
    limits = f"({days.low:.0f} to {days.high:.0f})"
    return f"Nine tenths of what was lost is back on day {days.value:.0f} {limits}."


def write_tables(change: ChangeOverTime) -> dict[str, pd.DataFrame]:
    """Give all tables by file name."""
    return {
        "changes.csv": changes_table(change),
        "curves.csv": curves_table(change),
        "groups_over_time.csv": groups_table(change),
    }


def fins_shown(change: ChangeOverTime) -> Sequence[str]:
    """Fins that have a series, in the order of the fin guide."""
    present = {one.series.fin for one in change.judged}
    return [fin for fin in fin_definitions() if fin in present]
