"""Find the scale of a photo: the one door to this package."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from finmeasure.errors import NotFound
from finmeasure.photo.record import Photo
from finmeasure.scale import budget
from finmeasure.scale.advice import photo_advice
from finmeasure.scale.bar import bar_scale, known_scale
from finmeasure.scale.calibration import Scale
from finmeasure.scale.card_scale import card_scale
from finmeasure.scale.objects import object_scale
from finmeasure.scale.paper import paper_scale
from finmeasure.scale.plane import to_fish_plane
from finmeasure.scale.request import ScaleRequest
from finmeasure.scale.ruler import ruler_scale
from finmeasure.scale.ruler_search import proposed_ruler_scale

_OUR_CARDS = ScaleRequest()


def find_scale(
    photo: Photo,
    request: ScaleRequest = _OUR_CARDS,
    *,
    fish_region_px: ArrayLike | None = None,
    gray: NDArray[np.uint8] | None = None,
) -> Scale | NotFound:
    """Find the scale of a photo.

    A bar, ruler, marked thing or px/mm that was given is used as it is; with the spacing of
    squares, square paper is looked for, with that of ticks a ruler; else our cards are.

    Parameters
    ----------
    photo : Photo
        Upright.
    request : ScaleRequest
        What a person said about the reference; without it our cards are looked for.
    fish_region_px : array_like of shape (N, 2), pixels (x, y), optional
        Points that span the fish: it must lie on the card, and tells which of two cards counts.
    gray : ndarray of shape (H, W), uint8, optional
        The photo's grey values, where they are there already.

    Returns
    -------
    Scale or NotFound
        NotFound says why there is no scale and what to do; then lengths are refused.

    Examples
    --------
    The sample photo is drawn: its true scale is known (``sample_images/truth.csv``).

    >>> import finmeasure as fm
    >>> scale = fm.find_scale(fm.read_photo("sample_images/bag_7/2026-05-02_b01.jpg"))
    >>> scale.method
    'window_card'
    """
    region = None if fish_region_px is None else np.asarray(fish_region_px, float).reshape(-1, 2)
    scale = _reference_scale(photo, request, region, gray)
    if isinstance(scale, NotFound):
        return scale
    scale = to_fish_plane(scale, request, photo.metadata)
    if isinstance(scale, NotFound):
        return scale
    if scale.u_rel > budget.WITHHELD_FROM:
        return NotFound(
            f"The scale is uncertain by {100 * scale.u_rel:.1f} %; lengths are given up to "
            f"{100 * budget.WITHHELD_FROM:g} % only.",
            "Use our card in the plane of the fish, larger and sharper in the photo.",
        )
    if scale.u_rel > budget.UNCERTAIN_FROM:
        scale = budget.with_flags(scale, "scale_uncertain")
    height, width = photo.pixels.shape[:2]
    return replace(scale, advice=scale.advice + photo_advice(scale, (width, height)))


def _reference_scale(
    photo: Photo,
    request: ScaleRequest,
    region: np.ndarray | None,
    gray: NDArray[np.uint8] | None,
) -> Scale | NotFound:
    """Make the scale in the plane of the reference."""
    if request.bar is not None:
        return bar_scale(request.bar)
    if request.marked is not None:
        return object_scale(request.marked)
    height, width = photo.pixels.shape[:2]
    if request.px_per_mm is not None:
        return known_scale(request.px_per_mm, request.px_per_mm_u, (width, height))
    if request.square_mm is not None:
        return paper_scale(photo.pixels, request.square_mm)
    if gray is None:
        gray = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    if request.ruler is not None:
        return ruler_scale(gray, request.ruler)
    if request.tick_mm is not None:
        return proposed_ruler_scale(gray, request.tick_mm)
    lens = request.lens_of(photo.metadata)
    return card_scale(gray, request, fish_region_px=region, lens=lens)
