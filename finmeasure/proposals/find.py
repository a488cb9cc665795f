"""The find stage: where in a photo fish are, which way they lie, and whether they are whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.proposals.frames import Frame, Points, Pyramid, whole_photo
from finmeasure.proposals.layout import FIND_SIDE_PX, FIND_STRIDE_PX, FIND_UNIT_PX
from finmeasure.proposals.weights import Network

LEAST_FISH = 0.5
LEAST_PLACES = 12  # of 80 × 80: below, a fish is too small to be told
MOST_FISH = 12
BACK_UP = 2.5  # log odds that a fish has its back up, where it lies more or less level
#: Another fish has this share of the places, and its ends lie together so far off (tested on drawn
#: fish: 0.54 and 0.48; one fish in the development photos: at most 0.4 and 0.2).
CROWD_SHARE, CROWD_APART = 0.3, 0.35
AGREE = 0.22  # votes for the ends agree within this share of the length


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """One fish, roughly: ends and places in photo pixels, shares between 0 and 1.

    `crowded`: another fish lies so near that its places could be taken for this one's.
    """

    snout: Points
    tail: Points
    places: Points
    mirrored: float
    whole: float
    sure: float
    crowded: bool = False


def find_fish(pyramid: Pyramid, network: Network) -> list[Sighting]:
    """Look for fish in a whole photo; from left to right."""
    height, width = pyramid.pixels.shape[:2]
    frame = whole_photo((width, height), FIND_SIDE_PX)
    maps = network(pyramid.cut(frame))[0].astype(np.float64)
    fish = _share(maps[0])
    rows, columns = np.nonzero(fish > LEAST_FISH)
    cells = np.column_stack([columns, rows]).astype(np.float64)
    here = cells * FIND_STRIDE_PX + FIND_STRIDE_PX // 2
    ends = here.repeat(2, axis=0).reshape(-1, 2, 2) + FIND_UNIT_PX * maps[
        3:, rows, columns
    ].T.reshape(-1, 2, 2)
    sightings = _grouped(frame, here, ends, maps[:3, rows, columns])
    return sorted(sightings, key=lambda one: float(one.snout[0] + one.tail[0]))


def _share(logits: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logits, -30, 30))))


def _grouped(
    frame: Frame, here: Points, ends: NDArray[np.float64], logits: NDArray[np.float64]
) -> list[Sighting]:
    """Gather places whose votes for snout and tail agree, the largest group first."""
    left = np.ones(len(here), bool)
    found: list[Sighting] = []
    while left.sum() >= LEAST_PLACES and len(found) < MOST_FISH:
        members = _largest_group(ends, left)
        if len(members) < LEAST_PLACES:
            break
        middle = np.median(ends[members], axis=0)
        crowded = _is_crowded(ends, left, middle, len(members))
        left &= ~_near(ends, middle, 1.6)
        left[members] = False
        logit = np.median(logits[:, members], axis=1)
        places = frame.to_photo(here[members])
        snout, tail = frame.to_photo(middle)
        heading = (snout - tail) / max(float(np.hypot(*(snout - tail))), 1e-9)
        logit[2] += BACK_UP * float(heading[0])
        shares = _share(logit)
        found.append(Sighting(snout, tail, places, float(shares[2]), float(shares[1]),
                              float(_share(logits[0, members]).mean()), crowded))  # fmt: skip
    return found


def _near(ends: NDArray[np.float64], middle: Points, factor: float = 1.0) -> NDArray[np.bool_]:
    length = max(float(np.hypot(*(middle[1] - middle[0]))), 6.0)
    away = np.hypot(*(ends - middle).transpose(2, 0, 1)).max(axis=1)
    return np.asarray(away < factor * AGREE * length)


def _is_crowded(
    ends: NDArray[np.float64], left: NDArray[np.bool_], middle: Points, members: int
) -> bool:
    """Whether the votes that are dropped as near agree on a fish of their own."""
    apart = left & _near(ends, middle, 1.6) & ~_near(ends, middle, 0.55)
    if apart.sum() < max(LEAST_PLACES, CROWD_SHARE * members):
        return False
    crowd = _largest_group(ends, apart)
    if len(crowd) < max(LEAST_PLACES, CROWD_SHARE * members):
        return False
    moved = np.hypot(*(np.median(ends[crowd], axis=0) - middle).T)
    length = float(np.hypot(*(middle[1] - middle[0])))
    return bool(moved.sum() > CROWD_APART * length)


def _largest_group(ends: NDArray[np.float64], left: NDArray[np.bool_]) -> NDArray[np.intp]:
    candidates = np.nonzero(left)[0]
    tried = candidates[:: max(len(candidates) // 60, 1)]
    groups = [np.nonzero(left & _near(ends, ends[one]))[0] for one in tried]
    return max(groups, key=len)
