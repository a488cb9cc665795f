"""Fish beside each other in one photo: one seen twice, overlaps, pictures in the surface."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.proposals.fine import FineLook
from finmeasure.proposals.frames import Pyramid
from finmeasure.proposals.layout import LANDMARKS

Field = NDArray[np.float32]

#: Shares of the smaller fish that lie on the other one.
SAME_FISH, OVERLAP = 0.6, 0.06
#: A mirror picture looks like its fish turned upside down: correlation of the grey values, and by
#: how much it is higher than the right way up. (Drawn: 0.99 and 1.4; two fish side by side: −0.5.)
LIKE, LIKE_FLIPPED_RATHER = 0.7, 0.3
#: Landmarks round body and tail.
ROUND = (
    "snout_tip", "body_top", "body_bottom", "caudal_upper_insertion", "caudal_lower_insertion",
    "caudal_upper_tip", "caudal_lower_tip",
)  # fmt: skip
_ROUND = [LANDMARKS.index(name) for name in ROUND]
LEAST_CELLS = 100


def overlap(first: FineLook, second: FineLook) -> float:
    """Share of the smaller fish, body and tail, that lies on the other one.

    Parameters
    ----------
    first, second : FineLook
        Of one photo.

    Returns
    -------
    float
        0 to 1, of the areas of the convex hulls of :data:`ROUND`: what a fish in front hides
        counts too.
    """
    hulls = [cv2.convexHull(look.points[_ROUND].astype(np.float32)) for look in (first, second)]
    common = float(cv2.intersectConvexConvex(hulls[0], hulls[1])[0])
    return common / max(min(cv2.contourArea(hull) for hull in hulls), 1.0)


def without_doubles(looks: list[FineLook]) -> list[FineLook]:
    """Keep the surest of several looks at one fish, and the order."""
    kept: list[FineLook] = []
    for look in sorted(looks, key=sureness, reverse=True):
        if all(overlap(look, other) < SAME_FISH for other in kept):
            kept.append(look)
    return [look for look in looks if any(look is other for other in kept)]


def sureness(look: FineLook) -> float:
    """How sure a look is: that it is a fish, times the median of its landmarks."""
    return look.well * float(np.median(look.mass))


def overlapping(looks: list[FineLook]) -> list[bool]:
    """For each fish, whether another one lies on it."""
    touched = [False] * len(looks)
    for one in range(len(looks)):
        for two in range(one):
            if overlap(looks[one], looks[two]) >= OVERLAP:
                touched[one] = touched[two] = True
    return touched


def without_mirror_pictures(pyramid: Pyramid, looks: list[FineLook]) -> list[FineLook]:
    """Leave out pictures of fish in the water's surface or in the bottom glass.

    Of a fish and its picture the one with less contrast is the picture.
    """
    views = [pyramid.cut(look.frame).mean(axis=2) for look in looks] if len(looks) > 1 else []
    left_out = set()
    for one in range(len(views)):
        for two in range(one):
            if _are_mirrored(looks[one], views[one], views[two]):
                left_out.add(one if _contrast(views[one]) < _contrast(views[two]) else two)
    return [look for index, look in enumerate(looks) if index not in left_out]


def _are_mirrored(look: FineLook, first: Field, second: Field) -> bool:
    """Compare the first fish with the second upside down, where the first is."""
    inside = cv2.resize((look.parts[0] < 0.5).astype(np.uint8), first.shape) > 0
    if inside.sum() < LEAST_CELLS:
        return False
    straight, flipped = (
        float(np.corrcoef(first[inside], other[inside])[0, 1]) for other in (second, second[::-1])
    )
    return flipped > LIKE and flipped > straight + LIKE_FLIPPED_RATHER


def _contrast(view: Field) -> float:
    return float(view.std())
