"""What confirmed readings of a group teach about the next proposals of that group.

For each landmark, in a frame from snout tip to caudal base: how far off the program's marks were
(offset) and where the landmark lies on the fish of this group (shape). No network is trained.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.proposals.layout import LANDMARKS
from finmeasure.reading import Reading

Points = NDArray[np.float64]

FEWEST_PAIRS = 10
#: Cross-validated errors with the prior must be at most this share of those without it.
MUST_HELP = 0.9
#: A mark so many standard deviations from where the group has it is taken for a gross error.
GROSS = 3.5
LEAST_SPREAD = 0.002  # share of standard length: what a careful person scatters
WIDER = 1.2  # on u from so few readings
_SNOUT, _TAIL = LANDMARKS.index("snout_tip"), LANDMARKS.index("caudal_base")
_TOP, _BOTTOM = LANDMARKS.index("body_top"), LANDMARKS.index("body_bottom")


@dataclass(frozen=True, slots=True, eq=False)
class GroupPrior:
    """Offset and shape of a group, per landmark in the order of `LANDMARKS`.

    Parameters
    ----------
    helps : ndarray of shape (L,), bool
        Landmarks for which cross-validation shows a gain; the others stay as proposed.
    offset, mean, spread, scatter : ndarray of shape (L, 2)
        Confirmed minus proposed; where the group has the landmark, and how much fish differ; how
        much the program's marks scatter. Shares of standard length, along and down the fish.
    u_share : ndarray of shape (L,)
        Standard uncertainty per axis, from the errors in cross-validation.
    pairs : int
        Readings that it was learned from.
    """

    helps: NDArray[np.bool_]
    offset: Points
    mean: Points
    spread: Points
    scatter: Points
    u_share: NDArray[np.float64]
    pairs: int

    def sharpened(self, points: Points) -> tuple[Points, NDArray[np.float64]]:
        """Move proposed landmarks as the group teaches.

        Parameters
        ----------
        points : ndarray of shape (L, 2)
            Photo pixels.

        Returns
        -------
        points : ndarray of shape (L, 2)
            Photo pixels.
        u_px : ndarray of shape (L,)
            Standard uncertainty; NaN where the landmark stays as proposed.
        """
        axes, length = _axes(points)
        level = (points - points[_SNOUT]) @ axes.T / length
        better = _estimated(level, self.offset, self.mean, self.spread, self.scatter)
        moved = np.where(self.helps[:, None], better, level)
        u_px = np.where(self.helps, self.u_share * length, np.nan)
        return moved * length @ axes + points[_SNOUT], u_px


def learned(pairs: Iterable[tuple[Reading, Reading]]) -> GroupPrior | None:
    """Learn from readings of one group.

    Parameters
    ----------
    pairs : iterable of (Reading, Reading)
        What the program proposed on a fish, and what a person confirmed there.

    Returns
    -------
    GroupPrior or None
        None with fewer than 10 pairs, or where leaving out each fish in turn shows that no
        landmark gets better.
    """
    levels = [level for pair in pairs if (level := _level_pair(*pair)) is not None]
    if len(levels) < FEWEST_PAIRS:
        return None
    proposed, confirmed = (np.stack(part) for part in zip(*levels, strict=True))
    errors = _left_out_errors(proposed, confirmed)
    before = np.hypot(*(confirmed - proposed).transpose(2, 0, 1))
    after = np.hypot(*errors.transpose(2, 0, 1))
    helps = _gain(before, after) & _gain(before**2, after**2)
    if not helps.any():
        return None
    known = np.asarray(np.isfinite(errors).any(axis=(0, 2)), np.bool_)
    wide = np.nanquantile(np.where(known[:, None], np.abs(errors), 0.0), 0.95, axis=(0, 2))
    u_share = np.maximum(WIDER * wide / 1.96, LEAST_SPREAD)
    return GroupPrior(helps, *_statistics(proposed, confirmed), u_share, len(levels))


def _gain(before: NDArray[np.float64], after: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Landmarks with enough pairs whose typical error falls; (N, L) to (L,)."""
    enough = np.isfinite(before).sum(axis=0) >= FEWEST_PAIRS
    filled = np.where(np.isfinite(before), before, 0.0), np.where(np.isfinite(after), after, 0.0)
    fewer = filled[1].sum(axis=0) < MUST_HELP * filled[0].sum(axis=0)
    return np.asarray(enough & fewer)


def _level_pair(proposed: Reading, confirmed: Reading) -> tuple[Points, Points] | None:
    """Both readings in the frame of the proposed one, each (L, 2), NaN where not placed."""
    first, second = _points(proposed), _points(confirmed)
    if not np.isfinite(first[[_SNOUT, _TAIL, _TOP, _BOTTOM]]).all():
        return None
    axes, length = _axes(first)
    second[~np.isfinite(first)] = np.nan
    first[~np.isfinite(second)] = np.nan
    corner = _points(proposed)[_SNOUT]
    return (first - corner) @ axes.T / length, (second - corner) @ axes.T / length


def _points(reading: Reading) -> Points:
    nowhere = np.full(2, np.nan)
    return np.array(
        [reading.point(name) if reading.placed(name) else nowhere for name in LANDMARKS]
    )


def _axes(points: Points) -> tuple[Points, float]:
    """Give unit vectors along and down the fish, as rows, and standard length in pixels."""
    along = points[_TAIL] - points[_SNOUT]
    length = max(float(np.hypot(*along)), 1e-9)
    along = along / length
    down = np.array([-along[1], along[0]])
    if (points[_BOTTOM] - points[_TOP]) @ down < 0:
        down = -down
    return np.stack([along, down]), length


def _statistics(proposed: Points, confirmed: Points) -> tuple[Points, Points, Points, Points]:
    """Offset, mean, spread and scatter, each (L, 2); medians, so that gross errors do not count."""
    off = confirmed - proposed
    offset, mean = _median(off), _median(confirmed)
    spread = np.maximum(1.4826 * _median(np.abs(confirmed - mean)), LEAST_SPREAD)
    scatter = np.maximum(1.4826 * _median(np.abs(off - offset)), LEAST_SPREAD)
    return offset, mean, spread, scatter


def _median(values: Points) -> Points:
    """Median over fish; 0 for landmarks that no fish has."""
    known = np.isfinite(values).any(axis=0)
    return np.where(known, np.nanmedian(np.where(known, values, 0.0), axis=0), 0.0)


def _estimated(
    level: Points, offset: Points, mean: Points, spread: Points, scatter: Points
) -> Points:
    """Weigh the corrected mark against the group's shape by their variances (textbook)."""
    corrected = level + offset
    share = spread**2 / (spread**2 + scatter**2)
    away = np.abs(corrected - mean) / np.sqrt(spread**2 + scatter**2)
    gross = (away > GROSS).any(axis=-1, keepdims=True)
    return np.where(gross, mean, share * corrected + (1 - share) * mean)


def _left_out_errors(proposed: Points, confirmed: Points) -> Points:
    """Errors on each fish of what the others teach, (N, L, 2)."""
    errors = np.empty_like(proposed)
    for index in range(len(proposed)):
        others: Sequence[int] = [other for other in range(len(proposed)) if other != index]
        taught = _statistics(proposed[others], confirmed[others])
        errors[index] = _estimated(proposed[index], *taught) - confirmed[index]
    return errors
