"""What a report on change over time shows: sentences, plots and pictures, without any layout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.fins.measure import measure_fin
from finmeasure.fins.records import EDGE_CAPTION
from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.photo.reading import read_photo
from finmeasure.report.change_pictures import FinPhoto, before_and_after, sector_map
from finmeasure.report.change_plots import fin_over_time, group_over_time, shown_series
from finmeasure.report.change_tables import fin_words, fins_shown, sentence
from finmeasure.study.over_time import ChangeOverTime
from finmeasure.timeseries.care import Advice, what_to_look_at
from finmeasure.timeseries.judge import JudgedSeries
from finmeasure.timeseries.shoals import mixed_descriptions

if TYPE_CHECKING:
    from finmeasure.study.store import Study

#: Fins with plot and pictures; all others are in the table.
MOST_SHOWN = 12
HOW_TO_READ = (
    "Change is the fin's length relative to the standard length, against the first visit; growth "
    "of the body is taken out. “Changed” holds false alarms to 5 in 100 over the whole study; “no "
    "change to be seen” means that the 95 % limits lie within the smallest change this set-up "
    "sees; else nobody can tell. Photograph three times per visit to see smaller changes."
)


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """One picture with its words."""

    title: str
    caption: str
    content: bytes
    kind: str  # "png" or "jpeg"


@dataclass(frozen=True, slots=True, eq=False)
class FinStory:
    """One fin of one fish: words and pictures."""

    title: str
    sentence: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ChangePage:
    """Everything that the page on change over time shows.

    Parameters
    ----------
    rows : tuple of tuple of str
        Fish, group, fin, first and last day, sentence, for every fin; fins seen once come last.
    """

    rows: tuple[tuple[str, ...], ...]
    stories: tuple[FinStory, ...]
    groups: tuple[Figure, ...]
    group_rows: tuple[tuple[str, ...], ...]
    arms: tuple[str, ...]
    remarks: tuple[str, ...]
    advice: tuple[Advice, ...]
    left_out: int


def change_page(study: Study, change: ChangeOverTime) -> ChangePage:
    """Put together the page, with its plots and pictures.

    Parameters
    ----------
    study : Study
        Open; photos are read where their files are still there.
    change : ChangeOverTime
        Of this study.
    """
    chosen = shown_series(change.judged)
    stories = tuple(_story(study, one) for one in chosen[:MOST_SHOWN])
    return ChangePage(
        rows=tuple(_row(one) for one in sorted(change.judged, key=_seen_once)),
        stories=stories,
        groups=_group_figures(change),
        group_rows=_group_rows(change),
        arms=(*_courses(change), *_arms(change)),
        remarks=change.remarks,
        advice=what_to_look_at(change.judged, change.happenings),
        left_out=max(0, len(chosen) - MOST_SHOWN),
    )


def _arms(change: ChangeOverTime) -> tuple[str, ...]:
    return tuple(f"{_shown(arm.fin)}: {arm.comparison.sentence}" for arm in change.arms)


def _courses(change: ChangeOverTime) -> tuple[str, ...]:
    """Describe the mean course of named fish, % of the first visit per week."""
    return tuple(
        f"Group {group}, {_shown(fin)}: the named fish go {7 * found.slope:+.1f} % a week on "
        f"average (95 % {7 * (found.slope - 1.96 * found.slope_u):+.1f} to "
        f"{7 * (found.slope + 1.96 * found.slope_u):+.1f} %; mixed-effects model, a "
        "description only)."
        for (group, fin), found in mixed_descriptions(change.judged).items()
    )


def _shown(fin: str) -> str:
    return fin_definitions()[fin].shown


def _seen_once(one: JudgedSeries) -> bool:
    return len(one.visits) == 1


def _row(one: JudgedSeries) -> tuple[str, ...]:
    first, last = one.visits[0].visit.day.isoformat(), one.last.visit.day.isoformat()
    seen = first if _seen_once(one) else f"{first} to {last}, {len(one.visits)} visits"
    return one.series.fish, one.series.group, fin_words(one), seen, sentence(one)


def _group_figures(change: ChangeOverTime) -> tuple[Figure, ...]:
    figures: list[Figure] = []
    for group in sorted({step.group for step in change.groups}):
        for fin in fins_shown(change) or sorted({step.fin for step in change.groups}):
            picture = group_over_time(change, group, fin)
            if picture is not None and len(figures) < MOST_SHOWN:
                figures.append(Figure(f"Group {group}: {_shown(fin)}", "", picture, "png"))
    return tuple(figures)


def _group_rows(change: ChangeOverTime) -> tuple[tuple[str, ...], ...]:
    """Give the newest visit of every group and fin."""
    newest = {(step.group, step.fin, step.side): step for step in change.groups}
    rows = []
    for step in newest.values():
        if step.change is None:
            continue
        low, high = step.change.interval
        few = " (few fish)" if "few_fish" in step.flags else ""
        rows.append((
            step.group, _shown(step.fin) + (f" ({step.side})" if step.side else ""),
            str(step.visit), f"{step.fish}{few}",
            f"{step.change.percent:+.1f} % (95 % {low:+.1f} to {high:+.1f} %)",
            step.verdict or "", "same fish" if step.same_fish else "samples",
        ))  # fmt: skip
    return tuple(rows)


def _story(study: Study, one: JudgedSeries) -> FinStory:
    figures = [Figure("Over time", "", fin_over_time(one), "png")]
    first, last = _fin_photo(study, one, 0), _fin_photo(study, one, -1)
    if first is not None and last is not None:
        caption = f"Both at the same size relative to the fin's base (squares). {EDGE_CAPTION}"
        figures.append(Figure("Before and after", caption, before_and_after(first, last), "jpeg"))
    if last is not None and one.last.sector_change:
        picture = sector_map(last, one.last.sector_change, "% longer or shorter than first")
        caption = "Change of five sectors; dark colours where it is beyond doubt (95 %)."
        figures.append(Figure("Sectors", caption, picture, "jpeg"))
    return FinStory(f"{one.series.fish}: {fin_words(one)}", sentence(one), tuple(figures))


def _fin_photo(study: Study, one: JudgedSeries, place: int) -> FinPhoto | None:
    """Read the photo of a visit with its fin; None where the file is gone."""
    visit = one.visits[place].visit
    photo = visit.records[0].photo
    known = study.recorded_photos().get(photo)
    if known is None or known.file is None:
        return None
    try:
        pixels = read_photo(known.file).pixels
    except (FinmeasureError, OSError):
        return None
    for stored in study.current_readings(photo):
        outline = stored.reading.outlines.get(one.series.fin)
        if stored.reading.fish == visit.records[0].fish and outline is not None:
            scale = study.scale_of(photo)
            edge = measure_fin(
                one.series.fin, outline, stored.reading,
                None if isinstance(scale, NotFound) else scale,
            )  # fmt: skip
            return FinPhoto(pixels, stored.reading, edge, f"{one.series.fish} {visit.day}")
    return None
