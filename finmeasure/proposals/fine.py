"""The fine stage: parts and landmarks of one fish in a level square."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.proposals.find import Sighting
from finmeasure.proposals.frames import Frame, Points, Pyramid, level_frame
from finmeasure.proposals.layout import FINE_SIDE_PX, HEAT_STRIDE_PX, LANDMARKS, MASK_STRIDE_PX
from finmeasure.proposals.stations import placed_by_form
from finmeasure.proposals.weights import Network

SNOUT, TAIL = LANDMARKS.index("snout_tip"), LANDMARKS.index("caudal_base")
UNSURE = (0.25, 0.75)  # mirrored or not: both are tried
#: A first look as sure as this is not repeated: on 60 drawn card photos and the real ones, these in
#: seven turns and sizes, a second changed the median error by 0.03 % of standard length at most.
SURE_WELL, SURE_MASS = 0.9, 0.86
PEAK, ROUND = 2, 4  # half widths of the windows for place and for mass, cells


@dataclass(frozen=True, slots=True, eq=False)
class FineLook:
    """What the fine network sees.

    Parameters
    ----------
    frame : Frame
    points : ndarray of shape (L, 2)
        Landmarks in photo pixels.
    mass : ndarray of shape (L,)
        Share of each heat map near its peak.
    shows : ndarray of shape (L,)
        Probability that the landmark can be seen.
    well : float
        Probability that the square holds a whole fish in side view.
    parts : ndarray of shape (P + 1, n, n)
        Probability of ground and parts.
    """

    frame: Frame
    points: Points
    mass: NDArray[np.float64]
    shows: NDArray[np.float64]
    well: float
    parts: NDArray[np.float32]

    @property
    def length_px(self) -> float:
        """Distance from snout tip to caudal base, photo pixels."""
        return float(np.hypot(*(self.points[TAIL] - self.points[SNOUT])))

    @property
    def is_sure(self) -> bool:
        """Whether the fish, and the landmarks that show, are as sure as a look can make them."""
        shown = self.mass[self.shows > 0.5]
        return bool(self.well > SURE_WELL and len(shown) and shown.mean() > SURE_MASS)

    @property
    def places(self) -> Points:
        """Photo pixels of everything that is fish, shape (N, 2)."""
        rows, columns = np.nonzero(self.parts[0] < 0.5)
        return self.frame.to_photo(np.column_stack([columns, rows]) * MASK_STRIDE_PX)


def look_closely(pyramid: Pyramid, network: Network, sighting: Sighting) -> FineLook:
    """Look at one fish where it was sighted; where that is not sure, as it then shows once more."""
    looks = [_look_until_sure(pyramid, network, sighting, mirrored=sighting.mirrored > 0.5)]
    if UNSURE[0] < sighting.mirrored < UNSURE[1]:
        other = sighting.mirrored <= 0.5
        looks.append(_look_until_sure(pyramid, network, sighting, mirrored=other))
    return max(looks, key=lambda look: look.well * float(np.median(look.mass)))


def _look_until_sure(
    pyramid: Pyramid, network: Network, sighting: Sighting, *, mirrored: bool
) -> FineLook:
    frame = level_frame(sighting.snout, sighting.tail, sighting.places, mirrored=mirrored,
                        side_px=FINE_SIDE_PX, room=1.2)  # fmt: skip
    first = _look(pyramid, network, frame)
    if first.is_sure:
        return first
    places = first.places
    if len(places) < 50 or first.length_px < 0.25 * FINE_SIDE_PX * frame.photo_px_per_px:
        return first
    again = level_frame(first.points[SNOUT], first.points[TAIL], places, mirrored=mirrored,
                        side_px=FINE_SIDE_PX)  # fmt: skip
    second = _look(pyramid, network, again)
    return second if second.mass.mean() > first.mass.mean() - 0.05 else first


def _look(pyramid: Pyramid, network: Network, frame: Frame) -> FineLook:
    mask, heat, shows = network(pyramid.cut(frame))
    points, mass = read_heat(heat)
    seen = 1.0 / (1.0 + np.exp(-np.clip(shows.astype(np.float64), -30, 30)))
    share = np.exp(mask - mask.max(axis=0))
    share /= share.sum(axis=0)
    points = placed_by_form(points, share)
    return FineLook(frame, frame.to_photo(points), mass, seen[:-1], float(seen[-1]), share)


def read_heat(heat: NDArray[np.float32]) -> tuple[Points, NDArray[np.float64]]:
    """Peaks of heat maps to parts of a pixel, and the share of each map round its peak.

    Parameters
    ----------
    heat : ndarray of shape (L, n, n)
        Logits; a softmax over each map gives shares.

    Returns
    -------
    points : ndarray of shape (L, 2)
        Pixels of the network's input: mean place within 5 × 5 cells round the peak.
    mass : ndarray of shape (L,), 0 to 1
    """
    count, side, _ = heat.shape
    flat = heat.reshape(count, -1)
    share = np.exp(flat - flat.max(axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    rows, columns = np.unravel_index(flat.argmax(axis=1), (side, side))
    padded = np.pad(share.reshape(count, side, side), ((0, 0), (ROUND, ROUND), (ROUND, ROUND)))
    points, mass = np.empty((count, 2)), np.empty(count)
    offsets = np.arange(-PEAK, PEAK + 1)
    for index, (row, column) in enumerate(zip(rows, columns, strict=True)):
        around = padded[index, row : row + 2 * ROUND + 1, column : column + 2 * ROUND + 1]
        near = around[ROUND - PEAK : ROUND + PEAK + 1, ROUND - PEAK : ROUND + PEAK + 1]
        mass[index] = around.sum()
        points[index] = (column + (near.sum(axis=0) @ offsets) / near.sum(),
                         row + (near.sum(axis=1) @ offsets) / near.sum())  # fmt: skip
    return points * HEAT_STRIDE_PX + (HEAT_STRIDE_PX - 1) / 2, mass
