"""The radial term of a camera's lens, from several photos of our card."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np

from finmeasure.errors import NotFound
from finmeasure.photo.record import PhotoMetadata

FEWEST_PHOTOS = 3
FOCAL_AGREES = 0.02  # relative; a zoom lens bends otherwise at another focal length
U_FLOOR = 0.002  # of k1: one term does not describe a lens better; assumed
LARGEST_SCATTER = 5.0  # of the photos' k1, in standard uncertainties: else not one lens


@dataclass(frozen=True, slots=True)
class Lens:
    """Radial term of one camera at one focal length and picture size.

    Parameters
    ----------
    camera : str
        Maker and model, as photos say.
    focal_35mm : float, optional
        Focal length for 35 mm film, mm; tells the lenses of one phone apart.
    long_px, short_px : int
        Sides of its pictures.
    radial, u_radial : float
        k1 as in :class:`~finmeasure.scale.calibration.Scale`, and its standard uncertainty.
    photos : int
        How many photos it comes from.
    """

    camera: str
    focal_35mm: float | None
    long_px: int
    short_px: int
    radial: float
    u_radial: float
    photos: int

    def fits(self, metadata: PhotoMetadata) -> bool:
        """Tell whether a photo was taken with this camera, lens and picture size."""
        size = sorted((metadata.width_px, metadata.height_px), reverse=True)
        same = (metadata.camera, *size) == (self.camera, self.long_px, self.short_px)
        if not same or (self.focal_35mm is None) != (metadata.focal_35mm is None):
            return False
        if self.focal_35mm is None or metadata.focal_35mm is None:
            return True
        return abs(metadata.focal_35mm / self.focal_35mm - 1) < FOCAL_AGREES

    def to_json(self) -> dict[str, Any]:
        """Give plain values for the study."""
        return asdict(self)

    @classmethod
    def is_in(cls, stored: dict[str, Any]) -> bool:
        """Tell whether :meth:`to_json` gave this; other records of a camera hold no lens."""
        return stored.keys() == {one.name for one in fields(cls)}

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Lens:
        """Rebuild it from what :meth:`to_json` gave."""
        return cls(**stored)


@dataclass(frozen=True, slots=True)
class SeenRadial:
    """Radial term that one photo's card shows, with its standard uncertainty."""

    radial: float
    u_radial: float


def lens_from(seen: Sequence[SeenRadial], metadata: PhotoMetadata) -> Lens | NotFound:
    """Join the radial terms of several photos of one camera.

    The weighted mean, its uncertainty widened by the Birge ratio (Birge 1932, Phys. Rev. 40:207,
    from memory) where photos differ by more than they should.

    Parameters
    ----------
    seen : sequence of SeenRadial
        One per photo.
    metadata : PhotoMetadata
        Of any of the photos.
    """
    if len(seen) < FEWEST_PHOTOS:
        return NotFound(
            f"Only {len(seen)} photos show the lens; at least {FEWEST_PHOTOS} are needed.",
            "Take more photos of the card, filling the photo, from slightly different angles.",
        )
    radial = np.array([one.radial for one in seen])
    weight = np.array([1 / (one.u_radial**2 + U_FLOOR**2) for one in seen])
    mean = float(radial @ weight / weight.sum())
    birge = math.sqrt(float((radial - mean) ** 2 @ weight) / (len(seen) - 1))
    if birge > LARGEST_SCATTER:
        return NotFound(
            f"The photos do not show one lens: its radial term runs from {radial.min():.3f} to "
            f"{radial.max():.3f}.",
            "Use photos of one camera at one zoom, with a flat card.",
        )
    u_mean = max(1.0, birge) / math.sqrt(float(weight.sum()))
    long_px, short_px = sorted((metadata.width_px, metadata.height_px), reverse=True)
    return Lens(
        metadata.camera, metadata.focal_35mm, long_px, short_px,
        radial=mean, u_radial=max(u_mean, U_FLOOR), photos=len(seen),
    )  # fmt: skip
