"""Records of references that a person marked: a ruler, or a thing of known size."""

from __future__ import annotations

import math
from dataclasses import dataclass

from finmeasure.errors import ScaleError

FEWEST_RIM_POINTS = 8
# Diameters in mm by the mints' specifications, from memory.
COINS_MM: dict[str, float] = {
    "EUR 1c": 16.25, "EUR 2c": 18.75, "EUR 5c": 21.25, "EUR 10c": 19.75, "EUR 20c": 22.25,
    "EUR 50c": 24.25, "EUR 1": 23.25, "EUR 2": 25.75, "US 1c": 19.05, "US 5c": 21.21,
    "US 10c": 17.91, "US 25c": 24.26, "GBP 1p": 20.3, "GBP 2p": 25.9, "GBP 5p": 18.0,
    "GBP 10p": 24.5, "JPY 1": 20.0, "JPY 100": 22.6, "JPY 500": 26.5,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ruler:
    """Two points near the ends of a row of ticks.

    Parameters
    ----------
    x1_px, y1_px, x2_px, y2_px : float
        On the row of the finest ticks; they need not be on a tick.
    tick_mm : float
        Distance of neighbouring ticks: 1 mm, or 25.4 / 16 mm for sixteenths of an inch.
    """

    x1_px: float
    y1_px: float
    x2_px: float
    y2_px: float
    tick_mm: float = 1.0

    def __post_init__(self) -> None:
        """Refuse numbers that no ruler can have."""
        if not (math.isfinite(self.tick_mm) and self.tick_mm > 0):
            message = f"Ticks are given {self.tick_mm} mm apart. It must be a number above 0."
            raise ScaleError(message)
        if not all(map(math.isfinite, (self.x1_px, self.y1_px, self.x2_px, self.y2_px))):
            message = "An end of the ruler is no number. Give both ends in pixels."
            raise ScaleError(message)

    @property
    def length_px(self) -> float:
        """Distance of the two points."""
        return math.hypot(self.x2_px - self.x1_px, self.y2_px - self.y1_px)


@dataclass(frozen=True, slots=True)
class MarkedObject:
    """A thing of known size, marked in the photo.

    Parameters
    ----------
    name : str
        ``"ID1"`` (a blank card, never one with a name or number on it) or a coin of
        :data:`COINS_MM`.
    points_px : tuple of (x, y)
        ID1: the four corners in order round the card, where its straight edges would meet. Coin:
        at least eight points round its rim.
    click_sd_px : float
        Standard deviation of one marked point per axis.
    """

    name: str
    points_px: tuple[tuple[float, float], ...]
    click_sd_px: float = 1.0

    def __post_init__(self) -> None:
        """Refuse unknown things and too few points."""
        if self.name != "ID1" and self.name not in COINS_MM:
            allowed = ", ".join(["ID1", *COINS_MM])
            message = f"The thing {self.name!r} is not known. Allowed: {allowed}."
            raise ScaleError(message)
        needed = 4 if self.name == "ID1" else FEWEST_RIM_POINTS
        given = len(self.points_px)
        if given < needed or (self.name == "ID1" and given != 4):
            message = f"{given} points are marked on {self.name}; {needed} are needed."
            raise ScaleError(message)
        if not all(math.isfinite(x) and math.isfinite(y) for x, y in self.points_px):
            message = f"A point marked on {self.name} is no number. Mark it again."
            raise ScaleError(message)
