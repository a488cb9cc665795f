"""What the mouse does with a fish: set points, trace the edge of a fin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.scheme import landmark_definition
from finmeasure.marking import margin
from finmeasure.marking.lengths import length_asked_for
from finmeasure.marking.margin import base_ends
from napari_finmeasure._glass import Drawing, Label
from napari_finmeasure._hands import Place
from napari_finmeasure._hint_card import Hint
from napari_finmeasure._hints import edge_hint, point_hint
from napari_finmeasure._layers import SKY, YELLOW
from napari_finmeasure._text_size import on_screen

if TYPE_CHECKING:
    from napari_finmeasure._stage import Stage

REACH_SCREEN_PX = 8.0
PULL_SCREEN_PX = 14.0  # a dense line bends over this length when it is dragged
FREEHAND_SCREEN_PX = 5.0  # between the corners of a line that was drawn freely


class WaitTool:
    """Does nothing on the photo while something else is asked.

    Parameters
    ----------
    hint : Hint
        What the card says.
    """

    def __init__(self, hint: Hint) -> None:
        self.hint: Hint | None = hint
        self.freehand = False

    def grab(self, place: Place) -> bool:
        """Leave everything where it is."""
        return False

    def pulls_from(self, place: Place) -> bool:
        """Leave dragging to the photo."""
        return False

    def _nothing(self, *places: object) -> None:
        """Do nothing."""

    drag = drop = tap = click = take_away = draw_freely = drawn = hover = leave = _nothing


class PointTool:
    """Set the point that is asked for; drag any that is set.

    Parameters
    ----------
    stage : Stage
        Canvas and bench.
    """

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self._held: str | None = None
        self.freehand = False

    @property
    def hint(self) -> Hint | None:
        """What the card says."""
        bench = self._stage.bench
        return None if bench.session is None else point_hint(bench.session, bench.measures)

    def grab(self, place: Place) -> bool:
        """Take hold of the point under the mouse."""
        self._held = self._stage.point_at(place)
        return self._held is not None

    def drag(self, place: Place) -> None:
        """Show the point under the mouse and its numbers."""
        assert self._held is not None
        self._stage.bench.drag(self._held, place, self._stage.zoom)
        shown = landmark_definition(self._held).shown
        self._stage.draw(Drawing(moving=place, labels=[Label(place, shown, strong=True)]))
        self._stage.magnify(place)

    def drop(self, place: Place) -> None:
        """Put the point there."""
        assert self._held is not None
        self._stage.bench.move(self._held, place, self._stage.zoom)
        self._stage.bench.choose_point(self._held)

    def tap(self, place: Place) -> None:
        """Find a proposed point right; choose one that is set."""
        session = self._stage.bench.session
        assert self._held is not None
        if session is not None and session.is_proposed(self._held):
            self._stage.bench.agree(self._held)
            return
        self._stage.bench.choose_point(self._held)
        self._stage.bench.said.emit(
            "Chosen. Drag it, or press R for another name, Delete to take it away; "
            "hold Shift to set the next point on this very spot.",
            False,
        )

    def click(self, place: Place) -> None:
        """Set the point asked for."""
        self._stage.bench.place(place, self._stage.zoom)

    def take_away(self, place: Place) -> None:
        """Take the point under the mouse away."""
        name = self._stage.point_at(place)
        if name is not None:
            self._stage.bench.remove(name)

    def pulls_from(self, place: Place) -> bool:
        """Whether a drag lays a length along the fish; beside the fish it moves the photo."""
        session = self._stage.bench.session
        if session is None or length_asked_for(session) is None:
            return False
        return self._stage.is_on_fish(place)

    def draw_freely(self, places: list[Place]) -> None:
        """Show the length that is being laid."""
        session = self._stage.bench.session
        pair = None if session is None else length_asked_for(session)
        labels = [] if pair is None else [Label(places[-1], _words(pair[1]), strong=True)]
        line = np.array([places[0], places[-1]])
        self._stage.draw(Drawing(lines=[(line, YELLOW)], labels=labels, moving=places[-1]))
        self._stage.magnify(places[-1])

    def drawn(self, places: list[Place]) -> None:
        """Set both ends of the length."""
        for place in (places[0], places[-1]):
            self._stage.bench.place(place, self._stage.zoom)

    def hover(self, place: Place) -> None:
        """Name the point under the mouse; else show where a click would go."""
        name, asked = self._stage.point_at(place), self._stage.asked
        labels = self._asked_labels()
        if name is not None and name != self._stage.asked_name:
            labels.append(Label(place, _words(name)))
        self._stage.draw(Drawing(labels=labels, moving=asked))
        self._stage.magnify(place)
        self._stage.guide(place)

    def leave(self) -> None:
        """Show only the proposed point that is asked for."""
        self._stage.draw(Drawing(labels=self._asked_labels(), moving=self._stage.asked))

    def _asked_labels(self) -> list[Label]:
        """Name the proposed point that is asked for, with a question mark."""
        name, place = self._stage.asked_name, self._stage.asked
        return [] if place is None else [Label(place, f"{_words(str(name))}?", strong=True)]


class EdgeTool:
    """Trace the margin of one fin; its corners can be moved, put in and taken away at any time.

    Parameters
    ----------
    stage : Stage
        Canvas and bench.
    fin : str
        The fin.
    """

    def __init__(self, stage: Stage, fin: str) -> None:
        self._stage = stage
        self.fin = fin
        self.freehand = True
        self._held: NDArray[np.float64] | None = None
        self._index = 0

    @property
    def hint(self) -> Hint | None:
        """What the card says."""
        session = self._stage.bench.session
        if session is None:
            return None
        return edge_hint(self.fin, session.marks.body_form, len(self.points))

    @property
    def points(self) -> NDArray[np.float64]:
        """The margin so far, shape (N, 2)."""
        session = self._stage.bench.session
        outline = None if session is None else session.marks.outlines.get(self.fin)
        return np.empty((0, 2)) if outline is None else outline.points_px

    def grab(self, place: Place) -> bool:
        """Take hold of a corner, or make one where the line is taken hold of."""
        points, reach = self.points, self._reach
        index = margin.nearest_vertex(points, place, reach)
        if index is None:
            edge = margin.nearest_edge(points, place, reach)
            if edge is None:
                return False
            points, index = margin.with_vertex(points, place, edge), edge + 1
        self._held, self._index = points, index
        return True

    def drag(self, place: Place) -> None:
        """Show the line as it would be."""
        assert self._held is not None
        moved = self._pulled(place)
        self._stage.draw(Drawing(lines=[(moved, YELLOW)], handles=moved, moving=place))
        self._stage.magnify(place)

    def drop(self, place: Place) -> None:
        """Keep the line."""
        assert self._held is not None
        moved = self._pulled(place)
        self._stage.bench.set_margin(self.fin, moved)
        self._stage.draw(Drawing(handles=moved))

    def tap(self, place: Place) -> None:
        """Keep a corner that was put into the line."""
        assert self._held is not None
        if len(self._held) > len(self.points):
            self._stage.bench.set_margin(self.fin, self._held)

    def click(self, place: Place) -> None:
        """Add a corner at the end of the line, before the rear base point."""
        points = self.points
        if not len(points):
            points = self._base()
        at = len(points) if self._rear() is None or len(points) < 2 else len(points) - 1
        self._stage.bench.set_margin(self.fin, np.insert(points, at, place, axis=0))

    def take_away(self, place: Place) -> None:
        """Take the corner under the mouse away."""
        index = margin.nearest_vertex(self.points, place, self._reach)
        if index is not None:
            self._stage.bench.set_margin(self.fin, margin.without_vertex(self.points, index))

    def take_last_away(self) -> None:
        """Take the corner away that was set last."""
        points = self.points
        ends = 0 if self._rear() is None else 1
        if len(points) > ends:
            self._stage.bench.set_margin(self.fin, np.delete(points, len(points) - 1 - ends, 0))

    def pulls_from(self, place: Place) -> bool:
        """Leave dragging to the photo."""
        return False

    def draw_freely(self, places: list[Place]) -> None:
        """Show the stretch that is being drawn."""
        self._stage.draw(Drawing(lines=[(np.array(places), YELLOW)]))
        self._stage.magnify(places[-1])

    def drawn(self, places: list[Place]) -> None:
        """Draw this stretch of the line anew; the whole line where there is none yet."""
        line = margin.thinned(places, FREEHAND_SCREEN_PX / self._stage.zoom)
        points = self.points if len(self.points) > 1 else self._base()
        if len(points) > 1:
            line = margin.with_stretch_redrawn(points, line)
        self._stage.bench.set_margin(self.fin, line)

    def hover(self, place: Place) -> None:
        """Show the corners and where the line would go on."""
        points = self.points
        near = margin.nearest_edge(points, place, self._reach) is not None
        lines = []
        if len(points) and not near:
            last = points[-2] if self._rear() is not None and len(points) > 1 else points[-1]
            lines = [(np.array([last, place]), SKY)]
        self._stage.draw(Drawing(lines=lines, handles=points))
        self._stage.magnify(place)
        self._stage.guide(place)

    def leave(self) -> None:
        """Show the corners only."""
        self._stage.draw(Drawing(handles=self.points))

    def _pulled(self, place: Place) -> NDArray[np.float64]:
        """Give the line with what is held under the mouse."""
        assert self._held is not None
        reach = on_screen(PULL_SCREEN_PX) / self._stage.zoom
        return margin.with_place_pulled(self._held, self._index, place, reach)

    @property
    def _reach(self) -> float:
        """How near the mouse must be, photo pixels."""
        return on_screen(REACH_SCREEN_PX) / self._stage.zoom

    def _rear(self) -> Place | None:
        """Rear base point, where it is set."""
        return self._stage.placed(base_ends(self.fin)[1])

    def _base(self) -> NDArray[np.float64]:
        """Give the base points to begin a line with, as far as they are set."""
        ends = [self._stage.placed(name) for name in base_ends(self.fin)]
        return np.array([end for end in ends if end is not None], float).reshape(-1, 2)


def _words(name: str) -> str:
    """Name of a point on screen."""
    return landmark_definition(name).shown
