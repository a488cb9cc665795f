"""The canvas as a stage: photo, marks, glass, card and magnifier, kept in step with the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from qtpy.QtCore import QEvent, QObject, QPointF, QRectF, QTimer, Signal
from qtpy.QtGui import QDropEvent
from qtpy.QtOpenGLWidgets import QOpenGLWidget
from qtpy.QtWidgets import QMainWindow

from finmeasure.marking.framing import Box
from finmeasure.scale.calibration import Scale
from napari_finmeasure._bench import Bench
from napari_finmeasure._glass import Drawing, Glass
from napari_finmeasure._hands import Hands, Place
from napari_finmeasure._hint_card import HintCard
from napari_finmeasure._key_hand import KeyHand
from napari_finmeasure._layers import ORANGE, FishView, Stroke
from napari_finmeasure._magnifier import Magnifier
from napari_finmeasure._message import MessageStrip
from napari_finmeasure._reference_tool import NumberedLines, ReferenceTool
from napari_finmeasure._show import dots, natural_notches, points_of, strokes
from napari_finmeasure._text_size import follow_text, on_screen
from napari_finmeasure._tools import EdgeTool, PointTool, WaitTool

if TYPE_CHECKING:
    import napari

AnyTool = PointTool | EdgeTool | ReferenceTool | NumberedLines | WaitTool
REACH_SCREEN_PX, NATURAL_SCREEN_PX = 8.0, 9.0
LEAST_FOR_FRAME = 6


class Stage(QObject):
    """Everything on the canvas.

    Signals
    -------
    dropped
        Files and folders that were dropped on the window.

    Parameters
    ----------
    viewer : napari.Viewer
        The window's viewer.
    window : QMainWindow
        The window.
    bench : Bench
        What is shown.
    """

    dropped = Signal(list)

    def __init__(self, viewer: napari.Viewer, window: QMainWindow, bench: Bench) -> None:
        super().__init__(window)
        self.bench = bench
        self._viewer = viewer
        canvas = window.findChild(QOpenGLWidget)
        self.canvas = canvas
        self.view = FishView(viewer)
        self.glass = Glass(canvas, viewer)
        follow_text(self.glass, self.view.follow_zoom)
        self.magnifier = Magnifier(self.glass)
        self.card = HintCard(self.glass)
        self.message = MessageStrip(self.glass)
        self.magnifies = True
        self._mouse: Place | None = None
        self.tool: AnyTool = PointTool(self)
        self.hands = Hands(viewer)
        self.hands.tool = self.tool
        self.key_hand = KeyHand(self)
        viewer.mouse_move_callbacks.append(self._mouse_moved)
        canvas.setAcceptDrops(True)
        canvas.installEventFilter(self)
        viewer.scene.camera.events.zoom.connect(self._zoomed)
        bench.photo_changed.connect(self._photo_changed)
        bench.marks_changed.connect(self._marks_changed)
        bench.chosen_changed.connect(self._marks_changed)
        bench.said.connect(self.message.say)
        self.card.say(None)
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.timeout.connect(self._resized)

    @property
    def zoom(self) -> float:
        """Screen pixels per photo pixel."""
        return self.view.zoom

    @property
    def middle(self) -> Place:
        """Place in the photo that is in the middle of the canvas."""
        center = self._viewer.scene.camera.center
        return float(center[-1]), float(center[-2])

    def use(self, tool: AnyTool) -> None:
        """Let the mouse do something else."""
        self.tool.leave()
        self.tool = tool
        self.hands.tool = tool
        self.key_hand.let_go()
        self.tool.leave()
        self.guide_changed()

    def draw(self, drawing: Drawing) -> None:
        """Draw on the glass."""
        self.glass.draw(drawing)

    def magnify(self, place: Place) -> None:
        """Show the surroundings of a place, enlarged."""
        if self.magnifies and self.bench.prepared is not None:
            self.magnifier.look_at(place, self.zoom)

    def guide(self, place: Place) -> None:
        """Bring the card beside the mouse; beside the point in question where there is one."""
        self._mouse = place
        x, y = self.glass.to_screen(self.asked or place)[0]
        avoid = [self._fish_on_screen()]
        if self.magnifier.isVisible():
            avoid.append(QRectF(self.magnifier.geometry()))
        self.card.stand_by((float(x), float(y)), avoid)

    def guide_changed(self) -> None:
        """Say on the card what is next."""
        self.card.say(self.tool.hint if self.bench.session is not None else None)
        if self._mouse is None:
            self.card.park()
        else:
            self.guide(self._mouse)

    def point_at(self, place: Place) -> str | None:
        """Find the placed point under the mouse."""
        session = self.bench.session
        if session is None:
            return None
        placed = [m for m in session.marks.landmarks.values() if m.state == "placed"]
        if not placed:
            return None
        away = np.hypot(*(np.array([m.point for m in placed]) - place).T) * self.zoom
        nearest = int(away.argmin())
        return placed[nearest].name if away[nearest] <= on_screen(REACH_SCREEN_PX) else None

    @property
    def asked_name(self) -> str | None:
        """The proposed point that is asked about; None while points are set by hand."""
        session = self.bench.session
        at = None if session is None else session.at
        return at if session is not None and at is not None and session.is_proposed(at) else None

    @property
    def asked(self) -> Place | None:
        """Where the proposed point is that is asked about."""
        return None if self.asked_name is None else self.placed(self.asked_name)

    def placed(self, name: str) -> Place | None:
        """Where a point is, if it is placed."""
        session = self.bench.session
        landmark = None if session is None else session.marks.landmarks.get(name)
        return landmark.point if landmark is not None and landmark.state == "placed" else None

    def is_on_fish(self, place: Place) -> bool:
        """Whether a place lies where the fish seems to be; false where nothing was seen."""
        frame = self._frame()
        if frame is None:
            return False
        left, top, right, bottom = frame
        return left <= place[0] <= right and top <= place[1] <= bottom

    def fit(self) -> None:
        """Show the whole photo."""
        self._viewer.reset_view(margin=0.02)

    def show_fish(self) -> None:
        """Show the fish as large as it fits, or the whole photo where none was seen."""
        frame = self._frame()
        if frame is None:
            self.fit()
        else:
            left, top, right, bottom = frame
            self.view.look_at([(left, top), (right, bottom)], share=0.96)

    def keep_in_sight(self, place: Place, room: float) -> None:
        """Move the photo so far that a place stands on the canvas, `room` pixels from its rim."""
        size = np.array([self.glass.width(), self.glass.height()])
        at = self.glass.to_screen(place)[0]
        too_far = (at - np.clip(at, room, size - room)) / self.zoom
        if too_far.any():
            self._look_from(np.array(self.middle) + too_far)

    def zoom_at(self, place: Place, times: float) -> None:
        """Enlarge the photo round a place, which stays where it is."""
        away = np.subtract(self.middle, place)
        self._viewer.scene.camera.zoom *= times
        self._look_from(place + away / times)

    def close_down(self) -> None:
        """Take everything from the canvas before the window or the dock closes."""
        self._viewer.scene.camera.events.zoom.disconnect(self._zoomed)
        self._viewer.mouse_move_callbacks.remove(self._mouse_moved)
        self.canvas.removeEventFilter(self)
        self.hands.let_go()
        self.glass.close_down()
        self.view.remove()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Park the card when the mouse leaves the canvas; take what is dropped, and keys."""
        if event.type() == QEvent.Type.KeyPress:
            return self.key_hand.press(event)
        if event.type() in (QEvent.Type.DragEnter, QEvent.Type.DragMove, QEvent.Type.Drop):
            return self._dropping(event)
        if event.type() == QEvent.Type.Leave:
            self._mouse = None
            self.magnifier.hide()
            self.tool.leave()
            self.card.park()
        elif event.type() == QEvent.Type.Resize:
            self._soon.start(0)
        return False

    def _dropping(self, event: QDropEvent) -> bool:
        """Take files and folders; leave anything else to napari."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if not paths:
            return False
        event.acceptProposedAction()
        if event.type() == QEvent.Type.Drop:
            self.dropped.emit(paths)
        return True

    def _resized(self) -> None:
        """Find a place for the card on a canvas of another size."""
        if self._mouse is None:
            self.card.park()
        else:
            self.guide(self._mouse)

    def _look_from(self, middle: NDArray[np.float64]) -> None:
        """Bring a place in the photo to the middle of the canvas."""
        self._viewer.scene.camera.center = (0.0, float(middle[1]), float(middle[0]))

    def _mouse_moved(self, viewer: napari.Viewer, event: object) -> None:
        """Put the cross-hair of the keys away when the mouse is used."""
        self.key_hand.put_away()

    def _frame(self) -> Box | None:
        """Give the box round the fish: what is marked, else what was seen."""
        session, prepared = self.bench.session, self.bench.prepared
        if session is None or prepared is None:
            return None
        placed = [m.point for m in session.marks.landmarks.values() if m.state == "placed"]
        if prepared.frame is not None or len(placed) < LEAST_FOR_FRAME:
            return prepared.frame
        low, high = np.min(placed, axis=0), np.max(placed, axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def _fish_on_screen(self) -> QRectF:
        """Give the box round the fish on the glass; empty where it is not known."""
        frame = self._frame()
        if frame is None:
            return QRectF()
        corners = self.glass.to_screen([frame[:2], frame[2:]])
        return QRectF(QPointF(*corners[0]), QPointF(*corners[1]))

    def _zoomed(self) -> None:
        """Keep lines equally wide."""
        self.view.follow_zoom()

    def _photo_changed(self) -> None:
        """Show another photo."""
        prepared = self.bench.prepared
        if prepared is None:
            self.view.remove()
            self.magnifier.hide()
            self.guide_changed()
            return
        self.view.show_photo(prepared.photo.pixels, prepared.file.name)
        self.magnifier.show_photo(prepared.photo.pixels)
        self.show_fish()

    def _marks_changed(self) -> None:
        """Show the present marks."""
        session = self.bench.session
        if session is None:
            return
        scale = self.bench.scale
        self.glass.px_per_mm = scale.px_per_mm if isinstance(scale, Scale) else None
        measure = self.bench.chosen_measure
        needed = points_of(measure) if measure is not None else frozenset()
        self.view.show_dots(dots(session, self.bench.chosen_point, needed))
        lines = strokes(session, self.bench.measures, self.bench.scale, chosen=measure)
        lines += natural_notches(self.bench.measures, on_screen(NATURAL_SCREEN_PX) / self.zoom)
        ring = self.bench.ring_round_fin
        if len(ring):
            lines.append(Stroke(np.vstack([ring, ring[:1]]), ORANGE))
        self.view.show_lines(lines)
        if self._mouse is None:
            self.tool.leave()
        else:
            self.tool.hover(self._mouse)
        if self.asked is not None:
            self.magnify(self.asked)  # until the mouse moves
        self.guide_changed()
