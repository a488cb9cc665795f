"""Scale from our cards, on drawn photos whose millimetres are known exactly.

The bars are those of the project's design: rms length error at most 0.1 % (median) and 0.5 %
(worst) at tilt up to 20° and blur up to 1.5 px. The long run is tests/benchmarks.
"""

import dataclasses

import cv2
import numpy as np
import pytest

from finmeasure.card.raster import card_raster
from finmeasure.card_design import PAPER_MM, card_design
from finmeasure.scale.budget import total
from finmeasure.scale.card_scale import print_ratio
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import PrintCheck, ScaleRequest

from .drawn import Camera, Conditions, draw
from .series import (
    as_photo,
    draw_card,
    length_errors,
    random_camera,
    random_conditions,
    random_lengths_mm,
)

PAPERS = list(PAPER_MM)
GROUNDS = ("white", "grey", "black")
PLAIN = Conditions(blur_px=1.0, noise=3.0, jpeg=90)


def straight(design, **changes):
    """A camera straight before the card, which fills 80 % of the photo's width."""
    distance = 1550.0 * design.size_mm[0] / 1600
    middle = (design.size_mm[0] / 2, design.size_mm[1] / 2)
    camera = Camera(distance_mm=distance, aim_mm=middle)
    return dataclasses.replace(camera, **changes)


def found(pixels, **request):
    return find_scale(as_photo(pixels), ScaleRequest(**request))


@pytest.mark.parametrize("kind", ["window", "squares"])
def test_drawn_series_meets_the_bars_and_its_own_uncertainty(kind):
    rng = np.random.default_rng(20261125)
    rms, inside, u_rel = [], [], []
    for number in range(10):
        design = card_design(kind, PAPERS[number % 5])
        camera = random_camera(rng, design)
        conditions = random_conditions(rng, camera, design)
        ground = GROUNDS[number % 3] if kind == "window" else "white"
        scale = found(draw_card(kind, design.paper, camera, conditions, ground))
        assert scale, (number, scale)
        errors = length_errors(scale, camera, random_lengths_mm(rng, design))
        rms.append(np.sqrt(np.mean(errors**2)))
        inside.append(np.mean(np.abs(errors) < 1.96 * scale.u_rel))
        u_rel.append(scale.u_rel)
    assert np.median(rms) <= 0.001
    assert max(rms) <= 0.005
    assert np.mean(inside) >= 0.93
    assert np.median(u_rel) <= 0.0015


@pytest.mark.parametrize("kind", ["window", "squares"])
@pytest.mark.parametrize("roll_deg", [0, 90, 180, 270])
def test_millimetres_run_as_in_the_photo_however_the_card_lies(kind, roll_deg):
    design = card_design(kind, "A5")
    camera = straight(design, roll_deg=roll_deg, distance_mm=520.0)
    scale = found(draw_card(kind, "A5", camera, PLAIN))
    assert scale, scale
    jacobian = scale.mm_per_px_at([scale.centre_px])[0]
    assert jacobian[0, 0] > 0
    assert jacobian[1, 1] > 0
    assert abs(jacobian[0, 1]) < 1e-3 * jacobian[0, 0]
    assert scale.px_per_mm == pytest.approx(1550 / 520, rel=1e-3)  # pinhole: f / D
    centre = camera.to_pixel([camera.aim_mm])[0]
    field = design.field
    middle = [(field.left + field.right) / 2, (field.top + field.bottom) / 2]
    np.testing.assert_allclose(scale.centre_px, camera.to_pixel([middle])[0], atol=0.2)
    assert scale.region_px.shape == (4, 2)
    assert cv2.pointPolygonTest(scale.region_px.astype(np.float32), tuple(centre), False) > 0


def test_the_budget_adds_up_and_names_its_sources():
    design = card_design("window", "A6")
    scale = found(draw_card("window", "A6", straight(design), PLAIN))
    assert scale.u_rel == pytest.approx(total(scale.budget), rel=1e-12)
    assert [line.source for line in scale.budget] == ["fit", "corners", "print"]
    assert all(line.note for line in scale.budget)
    assert scale.flags == ("print_unchecked", "plane_assumed")


def test_a_card_printed_to_fit_letter_is_put_right_by_its_check_lines():
    # facts.md 11: an A4 page fitted on letter shrinks to min(215.9/210, 279.4/297) = 0.940741.
    design = card_design("window", "A4")
    camera = straight(design)
    pixels = draw_card("window", "A4", camera, PLAIN)
    shrunk = 279.4 / 297
    check = PrintCheck(design.check_mm[0] * shrunk, design.check_mm[1] * shrunk)
    plain, checked = found(pixels), found(pixels, print_checks=(check,))
    assert plain.px_per_mm / checked.px_per_mm == pytest.approx(shrunk, rel=1e-9)
    assert "print_unchecked" not in checked.flags
    print_line = next(line for line in checked.budget if line.source == "print")
    assert print_line.u_rel == pytest.approx(0.06 / (130 * shrunk), rel=1e-9)


def test_check_lines_of_each_direction_count_for_that_direction():
    design = card_design("window", "A5")
    camera = straight(design, roll_deg=90)
    pixels = draw_card("window", "A5", camera, PLAIN)
    across, down = design.check_mm
    scale = found(pixels, print_checks=(PrintCheck(1.01 * across, 0.99 * down),))
    field = design.field
    ends = np.array(
        [[field.left, 60.0], [field.right, 60.0], [90.0, field.top], [90, field.bottom]]
    )
    measured = scale.to_mm(camera.to_pixel(ends))
    width = np.hypot(*(measured[1] - measured[0])) / (field.right - field.left)
    height = np.hypot(*(measured[3] - measured[2])) / (field.bottom - field.top)
    assert width == pytest.approx(1.01, abs=0.001)
    assert height == pytest.approx(0.99, abs=0.001)


@pytest.mark.parametrize(
    "given", [(13.0, 10.0), (100.0, 130.0), (130.0, 80.0)], ids=["cm", "swapped", "misread"]
)
def test_check_lines_that_cannot_be_this_card_are_refused(given):
    refused = print_ratio(card_design("window", "A5"), PrintCheck(*given))
    assert not refused
    assert f"{given[0]:g} mm" in refused.reason
    assert "130 mm" in refused.reason


@pytest.mark.parametrize("kind", ["window", "squares"])
def test_a_mirrored_card_is_refused_as_such(kind):
    design = card_design(kind, "A5")
    pixels = draw_card(kind, "A5", straight(design), PLAIN)[:, ::-1]
    refused = found(pixels)
    assert not refused
    assert "mirrored" in refused.reason


def two_cards(first, second):
    """Both cards side by side on one sheet at 8 px/mm, photographed."""
    per_mm = 8.0
    cards = [card_raster(design, per_mm) for design in (first, second)]
    height = max(card.shape[0] for card in cards)
    gap = np.full((height, 80), 140, np.uint8)
    padded = [
        cv2.copyMakeBorder(card, 0, height - len(card), 0, 0, cv2.BORDER_CONSTANT, value=140)
        for card in cards
    ]
    sheet = np.hstack([padded[0], gap, padded[1]])
    width_mm = sheet.shape[1] / per_mm
    camera = Camera(distance_mm=1550 * width_mm / 1800, aim_mm=(width_mm / 2, height / per_mm / 2))
    return draw(sheet, per_mm, camera, PLAIN), camera


@pytest.mark.parametrize(
    "pair", [(("window", "A6"), ("window", "A6")), (("window", "A6"), ("squares", "A6"))]
)
def test_two_cards_are_refused_unless_the_fish_tells_which(pair):
    pixels, camera = two_cards(*(card_design(*card) for card in pair))
    refused = found(pixels)
    assert not refused
    assert "2 cards" in refused.reason
    fish = camera.to_pixel([[50.0, 40.0], [90.0, 40.0], [90.0, 60.0], [50.0, 60.0]])
    scale = find_scale(as_photo(pixels), ScaleRequest(), fish_region_px=fish)
    assert scale, scale
    assert (
        cv2.pointPolygonTest(
            scale.region_px.astype(np.float32), tuple(fish.mean(axis=0)), measureDist=False
        )
        > 0
    )


def test_a_kind_that_was_asked_for_is_the_only_one_looked_for():
    pixels, _ = two_cards(card_design("window", "A6"), card_design("squares", "A6"))
    assert found(pixels, card="squares").method == "squares_card"
    assert found(pixels, card="window").method == "window_card"
    alone = draw_card("window", "A6", straight(card_design("window", "A6")), PLAIN)
    assert not found(alone, card="squares")


def test_a_card_half_out_of_the_photo_gives_a_scale_only_where_it_holds():
    design = card_design("window", "A5")
    camera = straight(design, shift_px=(900.0, 0.0), distance_mm=250.0)
    scale = found(draw_card("window", "A5", camera, PLAIN))
    if scale:  # what there is may suffice: then it must be right within its own uncertainty
        ends = random_lengths_mm(np.random.default_rng(3), design)
        errors = length_errors(scale, camera, ends)
        assert np.sqrt(np.mean(errors**2)) < 3 * scale.u_rel
    else:
        assert scale.remedy


@pytest.mark.parametrize(
    ("words", "changes", "conditions"),
    [
        ("tilted by", {"tilt_deg": 38.0, "tilt_direction_deg": 30.0}, PLAIN),
        ("px wide", {"distance_mm": 700.0}, dataclasses.replace(PLAIN, blur_px=0.6, noise=1.0)),
        ("blurred", {"distance_mm": 400.0}, dataclasses.replace(PLAIN, blur_px=3.4)),
    ],
)
def test_the_gate_refuses_with_reason_and_remedy(words, changes, conditions):
    design = card_design("window", "A6")
    refused = found(draw_card("window", "A6", straight(design, **changes), conditions))
    assert not refused
    assert words in refused.reason or "can be read" in refused.reason or "found" in refused.reason
    assert refused.remedy


def test_a_bent_card_is_noticed_by_its_corners():
    design = card_design("window", "A5")
    per_mm = 12.0
    sheet = card_raster(design, per_mm)
    y, x = np.mgrid[0 : sheet.shape[0], 0 : sheet.shape[1]].astype(np.float32)
    wave = 2.0 * per_mm * np.sin(2 * np.pi * x / sheet.shape[1] * 1.5).astype(np.float32)
    bent = cv2.remap(sheet, x, y + wave, cv2.INTER_LINEAR, borderValue=255)
    refused = found(draw(bent, per_mm, straight(design), PLAIN))
    assert not refused
    assert "flat" in refused.reason


def test_a_fish_beside_the_card_is_refused_and_one_over_its_border_flagged():
    design = card_design("window", "A6")
    camera = straight(design)
    pixels = as_photo(draw_card("window", "A6", camera, PLAIN))
    height = design.size_mm[1]

    def fish(left, right):
        low, high = 0.3 * height, 0.6 * height
        return camera.to_pixel([[left, low], [right, low], [right, high], [left, high]])

    inside = find_scale(pixels, ScaleRequest(), fish_region_px=fish(40, 100))
    assert "outside_card" not in inside.flags
    over = find_scale(pixels, ScaleRequest(), fish_region_px=fish(0, 100))
    assert "outside_card" in over.flags
    beside = find_scale(pixels, ScaleRequest(), fish_region_px=fish(-90, 60))
    assert not beside
    assert "outside the card" in beside.reason


def test_fish_over_half_the_ring_still_gives_a_scale_by_fewer_corners():
    design = card_design("window", "A6")
    camera = straight(design, tilt_deg=8.0)
    conditions = dataclasses.replace(PLAIN, fish_mm=(74.0, 30.0, 70.0, 38.0, 0.0))
    scale = found(draw_card("window", "A6", camera, conditions))
    assert scale, scale
    errors = length_errors(scale, camera, random_lengths_mm(np.random.default_rng(0), design))
    assert np.sqrt(np.mean(errors**2)) < 2 * scale.u_rel


def test_the_same_photo_gives_the_same_scale():
    design = card_design("squares", "A5")
    pixels = draw_card("squares", "A5", straight(design, tilt_deg=10), PLAIN)
    first, second = found(pixels), found(pixels)
    np.testing.assert_array_equal(first.pixel_to_mm, second.pixel_to_mm)


def test_large_photos_are_searched_reduced_and_measured_at_full_size():
    design = card_design("window", "A5")
    camera = straight(design, width=4000, height=3000, focal_px=3100.0, tilt_deg=12.0)
    scale = found(draw_card("window", "A5", camera, PLAIN))
    errors = length_errors(scale, camera, random_lengths_mm(np.random.default_rng(1), design))
    assert np.sqrt(np.mean(errors**2)) < 0.0003
