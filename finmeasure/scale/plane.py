"""Correct the scale for a fish that does not stand in the plane of the reference."""

from __future__ import annotations

import math
from dataclasses import dataclass

from finmeasure.errors import NotFound
from finmeasure.photo.record import PhotoMetadata
from finmeasure.scale import budget
from finmeasure.scale.calibration import BudgetLine, Scale
from finmeasure.scale.request import ScaleRequest
from finmeasure.scale.water import CURVED, U_OBLIQUE

FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)  # of the 35 mm film that EXIF refers to
FOCAL_35MM_ALLOWED = (8.0, 1000.0)
U_DISTANCE_EXIF = 0.05  # relative, assumed
U_DISTANCE_ENTERED = 0.02  # relative, assumed: a tape measure to the unseen lens plane
U_BEFORE = 0.25  # relative uncertainty of the fish's distance before the card, assumed
WORTH_A_WARNING = 0.01


@dataclass(frozen=True, slots=True)
class CameraDistance:
    """Distance from lens to card, its standard uncertainty, and where it comes from."""

    mm: float
    u_mm: float
    source: str


def camera_distance(
    scale: Scale, request: ScaleRequest, metadata: PhotoMetadata
) -> CameraDistance | NotFound:
    """Take the distance that was entered, else work it out from the camera's focal length.

    D = f_px / (px/mm), with f_px = f_35mm / 43.27 mm × image diagonal in px. Through glass and
    water that is the apparent distance; one that was entered is turned into it.
    """
    if request.camera_distance_mm is not None:
        entered = request.camera_distance_mm
        if request.tank is not None:
            entered = request.tank.apparent_distance_mm(entered)
        return CameraDistance(entered, U_DISTANCE_ENTERED * entered, "entered")
    focal = metadata.focal_35mm
    if focal is None:
        return NotFound(
            "The fish is not in the plane of the card, and the camera's distance is not known: "
            "the photo does not state its focal length.",
            "Give --camera-distance, lens to card in mm.",
        )
    low, high = FOCAL_35MM_ALLOWED
    if not low <= focal <= high:
        return NotFound(
            f"The photo states a focal length of {focal:g} mm (35 mm film), which cannot be used; "
            f"allowed are {low:g} to {high:g} mm.",
            "Give --camera-distance, lens to card in mm.",
        )
    focal_px = focal / FILM_DIAGONAL_MM * math.hypot(metadata.width_px, metadata.height_px)
    distance = focal_px / scale.px_per_mm
    return CameraDistance(distance, U_DISTANCE_EXIF * distance, "from the photo's focal length")


def to_fish_plane(scale: Scale, request: ScaleRequest, metadata: PhotoMetadata) -> Scale | NotFound:
    """Move the scale from the plane of the reference to that of the fish.

    A fish a distance h before the card looks larger by h / (D − h); lengths are multiplied by
    (D − h) / D, with the relative uncertainty hypot(u_h / D, h u_D / D²). In a tank h and D are
    apparent distances, and the rays' obliqueness is added.
    """
    if request.through_curved:
        return CURVED
    tank, before = request.tank, request.fish_before_card_mm
    if tank is not None:
        before = -tank.beyond_card_mm()
    if before is None:
        return budget.with_flags(scale, "plane_assumed")
    oblique = [] if tank is None else [BudgetLine("water", U_OBLIQUE, "oblique rays in water")]
    if before == 0:
        return budget.with_lines(scale, oblique)
    distance = camera_distance(scale, request, metadata)
    if isinstance(distance, NotFound):
        return distance
    if before >= distance.mm:
        return NotFound(
            f"The fish is said to stand {before:g} mm before the card, but the camera stands only "
            f"{distance.mm:.0f} mm from it ({distance.source}).",
            "Check --fish-before-card and --camera-distance.",
        )
    line = _plane_line(before, distance, in_tank=tank is not None)
    return budget.with_lines(scale, [line, *oblique], factor=1 - before / distance.mm)


def _plane_line(before_mm: float, distance: CameraDistance, *, in_tank: bool) -> BudgetLine:
    """Uncertainty of the correction, and in words what was corrected."""
    share = before_mm / distance.mm
    u_plane = math.hypot(U_BEFORE * share, share * distance.u_mm / distance.mm)
    side = "before" if before_mm > 0 else "behind"
    note = (
        f"fish {abs(before_mm):.1f} mm {side} the card, camera at {distance.mm:.0f} mm "
        f"{distance.source}{', apparent distances' if in_tank else ''}"
    )
    if abs(share) > WORTH_A_WARNING:
        note += (
            f"; {100 * abs(share):.1f} % corrected: better put the card in the fish's plane inside "
            "the tank, or the camera 500 mm away or more"
        )
    return BudgetLine("plane", u_plane, note)
