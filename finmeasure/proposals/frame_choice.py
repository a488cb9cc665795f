"""Which of several frames of one fish are worth measuring: sharp, side-on, fins open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finmeasure.errors import NotFound
from finmeasure.geometry import polygon_area
from finmeasure.photo.record import Photo
from finmeasure.proposals.propose import propose
from finmeasure.proposals.sharpness import photo_blur_px, reduced
from finmeasure.reading import Reading

#: Each share is between 0 and 1 against the best frame. Turning away shortens by its cosine, so a
#: loss of 5 % of the length (18°) must weigh as much as fins half shut or twice the blur.
LENGTH_POWER = 12
#: Below this share of the best frame's worth, a frame is not taken even where there is room.
LEAST_WORTH = 0.7
#: Lengths and fins are compared with those of frames at most so many times as blurred as the best:
#: blur shifts marks.
SHARP = 1.5


@dataclass(frozen=True, slots=True)
class FrameSight:
    """What a frame shows of the fish.

    Parameters
    ----------
    blur_px : float
        Blur of the photo's sharpest edges, standard deviation in pixels of the photo reduced to
        1200 px.
    slenderness : float
        Standard length over body depth; falls as the fish turns away. 0 where no fish is seen.
    open_share : float
        Area of the fins that are outlined, share of the square of body depth, which does not
        change as the fish turns away.
    """

    blur_px: float
    slenderness: float
    open_share: float


NOTHING_SEEN = FrameSight(0.5, 0.0, 0.0)


def see_frame(photo: Photo) -> FrameSight:
    """Look at one frame.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    FrameSight
        Of the surest fish; with `slenderness` 0 where there is none.
    """
    blur_px = max(photo_blur_px(reduced(photo.pixels)), 0.5)
    found = propose(photo)
    if isinstance(found, NotFound):
        return FrameSight(blur_px, 0.0, 0.0)
    reading = max(found, key=lambda proposal: proposal.confidence).reading
    return FrameSight(blur_px, *_slenderness_and_fins(reading))


def _slenderness_and_fins(reading: Reading) -> tuple[float, float]:
    if not reading.placed("snout_tip", "caudal_base", "body_top", "body_bottom"):
        return 0.0, 0.0
    length = math.dist(reading.point("snout_tip"), reading.point("caudal_base"))
    depth = math.dist(reading.point("body_top"), reading.point("body_bottom"))
    fins = [line for part, line in reading.outlines.items() if part != "body"]
    area = sum(polygon_area(line.points_px) for line in fins)
    return length / max(depth, 1.0), area / max(depth, 1.0) ** 2


def best_frames(sights: Sequence[FrameSight], most: int = 3) -> tuple[int, ...]:
    """Choose the frames to measure, the best first.

    Parameters
    ----------
    sights : sequence of FrameSight
        Of one fish and one camera position.
    most : int
        Frames to choose at most.

    Returns
    -------
    tuple of int
        Indices; empty where no frame shows a fish from the side.

    Notes
    -----
    Worth = (least blur / blur) · (length share)^12 · (fin area share); lengths and areas against
    the largest among the sharp frames, and at most 1.
    """
    seen = [index for index, sight in enumerate(sights) if sight.slenderness > 0]
    if not seen:
        return ()
    worth = np.zeros(len(sights))
    sharpest = min(sights[index].blur_px for index in seen)
    sharp = [sights[index] for index in seen if sights[index].blur_px <= SHARP * sharpest]
    longest = max(sight.slenderness for sight in sharp)
    widest = max(max(sight.open_share for sight in sharp), 1e-9)
    for index in seen:
        sight = sights[index]
        worth[index] = (
            sharpest / sight.blur_px
            * min(sight.slenderness / longest, 1.0) ** LENGTH_POWER
            * min(sight.open_share / widest, 1.0)
        )  # fmt: skip
    order = sorted(seen, key=lambda index: -worth[index])
    return tuple(index for index in order[:most] if worth[index] >= LEAST_WORTH * worth.max())
