"""Bend of the body in the photo: straight lengths of a bent fish read too short."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.reading import Reading

Points = NDArray[np.float64]

#: Part of the way from snout to caudal base on which the midline is followed: the head does not
#: bend, and its profile differs most between kinds of fish.
FIRST_PLACE, LAST_PLACE = 0.30, 0.95
PLACES = 60


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """How far the midline of a body departs from its chord.

    Parameters
    ----------
    bow_pct : float
        Greatest distance of an evenly bent midline from the chord, % of the standard length.
    midline_px : ndarray of shape (N, 2), pixels (x, y)
        For pictures.
    """

    bow_pct: float
    midline_px: Points


#: A bow beyond this share of the standard length is called bent. Straight fish reach 4.6 % because
#: back and belly differ (eight traced bodies), deep-bodied drawn ones 5.5 %; a body that turns by
#: 20° behind its head has 7 % and its chord is 0.8 % too short.
BENT_FROM_PCT = 5.6


def bend_of(reading: Reading) -> Bend | NotFound:
    """Compare the chord of a body with the midline of its outline.

    Parameters
    ----------
    reading : Reading
        With the outline of the ``body``, snout tip and caudal base.

    Returns
    -------
    Bend or NotFound
        NotFound where one of these is not there.

    Notes
    -----
    The midline is fitted by a parabola, which the unlike curves of back and belly disturb least.
    An arc with bow b on a chord L is longer than this by 8/3 (b/L)² of it (second order).
    """
    body = reading.outlines.get("body")
    if body is None or not reading.placed("snout_tip", "caudal_base"):
        return NotFound(
            "The bend of the body cannot be told.",
            "Trace the body and mark snout_tip and caudal_base.",
        )
    snout, tail = reading.point("snout_tip"), reading.point("caudal_base")
    places, offsets = _midline(np.asarray(body.points_px, float), snout, tail)
    if len(places) < PLACES // 2:
        return NotFound(
            "The body outline does not reach from the snout to the caudal base.",
            "Trace the whole body.",
        )
    parabola = np.polynomial.Polynomial.fit(places, offsets, 2).convert()
    bow = abs(float(parabola.coef[2])) / 4.0 if len(parabola.coef) == 3 else 0.0
    axis = tail - snout
    across = np.array([-axis[1], axis[0]])
    midline = snout + places[:, None] * axis + parabola(places)[:, None] * across
    return Bend(100.0 * bow, midline)


@lru_cache(maxsize=1)  # every fin of a fish asks
def is_bent(reading: Reading) -> bool:
    """Whether the body is known to be bent."""
    bend = bend_of(reading)
    return not isinstance(bend, NotFound) and bend.bow_pct > BENT_FROM_PCT


def _midline(
    ring: Points, snout: Points, tail: Points
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places along the axis and the midline's offset from it, both in standard lengths."""
    axis = tail - snout
    length_squared = float(axis @ axis)
    away = ring - snout
    along = away @ axis / length_squared
    offset = (axis[0] * away[:, 1] - axis[1] * away[:, 0]) / length_squared
    places = np.linspace(FIRST_PLACE, LAST_PLACE, PLACES)
    # Every edge of the outline against every place at once; shape (PLACES, N).
    before = along - places[:, None]
    after = np.roll(before, -1, axis=1)
    crosses = (before <= 0) != (after <= 0)
    share = np.divide(before, before - after, out=np.zeros_like(before), where=crosses)
    crossing = offset + share * (np.roll(offset, -1) - offset)
    lowest = np.where(crosses, crossing, np.inf).min(axis=1)
    highest = np.where(crosses, crossing, -np.inf).max(axis=1)
    cut = crosses.sum(axis=1) >= 2
    return places[cut], (lowest[cut] + highest[cut]) / 2.0
