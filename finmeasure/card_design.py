"""Numbers of every printed card: the one place that drawing and finding both read.

A card's coordinates are millimetres from its upper left corner, x to the right, y down. Black
squares, markers and grid lines are all axis-parallel rectangles, so a design can be drawn exactly
at any resolution.

Released designs are frozen (a test keeps their digest): a change needs a new version and new ids.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import DefinitionError

Kind = Literal["window", "squares"]
Points = NDArray[np.float64]

PAPER_MM: dict[str, tuple[float, float]] = {
    # Landscape. ISO 216 for the A sizes, ANSI/ASME Y14.1 for letter, ISO/IEC 7810 for ID-1.
    "A4": (297.0, 210.0),
    "A5": (210.0, 148.0),
    "A6": (148.0, 105.0),
    "letter": (279.4, 215.9),
    "ID1": (85.6, 53.98),
}
KINDS: tuple[Kind, ...] = ("window", "squares")
DICTIONARY_NAME = "DICT_4X4_250"
DICTIONARY_SIZE = 250
MARKER_CELLS = 6  # four code cells and a black border of one cell
DIGIT_MARKERS = range(120, 130)  # number tags: marker 120 + d stands for the digit d
NEXT_FREE_MARKER = 130  # ids from here on are kept for later versions

# The public ArUco dictionary of 4 x 4 cells: four hexadecimal digits a marker, by row, 1 = white.
MARKER_CODES = (
    "b5320f9a332d9946549e79cd9e2ec4f2fedacf56f99111a70eb72a0f24b1263e466566006c5e76af868bb02bccd5"
    "dd82fe479471ace4a5542123346f441557b29ecff0cb08ae0929187504ff0df61c5a17182a28328c38b224e82eeb"
    "2d3f4b64502e5013519455685d415f9768016867612461e96b126fe567df7e1b80a083448ba2937a846c852a859c"
    "9c899fa1bb7cbc04b65bbfc8b7abca1fc962d958d3d5cc98c7a0c537e95df925fbbbee2af74d35758aad76170acf"
    "064b2dc149d843f44f364fd369e470c77a6eb4eaed4ffce7fea6002500430a880a86026f001c009708370a3109c6"
    "0b0109fb0b581082182d10781073127412b11af913060c0e0cf104330c9f0ef20efd074c0fa4072f05b50f9107db"
    "1ee414391d8015c81f8b15ba1db1208028e922a228532af022f72940214629b92b9c2bb238ca382e300738e73a49"
    "3a65325d3b88391d3bd3264727802faa2d1425de25532f7734483ca83c41340d34fb369a3de0356a3d093ded3fc4"
    "3f6c37ce3d5c3d7637b03f173fff48e542684a2d4160495141dd4bdf584f5a485816505d5afa5ab551235b8a5919"
    "51354c6946c14e0b445f4e594d834d7d47d847735c855e44562b5cbb55c35f6e5feb5d12555e6270621561c26b20"
    "63456b5c6b5b780c7acf787f798071e5717479b671d37b33646a66a86ea76e9165226dcb678d6d31"
)


@dataclass(frozen=True)
class Rectangle:
    """An axis-parallel rectangle on the card, millimetres."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class CardDesign(ABC):
    """What all designs share.

    Parameters
    ----------
    paper : str
        Key of :data:`PAPER_MM`.
    version : int
        Design version; a released version never changes.
    columns, rows : int
        Squares of the ring along its outer border, or cells of the grid.
    pitch_mm : float
        Side of one square of the ring, or of one small cell of the grid.
    origin_mm : tuple of float
        Upper left corner of ring or grid on the card.
    marker_mm : float
        Side of a marker, black border included.
    first_marker : int
        The card's markers are ``first_marker``, ``first_marker + 1``, …
    check_mm : tuple of float
        Lengths of the two check lines (across, down), short enough for a 150 mm caliper.
    """

    kind: ClassVar[Kind]
    paper: str
    version: int
    columns: int
    rows: int
    pitch_mm: float
    origin_mm: tuple[float, float]
    marker_mm: float
    first_marker: int
    check_mm: tuple[float, float]

    @property
    def name(self) -> str:
        """One word for it, as studies keep it."""
        return f"{self.kind}-{self.paper}-{self.version}"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the card."""
        return PAPER_MM[self.paper]

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the page it is printed on: a small card comes on an A6 page."""
        return PAPER_MM["A6" if self.paper == "ID1" else self.paper]

    @property
    def card_on_page_mm(self) -> tuple[float, float]:
        """Upper left corner of the card on its page."""
        if self.paper != "ID1":
            return 0.0, 0.0
        return (self.page_mm[0] - self.size_mm[0]) / 2, 20.0

    @property
    def pattern(self) -> Rectangle:
        """Outer border of ring or grid."""
        left, top = self.origin_mm
        width, height = self.columns * self.pitch_mm, self.rows * self.pitch_mm
        return Rectangle(left, top, left + width, top + height)

    @property
    def module_mm(self) -> float:
        """Side of one cell of a marker."""
        return self.marker_mm / MARKER_CELLS

    @cached_property
    def marker_ids(self) -> tuple[int, ...]:
        """Ids of the card's markers, in the order of `marker_corners_mm`."""
        return tuple(range(self.first_marker, self.first_marker + len(self.marker_centres_mm)))

    @property
    @abstractmethod
    def marker_centres_mm(self) -> Points:
        """Centres of the markers, shape (M, 2)."""

    @cached_property
    def marker_corners_mm(self) -> Points:
        """Corners of the markers, shape (M, 4, 2), clockwise from the marker's upper left."""
        corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * self.marker_mm
        return np.asarray(self.marker_centres_mm[:, None, :] + corners)

    def marker_rectangles(self) -> list[Rectangle]:
        """Black cells of all markers, joined along rows."""
        return [
            rectangle
            for number, centre in zip(self.marker_ids, self.marker_centres_mm, strict=True)
            for rectangle in marker_rectangles(number, (centre[0], centre[1]), self.marker_mm)
        ]


@dataclass(frozen=True)
class WindowDesign(CardDesign):
    """A ring of squares, two squares thick, round a blank field.

    The squares alternate like a chessboard, black in the upper left corner; the white squares of
    the outer row hold the markers, so that a fish which hangs over the ring hides few of them. The
    points measured are the corners on the middle line of the ring, where four squares meet.
    """

    kind: ClassVar[Kind] = "window"

    @property
    def field(self) -> Rectangle:
        """The blank field for the fish."""
        edge, thick = self.pattern, 2 * self.pitch_mm
        return Rectangle(
            edge.left + thick, edge.top + thick, edge.right - thick, edge.bottom - thick
        )

    @cached_property
    def corners_mm(self) -> Points:
        """Points where four squares meet, shape (N, 2), clockwise from the upper left."""
        columns, rows = self.columns, self.rows
        steps = (
            [(i, 1) for i in range(1, columns - 1)]
            + [(columns - 1, j) for j in range(1, rows - 1)]
            + [(i, rows - 1) for i in range(columns - 1, 1, -1)]
            + [(1, j) for j in range(rows - 1, 1, -1)]
        )
        return np.array(steps, float) * self.pitch_mm + self.origin_mm

    @cached_property
    def marker_centres_mm(self) -> Points:
        """Centres of the white squares of the outer row, shape (M, 2), row by row."""
        cells = [
            (i, j)
            for j in range(self.rows)
            for i in range(self.columns)
            if self._ring_depth(i, j) == 0 and (i + j) % 2
        ]
        return (np.array(cells, float) + 0.5) * self.pitch_mm + self.origin_mm

    def rectangles(self) -> list[Rectangle]:
        """Everything black on the card, without overlaps."""
        pitch, (left, top) = self.pitch_mm, self.origin_mm
        squares = [
            Rectangle(
                left + i * pitch, top + j * pitch, left + (i + 1) * pitch, top + (j + 1) * pitch
            )
            for j in range(self.rows)
            for i in range(self.columns)
            if self._ring_depth(i, j) < 2 and (i + j) % 2 == 0
        ]
        return squares + self.marker_rectangles()

    def _ring_depth(self, i: int, j: int) -> int:
        """How many squares lie between this one and the outer border."""
        return min(i, j, self.columns - 1 - i, self.rows - 1 - j)


@dataclass(frozen=True)
class SquaresDesign(CardDesign):
    """A grid of thin lines every 5 mm and bold lines every 10 mm, with a tag in each corner.

    Parameters
    ----------
    tag_cells : int
        Small cells along each side of a corner that a tag takes; the grid leaves them blank.
    crossing_step : int
        Every so-many-th line is measured: only bold ones where there are many.
    thin_mm, bold_mm : float
        Line widths.
    """

    tag_cells: int = 3
    crossing_step: int = 2
    thin_mm: float = 0.25
    bold_mm: float = 0.5
    kind: ClassVar[Kind] = "squares"

    @property
    def field(self) -> Rectangle:
        """The grid."""
        return self.pattern

    @cached_property
    def marker_centres_mm(self) -> Points:
        """Centres of the corner tags, shape (4, 2), row by row."""
        edge, half = self.pattern, self.tag_cells * self.pitch_mm / 2
        return np.array(
            [
                (x, y)
                for y in (edge.top + half, edge.bottom - half)
                for x in (edge.left + half, edge.right - half)
            ]
        )

    @cached_property
    def corners_mm(self) -> Points:
        """Crossings inside the grid that are measured, shape (N, 2), row by row."""
        step = self.crossing_step
        cells = [
            (i, j)
            for j in range(step, self.rows, step)
            for i in range(step, self.columns, step)
            if not self._near_tag(i, j)
        ]
        return np.array(cells, float) * self.pitch_mm + self.origin_mm

    def rectangles(self) -> list[Rectangle]:
        """Everything black on the card, without overlaps."""
        down = [self._line(i, self.columns, self.rows) for i in range(self.columns + 1)]
        across = [self._line(j, self.rows, self.columns) for j in range(self.rows + 1)]
        verticals = [self._vertical(i, *line) for i, line in enumerate(down)]
        pieces = [
            piece
            for j, line in enumerate(across)
            for piece in _between(self._horizontal(j, *line), verticals)
        ]
        return verticals + pieces + self.marker_rectangles()

    def _near_tag(self, i: int, j: int) -> bool:
        """Whether a crossing lies in or on the border of a tag's corner."""
        return min(i, self.columns - i) <= self.tag_cells and min(j, self.rows - j) <= (
            self.tag_cells
        )

    def _line(self, index: int, lines: int, cells: int) -> tuple[float, float, float]:
        """Half width and the first and last cell of one line; lines stop before the tags."""
        half = (self.thin_mm if index % 2 else self.bold_mm) / 2
        if min(index, lines - index) < self.tag_cells:
            return half, self.tag_cells, cells - self.tag_cells
        return half, 0, cells

    def _vertical(self, index: int, half: float, first: float, last: float) -> Rectangle:
        pitch, (left, top) = self.pitch_mm, self.origin_mm
        x, over = left + index * pitch, self.bold_mm / 2
        return Rectangle(x - half, top + first * pitch - over, x + half, top + last * pitch + over)

    def _horizontal(self, index: int, half: float, first: float, last: float) -> Rectangle:
        pitch, (left, top) = self.pitch_mm, self.origin_mm
        y, over = top + index * pitch, self.bold_mm / 2
        return Rectangle(
            left + first * pitch - over, y - half, left + last * pitch + over, y + half
        )


def marker_cells(number: int) -> NDArray[np.bool_]:
    """Cells of a marker, shape (6, 6), True where black.

    Raises
    ------
    DefinitionError
        If the dictionary has no such marker.
    """
    if not 0 <= number < DICTIONARY_SIZE:
        message = f"Marker {number} does not exist. Allowed: 0 to {DICTIONARY_SIZE - 1}."
        raise DefinitionError(message)
    code = int(MARKER_CODES[4 * number : 4 * number + 4], 16)
    white = [bool(code >> (15 - cell) & 1) for cell in range(16)]
    cells = np.ones((MARKER_CELLS, MARKER_CELLS), bool)
    cells[1:-1, 1:-1] = ~np.array(white).reshape(4, 4)
    return cells


def marker_rectangles(
    number: int, centre_mm: tuple[float, float], side_mm: float
) -> list[Rectangle]:
    """Black cells of one marker as rectangles, neighbours in a row joined."""
    cell = side_mm / MARKER_CELLS
    left, top = centre_mm[0] - side_mm / 2, centre_mm[1] - side_mm / 2
    found = []
    for row, line in enumerate(marker_cells(number)):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
        for start, stop in edges.reshape(-1, 2):
            found.append(
                Rectangle(
                    left + start * cell,
                    top + row * cell,
                    left + stop * cell,
                    top + (row + 1) * cell,
                )
            )
    return found


def card_design(kind: str, paper: str, version: int = 1) -> WindowDesign | SquaresDesign:
    """Look up a released design.

    Parameters
    ----------
    kind : {"window", "squares"}
        Ring round a blank field, or grid.
    paper : str
        Key of :data:`PAPER_MM`.
    version : int
        Design version.

    Raises
    ------
    DefinitionError
        If there is no such design.
    """
    for design in DESIGNS:
        if (design.kind, design.paper, design.version) == (kind, paper, version):
            return design
    message = (
        f"Card {kind!r} on {paper!r}, version {version}, does not exist. "
        f"Allowed kinds: {', '.join(KINDS)}; papers: {', '.join(PAPER_MM)}; version: 1."
    )
    raise DefinitionError(message)


def _between(line: Rectangle, verticals: list[Rectangle]) -> list[Rectangle]:
    """Pieces of a horizontal line that no vertical line covers."""
    crossing = sorted(
        (v.left, v.right) for v in verticals if v.top < line.bottom and v.bottom > line.top
    )
    pieces, start = [], line.left
    for left, right in crossing:
        if right <= line.left or left >= line.right:
            continue
        if left > start:
            pieces.append(Rectangle(start, line.top, left, line.bottom))
        start = max(start, right)
    if start < line.right:
        pieces.append(Rectangle(start, line.top, line.right, line.bottom))
    return pieces


DESIGNS: tuple[WindowDesign | SquaresDesign, ...] = (
    WindowDesign("A4", 1, 14, 10, 19.0, (15.5, 9.0), 15.2, 0, (130.0, 130.0)),
    WindowDesign("letter", 1, 14, 10, 18.5, (10.2, 14.4), 14.8, 22, (130.0, 130.0)),
    WindowDesign("A5", 1, 14, 10, 13.0, (14.0, 7.5), 10.4, 44, (130.0, 100.0)),
    WindowDesign("A6", 1, 13, 9, 9.8, (10.3, 6.4), 7.84, 66, (100.0, 80.0)),
    WindowDesign("ID1", 1, 10, 6, 8.4, (0.8, 1.79), 7.2, 86, (100.0, 80.0)),
    SquaresDesign("A4", 1, 54, 38, 5.0, (13.5, 8.5), 12.0, 100, (130.0, 130.0)),
    SquaresDesign("letter", 1, 50, 38, 5.0, (14.7, 11.9), 12.0, 104, (130.0, 130.0)),
    SquaresDesign("A5", 1, 38, 26, 5.0, (10.0, 7.5), 12.0, 108, (130.0, 100.0)),
    SquaresDesign("A6", 1, 26, 18, 5.0, (9.0, 5.5), 7.8, 112, (100.0, 80.0), 2, 1),
    SquaresDesign("ID1", 1, 16, 10, 5.0, (2.8, 1.99), 7.8, 116, (100.0, 80.0), 2, 1),
)
