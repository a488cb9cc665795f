"""What a report shows, taken from a study: plain records without any layout."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pandas as pd

from finmeasure.fins.records import MEDIAN_FINS
from finmeasure.flags import FLAGS
from finmeasure.measurements.definitions import HEADLINE, MEASURES
from finmeasure.report.numbers import UNITS, with_limits

if TYPE_CHECKING:
    from finmeasure.study.store import Study

SIZE = "standard_length"
RAGGEDNESS = tuple(f"{fin}_notch_area" for fin in MEDIAN_FINS)
TABLE_MEASURES = (*HEADLINE, *RAGGEDNESS, SIZE)
_STATE_WORDS = {"absent": "none", "hidden": "not seen", "refused": "refused"}
_EVERY_PHOTO = frozenset({"no_scale", "plane_assumed", "print_unchecked", "u_default"})


@dataclass(frozen=True, slots=True)
class Cell:
    """One measure of one fish: its text, and why where it was not measured."""

    text: str
    state: str
    reason: str = ""
    value: float | None = None


@dataclass(frozen=True, slots=True)
class FishRow:
    """One fish on one photo.

    Parameters
    ----------
    cells : mapping of str to Cell
        By measure id.
    notes : tuple of str
        Flags in plain words, those left out that hold for every photo alike.
    """

    photo: str
    fish: str
    group: str
    visit: str
    side: str
    cells: Mapping[str, Cell]
    notes: tuple[str, ...] = ()

    @property
    def raggedness(self) -> float:
        """Largest notch area of the fish's fins, %; -1 where none was measured."""
        return max((value for value, _ in self._notch_areas()), default=-1.0)

    @property
    def most_ragged(self) -> str:
        """The largest notch area as text, with its fin; empty where none was measured."""
        fins = self._notch_areas()
        if not fins:
            return ""
        value, fin = max(fins)
        text = self.cells[f"{fin}_notch_area"].text
        return f"{text} ({fin.replace('_', ' ')})" if value > 0 else text

    def _notch_areas(self) -> list[tuple[float, str]]:
        """Notch area and fin, of the fins that have one."""
        cells = [(self.cells.get(f"{fin}_notch_area"), fin) for fin in MEDIAN_FINS]
        return [(cell.value, fin) for cell, fin in cells if cell and cell.value is not None]

    @property
    def refusals(self) -> int:
        """Number of measures that were refused."""
        return sum(cell.state == "refused" for cell in self.cells.values())


@dataclass(frozen=True, slots=True)
class Overview:
    """One headline measure over all fish: how many, median, smallest, largest."""

    shown: str
    unit: str
    number: int
    median: str
    smallest: str
    largest: str


@dataclass(frozen=True, slots=True)
class ReportContent:
    """Everything that the table report shows.

    Parameters
    ----------
    fish : tuple of FishRow
        Worst first: most tissue missing, then most refused measures.
    refused : tuple of tuple of str
        Photo and reason.
    columns : tuple of str
        Measures of the table; raggedness has a column of its own.
    shared_notes : tuple of str
        Flags in plain words that hold for every photo.
    """

    photos: int
    measured: int
    with_scale: int
    scale_methods: tuple[str, ...]
    first_day: str
    last_day: str
    fish: tuple[FishRow, ...]
    refused: tuple[tuple[str, str], ...]
    columns: tuple[str, ...]
    overview: tuple[Overview, ...]
    shared_notes: tuple[str, ...] = field(default=())


def gather(study: Study) -> ReportContent:
    """Gather what the table report shows.

    Parameters
    ----------
    study : Study
        Open.

    Returns
    -------
    ReportContent
        Of all photos that count now.
    """
    photos = study.table("photos")
    measures = study.table("measurements")
    measured = photos["state"] == "measured"
    measures = measures[measures["photo"].isin(photos.loc[measured, "photo"])]
    fish = _fish_rows(study.table("fish"), measures)
    methods = photos["scale_method"].fillna("").astype(str)
    days = photos["taken_at"].dropna().astype(str).str[:10]
    refused = photos[photos["state"] == "refused"]
    return ReportContent(
        photos=len(photos),
        measured=int(measured.sum()),
        with_scale=int((methods[measured] != "").sum()),
        scale_methods=tuple(sorted(set(methods[measured]) - {""})),
        first_day=min(days, default=""),
        last_day=max(days, default=""),
        fish=tuple(sorted(fish, key=lambda row: (-row.raggedness, -row.refusals))),
        refused=tuple(zip(refused["photo"], refused["reason"].fillna(""), strict=True)),
        columns=(*HEADLINE, SIZE),
        overview=_overview(measures),
        shared_notes=_shared_notes(measures),
    )


def measures_by_fish(study: Study, photos: set[str]) -> dict[tuple[str, str], dict[str, Cell]]:
    """Give all measures of the fish on some photos, by photo and fish, then by measure."""
    measures = study.table("measurements")
    found: dict[tuple[str, str], dict[str, Cell]] = {}
    for row in _records(measures[measures["photo"].isin(photos)]):
        found.setdefault((row["photo"], str(row["fish"])), {})[row["measure"]] = _cell(row)
    return found


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dictionaries with None for what is missing."""
    names = [str(name) for name in frame.columns]
    columns = [frame[name].astype(object).where(frame[name].notna(), None) for name in names]
    return [dict(zip(names, values, strict=True)) for values in zip(*columns, strict=True)]


def _fish_rows(fish: pd.DataFrame, measures: pd.DataFrame) -> list[FishRow]:
    """Join each fish with its headline measures and its notes."""
    shown = measures[measures["measure"].isin(TABLE_MEASURES)]
    cells: dict[tuple[str, str], dict[str, Cell]] = {}
    flags: dict[tuple[str, str], set[str]] = {}
    for row in _records(shown):
        key = (row["photo"], str(row["fish"]))
        cells.setdefault(key, {})[row["measure"]] = _cell(row)
        flags.setdefault(key, set()).update((row["flags"] or "").split(";"))
    head = fish.loc[
        fish["photo"].isin(measures["photo"]), ["photo", "fish", "group", "visit", "side"]
    ]
    rows = []
    for row in _records(head):
        key = (row["photo"], str(row["fish"]))
        group, visit, side = (str(row[name] or "") for name in ("group", "visit", "side"))
        notes = in_words(flags.get(key, set()) - _EVERY_PHOTO)
        mine = cells.get(key, {}).values()
        notes += tuple(dict.fromkeys(c.reason for c in mine if c.state == "hidden" and c.reason))
        rows.append(FishRow(*key, group, visit, side, cells=cells.get(key, {}), notes=notes))
    return rows


def in_words(flags: Iterable[str]) -> tuple[str, ...]:
    """Turn flags into plain words, in the order of the table of flags."""
    given = set(flags)
    return tuple(text for flag, text in FLAGS.items() if flag in given)


def _cell(row: Mapping[str, Any]) -> Cell:
    """Turn one row of the table of measures into what is shown."""
    if row["state"] != "measured" or row["value"] is None:
        reason = row["reason"] or " ".join(in_words((row["flags"] or "").split(";")))
        return Cell(_STATE_WORDS.get(row["state"], row["state"]), row["state"], reason)
    return Cell(with_limits(row["value"], row["u"]), "measured", "", row["value"])


def _overview(measures: pd.DataFrame) -> tuple[Overview, ...]:
    """Median and range of each measure of the table."""
    rows = []
    for name in TABLE_MEASURES:
        mine = (measures["measure"] == name) & (measures["state"] == "measured")
        values = measures.loc[mine, "value"].astype(float)
        if not len(values):
            continue
        texts = [f"{number:.3g}" for number in (values.median(), values.min(), values.max())]
        definition = MEASURES[name]
        rows.append(Overview(definition.shown, UNITS[definition.unit], len(values), *texts))
    return tuple(rows)


def _shared_notes(measures: pd.DataFrame) -> tuple[str, ...]:
    """Find the flags that hold for the whole set-up rather than for one fish, in plain words."""
    found: set[str] = set()
    for text in measures["flags"].dropna().unique():
        found.update(text.split(";"))
    return in_words(found & _EVERY_PHOTO)


def column_titles(columns: Sequence[str]) -> list[tuple[str, str]]:
    """Name shown and unit of each measure."""
    return [(MEASURES[name].shown, UNITS[MEASURES[name].unit]) for name in columns]
