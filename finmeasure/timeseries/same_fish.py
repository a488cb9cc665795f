"""Likely same fish at two visits, from the pattern of the flank; a person confirms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from finmeasure.errors import NotFound
from finmeasure.measurements.orientation import side_of
from finmeasure.reading import Reading

Patch = NDArray[np.float32]

#: The flank that is compared, shares of standard length: behind the gill cover to before the tail,
#: and to both sides of the line from snout to tail base.
ALONG, ACROSS = (0.28, 0.95), 0.11
#: Pixels of a patch, and how far two patches are shifted and turned against each other, since marks
#: are a little off and fish a little bent.
PATCH_PX, SHIFT_PX, TURNS_DEG = (160, 52), 6, (-4.0, -2.0, 0.0, 2.0, 4.0)
#: Slow changes of light along the flank are taken out with a Gaussian of this size, pixels.
LIGHT_PX = 20.0
#: Pairs of strangers as alike as a suggested pair, expected among all pairs of the two visits.
STRANGERS = 0.02
#: Likeness of a suggested pair, at least: of strangers drawn with like patterns, which share scales
#: and countershading, the most alike reached 0.61. It decides alone where there are too few pairs
#: to see how alike strangers are.
LEAST_LIKENESS = 0.65
FEW_PAIRS = 12


@dataclass(frozen=True, slots=True, eq=False)
class FlankView:
    """One side of one fish, brought to one size and position.

    Parameters
    ----------
    photo, fish : str
        Where it is seen.
    side : {"left", "right"}
        The sides of a fish have different patterns and are never compared.
    patch : ndarray of shape (52, 160), float32
        Head on the left, back up; light evened out.
    """

    photo: str
    fish: str
    side: str
    patch: Patch


@dataclass(frozen=True, slots=True, eq=False)
class LikelyPair:
    """Two views that may show one fish.

    Parameters
    ----------
    likeness : float
        Greatest correlation of the two patches over small shifts, −1 to 1, after what all fish
        have in common was taken away.
    strangers : float
        Pairs of different fish expected to be as alike, among all pairs that were compared.
    suggested : bool
        Each is the other's best match, and strangers are hardly ever so alike.
    """

    earlier: FlankView
    later: FlankView
    likeness: float
    strangers: float
    suggested: bool


def flank_view(photo: str, pixels: NDArray[np.uint8], reading: Reading) -> FlankView | NotFound:
    """Cut the flank out of a photo.

    Parameters
    ----------
    photo : str
        Name, for the result.
    pixels : ndarray of shape (H, W, 3), uint8
        Photo, RGB.
    reading : Reading
        Needs snout_tip and caudal_base, and a mark that tells back from belly.

    Returns
    -------
    FlankView or NotFound
    """
    side, _ = side_of(reading)
    if not side or not reading.placed("snout_tip", "caudal_base"):
        return NotFound(
            "The flank cannot be compared: snout, tail base or the side are not known.",
            "Mark snout_tip, caudal_base and dorsal_origin.",
        )
    snout, tail = reading.point("snout_tip"), reading.point("caudal_base")
    upwards = _upwards(side, snout, tail)
    start, stop = (snout + share * (tail - snout) for share in ALONG)
    reach = ACROSS * float(np.hypot(*(tail - snout))) * upwards
    corners = np.array([start + reach, stop + reach, start - reach], np.float32)
    width, height = PATCH_PX
    frame = np.array([[0, 0], [width - 1, 0], [0, height - 1]], np.float32)
    seen = cv2.warpAffine(
        pixels, cv2.getAffineTransform(corners, frame), PATCH_PX, flags=cv2.INTER_AREA
    )
    return FlankView(photo, reading.fish, side, _even(seen))


def _upwards(
    side: str, snout: NDArray[np.float64], tail: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the unit vector across the body, towards the back."""
    line = (tail - snout) / np.hypot(*(tail - snout))
    across = np.array([line[1], -line[0]])
    return np.asarray(across if side == "left" else -across)


def _even(seen: NDArray[np.uint8]) -> Patch:
    """Even the light out, keep colours as contrasts: mean 0, standard deviation 1."""
    lab = cv2.cvtColor(seen, cv2.COLOR_RGB2Lab).astype(np.float32)
    light = lab[..., 0] + 0.5 * np.abs(lab[..., 1] - 128) + 0.5 * np.abs(lab[..., 2] - 128)
    flat = cv2.GaussianBlur(light, (0, 0), 1.5) - cv2.GaussianBlur(light, (0, 0), LIGHT_PX)
    spread = float(flat.std())
    return np.asarray((flat - flat.mean()) / (spread or 1.0), np.float32)


def likely_pairs(
    earlier: Sequence[FlankView], later: Sequence[FlankView]
) -> tuple[LikelyPair, ...]:
    """Rank all pairs of two visits of one group by how alike the flanks are.

    Parameters
    ----------
    earlier, later : sequence of FlankView
        Fish of the same kind; each fish best once per visit.

    Returns
    -------
    tuple of LikelyPair
        Most alike first. Those that are `suggested` are for a person to confirm; the others are
        no better than strangers. How alike strangers are is taken from the pairs themselves:
        median and median absolute deviation of Fisher's z, since at most one of each row is true.
    """
    found: list[LikelyPair] = []
    for side in ("left", "right"):
        rows = [view for view in earlier if view.side == side]
        columns = [view for view in later if view.side == side]
        if rows and columns:
            found += _judged(rows, columns)
    return tuple(sorted(found, key=lambda pair: (not pair.suggested, -pair.likeness)))


def _judged(rows: list[FlankView], columns: list[FlankView]) -> list[LikelyPair]:
    """Judge every pair of one side."""
    likeness = _likeness(rows, columns)
    strangers = _strangers(likeness)
    best = (likeness == likeness.max(axis=0)) & (likeness == likeness.max(axis=1)[:, None])
    suggested = best & (likeness >= LEAST_LIKENESS) & (strangers <= STRANGERS)
    return [
        LikelyPair(
            row, column, float(likeness[i, j]), float(strangers[i, j]), bool(suggested[i, j])
        )
        for i, row in enumerate(rows)
        for j, column in enumerate(columns)
    ]


def _likeness(rows: list[FlankView], columns: list[FlankView]) -> NDArray[np.float64]:
    """Correlations of all pairs; the mean of all views is what the kind has in common."""
    views = [view.patch for view in (*rows, *columns)]
    # Of two or three views the mean is half of each: then nothing is taken away.
    common = np.mean(views, axis=0) if len(views) >= 6 else np.zeros_like(views[0])
    first = [view.patch - common for view in rows]
    second = [view.patch - common for view in columns]
    return np.array([[_correlation(one, other) for other in second] for one in first])


def _correlation(one: Patch, other: Patch) -> float:
    """Greatest correlation over small shifts and turns."""
    inner = (slice(SHIFT_PX, -SHIFT_PX),) * 2
    found = [
        cv2.matchTemplate(one, _turned(other, turn)[inner], cv2.TM_CCOEFF_NORMED).max()
        for turn in TURNS_DEG
    ]
    return float(max(found))


def _turned(patch: Patch, turn_deg: float) -> Patch:
    """Turn a patch about its middle."""
    width, height = PATCH_PX
    matrix = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), turn_deg, 1.0)
    return np.asarray(cv2.warpAffine(patch, matrix, PATCH_PX, borderMode=cv2.BORDER_REFLECT))


def _strangers(likeness: NDArray[np.float64]) -> NDArray[np.float64]:
    """How many pairs of strangers would be as alike, of all these pairs."""
    if likeness.size < FEW_PAIRS:
        return np.zeros_like(likeness)
    z = np.arctanh(np.clip(likeness, -0.999, 0.999))
    middle = float(np.median(z))
    # Of strangers: pairs below the middle are not widened by the true ones.
    spread = 1.4826 * float(np.median(np.abs(z - middle)[z <= middle]))
    return np.asarray(likeness.size * norm.sf((z - middle) / max(spread, 1e-3)))
