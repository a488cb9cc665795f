"""Whether landmarks lie as they can on a fish seen from the side."""

from __future__ import annotations

import numpy as np

from finmeasure.proposals.fine import FineLook
from finmeasure.proposals.layout import LANDMARKS

#: Least and most place along the axis snout_tip → caudal_base, shares of standard length
#: (common practice, no source; wide enough for every form that is drawn).
_ALONG = {
    "eye_front": (0.0, 0.25), "eye_back": (0.03, 0.33), "operculum_end": (0.12, 0.48),
    "dorsal_origin": (0.1, 0.9), "anal_origin": (0.25, 0.97), "pelvic_origin": (0.15, 0.8),
    "caudal_upper_insertion": (0.85, 1.08), "caudal_lower_insertion": (0.85, 1.08),
}  # fmt: skip
#: Pairs of which the first lies above the second on the level fish.
_ABOVE = (
    ("dorsal_origin", "anal_origin"), ("dorsal_origin", "pelvic_origin"),
    ("caudal_upper_insertion", "caudal_lower_insertion"), ("body_top", "body_bottom"),
    ("peduncle_top", "peduncle_bottom"), ("caudal_upper_tip", "caudal_lower_tip"),
)  # fmt: skip


def oddities(look: FineLook) -> tuple[str, ...]:
    """Names of landmarks that lie where they cannot on a fish in side view."""
    level = look.frame.to_frame(look.points)
    place = dict(zip(LANDMARKS, level, strict=True))
    shown = {name for name, share in zip(LANDMARKS, look.shows, strict=True) if share > 0.5}
    snout, tail = place["snout_tip"], place["caudal_base"]
    length = max(float(np.hypot(*(tail - snout))), 1e-6)
    axis = (tail - snout) / length
    odd = [
        name for name, (low, high) in _ALONG.items()
        if name in shown and not low <= float((place[name] - snout) @ axis) / length <= high
    ]  # fmt: skip
    odd += [
        upper for upper, lower in _ABOVE
        if {upper, lower} <= shown and place[upper][1] >= place[lower][1]
    ]  # fmt: skip
    return tuple(dict.fromkeys(odd))


_FLATFISH = (
    "eye_front", "eye_back", "dorsal_origin", "dorsal_end", "anal_origin", "anal_end",
    "body_top", "body_bottom",
)  # fmt: skip


def like_a_flatfish(look: FineLook) -> bool:
    """Whether long fins frame the whole body and the eye is small: a fish that lies on its side.

    The limits were set on one development photo of a plaice and on none of a flatfish besides; deep
    fish with such fins (discus) have an eye of an eighth of their depth and more (from memory).
    """
    if any(look.shows[LANDMARKS.index(name)] < 0.5 for name in _FLATFISH):
        return False
    level = look.frame.to_frame(look.points)
    place = dict(zip(LANDMARKS, level, strict=True))
    length = float(place["caudal_base"][0] - place["snout_tip"][0])

    def reach(first: str, last: str, axis: int = 0) -> float:
        return float(place[last][axis] - place[first][axis]) / max(length, 1e-6)

    ends = min(reach("snout_tip", "dorsal_end"), reach("snout_tip", "anal_end"))
    eye, depth = reach("eye_front", "eye_back"), reach("body_top", "body_bottom", 1)
    framed = reach("dorsal_origin", "dorsal_end") > 0.6 and reach("anal_origin", "anal_end") > 0.42
    return framed and ends > 0.88 and depth > 0.35 and eye < 0.115 * depth
