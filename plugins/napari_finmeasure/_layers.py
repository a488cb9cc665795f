"""napari layers on which the photo and all marks are shown; (x, y) turns to (row, column) here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from napari_finmeasure._text_size import on_screen

if TYPE_CHECKING:
    import napari

# Okabe and Ito's colours, told apart by colour-blind eyes; shapes and labels tell the same
ORANGE, SKY, GREEN, YELLOW = "#e69f00", "#56b4e9", "#009e73", "#f0e442"
BLUE, VERMILION, PURPLE = "#0072b2", "#d55e00", "#cc79a7"
PHOTO, LINES, MARKS = "Photo", "Fin edges and lengths", "Points"


@dataclass(frozen=True, slots=True)
class Dot:
    """One point to show: place in pixels (x, y), shape, colour and size on the screen."""

    place: tuple[float, float]
    symbol: str
    colour: str
    size: float = 13.0


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One line to show, shape (N, 2) pixels (x, y); `dashed` leaves every other piece out."""

    points: NDArray[np.float64]
    colour: str
    dashed: bool = False


def to_rows(points: ArrayLike) -> NDArray[np.float64]:
    """Turn (x, y) into napari's (row, column), shape (N, 2)."""
    return np.asarray(points, float).reshape(-1, 2)[:, ::-1]


def to_xy(position: Sequence[float]) -> tuple[float, float]:
    """Turn napari's world position (row, column) into (x, y)."""
    return float(position[-1]), float(position[-2])


class FishView:
    """The three layers of a fish photo in a viewer.

    Parameters
    ----------
    viewer : napari.Viewer
        The window's viewer.
    """

    def __init__(self, viewer: napari.Viewer) -> None:
        self._viewer = viewer
        self._image: napari.layers.Image | None = None
        self._lines: napari.layers.Vectors | None = None
        self._dots: napari.layers.Points | None = None
        self.shown_dots: list[Dot] = []

    def show_photo(self, pixels: NDArray[np.uint8], name: str) -> None:
        """Show a photo, in the layers of the last one where they are still there."""
        if self._image is not None and self._image in self._viewer.layers:
            self.show_lines([])
            self.show_dots([])
            self._image.data = pixels
        else:
            self._make_layers(pixels)
        assert self._image is not None
        self._image.metadata["photo"] = name
        # with a layer selected, napari writes pixel values and its own keys into the status bar
        self._viewer.layers.selection.active = None
        self.follow_zoom()

    def show_dots(self, dots: Sequence[Dot]) -> None:
        """Show points in place of those before; the layer is painted once, not once per change."""
        layer = self._dots
        if layer is None or list(dots) == self.shown_dots:
            return
        self.shown_dots = list(dots)
        with layer.events.blocker_all():
            layer.selected_data = set()
            layer.data = to_rows([dot.place for dot in dots])
            if dots:
                layer.symbol = [dot.symbol for dot in dots]
                layer.size = [on_screen(dot.size) / self.zoom for dot in dots]
                layer.face_color = np.array([to_rgba(dot.colour) for dot in dots])
        layer.refresh(extent=False, thumbnail=False)

    def show_lines(self, strokes: Sequence[Stroke]) -> None:
        """Show lines in place of those before."""
        layer = self._lines
        if layer is None:
            return
        pieces, colours = _pieces(strokes)
        if not len(pieces) and not len(layer.data):
            return
        with _at_once(layer):
            layer.data = pieces
            if len(pieces):
                layer.edge_color = colours

    def follow_zoom(self) -> None:
        """Keep lines equally wide and dots equally large on the screen at every zoom."""
        if self._lines is not None:
            with _at_once(self._lines):
                self._lines.edge_width = on_screen(2.2) / self.zoom
        if self._dots is not None and self.shown_dots:
            with _at_once(self._dots):
                self._dots.size = [on_screen(dot.size) / self.zoom for dot in self.shown_dots]

    @property
    def zoom(self) -> float:
        """Screen pixels per photo pixel."""
        return float(self._viewer.scene.camera.zoom)

    def look_at(self, points: ArrayLike, share: float = 0.6) -> None:
        """Bring points to the middle of the canvas, with `share` of it filled by them."""
        rows = to_rows(points)
        low, high = rows.min(axis=0), rows.max(axis=0)
        height, width = self._canvas_size()
        wanted = np.maximum(high - low, 1.0)
        camera = self._viewer.scene.camera
        camera.center = (0.0, *((low + high) / 2.0))
        camera.zoom = share * min(height / wanted[0], width / wanted[1])

    def remove(self) -> None:
        """Take the layers out of the viewer."""
        for layer in (self._dots, self._lines, self._image):
            if layer is not None and layer in self._viewer.layers:
                self._viewer.layers.remove(layer)
        self._image = self._lines = self._dots = None

    def _canvas_size(self) -> tuple[int, int]:
        """Height and width of the canvas in screen pixels."""
        height, width = self._viewer.canvas.size
        return int(height), int(width)

    def _make_layers(self, pixels: NDArray[np.uint8]) -> None:
        """Add the layers, the photo lowest."""
        self.remove()
        for layer in [layer for layer in self._viewer.layers if layer.name == PHOTO]:
            self._viewer.layers.remove(layer)  # a sample that napari has put in already
        self._image = self._viewer.add_image(pixels, rgb=True, name=PHOTO)
        self._lines = self._viewer.add_vectors(
            np.empty((0, 2, 2)), ndim=2, name=LINES, vector_style="line", edge_width=1.0
        )
        self._dots = self._viewer.add_points(
            np.empty((0, 2)),
            ndim=2,
            name=MARKS,
            canvas_size_limits=(2, 100),
            border_width=0.16,
            border_color="black",
        )
        self.shown_dots = []
        for layer in (self._lines, self._dots):
            layer.editable = False  # marks are changed through the guided marking only


@contextmanager
def _at_once(layer: napari.layers.Layer) -> Iterator[None]:
    """Change a layer and have it worked out once: napari does it, with a thumbnail, at every step.

    A layer that is not seen is left alone meanwhile; nothing is painted in between.
    """
    seen = layer.visible
    with layer.events.blocker_all():
        layer.visible = False
        try:
            yield
        finally:
            layer.visible = seen
    layer.refresh(thumbnail=False)


def to_rgba(colour: str) -> tuple[float, float, float, float]:
    """Turn #rrggbb into four numbers from 0 to 1."""
    red, green, blue = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return red, green, blue, 1.0


def _pieces(strokes: Sequence[Stroke]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Straight pieces of all lines as (start, step) in (row, column), and their colours."""
    found, colours = [np.empty((0, 2, 2))], [np.empty((0, 4))]
    for stroke in strokes:
        rows = to_rows(stroke.points)
        pieces = np.stack([rows[:-1], np.diff(rows, axis=0)], axis=1)
        pieces = pieces[::2] if stroke.dashed else pieces
        found.append(pieces)
        colours.append(np.tile(to_rgba(stroke.colour), (len(pieces), 1)))
    return np.concatenate(found), np.concatenate(colours)
