"""Places that follow from a fish's form, against bodies whose deepest place is known."""

from __future__ import annotations

import numpy as np
import pytest

from finmeasure.proposals.fine import FineLook
from finmeasure.proposals.frames import whole_photo
from finmeasure.proposals.layout import FINE_SIDE_PX, LANDMARKS, MASK_PARTS, MASK_STRIDE_PX
from finmeasure.proposals.shape import like_a_flatfish
from finmeasure.proposals.stations import FOREMOST_RAYS_TOO_FAR, placed_by_form

SIDE = FINE_SIDE_PX // MASK_STRIDE_PX
SNOUT_PX, LENGTH_PX = 40.0, 300.0


def lens(deepest_px: float, depth_px: float) -> np.ndarray:
    """Draw parts of a body made of two half ellipses that meet where it is deepest."""
    x = np.arange(SIDE) * MASK_STRIDE_PX
    rear = SNOUT_PX + LENGTH_PX
    half = np.where(x < deepest_px, deepest_px - SNOUT_PX, rear - deepest_px)
    height = depth_px / 2 * np.sqrt(np.clip(1 - ((x - deepest_px) / half) ** 2, 0, None))
    rows = np.arange(SIDE)[:, None] * MASK_STRIDE_PX - FINE_SIDE_PX / 2
    parts = np.zeros((len(MASK_PARTS) + 1, SIDE, SIDE), np.float32)
    parts[1 + MASK_PARTS.index("body")] = np.abs(rows) < height
    parts[0] = 1 - parts[1:].sum(axis=0)
    return parts


def points_of(**places: tuple[float, float]) -> np.ndarray:
    """Points of all landmarks: the given ones as shares of length along and below the axis."""
    shares = {"snout_tip": (0.0, 0.0), "caudal_base": (1.0, 0.0), **places}
    points = np.full((len(LANDMARKS), 2), FINE_SIDE_PX / 2)
    for name, (along, down) in shares.items():
        points[LANDMARKS.index(name)] = (
            SNOUT_PX + along * LENGTH_PX, FINE_SIDE_PX / 2 + down * LENGTH_PX,
        )  # fmt: skip
    return points


@pytest.mark.parametrize("deepest", [0.35, 0.5])
def test_deepest_place_comes_nearer_and_stays_on_the_edge(deepest):
    """A heat map that is 9 % of the length too far behind is set right by two thirds."""
    parts = lens(SNOUT_PX + deepest * LENGTH_PX, 120.0)
    wrong = deepest + 0.09
    half = 0.2 * np.sqrt(1 - (0.09 / (1 - deepest)) ** 2)  # of the length: depth is 0.4 of it
    given = points_of(body_top=(wrong, -half), body_bottom=(wrong, half))
    moved = placed_by_form(given, parts)
    top, bottom = (moved[LANDMARKS.index(name)] for name in ("body_top", "body_bottom"))
    along = (top[0] - SNOUT_PX) / LENGTH_PX
    assert along == pytest.approx(bottom[0] / LENGTH_PX - SNOUT_PX / LENGTH_PX)
    # The middle of what is nearly as deep lies behind the deepest place where the rear is longer.
    assert deepest - 0.01 < along < deepest + 0.065
    assert bottom[1] - top[1] == pytest.approx(120.0, rel=0.02)


def test_insertions_move_back_by_what_the_network_learned_too_much():
    """Nothing else moves with them."""
    given = points_of(caudal_upper_insertion=(0.95, -0.08), dorsal_origin=(0.4, -0.2))
    moved = placed_by_form(given, lens(160.0, 100.0)) - given
    index = LANDMARKS.index("caudal_upper_insertion")
    assert moved[index] == pytest.approx((FOREMOST_RAYS_TOO_FAR * LENGTH_PX, 0.0))
    assert not moved[LANDMARKS.index("dorsal_origin")].any()


def look_at(points: np.ndarray, *hidden: str) -> FineLook:
    """Give a look at points in a square photo of the network's own size."""
    sure = np.array([float(name not in hidden) for name in LANDMARKS])
    frame = whole_photo((FINE_SIDE_PX, FINE_SIDE_PX), FINE_SIDE_PX)
    parts = lens(160.0, 120.0)
    return FineLook(frame, frame.to_photo(points), sure, sure, 1.0, parts)


@pytest.mark.parametrize(
    ("eye", "dorsal", "flat"), [(0.04, 0.3, True), (0.08, 0.3, False), (0.04, 0.6, False)]
)
def test_small_eye_and_fins_all_round_are_a_flatfish(eye, dorsal, flat):
    """A discus has such fins and a large eye, other fish have shorter fins."""
    points = points_of(
        eye_front=(0.05, -0.05), eye_back=(0.05 + eye, -0.05),
        dorsal_origin=(dorsal, -0.2), dorsal_end=(0.94, -0.05),
        anal_origin=(0.4, 0.2), anal_end=(0.94, 0.05),
        body_top=(0.45, -0.25), body_bottom=(0.45, 0.25),
    )  # fmt: skip
    assert like_a_flatfish(look_at(points)) is flat
    assert not like_a_flatfish(look_at(points, "anal_end"))


def test_without_a_body_nothing_moves():
    """Where the mask holds no flesh the form says nothing."""
    given = points_of(body_top=(0.4, -0.2), caudal_upper_insertion=(0.95, -0.08))
    empty = np.zeros((len(MASK_PARTS) + 1, SIDE, SIDE), np.float32)
    assert np.array_equal(placed_by_form(given, empty), given)
