"""A fish behind flat glass and in water: apparent depths, and the correction that follows.

Seen from air, a layer of thickness t and refractive index n looks as thick as t / n (paraxial
rays). What a camera sees of a plane depends only on the sum of these apparent depths.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from finmeasure.errors import NotFound, ScaleError

WATER_INDEX = 1.333
GLASS_INDEX = 1.52
GLASS_MM = 6.0  # of a front pane where nothing is said; common practice, no source
U_OBLIQUE = 0.001  # rays are not paraxial: at most 0.16 % at 120 mm off the axis, D = 300 mm
CURVED = NotFound(
    "The fish is seen through a bag or curved glass, which bends every length by an amount that "
    "cannot be told.",
    "Photograph it through flat glass, with the card in the plane of the fish. Ratios are given.",
)


@dataclass(frozen=True, slots=True)
class Tank:
    """Where card and fish stand in a tank with a flat front pane.

    Parameters
    ----------
    fish_behind_glass_mm : float
        Water between the inner face of the front pane and the middle of the fish.
    card_behind_glass_mm : float, optional
        Water between the inner face and the card; None: the card is outside on the front pane.
    glass_mm : float
        Thickness of the front pane.
    """

    fish_behind_glass_mm: float
    card_behind_glass_mm: float | None = None
    glass_mm: float = GLASS_MM

    def __post_init__(self) -> None:
        """Refuse distances that cannot be."""
        for name, value in (
            ("water before the fish", self.fish_behind_glass_mm),
            ("water before the card", self.card_behind_glass_mm or 0.0),
            ("thickness of the glass", self.glass_mm),
        ):
            if not (math.isfinite(value) and value >= 0):
                message = f"The {name} is given as {value} mm. It must be 0 or more."
                raise ScaleError(message)

    @property
    def card_depth_mm(self) -> float:
        """Apparent depth of the card behind the outer face of the pane."""
        if self.card_behind_glass_mm is None:
            return 0.0
        return self.glass_mm / GLASS_INDEX + self.card_behind_glass_mm / WATER_INDEX

    @property
    def fish_depth_mm(self) -> float:
        """Apparent depth of the fish behind the outer face of the pane."""
        return self.glass_mm / GLASS_INDEX + self.fish_behind_glass_mm / WATER_INDEX

    def apparent_distance_mm(self, lens_to_card_mm: float) -> float:
        """Apparent distance from lens to card, of a distance measured with a tape.

        Raises
        ------
        ScaleError
            If the tape measure ends inside the tank.
        """
        behind = 0.0
        if self.card_behind_glass_mm is not None:
            behind = self.glass_mm + self.card_behind_glass_mm
        if lens_to_card_mm <= behind:
            message = (
                f"The camera is said to stand {lens_to_card_mm:g} mm from the card, which stands "
                f"{behind:g} mm behind the front of the tank. Measure from lens to card."
            )
            raise ScaleError(message)
        return lens_to_card_mm - behind + self.card_depth_mm

    def beyond_card_mm(self) -> float:
        """Apparent distance of the fish behind the card; negative in front of it."""
        return self.fish_depth_mm - self.card_depth_mm
