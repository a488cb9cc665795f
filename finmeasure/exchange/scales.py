"""scales.csv: one marked bar of known length per photo."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from finmeasure.exchange.tables import Row, each_row, photo_key, read_rows
from finmeasure.scale.request import Bar

_ENDS = ("x1_px", "y1_px", "x2_px", "y2_px")
_NEEDED = ("photo", *_ENDS, "length_mm")
_FARTHEST_PX = 1_000_000.0


@dataclass(frozen=True, slots=True)
class ScalesTable:
    """Bars by photo.

    Parameters
    ----------
    bars : mapping of str to Bar
        Bars of photos without problems.
    problems_by_photo : mapping of str to tuple of str
        One line per problem.
    notes : tuple of str
        Rows that name no photo.
    """

    bars: Mapping[str, Bar]
    problems_by_photo: Mapping[str, tuple[str, ...]]
    notes: tuple[str, ...] = ()

    def bar(self, photo: str) -> Bar | None:
        """Bar of a photo, or None where the table gives none."""
        return self.bars.get(photo_key(photo))

    def problems(self, photo: str) -> tuple[str, ...]:
        """Say what is wrong with a photo's row."""
        return self.problems_by_photo.get(photo_key(photo), ())


def read_scales(path: str | Path) -> ScalesTable:
    """Read a table of marked bars.

    Parameters
    ----------
    path : str or Path
        CSV file with the columns photo, x1_px, y1_px, x2_px, y2_px, length_mm and, where known,
        length_mm_u (else 0).

    Returns
    -------
    ScalesTable
        A bad row refuses its photo only.

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong.
    """
    bars: dict[str, Bar] = {}
    problems: dict[str, list[str]] = defaultdict(list)

    def take(row: Row) -> None:
        photo = photo_key(row.exact_text("photo"))
        if not photo:
            row.refuse("photo", "the photo's path relative to its folder; fill the cell")
        if photo in bars:
            row.refuse("photo", "one bar per photo; an earlier row has one already")
        bars[photo] = _bar(row)

    def complain(row: Row, problem: str) -> None:
        problems[photo_key(row.exact_text("photo"))].append(problem)

    each_row(read_rows(Path(path), _NEEDED), take, complain)
    good = {photo: bar for photo, bar in bars.items() if photo not in problems}
    notes = tuple(problems.pop("", []))
    return ScalesTable(good, {photo: tuple(lines) for photo, lines in problems.items()}, notes)


def _bar(row: Row) -> Bar:
    ends = {column: row.number_in(column, -_FARTHEST_PX, _FARTHEST_PX) for column in _ENDS}
    length_mm = row.number_in("length_mm", 0.01, 10_000)
    length_mm_u = row.number_in("length_mm_u", 0, length_mm, default=0.0)
    bar = Bar(**ends, length_mm=length_mm, length_mm_u=length_mm_u)
    if bar.length_px < 1:
        row.refuse("x2_px", "two ends apart from each other")
    return bar
