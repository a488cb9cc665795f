"""Proposals: readings that the program makes by itself, or one reason why it makes none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.photo.record import Photo
from finmeasure.proposals.confidence import Calibration
from finmeasure.proposals.edges import BASES, outline_of
from finmeasure.proposals.find import Sighting, find_fish
from finmeasure.proposals.fine import SNOUT, TAIL, FineLook, look_closely
from finmeasure.proposals.frames import Pyramid
from finmeasure.proposals.group_prior import GroupPrior
from finmeasure.proposals.layout import LANDMARKS
from finmeasure.proposals.neighbours import (
    overlapping,
    without_doubles,
    without_mirror_pictures,
)
from finmeasure.proposals.shape import like_a_flatfish, oddities
from finmeasure.proposals.sharpness import JUDGED_PX, photo_blur_px, reduced
from finmeasure.proposals.weights import load_network, manifest
from finmeasure.reading import Landmark, Outline, Reading

PLACED_BY = "finmeasure"
#: Author of a reading that confirmed readings of its group have sharpened; its marks stay the
#: program's. Nothing is learned from it: the fault is taken back in it already.
TAUGHT = "finmeasure, taught by the group"
OVERLAPPING = NotFound(
    "Fish overlap: where one ends cannot be told.",
    "Photograph one fish alone, or wait until they swim apart.",
)
LEAST_WELL, LEAST_SURE, MOST_ODD = 0.5, 0.6, 2
LEAST_CONFIDENCE = 0.35
LEAST_LENGTH_PX = 150.0
LEAST_SHOWN = 0.5
MOST_PHOTO_BLUR_PX = 3.0  # of a photo of 1200 px; no edge of the fish is sharper anywhere
#: A fish much smaller than the largest one is a neighbour in the background or no fish.
LEAST_OF_LARGEST = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """One fish as the program sees it.

    Parameters
    ----------
    reading : Reading
        Landmarks with `u_px` and confidence; what cannot be seen is ``hidden``.
    confidence : float
        Mean probability that its landmarks are right.
    odd : tuple of str
        Landmarks that lie where they hardly can.
    """

    reading: Reading
    confidence: float
    odd: tuple[str, ...] = ()


def propose(
    photo: Photo,
    *,
    body_form: str = "plain",
    prior: GroupPrior | None = None,
    gray: NDArray[np.uint8] | None = None,
) -> tuple[Proposal, ...] | NotFound:
    """Find the fish in a photo and mark them.

    Parameters
    ----------
    photo : Photo
    body_form : str
        Body form that the readings are given.
    prior : GroupPrior, optional
        What confirmed readings of the group taught.
    gray : ndarray of shape (H, W), uint8, optional
        The photo's grey values, where they are there already.

    Returns
    -------
    tuple of Proposal, or NotFound
        From left to right, numbered from 1; NotFound with one reason and its remedy where no
        fish in side view is seen well enough, or where the weights cannot be used.

    Examples
    --------
    >>> import finmeasure as fm
    >>> photo = fm.read_photo("sample_images/bag_7/2026-05-02_b01.jpg")
    >>> [proposal.reading.fish for proposal in fm.propose(photo)]
    ['1']
    >>> bool(fm.propose(fm.read_photo("sample_images/refused/blurred.jpg")))
    False
    """
    find, fine = load_network("find"), load_network("fine")
    if isinstance(find, NotFound):
        return find
    if isinstance(fine, NotFound):
        return fine
    pyramid = Pyramid.of(photo.pixels)
    sightings = _worth_a_look(find_fish(pyramid, find))
    looks = [(one, look_closely(pyramid, fine, one)) for one in sightings]
    size = (photo.metadata.width_px, photo.metadata.height_px)
    small = reduced(pyramid.level_of(JUDGED_PX))
    judged = [(look, _refusal(one, look, size, small)) for one, look in looks]
    good = [look for look, refusal in judged if refusal is None]
    if not good:
        refusals = [(look, refusal) for look, refusal in judged if refusal is not None]
        return _one_reason(small, size, refusals)
    good = without_doubles(good)
    good = without_mirror_pictures(pyramid, good)
    longest = max(look.length_px for look in good)
    kept = [look for look in good if look.length_px > LEAST_OF_LARGEST * longest]
    crowded = [look for look, refusal in judged if refusal is OVERLAPPING]
    touched = overlapping([*kept, *crowded])[: len(kept)]
    if all(touched):
        return OVERLAPPING
    kept = [look for look, hidden in zip(kept, touched, strict=True) if not hidden]
    gray = photo.gray() if gray is None else gray
    calibration = Calibration.of(manifest())
    found = tuple(
        _proposal(str(number), look, gray, calibration, body_form, prior=prior)
        for number, look in enumerate(kept, start=1)
    )
    sure = [proposal for proposal in found if proposal.confidence >= LEAST_CONFIDENCE]
    if not sure:
        share = 100 * max(proposal.confidence for proposal in found)
        return NotFound(
            f"The program is not sure enough of its marks ({share:.0f} % likely right).",
            "Take a clearer photo, or mark the fish with `finmeasure open`.",
        )
    return tuple(
        replace(proposal, reading=replace(proposal.reading, fish=str(number)))
        for number, proposal in enumerate(sure, start=1)
    )


def _worth_a_look(sightings: list[Sighting]) -> list[Sighting]:
    """Leave out specks beside a large fish: each close look costs time."""
    largest = max((len(one.places) for one in sightings), default=0)
    return [one for one in sightings if len(one.places) >= 0.08 * largest]


def _refusal(
    sighting: Sighting, look: FineLook, size: tuple[int, int], small: NDArray[np.uint8]
) -> NotFound | None:
    """Say why a fish is not measured, the plainest reason first."""
    if _cut_off(look, size):
        return NotFound(
            "The fish is cut off by the photo's edge.",
            "Step back until the whole fish, tail included, is in the photo.",
        )
    if look.well >= LEAST_WELL and sighting.crowded:
        return OVERLAPPING
    if look.well < LEAST_WELL or len(oddities(look)) > MOST_ODD:
        return NotFound(
            "Nothing that is surely a whole fish seen from the side: "
            f"{100 * look.well:.0f} % sure, {len(oddities(look))} marks out of place.",
            "Photograph one fish square from the side, its fins open, before a plain ground.",
        )
    if like_a_flatfish(look):
        return NotFound(
            "A flatfish, by its small eye and the fins all round: it is not seen from the side.",
            "Flatfish are not measured. Mark the fish with `finmeasure open` if it is none.",
        )
    if look.length_px < LEAST_LENGTH_PX:
        return NotFound(
            f"The fish is only {look.length_px:.0f} px long (least {LEAST_LENGTH_PX:.0f} px).",
            "Go nearer or use a smaller card, so that the fish fills most of the photo.",
        )
    if (blur_px := photo_blur_px(_part_with(look, small, size))) > MOST_PHOTO_BLUR_PX:
        return _blurred(blur_px, small, size)
    if float(np.median(look.mass[look.shows > LEAST_SHOWN])) < LEAST_SURE:
        return NotFound(
            "The fish is too blurred or too unclear to be marked by the program.",
            "Take a sharper photo, or mark the fish with `finmeasure open`.",
        )
    return None


def _cut_off(look: FineLook, size: tuple[int, int]) -> bool:
    """Whether an end of the fish lies at or beyond the photo's edge."""
    ends = [SNOUT, TAIL, LANDMARKS.index("caudal_fork")]
    room = 0.004 * max(size)
    points = look.points[ends]
    beyond = (points < room) | (points > np.array(size) - 1 - room)
    return bool((look.well >= LEAST_WELL) and beyond[:2].any())


def _part_with(
    look: FineLook, small: NDArray[np.uint8], size: tuple[int, int]
) -> NDArray[np.uint8]:
    """Cut out the part of the reduced photo that shows the fish."""
    places = look.places * (max(small.shape[:2]) / max(size))
    if not len(places):
        return small
    left, top = np.maximum(places.min(axis=0).astype(int) - 3, 0)
    right, bottom = places.max(axis=0).astype(int) + 4
    part = small[top:bottom, left:right]
    return part if part.size else small


def _blurred(blur_px: float, small: NDArray[np.uint8], size: tuple[int, int]) -> NotFound:
    smeared_px = 2 * blur_px * max(size) / max(small.shape[:2])
    return NotFound(
        f"The photo is blurred: edges are smeared over {smeared_px:.0f} px.",
        "Hold the camera still, tap on the fish to focus, use more light.",
    )


def _one_reason(
    small: NDArray[np.uint8], size: tuple[int, int], judged: list[tuple[FineLook, NotFound]]
) -> NotFound:
    """Say why there is no fish to measure: blur explains the most."""
    if (blur_px := photo_blur_px(small)) > MOST_PHOTO_BLUR_PX:
        return _blurred(blur_px, small, size)
    if not judged:
        return NotFound("No fish was found in the photo.",
                        "Photograph one fish from the side, large and sharp.")  # fmt: skip
    return max(judged, key=lambda pair: pair[0].well * pair[0].length_px)[1]


def _proposal(
    number: str,
    look: FineLook,
    gray: np.ndarray,
    calibration: Calibration,
    body_form: str,
    *,
    prior: GroupPrior | None = None,
) -> Proposal:
    within, u_px = calibration.within_3_pct(look.mass), calibration.u_of(look.mass) * look.length_px
    if prior is not None:
        points, taught_px = prior.sharpened(look.points)
        look = replace(look, points=points)
        u_px = np.where(np.isfinite(taught_px), taught_px, u_px)
    odd = oddities(look)
    landmarks: dict[str, Landmark] = {}
    for index, name in enumerate(LANDMARKS):
        if look.shows[index] < LEAST_SHOWN:
            landmarks[name] = Landmark(name, state="hidden", placed_by=PLACED_BY)
            continue
        sure = float(within[index]) * (0.5 if name in odd else 1.0)
        x, y = (float(value) for value in look.points[index])
        landmarks[name] = Landmark(name, x, y, "placed", float(u_px[index]), None, PLACED_BY, sure)
    landmarks["eye_centre"] = _between(landmarks["eye_front"], landmarks["eye_back"])
    placed = [mark.confidence or 0.0 for mark in landmarks.values() if mark.state == "placed"]
    outlines = _outlines(look, gray, landmarks)
    reading = Reading(number, MappingProxyType(landmarks), MappingProxyType(outlines), body_form,
                      PLACED_BY if prior is None else TAUGHT)  # fmt: skip
    return Proposal(reading, float(np.mean(placed)) if placed else 0.0, odd)


def _between(front: Landmark, back: Landmark) -> Landmark:
    if "placed" not in {front.state} & {back.state}:
        return Landmark("eye_centre", state="hidden", placed_by=PLACED_BY)
    return Landmark(
        "eye_centre", (front.x_px + back.x_px) / 2, (front.y_px + back.y_px) / 2, "placed",
        front.u_px, None, PLACED_BY, front.confidence,
    )  # fmt: skip


def _outlines(
    look: FineLook, gray: np.ndarray, landmarks: dict[str, Landmark]
) -> dict[str, Outline]:
    """Outlines of the body and of the median fins whose bases are both seen."""
    parts = ["body", *(part for part, ends in BASES.items()
                       if all(landmarks[end].state == "placed" for end in ends))]  # fmt: skip
    found = {part: outline_of(part, look, gray) for part in parts}
    return {part: outline for part, outline in found.items() if outline is not None}
