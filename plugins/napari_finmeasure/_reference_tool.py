"""What the mouse does while a reference is marked: clicks on a bar, ruler, card or coin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from finmeasure.marking import margin
from napari_finmeasure._glass import Drawing, Label
from napari_finmeasure._hands import Place
from napari_finmeasure._hint_card import Hint
from napari_finmeasure._layers import ORANGE, SKY
from napari_finmeasure._text_size import on_screen

if TYPE_CHECKING:
    from napari_finmeasure._stage import Stage

REACH_SCREEN_PX = 8.0


@dataclass(frozen=True, slots=True)
class ToMark:
    """What is to be clicked on a reference.

    Parameters
    ----------
    title, text : str
        What the card beside the mouse says.
    least, most : int
        Fewest points that are enough, and how many there can be.
    closed : bool
        The last point is joined with the first.
    """

    title: str
    text: str
    least: int
    most: int
    closed: bool = False

    def hint(self, count: int) -> Hint | None:
        """Say what is to be clicked next; None when nothing more can be."""
        if count >= self.most:
            return None
        asked = f"{count + 1} of {self.most}" if self.least == self.most else f"{count} marked"
        return Hint(self.title, self.text, keys=f"{asked}  ·  Backspace last one  ·  Esc stop")


TO_MARK = {
    "bar": ToMark(
        "A length that you know",
        "Click both ends of the ruler piece, card edge or bar. It must stand as far from the "
        "camera as the fish.",
        least=2,
        most=2,
    ),
    "ruler": ToMark(
        "A ruler",
        "Click on the row of its finest marks, near one end, then near the other. All marks "
        "between are counted.",
        least=2,
        most=2,
    ),
    "ID1": ToMark(
        "A blank card",
        "Click its four corners one after the other round the card, where its straight edges "
        "would meet.",
        least=4,
        most=4,
        closed=True,
    ),
    "coin": ToMark(
        "A coin",
        "Click eight points or more on its rim, all the way round.",
        least=8,
        most=16,
        closed=True,
    ),
}


class ReferenceTool:
    """Mark the points of a reference; they can be dragged and taken back.

    Parameters
    ----------
    stage : Stage
        Canvas and bench.
    to_mark : ToMark
        What is asked for.
    marked : callable
        Called with all points whenever they change.
    """

    def __init__(
        self, stage: Stage, to_mark: ToMark, marked: Callable[[list[Place]], None]
    ) -> None:
        self._stage = stage
        self._to_mark = to_mark
        self._marked = marked
        self.freehand = False
        self._points: list[Place] = []
        self._held = 0

    @property
    def hint(self) -> Hint | None:
        """What the card says."""
        return self._to_mark.hint(len(self._points))

    def grab(self, place: Place) -> bool:
        """Take hold of a point."""
        reach = on_screen(REACH_SCREEN_PX) / self._stage.zoom
        points = np.array(self._points)
        index = margin.nearest_vertex(points, place, reach) if self._points else None
        self._held = index or 0
        return index is not None

    def drag(self, place: Place) -> None:
        """Move a point."""
        self._points[self._held] = place
        self._show(place)
        self._stage.magnify(place)

    def drop(self, place: Place) -> None:
        """Keep the point there."""
        self.drag(place)
        self._tell()

    def tap(self, place: Place) -> None:
        """Nothing changes."""

    def click(self, place: Place) -> None:
        """Set a point; one click too many begins anew."""
        if len(self._points) == self._to_mark.most:
            self._points = []
        self._points.append(place)
        self._show(place)
        self._tell()

    def take_away(self, place: Place) -> None:
        """Take the point under the mouse away; the last one where there is none."""
        if not self.grab(place):
            self.take_last_away()
            return
        self._points.pop(self._held)
        self._show(place)
        self._tell()

    def take_last_away(self) -> None:
        """Take the point away that was set last."""
        if self._points:
            self._points.pop()
            self._show(None)
            self._tell()

    def pulls_from(self, place: Place) -> bool:
        """Leave dragging to the photo."""
        return False

    def draw_freely(self, places: list[Place]) -> None:
        """Nothing is drawn freely here."""

    def drawn(self, places: list[Place]) -> None:
        """Nothing is drawn freely here."""

    def hover(self, place: Place) -> None:
        """Show what is marked."""
        self._show(place)
        self._stage.magnify(place)
        self._stage.guide(place)

    def leave(self) -> None:
        """Show what is marked without the mouse."""
        self._show(None)

    def _tell(self) -> None:
        """Tell all points."""
        self._stage.guide_changed()
        self._marked(list(self._points))

    def _show(self, place: Place | None) -> None:
        """Draw the points and the line through them, up to the mouse while some are missing."""
        line = list(self._points)
        if self._points and place is not None and len(line) < self._to_mark.least:
            line.append(place)
        if self._to_mark.closed and len(self._points) >= self._to_mark.least:
            line.append(self._points[0])
        lines = [(np.array(line), ORANGE)] if len(line) > 1 else []
        self._stage.draw(Drawing(lines=lines, handles=np.array(self._points).reshape(-1, 2)))


class NumberedLines:
    """Shows lines with their numbers until a person has said whether they are right.

    Parameters
    ----------
    stage : Stage
        Canvas.
    lines : list of tuple of int and ndarray of shape (N, 2)
        Numbers and lines, pixels (x, y).
    """

    def __init__(self, stage: Stage, lines: list[tuple[int, NDArray[np.float64]]]) -> None:
        self._stage = stage
        size = (1, 1) if stage.bench.prepared is None else stage.bench.prepared.size_px
        shown = [(number, _inside(line, size)) for number, line in lines]
        shown = [(number, line) for number, line in shown if len(line) > 1]
        self._drawing = Drawing(
            lines=[(line, SKY) for _, line in shown],
            labels=[
                Label((float(line[1, 0]), float(line[1, 1])), f"{number}", strong=True)
                for number, line in shown
            ],
        )
        self.hint: Hint | None = Hint(
            "Are the numbers right?",
            "Count the squares between two blue lines: ten must lie between 0 and 10. Then answer "
            "at the right.",
            keys="Enter yes  ·  Esc no",
        )
        self.freehand = False

    def grab(self, place: Place) -> bool:
        """Nothing can be moved."""
        return False

    def pulls_from(self, place: Place) -> bool:
        """Leave dragging to the photo."""
        return False

    def hover(self, place: Place) -> None:
        """Keep the lines; enlarge what is under the mouse."""
        self._stage.draw(self._drawing)
        self._stage.magnify(place)
        self._stage.guide(place)

    def leave(self) -> None:
        """Keep the lines."""
        self._stage.draw(self._drawing)

    def _nothing(self, *places: object) -> None:
        """Do nothing."""

    drag = drop = tap = click = take_away = draw_freely = drawn = _nothing


def _inside(line: NDArray[np.float64], size_px: tuple[int, int]) -> NDArray[np.float64]:
    """Give the part of a line that lies in the photo."""
    there = ((line >= 0) & (line <= np.array(size_px))).all(axis=1)
    return line[there]
