"""scales.csv: one marked reference per photo: a bar, a ruler, a blank ID-1 card or a coin."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from finmeasure.errors import ScaleError
from finmeasure.exchange.tables import Row, each_row, photo_key, read_rows
from finmeasure.scale.references import COINS_MM, MarkedObject, Ruler
from finmeasure.scale.request import Bar

Reference = Bar | Ruler | MarkedObject
KINDS = ("bar", "ruler", "id1", "coin")
_ENDS = ("x1_px", "y1_px", "x2_px", "y2_px")
_BARS = ("photo", *_ENDS, "length_mm")
_FARTHEST_PX = 1_000_000.0


@dataclass(frozen=True, slots=True)
class ScalesTable:
    """Marked references by photo.

    Parameters
    ----------
    references : mapping of str to Bar, Ruler or MarkedObject
        Those of photos without problems.
    problems_by_photo : mapping of str to tuple of str
        One line per problem.
    notes : tuple of str
        Rows that name no photo.
    """

    references: Mapping[str, Reference]
    problems_by_photo: Mapping[str, tuple[str, ...]]
    notes: tuple[str, ...] = ()

    def reference(self, photo: str) -> Reference | None:
        """Give the reference marked in a photo, or None where the table gives none."""
        return self.references.get(photo_key(photo))

    def problems(self, photo: str) -> tuple[str, ...]:
        """Say what is wrong with a photo's row."""
        return self.problems_by_photo.get(photo_key(photo), ())


def read_scales(path: str | Path) -> ScalesTable:
    """Read a table of marked references.

    Parameters
    ----------
    path : str or Path
        CSV file. Without a column ``kind`` every row is a bar: photo, x1_px, y1_px, x2_px, y2_px,
        length_mm and, where known, length_mm_u (else 0). ``kind`` may be:

        - ``bar``: as above;
        - ``ruler``: x1_px … y2_px on the row of the finest ticks, and tick_mm (else 1 mm);
        - ``id1``: points_px with the four corners of a blank card, ``x y; x y; x y; x y``;
        - ``coin``: points_px with eight or more points on the rim, and coin, e.g. ``EUR 1``.

        click_sd_px: standard deviation of one marked point of bar, card or coin (else 1 px).

    Returns
    -------
    ScalesTable
        A bad row refuses its photo only.

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong.
    """
    references: dict[str, Reference] = {}
    problems: dict[str, list[str]] = defaultdict(list)

    def take(row: Row) -> None:
        photo = photo_key(row.exact_text("photo"))
        if not photo:
            row.refuse("photo", "the photo's path relative to its folder; fill the cell")
        if photo in references:
            row.refuse("photo", "one reference per photo; an earlier row has one already")
        references[photo] = _reference(row)

    def complain(row: Row, problem: str) -> None:
        problems[photo_key(row.exact_text("photo"))].append(problem)

    each_row(_rows(Path(path)), take, complain)
    good = {photo: one for photo, one in references.items() if photo not in problems}
    notes = tuple(problems.pop("", []))
    return ScalesTable(good, {photo: tuple(lines) for photo, lines in problems.items()}, notes)


def _rows(path: Path) -> list[Row]:
    """Read the rows; without a column ``kind`` all columns of a bar must be there."""
    rows = list(read_rows(path, ("photo",)))
    if any("kind" in row.cells for row in rows):
        return rows
    return list(read_rows(path, _BARS))


def _reference(row: Row) -> Reference:
    """Read the reference of one row."""
    kind = row.one_of("kind", KINDS, default="bar")
    if kind == "bar":
        return _bar(row)
    if kind == "ruler":
        ends = _ends(row)
        return Ruler(**ends, tick_mm=row.number_in("tick_mm", 0.05, 1000, default=1.0))
    name = "ID1" if kind == "id1" else row.one_of("coin", COINS_MM)
    points = _points(row)
    click_sd_px = row.number_in("click_sd_px", 0.05, 100, default=1.0)
    try:
        return MarkedObject(name, points, click_sd_px)
    except ScaleError as error:
        row.refuse_because("points_px", str(error))


def _bar(row: Row) -> Bar:
    ends = _ends(row)
    length_mm = row.number_in("length_mm", 0.01, 10_000)
    length_mm_u = row.number_in("length_mm_u", 0, length_mm, default=0.0)
    click_sd_px = row.number_in("click_sd_px", 0.05, 100, default=1.0)
    return Bar(**ends, length_mm=length_mm, length_mm_u=length_mm_u, click_sd_px=click_sd_px)


def _ends(row: Row) -> dict[str, float]:
    """Read two points that must lie apart."""
    ends = {column: row.number_in(column, -_FARTHEST_PX, _FARTHEST_PX) for column in _ENDS}
    if abs(ends["x2_px"] - ends["x1_px"]) + abs(ends["y2_px"] - ends["y1_px"]) < 1:
        row.refuse("x2_px", "two ends apart from each other")
    return ends


def _points(row: Row) -> tuple[tuple[float, float], ...]:
    """Read marked points, written ``x y; x y; …``."""
    points = []
    for pair in row.text("points_px").strip("; ").split(";"):
        try:
            x, y = (float(number) for number in pair.split())
        except ValueError:
            row.refuse("points_px", "points in pixels as 'x y; x y; x y; x y'")
        if not max(abs(x), abs(y)) <= _FARTHEST_PX:
            row.refuse("points_px", f"pixels up to {_FARTHEST_PX:g}")
        points.append((x, y))
    return tuple(points)
