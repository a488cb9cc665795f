"""Records of what was marked on one fish in one photo. Coordinates are pixels, (x, y)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from finmeasure.notebook import BLUE, VERMILLION, axes_to_draw_on, html_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LandmarkState = Literal["placed", "absent", "hidden"]
Spread = Literal["spread", "part_folded", "clamped"]
EDGE_MARKS = ("clean", "clear_new_growth", "red", "whitish", "fluffy", "healed_thick", "unknown")
PARTS = (
    "body", "dorsal", "second_dorsal", "adipose", "caudal", "anal", "pelvic", "pectoral", "fish",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Landmark:
    """A named anatomical point.

    Parameters
    ----------
    name : str
        Contract name, e.g. ``"snout_tip"``.
    x_px, y_px : float
        Photo coordinates; 0, 0 is the centre of the upper left pixel. NaN unless placed.
    state : {"placed", "absent", "hidden"}
        Whether the point is there and can be seen.
    u_px : float, optional
        Standard uncertainty per axis in pixels; None means that of a careful person.
    u_across_px : float, optional
        Standard uncertainty across the body where it differs from `u_px`.
    placed_by : str
        A person's name or ``"finmeasure"``.
    confidence : float, optional
        Probability that the point lies within 3 % of standard length of its true place.
    """

    name: str
    x_px: float = math.nan
    y_px: float = math.nan
    state: LandmarkState = "placed"
    u_px: float | None = None
    u_across_px: float | None = None
    placed_by: str = "hand"
    confidence: float | None = None

    @property
    def point(self) -> tuple[float, float]:
        """The coordinates as (x, y) in pixels."""
        return self.x_px, self.y_px


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A traced edge.

    Parameters
    ----------
    part : str
        One of :data:`PARTS`.
    points_px : ndarray of shape (N, 2), pixels (x, y)
        A fin's margin from its front to its rear base point, or a closed ring (first point not
        repeated) for ``body`` and ``fish`` and for fins given as polygons.
    closed : bool
        True for a ring.
    spread : {"spread", "part_folded", "clamped"}
        How the fin is held.
    edge : str
        A person's mark of the edge, one of :data:`EDGE_MARKS`, or empty.
    """

    part: str
    points_px: NDArray[np.float64]
    closed: bool = False
    placed_by: str = "hand"
    confidence: float | None = None
    spread: Spread = "spread"
    edge: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """All marks on one fish in one photo, by one person or the program, at one time.

    Parameters
    ----------
    fish : str
        The fish's name, or its number within the photo.
    landmarks : mapping of str to Landmark
        By landmark name; a landmark that is missing counts as hidden.
    outlines : mapping of str to Outline
        By part.
    body_form : str
        Id of the body form.
    """

    fish: str
    landmarks: Mapping[str, Landmark]
    outlines: Mapping[str, Outline] = field(default_factory=lambda: MappingProxyType({}))
    body_form: str = "plain"
    placed_by: str = "hand"

    def state_of(self, name: str) -> LandmarkState:
        """State of a landmark; one that is not given is hidden."""
        landmark = self.landmarks.get(name)
        return "hidden" if landmark is None else landmark.state

    def placed(self, *names: str) -> bool:
        """Whether all the landmarks named are placed."""
        return all(self.state_of(name) == "placed" for name in names)

    def point(self, name: str) -> NDArray[np.float64]:
        """Coordinates of a placed landmark, shape (2,), pixels (x, y)."""
        return np.asarray(self.landmarks[name].point, dtype=np.float64)

    def plot(self, axes: Axes | None = None) -> Axes:
        """Draw landmarks as rings and outlines as lines.

        Parameters
        ----------
        axes : matplotlib.axes.Axes, optional
            As :meth:`finmeasure.Photo.plot` gives them; a new figure, y down, if None.

        Returns
        -------
        matplotlib.axes.Axes
            In pixels.
        """
        is_new = axes is None
        axes = axes_to_draw_on(axes)
        for outline in self.outlines.values():
            points = outline.points_px
            ring = np.vstack([points, points[:1]]) if outline.closed else points
            axes.plot(ring[:, 0], ring[:, 1], "-", color=VERMILLION, linewidth=1.2)
        placed = [mark.point for mark in self.landmarks.values() if mark.state == "placed"]
        if placed:
            x, y = np.transpose(placed)
            axes.plot(x, y, "o", markerfacecolor="white", markeredgecolor=BLUE, markersize=4)
        if is_new:
            axes.set_aspect("equal")
            axes.invert_yaxis()
        return axes

    def _repr_html_(self) -> str:
        """Show every landmark with its state and place."""
        rows = [
            (name, mark.state, *((f"{mark.x_px:.1f}", f"{mark.y_px:.1f}")
                                 if mark.state == "placed" else ("", "")))
            for name, mark in self.landmarks.items()
        ]  # fmt: skip
        traced = ", ".join(self.outlines) or "none"
        caption = f"fish {self.fish}, marked by {self.placed_by}; outlines: {traced}"
        return html_table(caption, ("landmark", "state", "x (px)", "y (px)"), rows)
