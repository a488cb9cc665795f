"""How exactly landmarks are placed in a study, in the place of the general table."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from finmeasure.reading import Landmark, Reading


@dataclass(frozen=True, slots=True)
class Placement:
    """Standard uncertainty of one placement of a landmark, % of standard length.

    Parameters
    ----------
    along_pct_sl, across_pct_sl : float
        Along and across the body axis.
    repeats : int
        Degrees of freedom that repeated marks gave.
    """

    along_pct_sl: float
    across_pct_sl: float
    repeats: int


def with_placement(reading: Reading, own: Mapping[str, Placement]) -> Reading:
    """Give marks without an uncertainty of their own that of the study.

    Parameters
    ----------
    reading : Reading
        Marks of one fish; returned as it is where the standard length is not marked.
    own : mapping of str to Placement
        By landmark; the general default stays for the others.
    """
    if not own or not reading.placed("snout_tip", "caudal_base"):
        return reading
    ends = (reading.landmarks[name].point for name in ("snout_tip", "caudal_base"))
    length_px = math.dist(*ends)
    told = {
        name: _told(mark, own[name], length_px)
        for name, mark in reading.landmarks.items()
        if mark.state == "placed" and mark.u_px is None and name in own
    }
    return replace(reading, landmarks={**reading.landmarks, **told}) if told else reading


def _told(mark: Landmark, own: Placement, length_px: float) -> Landmark:
    per_cent = length_px / 100.0
    return replace(mark, u_px=own.along_pct_sl * per_cent, u_across_px=own.across_pct_sl * per_cent)
