"""What a person says about the reference in a photo."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from finmeasure.errors import ScaleError
from finmeasure.photo.record import PhotoMetadata
from finmeasure.scale.lens import Lens
from finmeasure.scale.references import MarkedObject, Ruler
from finmeasure.scale.water import Tank


@dataclass(frozen=True, slots=True)
class Bar:
    """Two marked points a known length apart.

    Parameters
    ----------
    x1_px, y1_px, x2_px, y2_px : float
        The ends.
    length_mm, length_mm_u : float
        Length between them and its standard uncertainty.
    click_sd_px : float
        Standard deviation of one marked point per axis: 1 px with care, 2 px in a poor photo.
    tilt_u_rel : float
        Relative uncertainty for the unknown tilt and depth: 2 % where the bar touches the fish and
        the camera was level, else 4 % (our choice from simulated tilts).
    """

    x1_px: float
    y1_px: float
    x2_px: float
    y2_px: float
    length_mm: float
    length_mm_u: float = 0.0
    click_sd_px: float = 1.0
    tilt_u_rel: float = 0.02

    def __post_init__(self) -> None:
        """Refuse numbers that no bar can have."""
        _require_positive("length of the bar", self.length_mm, "mm")
        _require_positive("click standard deviation", self.click_sd_px, "px")
        _require_not_negative("uncertainty of the bar's length", self.length_mm_u, "mm")
        _require_not_negative("tilt uncertainty", self.tilt_u_rel, "")
        for end in (self.x1_px, self.y1_px, self.x2_px, self.y2_px):
            if not math.isfinite(end):
                message = f"An end of the bar is {end}. Give both ends as pixel numbers."
                raise ScaleError(message)

    @property
    def length_px(self) -> float:
        """Distance of the two marked points."""
        return math.hypot(self.x2_px - self.x1_px, self.y2_px - self.y1_px)


@dataclass(frozen=True, slots=True)
class PrintCheck:
    """Lengths of the printed card's two check lines, measured with a caliper.

    Parameters
    ----------
    across_mm, down_mm : float
        Measured lengths of the line across and the line down the card.
    u_mm : float
        Standard uncertainty of one measured length. ±0.1 mm as limits is 0.06 mm (GUM 4.3.7).
    design : str
        Name of the card's design, as ``window-A5-1``; empty for whichever card is in the photo.
    """

    across_mm: float
    down_mm: float
    u_mm: float = 0.06
    design: str = ""

    def __post_init__(self) -> None:
        """Refuse lengths that no check line can have."""
        _require_positive("length of the check line across", self.across_mm, "mm")
        _require_positive("length of the check line down", self.down_mm, "mm")
        _require_not_negative("uncertainty of the check lines", self.u_mm, "mm")


@dataclass(frozen=True, slots=True)
class ScaleRequest:
    """How to find the scale of a photo; nothing given means: look for our cards.

    Parameters
    ----------
    card : {"window", "squares"}, optional
        Look for this kind only.
    square_mm : float, optional
        Spacing of square paper that is not ours.
    bar : Bar, optional
        Two marked points.
    ruler : Ruler, optional
        Two points on a row of ticks.
    marked : MarkedObject, optional
        A marked thing of known size.
    px_per_mm, px_per_mm_u : float, optional
        A scale known from elsewhere, with its standard uncertainty.
    fish_before_card_mm : float, optional
        How far the middle of the fish stands in front of the card's plane.
    camera_distance_mm : float, optional
        Lens to card.
    tank : Tank, optional
        Where card and fish stand behind flat glass; instead of `fish_before_card_mm`.
    through_curved : bool
        The fish is seen through a bag or curved glass: there is no scale.
    tick_mm : float, optional
        Look for a straight ruler whose finest ticks are so far apart; a person must check it.
    print_checks : tuple of PrintCheck
        Measured check lines of the printed cards; of several for one card the last counts.
    lenses : tuple of Lens
        Calibrated cameras; of several for one camera the last counts.
    """

    card: Literal["window", "squares"] | None = None
    square_mm: float | None = None
    bar: Bar | None = None
    ruler: Ruler | None = None
    marked: MarkedObject | None = None
    px_per_mm: float | None = None
    px_per_mm_u: float | None = None
    fish_before_card_mm: float | None = None
    camera_distance_mm: float | None = None
    tank: Tank | None = None
    through_curved: bool = False
    tick_mm: float | None = None
    print_checks: tuple[PrintCheck, ...] = ()
    lenses: tuple[Lens, ...] = ()

    def __post_init__(self) -> None:
        """Refuse contradictions and numbers that cannot be."""
        if self.card not in (None, "window", "squares"):
            message = f"Card {self.card!r} is not known. Allowed: window, squares."
            raise ScaleError(message)
        for name, value, unit in (
            ("spacing of the squares", self.square_mm, "mm"),
            ("scale", self.px_per_mm, "px/mm"),
            ("camera distance", self.camera_distance_mm, "mm"),
            ("distance of a ruler's ticks", self.tick_mm, "mm"),
        ):
            if value is not None:
                _require_positive(name, value, unit)
        for name, value, unit in (
            ("uncertainty of the scale", self.px_per_mm_u, "px/mm"),
            ("distance of the fish before the card", self.fish_before_card_mm, "mm"),
        ):
            if value is not None:
                _require_not_negative(name, value, unit)
        self._check_together()

    def with_reference(self, reference: Bar | Ruler | MarkedObject) -> ScaleRequest:
        """Use a reference that is marked in the photo.

        Raises
        ------
        ScaleError
            If the request has another one already.
        """
        if isinstance(reference, Bar):
            return replace(self, bar=reference)
        if isinstance(reference, Ruler):
            return replace(self, ruler=reference, tick_mm=None)
        return replace(self, marked=reference)

    def lens_of(self, metadata: PhotoMetadata) -> Lens | None:
        """Give the calibration of the camera that took a photo."""
        fitting = [lens for lens in self.lenses if lens.fits(metadata)]
        return fitting[-1] if fitting else None

    def print_check_of(self, design: str) -> PrintCheck | None:
        """Give the check lines measured on a card of this design."""
        fitting = [check for check in self.print_checks if check.design in ("", design)]
        return fitting[-1] if fitting else None

    def _check_together(self) -> None:
        """Refuse options that contradict each other."""
        references = (self.bar, self.ruler, self.marked, self.px_per_mm)
        if sum(given is not None for given in references) > 1:
            message = (
                "Of bar, ruler, marked thing and known px/mm more than one was given. Give one."
            )
            raise ScaleError(message)
        if self.px_per_mm_u is not None and self.px_per_mm is None:
            message = "An uncertainty of px/mm was given without the px/mm. Give both."
            raise ScaleError(message)
        if self.tank is not None and self.fish_before_card_mm is not None:
            message = (
                "A tank and a distance of the fish before the card were both given. Give one: in "
                "a tank say how far fish and card stand behind the glass."
            )
            raise ScaleError(message)
        if self.tank is not None and self.camera_distance_mm is not None:
            self.tank.apparent_distance_mm(self.camera_distance_mm)  # refuses what cannot be
        if self.square_mm is not None and self.card == "window":
            message = (
                "A square spacing was given for the window card, which knows its own size. "
                "Leave it out, or choose --card squares for other square paper."
            )
            raise ScaleError(message)
        before, distance = self.fish_before_card_mm, self.camera_distance_mm
        if before is not None and distance is not None and before >= distance:
            message = (
                f"The fish is said to stand {before:g} mm before the card, the camera only "
                f"{distance:g} mm. Give the distance from lens to card; it must be the larger."
            )
            raise ScaleError(message)


def _require_positive(name: str, value: float, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        message = f"The {name} is given as {value} {unit}. It must be a number above 0."
        raise ScaleError(message)


def _require_not_negative(name: str, value: float, unit: str) -> None:
    if not (math.isfinite(value) and value >= 0):
        message = f"The {name} is given as {value} {unit}. It must be 0 or more."
        raise ScaleError(message)
