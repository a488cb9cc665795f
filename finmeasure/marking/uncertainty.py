"""How exactly a click says where a landmark is, when the photo is shown small."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from finmeasure.landmarks.scheme import landmark_definitions
from finmeasure.reading import Landmark

POINTING_U_SCREEN_PX = 1.0  # of a person who points with a mouse; common practice, no source
NOTICEABLE_SHARE = 0.3  # below a third of the default, a click adds < 5 % in root sum of squares


def with_click_uncertainty(
    landmarks: Mapping[str, Landmark], zooms: Mapping[str, float]
) -> dict[str, Landmark]:
    """Give landmarks a larger uncertainty where they were clicked in a small picture.

    Parameters
    ----------
    landmarks : mapping of str to Landmark
        Decided landmarks.
    zooms : mapping of str to float
        Screen pixels per photo pixel at which each was placed.

    Returns
    -------
    dict of str to Landmark
        `u_px` and `u_across_px` stay None, the default of a careful person, wherever pointing
        adds nothing noticeable to it, and where the standard length is not known yet.
    """
    length_px = _standard_length_px(landmarks)
    return {
        name: _widened(landmark, zooms.get(name), length_px) for name, landmark in landmarks.items()
    }


def _standard_length_px(landmarks: Mapping[str, Landmark]) -> float | None:
    """Straight length of the body in pixels, where both its ends are placed."""
    ends = [landmarks.get(name) for name in ("snout_tip", "caudal_base")]
    placed = [end for end in ends if end is not None and end.state == "placed"]
    return math.dist(placed[0].point, placed[1].point) if len(placed) == 2 else None


def _widened(landmark: Landmark, zoom: float | None, length_px: float | None) -> Landmark:
    """Add the uncertainty of pointing to that of the landmark itself."""
    definition = landmark_definitions().get(landmark.name)
    if landmark.state != "placed" or not zoom or not length_px or definition is None:
        return landmark
    along_px = definition.u_along_pct_sl * length_px / 100.0
    across_px = definition.u_across_pct_sl * length_px / 100.0
    pointing_px = POINTING_U_SCREEN_PX / zoom
    if pointing_px < NOTICEABLE_SHARE * min(along_px, across_px):
        return landmark
    return replace(
        landmark,
        u_px=math.hypot(along_px, pointing_px),
        u_across_px=math.hypot(across_px, pointing_px),
    )
