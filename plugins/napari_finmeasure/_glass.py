"""A sheet of glass over the canvas: what moves with the mouse is drawn here, not by napari.

Repainting the whole scene for every movement of the mouse would be too slow for dragging; the
glass repaints only itself. It lets all mouse events through.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray
from qtpy.QtCore import QEvent, QObject, QPointF, Qt
from qtpy.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF
from qtpy.QtWidgets import QWidget

from napari_finmeasure._text_size import follow_text, on_screen, text_font

if TYPE_CHECKING:
    import napari

HANDLES_APART_PX = 22.0
HALO = QColor(0, 0, 0, 190)
CROSS = "#f0e442"
BARS_MM = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)


@dataclass(frozen=True, slots=True, eq=False)
class Label:
    """Words beside a place in pixels (x, y)."""

    place: tuple[float, float]
    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """What the glass shows now; places in photo pixels (x, y).

    Parameters
    ----------
    labels : sequence of Label
        Words.
    moving : tuple of float, optional
        A point under the mouse.
    lines : sequence of tuple of ndarray and str
        Lines with their colours.
    handles : ndarray of shape (N, 2)
        Vertices that can be dragged.
    """

    labels: Sequence[Label] = ()
    moving: tuple[float, float] | None = None
    lines: Sequence[tuple[NDArray[np.float64], str]] = ()
    handles: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2)))


class Glass(QWidget):
    """The sheet; a child of the canvas and always as large.

    Parameters
    ----------
    canvas : QWidget
        napari's OpenGL widget.
    viewer : napari.Viewer
        Whose camera the glass follows.
    """

    def __init__(self, canvas: QWidget, viewer: napari.Viewer) -> None:
        super().__init__(canvas)
        self.setObjectName("finmeasure_glass")
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._viewer = viewer
        self._drawing = Drawing()
        self._cross: tuple[float, float] | None = None
        self.ink = QColor("#ffffff")
        self.px_per_mm: float | None = None
        canvas.installEventFilter(self)
        self.resize(canvas.size())
        camera = viewer.scene.camera
        camera.events.zoom.connect(self._camera_moved)
        camera.events.center.connect(self._camera_moved)
        follow_text(self, self.update)
        self.show()

    def show_cross(self, place: tuple[float, float] | None) -> None:
        """Show the cross-hair that keys move, or hide it."""
        self._cross = place
        self.update()

    def draw(self, drawing: Drawing) -> None:
        """Show something else."""
        self._drawing = drawing
        self.update()

    def to_screen(self, points: ArrayLike) -> NDArray[np.float64]:
        """Photo pixels (x, y) to pixels of the canvas, shape (N, 2)."""
        camera = self._viewer.scene.camera
        centre = np.array([camera.center[-1], camera.center[-2]])
        middle = np.array([self.width(), self.height()]) / 2.0
        away = np.asarray(points, float).reshape(-1, 2) - centre
        return np.asarray(away * camera.zoom + middle)

    def close_down(self) -> None:
        """Let go of camera and canvas before the window closes."""
        camera = self._viewer.scene.camera
        camera.events.zoom.disconnect(self._camera_moved)
        camera.events.center.disconnect(self._camera_moved)
        self.hide()
        self.deleteLater()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the size of the canvas."""
        if event.type() == QEvent.Type.Resize:
            self.resize(event.size())
        return False

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint lines, handles, the moving point and labels, in this order."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for points, colour in self._drawing.lines:
            self._line(painter, points, QColor(colour))
        last = None
        for at in self.to_screen(self._drawing.handles):
            # of a dense line only some corners are shown, or they would hide the edge
            if last is None or np.hypot(*(at - last)) >= on_screen(HANDLES_APART_PX):
                self._handle(painter, at)
                last = at
        if self._drawing.moving is not None:
            self._target(painter, self.to_screen(self._drawing.moving)[0])
        for label in self._drawing.labels:
            self._label(painter, label)
        if self._cross is not None:
            self._cross_hair(painter, self.to_screen(self._cross)[0])
        self._scale_bar(painter)
        painter.end()

    def _scale_bar(self, painter: QPainter) -> None:
        """Draw a bar of a round number of millimetres at the lower right."""
        if self.px_per_mm is None:
            return
        screen_px_per_mm = self.px_per_mm * self._viewer.scene.camera.zoom
        least_mm = on_screen(70.0) / screen_px_per_mm
        length_mm = next((mm for mm in BARS_MM if mm > least_mm), BARS_MM[-1])
        right, y = self.width() - 18, self.height() - on_screen(24.0)
        left = right - length_mm * screen_px_per_mm
        for pen in (QPen(HALO, on_screen(7.0)), QPen(self.ink, on_screen(3.0))):
            painter.setPen(pen)
            painter.drawLine(QPointF(left, y), QPointF(right, y))
        self._write(painter, QPointF(left, y - on_screen(8.0)), f"{length_mm:g} mm", strong=False)

    def _camera_moved(self) -> None:
        """Follow the camera."""
        self.update()

    def _line(self, painter: QPainter, points: NDArray[np.float64], colour: QColor) -> None:
        """Draw a line on a dark halo, so that it is seen on every ground."""
        shown = QPolygonF([QPointF(x, y) for x, y in self.to_screen(points)])
        for pen in (QPen(HALO, on_screen(4.0)), QPen(colour, on_screen(2.0))):
            painter.setPen(pen)
            painter.drawPolyline(shown)

    def _handle(self, painter: QPainter, at: NDArray[np.float64]) -> None:
        """Draw a small square."""
        painter.setPen(QPen(QColor("black"), 1.0))
        painter.setBrush(QColor("white"))
        half = round(on_screen(3.0))
        painter.drawRect(int(at[0]) - half, int(at[1]) - half, 2 * half, 2 * half)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _target(self, painter: QPainter, at: NDArray[np.float64]) -> None:
        """Draw a ring with four ticks that leaves the place itself free."""
        centre = QPointF(*at)
        for pen in (QPen(HALO, on_screen(4.0)), QPen(self.ink, on_screen(1.8))):
            painter.setPen(pen)
            painter.drawEllipse(centre, on_screen(11.0), on_screen(11.0))
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                step = QPointF(dx, dy)
                painter.drawLine(centre + on_screen(4.0) * step, centre + on_screen(16.0) * step)

    def _cross_hair(self, painter: QPainter, at: NDArray[np.float64]) -> None:
        """Draw long lines that leave the place itself free."""
        centre = QPointF(*at)
        for pen in (QPen(HALO, on_screen(4.0)), QPen(QColor(CROSS), on_screen(1.8))):
            painter.setPen(pen)
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                step = QPointF(dx, dy)
                painter.drawLine(centre + on_screen(3.0) * step, centre + on_screen(30.0) * step)

    def _label(self, painter: QPainter, label: Label) -> None:
        """Write words beside a place in the photo."""
        x, y = self.to_screen(label.place)[0]
        self._write(
            painter,
            QPointF(x + on_screen(11.0), y - on_screen(9.0)),
            label.text,
            strong=label.strong,
        )

    def _write(self, painter: QPainter, at: QPointF, text: str, *, strong: bool) -> None:
        """Write words with a dark halo at a place on the glass."""
        font = text_font()
        font.setBold(strong)
        path = QPainterPath()
        path.addText(at, font, text)
        painter.strokePath(path, QPen(HALO, on_screen(3.5)))
        painter.fillPath(path, self.ink)
