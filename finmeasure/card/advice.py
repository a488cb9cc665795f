"""Which card for which fish, and which photo tank fits a card."""

from __future__ import annotations

from dataclasses import dataclass

from finmeasure.card_design import DESIGNS, SquaresDesign, WindowDesign
from finmeasure.errors import ScaleError

PHOTO_WIDTH_PX = 4000  # an ordinary 12-megapixel camera
CARD_SHARE = 0.8  # of the photo's width that the card fills
ROOM = 0.9  # share of the window that a fish may take
ROOM_ON_GRID = 0.7  # so that enough of the grid's crossings stay in view
HEIGHT_OF_LENGTH = 0.5  # of a fish with its fins spread; common practice, no source
FIN_OF_LENGTH = 0.2  # a usual fin; common practice, no source
SMALLEST_FIN_PX = 100  # along a fin, for its edge in a good photo (docs/method/edge)


@dataclass(frozen=True, slots=True)
class CardAdvice:
    """The smallest card that holds a fish, and what its fins will get.

    Parameters
    ----------
    design : WindowDesign or SquaresDesign
        The card.
    fish_mm : float
        Total length asked for.
    px_per_mm : float
        Expected where the card fills 80 % of a 4000 px wide photo.
    """

    design: WindowDesign | SquaresDesign
    fish_mm: float
    px_per_mm: float

    def fin_px(self, fin_mm: float) -> float:
        """Pixels along a fin of the length given."""
        return fin_mm * self.px_per_mm

    def sentences(self) -> tuple[str, ...]:
        """Say in plain words what the card holds and what fins get."""
        fin_mm = FIN_OF_LENGTH * self.fish_mm
        fin_px = self.fin_px(fin_mm)
        name, holds = f"{self.design.kind} card on {self.design.paper}", longest_fish(self.design)
        size = (
            f"A {fin_mm:.0f} mm fin of this fish gets about {fin_px:.0f} px, a 5 mm fin "
            f"{self.fin_px(5):.0f} px, where the card fills 80 % of a 4000 px wide photo."
        )
        if fin_px < SMALLEST_FIN_PX:
            size += (
                f" Edge figures need {SMALLEST_FIN_PX} px: let the photo show the fish alone with "
                "part of the card round it, or use a camera with more pixels."
            )
        return (
            f"The {name} is the smallest that holds a fish of {self.fish_mm:g} mm; it holds up to "
            f"{holds:.0f} mm. A fish taller than half its length may need the next size.",
            size,
        )


def longest_fish(design: WindowDesign | SquaresDesign) -> float:
    """Total length of the longest fish that a card holds, mm."""
    field = design.field
    room = ROOM_ON_GRID if isinstance(design, SquaresDesign) else ROOM
    width, height = field.right - field.left, field.bottom - field.top
    return min(room * width, room * height / HEIGHT_OF_LENGTH)


def card_for_fish(
    fish_mm: float, kind: str = "window", *, papers: tuple[str, ...] = ("ID1", "A6", "A5", "A4")
) -> CardAdvice:
    """Choose the smallest card that holds a fish.

    Parameters
    ----------
    fish_mm : float
        Total length of the largest fish.
    kind : {"window", "squares"}
        Kind of card.
    papers : tuple of str
        Papers to choose from.

    Raises
    ------
    ScaleError
        If no card holds such a fish.

    Examples
    --------
    >>> card_for_fish(60).design.paper
    'A6'
    """
    if not fish_mm > 0:
        message = f"The fish is given as {fish_mm:g} mm. Give its total length, above 0 mm."
        raise ScaleError(message)
    allowed = [d for d in DESIGNS if d.kind == kind and d.paper in papers]
    fitting = [d for d in allowed if longest_fish(d) >= fish_mm]
    if not fitting:
        largest = max(longest_fish(d) for d in allowed)
        message = (
            f"A fish of {fish_mm:g} mm fits none of our {kind} cards; the largest holds "
            f"{largest:.0f} mm. Place a ruler in the fish's plane and mark a length on it."
        )
        raise ScaleError(message)
    design = min(fitting, key=lambda d: d.size_mm[0] * d.size_mm[1])
    return CardAdvice(design, fish_mm, expected_px_per_mm(design))


def expected_px_per_mm(design: WindowDesign | SquaresDesign) -> float:
    """Resolution where the card fills 80 % of a 4000 px wide photo."""
    return CARD_SHARE * PHOTO_WIDTH_PX / design.size_mm[0]


def tank_inner_mm(design: WindowDesign | SquaresDesign) -> tuple[float, float, float]:
    """Inner size of a photo tank in which the card stands behind the fish.

    Width and height hold the card with room to take it out; the depth from front to back is a
    quarter of the longest fish, so that it cannot turn (common practice, no source).

    Returns
    -------
    tuple of float
        Width, height and depth in mm, in steps of 5 mm.
    """
    width, height = (5.0 * -(-(side + 4) // 5) for side in design.size_mm)
    depth = max(15.0, 5.0 * round(longest_fish(design) / 4 / 5))
    return width, height, depth
