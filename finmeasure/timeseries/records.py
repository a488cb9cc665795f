"""What the study hands to the analysis of change: one fin on one photo, and what was declared."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Literal

#: Fins that a fish has twice: left and right are never compared with each other.
PAIRED_FINS = ("pelvic", "pectoral")
Method = Literal["rays", "straight"]
ReferenceKind = Literal["own_record", "healthy_mates", "species_row"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinRecord:
    """One fin of one fish on one photo.

    Parameters
    ----------
    fish : str
        Its name, or its number within the photo.
    named : bool
        Whether the fish can be followed.
    visit : datetime.date, optional
        None where neither the photo nor its name tells the day.
    side : {"left", "right", ""}
        Side of the fish that is seen.
    method : {"rays", "straight"}
        Mean length along the rays of a traced edge, or a straight length between landmarks.
    ratio, u : float
        Length / SL and its standard uncertainty from the marks; NaN where not measured.
    sl_mm, sl_u_mm : float
        Standard length and its standard uncertainty; NaN without a scale.
    sectors : tuple of float
        Mean lengths / SL of five bands along the fin; empty for straight lengths.
    base : tuple of float
        How far the rays of each band begin beyond the straight base line, / SL; empty or zeros
        where the base is straight. A series takes its mean away from all its lengths.
    straight, straight_u : float
        Straight length / SL between landmarks beside a length along the rays, for comparison with
        values from books; NaN where it was not measured.
    relative_length, notch_area, notch_depth : float
        Edge figures of the photo; NaN where not measured.
    reason : str
        Why the fin was not measured; empty where it was.
    scale_method, camera : str
        How the photo was taken.
    order : int
        Counts photos in the order in which they came into the study.
    apart : str
        Its group, where fish of other groups were photographed under the same name on one day.
    """

    photo: str
    fish: str
    named: bool
    group: str
    visit: date | None
    side: str
    fin: str
    method: Method
    ratio: float = math.nan
    u: float = math.nan
    sl_mm: float = math.nan
    sl_u_mm: float = math.nan
    sectors: tuple[float, ...] = ()
    base: tuple[float, ...] = ()
    straight: float = math.nan
    straight_u: float = math.nan
    relative_length: float = math.nan
    notch_area: float = math.nan
    notch_depth: float = math.nan
    flags: tuple[str, ...] = ()
    reason: str = ""
    scale_method: str = ""
    camera: str = ""
    order: int = 0
    body_form: str = ""
    placed_by: str = ""
    apart: str = ""

    @property
    def who(self) -> str:
        """Name of the animal, with its group where the name alone does not tell."""
        return f"{self.fish} ({self.apart})" if self.apart else self.fish

    @property
    def measured(self) -> bool:
        """Whether the fin gave a length."""
        return math.isfinite(self.ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """A whole reference that a person declared.

    Parameters
    ----------
    kind : {"own_record", "healthy_mates", "species_row"}
        The fish's own visit before the damage, a whole mate, or a row of values.
    fin : str
        Empty for all fins.
    fish, photo : str
        Whose record it is; the photo where the fish has only a number.
    visit : datetime.date, optional
        Day of the whole record; every day of the fish if None.
    group : str
        Group that it holds for; empty for that of the fish.
    name, ratio, u, sl_mm, method
        A species row: its name, fin length / SL, standard deviation between fish (NaN where not
        known), the standard length it holds for, and how the length runs.
    of_kind : str
        Kind of fish that a species row holds for; empty for every kind.
    """

    kind: ReferenceKind
    fin: str = ""
    fish: str = ""
    photo: str = ""
    visit: date | None = None
    group: str = ""
    name: str = ""
    ratio: float = math.nan
    u: float = math.nan
    sl_mm: float = math.nan
    method: Method = "straight"
    of_kind: str = ""


@dataclass(frozen=True, slots=True)
class Happening:
    """Something on record for a group: an event, or one quantity of a water test."""

    group: str
    day: str
    what: str
    note: str = ""
    fish: str = ""
    value: float = math.nan
    unit: str = ""
