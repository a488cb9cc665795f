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
#: A picture in a side pane faces the other way at the same height, turned as in a mirror, and has
#: the same fine detail, best match over small shifts and sizes. (Drawn: 23 of 29 pictures above
#: 0.93, and 1 of 29 other fish of the very same pattern, which rarely lie like a picture, too.)
SIDE_LIKE, SIDE_TURN_DEG, SIDE_HIGHER, SIDE_LENGTHS = 0.93, 6.0, 0.15, 1.4
SIDE_CELLS, SIDE_SHIFT = 128, 8
SIDE_SIZES = (0.94, 0.97, 1.0, 1.03, 1.06)
#: Landmarks round body and tail.
ROUND = (
    "snout_tip", "body_top", "body_bottom", "caudal_upper_insertion", "caudal_lower_insertion",
    "caudal_upper_tip", "caudal_lower_tip",
)  # fmt: skip
_ROUND = [LANDMARKS.index(name) for name in ROUND]
_ENDS = [LANDMARKS.index("snout_tip"), LANDMARKS.index("caudal_base")]
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
    """Leave out pictures of fish in the water's surface, in the bottom glass or in a side pane.

    Of a fish and its picture the one with less contrast is the picture.
    """
    views = [pyramid.cut(look.frame).mean(axis=2) for look in looks] if len(looks) > 1 else []
    left_out = set()
    for one in range(len(views)):
        for two in range(one):
            if _are_mirrored(looks[one], views[one], views[two]) or (
                _lie_as_in_a_side_pane(looks[one], looks[two])
                and _same_detail(looks[one], views[one], views[two]) > SIDE_LIKE
            ):
                left_out.add(one if _contrast(views[one]) < _contrast(views[two]) else two)
    return [look for index, look in enumerate(looks) if index not in left_out]


def _lie_as_in_a_side_pane(first: FineLook, second: FineLook) -> bool:
    """Whether one fish lies as the other does in an upright mirror, seen from the front."""
    ends = [look.points[_ENDS] for look in (first, second)]
    (ahead_x, ahead_y), (other_x, other_y) = (snout - tail for snout, tail in ends)
    turned = np.degrees(np.arctan2(other_y, other_x) - np.arctan2(ahead_y, -ahead_x))
    lengths = sorted((first.length_px, second.length_px))
    higher = abs(float((ends[0] - ends[1]).mean(axis=0)[1]))
    return bool(
        abs((turned + 180) % 360 - 180) < SIDE_TURN_DEG
        and lengths[1] < SIDE_LENGTHS * lengths[0]
        and higher < SIDE_HIGHER * lengths[1]
    )


def _same_detail(look: FineLook, first: Field, second: Field) -> float:
    """Correlation of the fine detail of two views where the first shows fish, at its best."""
    size = (SIDE_CELLS, SIDE_CELLS)
    inside = cv2.resize((look.parts[0] < 0.5).astype(np.float32), size)
    mask = cv2.erode((inside > 0.5).astype(np.float32), np.ones((3, 3)))
    if mask.sum() < LEAST_CELLS:
        return 0.0
    wanted, other = (_detail(cv2.resize(view, size, interpolation=cv2.INTER_AREA))
                     for view in (first, second))  # fmt: skip
    best = 0.0
    for factor in SIDE_SIZES:
        matrix = cv2.getRotationMatrix2D((SIDE_CELLS / 2, SIDE_CELLS / 2), 0, factor)
        moved = np.pad(cv2.warpAffine(other, matrix, size), SIDE_SHIFT)
        match = cv2.matchTemplate(moved, wanted, cv2.TM_CCOEFF_NORMED, mask=mask)
        best = max(best, float(match[np.isfinite(match)].max(initial=0.0)))
    return best


def _detail(view: Field) -> Field:
    """Take slow changes and noise out."""
    fine, coarse = (cv2.GaussianBlur(view, (0, 0), wide) for wide in (1.0, 4.0))
    return np.asarray(fine - coarse, np.float32)


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
