"""The part of a marking session that is about fins: margins, how they are held, edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from finmeasure.errors import MarkingError
from finmeasure.marking.history import History
from finmeasure.marking.marks import Marks
from finmeasure.reading import EDGE_MARKS, PARTS, Outline, Spread


class FinMarking:
    """Marks of fins with full undo.

    Parameters
    ----------
    marks : Marks
        Where to begin.
    size_px : tuple of int
        Width and height of the photo, pixels.
    person : str
        Who is marking.
    """

    def __init__(self, marks: Marks, *, size_px: tuple[int, int], person: str) -> None:
        """Begin with the marks given."""
        self.size_px = size_px
        self.person = person
        self._history = History(marks)

    @property
    def marks(self) -> Marks:
        """The present marks."""
        return self._history.present

    def set_margin(self, part: str, points_px: ArrayLike) -> None:
        """Set the traced margin of a fin, from its front to its rear base point.

        Parameters
        ----------
        part : str
            One of :data:`finmeasure.reading.PARTS`.
        points_px : array_like of shape (N, 2), pixels (x, y)
            Points outside the photo are moved to its rim. With fewer than
            :data:`finmeasure.marking.margin.LEAST_POINTS` the fin counts as not traced yet.

        Raises
        ------
        MarkingError
            If the part is unknown.
        """
        points = np.asarray(points_px, float).reshape(-1, 2)
        if part not in PARTS:
            message = f"{part!r} is no part of a fish. Allowed: {', '.join(PARTS)}."
            raise MarkingError(message)
        inside = np.clip(points, 0.0, np.asarray(self.size_px, float) - 1.0)
        outline = replace(self._outline(part), points_px=inside, placed_by=self.person)
        self._history.push(self.marks.with_outline(outline))

    def remove_margin(self, part: str) -> None:
        """Take a traced margin away."""
        if part in self.marks.outlines:
            self._history.push(self.marks.without_outline(part))

    def set_spread(self, part: str, spread: Spread) -> None:
        """Say how a fin is held, traced or not."""
        self._history.push(self.marks.with_outline(replace(self._outline(part), spread=spread)))

    def set_edge(self, part: str, edge: str) -> None:
        """Say what a fin's edge looks like, traced or not.

        Raises
        ------
        MarkingError
            If the mark is not one of :data:`finmeasure.reading.EDGE_MARKS`.
        """
        if edge not in EDGE_MARKS:
            message = f"{edge!r} is no mark of an edge. Allowed: {', '.join(EDGE_MARKS)}."
            raise MarkingError(message)
        self._history.push(self.marks.with_outline(replace(self._outline(part), edge=edge)))

    def _outline(self, part: str) -> Outline:
        """Give a part's outline, or one without points that carries spread and edge mark."""
        known = self.marks.outlines.get(part)
        closed = part in ("body", "fish")
        return known or Outline(part, np.empty((0, 2)), closed=closed, placed_by=self.person)
