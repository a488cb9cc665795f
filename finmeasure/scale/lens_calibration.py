"""Calibrate cameras from photos of our card."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import cv2
import numpy as np

from finmeasure.errors import NotFound
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.scale.card_scale import good_card
from finmeasure.scale.lens import Lens, SeenRadial, lens_from
from finmeasure.scale.request import ScaleRequest

LEAST_REACH = 0.6  # of half the diagonal: how far from the middle the card must reach


@dataclass(slots=True)
class Calibrated:
    """What a folder of card photos gave.

    Parameters
    ----------
    lenses : list of Lens
        One per camera, focal length and picture size.
    problems : list of tuple of str and NotFound
        Photos, or cameras, that gave nothing, and why.
    """

    lenses: list[Lens] = field(default_factory=list)
    problems: list[tuple[str, NotFound]] = field(default_factory=list)


def calibrate(photos: Iterable[tuple[str, Photo]]) -> Calibrated:
    """Calibrate every camera that took enough of the photos.

    Parameters
    ----------
    photos : iterable of tuple of str and Photo
        Name and photo.
    """
    found = Calibrated()
    cameras: dict[tuple[object, ...], tuple[PhotoMetadata, list[SeenRadial]]] = {}
    for name, photo in photos:
        seen = radial_in(photo)
        if isinstance(seen, NotFound):
            found.problems.append((name, seen))
            continue
        data = photo.metadata
        size = tuple(sorted((data.width_px, data.height_px)))
        cameras.setdefault((data.camera, data.focal_35mm, size), (data, []))[1].append(seen)
    for data, radials in cameras.values():
        lens = lens_from(radials, data)
        if isinstance(lens, NotFound):
            found.problems.append((data.camera, lens))
        else:
            found.lenses.append(lens)
    return found


def radial_in(photo: Photo) -> SeenRadial | NotFound:
    """Measure the lens's radial term on the card in one photo."""
    if not photo.metadata.camera:
        return NotFound(
            "The photo does not name its camera, so the calibration could not be used again.",
            "Use the photos as the camera wrote them.",
        )
    gray = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    card = good_card(gray, ScaleRequest())
    if isinstance(card, NotFound):
        return card
    mapping = card.fit.mapping()
    away = mapping.to_px(card.points_mm) - mapping.optical_centre_px
    reach = float(np.hypot(*away.T).max() / mapping.radius_px)
    if not card.with_radial or reach < LEAST_REACH:
        return NotFound(
            f"The card reaches {100 * reach:.0f} % of the way from the middle to the corner of the "
            f"photo; at least {100 * LEAST_REACH:.0f} % are needed to see the lens.",
            "Let the card fill the photo.",
        )
    return SeenRadial(mapping.radial, card.fit.u_radial)
