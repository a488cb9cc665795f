"""Drawn photos: what is said to be true agrees with the picture and with the millimetres."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import unary_union
from shapely.geometry import LineString, Polygon

from finmeasure.drawing.anatomy import build_fish
from finmeasure.drawing.damage import Damage
from finmeasure.drawing.forms import BODY_FORMS, random_spec
from finmeasure.drawing.hand import careful_reading, true_reading
from finmeasure.drawing.marks import LANDMARKS, lengths_mm
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.spec import FinLook
from finmeasure.drawing.variation import damaged, posed
from finmeasure.errors import DefinitionError
from finmeasure.landmarks.scheme import body_form, landmark_definitions
from finmeasure.reading import PARTS
from finmeasure.scale.calibration import Scale

CLEAN = {"noise": 0.0, "jpeg_quality": 0, "light_fall": 0.0}


def drawn(form="plain", seed=1, **view):
    rng = np.random.default_rng(seed)
    return draw_photo(random_spec(rng, body_form=form), View(**view), rng)


@pytest.mark.parametrize(
    "view",
    [
        {},
        {"tilt_deg": 20.0, "tilt_axis_deg": 35.0},
        {"tilt_deg": 12.0, "tilt_axis_deg": 110.0, "radial": -0.1, "turn_deg": 77.0},
        {"radial": 0.05, "facing": "right", "fish_angle_deg": 180.0},
    ],
)
def test_lengths_from_pixels_are_those_of_the_millimetre_geometry(view):
    photo = drawn("adipose", **view)
    names = list(photo.landmarks)
    points = photo.true_mm([photo.landmarks[name] for name in names])
    back = lengths_mm(dict(zip(names, points, strict=True)))
    assert back == pytest.approx(dict(photo.lengths_mm), rel=1e-9)
    # The fish lies straight: the same lengths as measured on the fish itself.
    assert photo.lengths_mm == pytest.approx(dict(photo.relaxed_lengths_mm), rel=1e-9)
    assert photo.lengths_mm["standard_length"] == pytest.approx(
        photo.spec.standard_length_mm, rel=2e-3
    )


def test_mapping_follows_the_conventions_of_scale():
    photo = drawn(tilt_deg=18.0, tilt_axis_deg=20.0, radial=-0.08)
    scale = Scale(
        "known", np.linalg.inv(photo.camera.mm_to_straight), 0.0, True, (200, 150),
        radial=-0.08, optical_centre_px=photo.camera.centre_px, radius_px=photo.camera.radius_px,
    )  # fmt: skip
    points = np.random.default_rng(0).uniform(0, 300, (20, 2))
    assert photo.true_mm(points) == pytest.approx(scale.to_mm(points), abs=1e-9)
    assert photo.to_pixel(photo.true_mm(points)) == pytest.approx(points, abs=1e-8)


def test_turning_and_mirroring_the_fish_leaves_its_lengths():
    first = drawn("cichlid")
    for view in ({"facing": "right"}, {"fish_angle_deg": 141.0}, {"turn_deg": -63.0}):
        other = drawn("cichlid", **view)
        assert other.lengths_mm == pytest.approx(dict(first.lengths_mm), rel=1e-9)


def test_facing_right_shows_the_snout_on_the_right():
    left, right = drawn(), drawn(facing="right")
    assert left.landmarks["snout_tip"][0] < left.landmarks["caudal_base"][0]
    assert right.landmarks["snout_tip"][0] > right.landmarks["caudal_base"][0]
    turned = drawn(fish_angle_deg=180.0)
    assert turned.landmarks["dorsal_tip"][1] > turned.landmarks["eye_centre"][1]


def test_bend_and_yaw_shorten_straight_lengths_only_in_the_plane():
    rng = np.random.default_rng(4)
    spec = random_spec(rng)
    straight = draw_photo(spec, View(), rng)
    bent = draw_photo(replace(spec, bend_deg=25.0), View(), rng)
    turned = draw_photo(replace(spec, yaw_deg=20.0), View(), rng)
    assert bent.relaxed_lengths_mm == pytest.approx(dict(straight.lengths_mm))
    assert bent.lengths_mm["standard_length"] < straight.lengths_mm["standard_length"]
    # Closed form: yaw shortens what lies along the axis by the cosine.
    assert turned.lengths_mm["standard_length"] == pytest.approx(
        straight.lengths_mm["standard_length"] * np.cos(np.radians(20.0)), rel=1e-3
    )


def test_posture_is_undone_exactly():
    spec = replace(random_spec(np.random.default_rng(2)), bend_deg=-30.0, yaw_deg=10.0)
    photo = draw_photo(spec, View(fish_angle_deg=33.0, facing="right"), np.random.default_rng(0))
    points = np.random.default_rng(1).uniform([0, -8], [spec.standard_length_mm, 8], (50, 2))
    card = photo.placement.to_card(points)
    assert np.column_stack(photo.placement.to_fish(*card.T)) == pytest.approx(points, abs=1e-9)


@pytest.mark.parametrize("form", BODY_FORMS)
def test_each_body_form_has_the_landmarks_that_its_definition_names(form):
    photo = drawn(form)
    placed = {name for name, state in photo.states.items() if state == "placed"}
    assert set(photo.states) == set(LANDMARKS)
    known = body_form(photo.spec.body_form)
    assert placed <= set(known.landmarks)
    assert {"snout_tip", "eye_centre", "caudal_base", "caudal_fork", "body_top"} <= placed


def test_fins_by_body_form():
    # Common practice, no source: adipose fin in tetras and catfish, none in barbs; two dorsals in
    # gobies; rod in male livebearers; thread pelvics in gouramis; no pelvics in puffers.
    has = {form: set(drawn(form).outlines) for form in BODY_FORMS}
    assert {form for form in has if "adipose" in has[form]} == {
        "adipose", "armoured_catfish", "sucker_catfish",
    }  # fmt: skip
    assert {form for form in has if "second_dorsal" in has[form]} == {"two_dorsals"}
    assert {form for form in has if "pelvic" not in has[form]} == {"puffer"}
    assert "pelvic_thread_tip" in drawn("gourami").landmarks
    male, female = drawn("livebearer_male"), drawn("livebearer_female")
    assert male.lengths_mm["anal_base_length"] < 0.35 * female.lengths_mm["anal_base_length"]


def test_landmark_names_are_those_of_the_scheme():
    assert set(LANDMARKS) == set(landmark_definitions())


def test_unknown_body_form_is_refused_with_the_allowed_ones():
    with pytest.raises(DefinitionError, match=r"'whale'.*plain"):
        random_spec(np.random.default_rng(0), body_form="whale")


def test_the_same_seed_draws_the_same_photo():
    first, second = drawn("betta", seed=9), drawn("betta", seed=9)
    assert np.array_equal(first.pixels, second.pixels)
    assert first.landmarks == second.landmarks
    assert not np.array_equal(first.pixels, drawn("betta", seed=10).pixels)


@pytest.mark.parametrize("seed", range(24))
def test_margins_never_cross_themselves_even_when_damaged(seed):
    rng = np.random.default_rng(seed)
    form = list(BODY_FORMS)[seed % len(BODY_FORMS)]
    spec = damaged(posed(random_spec(rng, body_form=form), rng), rng, 1.0)
    fish = build_fish(spec)
    assert Polygon(fish.body).is_valid
    for fin in fish.fins.values():
        assert LineString(fin.margin).is_simple
        assert Polygon(fin.margin).is_valid


def test_fins_are_open_lines_from_base_to_base_and_the_body_is_simple():
    photo = drawn("cichlid")
    for part, edge in photo.outlines.items():
        if part == "body":
            assert Polygon(edge).is_valid
        else:
            assert LineString(edge).is_simple
    assert photo.outlines["dorsal"][0] == pytest.approx(photo.landmarks["dorsal_origin"])
    assert photo.outlines["dorsal"][-1] == pytest.approx(photo.landmarks["dorsal_end"])


@pytest.mark.parametrize("view", [{}, {"fish_angle_deg": 27.0, "tilt_deg": 15.0, "radial": -0.05}])
def test_edges_of_an_opaque_fin_lie_where_the_truth_says(view, edge_offsets):
    rng = np.random.default_rng(12)
    spec = random_spec(rng, body_form="plain")
    dark = FinLook(colour=(0, 0, 0), tip_colour=(0, 0, 0), membrane=1.0, ray=1.0)
    look = replace(spec.look, fins=dark)
    view = View(900, 700, ground="blank", blur_px=1.2, **CLEAN, **view)
    photo = draw_photo(replace(spec, look=look), view, rng)
    gray = photo.pixels[..., 1].astype(float)
    for part in ("dorsal", "caudal", "anal"):
        offsets = edge_offsets(gray, photo.outlines[part])
        assert abs(np.median(offsets)) < 0.05, part
        assert np.percentile(np.abs(offsets), 90) < 0.1, part


def test_mask_holds_what_the_outlines_enclose():
    photo = drawn("plain", width_px=600, height_px=450)
    whole = unary_union([Polygon(edge) for edge in photo.outlines.values()])
    assert (photo.part_mask > 0).sum() == pytest.approx(whole.area, rel=0.005)
    assert Polygon(photo.fish_outline).area == pytest.approx(whole.area, rel=0.005)
    eye = np.rint(photo.landmarks["eye_centre"]).astype(int)
    assert photo.part_mask[eye[1], eye[0]] == 1 + PARTS.index("body")


def test_fin_areas_in_the_card_plane_agree_with_shapely():
    photo = drawn("plain", tilt_deg=15.0, radial=-0.05)
    for part, fin in photo.fins.items():
        shape = Polygon(photo.true_mm(photo.outlines[part]))
        assert fin.area_mm2 == pytest.approx(abs(shape.area), rel=1e-6)
        assert fin.area_mm2 == fin.whole_area_mm2  # nothing is missing


def test_careful_marks_scatter_as_they_say():
    photo = drawn("plain")
    rng = np.random.default_rng(0)
    readings = [careful_reading(photo, rng) for _ in range(200)]
    truth = np.array(photo.landmarks["dorsal_origin"])
    slips = np.array([reading.point("dorsal_origin") for reading in readings]) - truth
    mark = readings[0].landmarks["dorsal_origin"]
    # 200 draws give the scatter to 5 %; three times that.
    assert slips.std(axis=0) == pytest.approx([mark.u_px, mark.u_across_px], rel=0.15)
    assert true_reading(photo).point("dorsal_origin") == pytest.approx(truth)
    assert true_reading(photo).state_of("adipose_tip") == "absent"


def test_damage_moves_the_outline_and_leaves_the_base():
    rng = np.random.default_rng(3)
    spec = random_spec(rng)
    tail = replace(spec.fin("caudal"), damages=(Damage("shortening", depth=0.2),))
    hurt = replace(spec, fins=tuple(tail if f.part == "caudal" else f for f in spec.fins))
    whole, short = (
        draw_photo(s, View(px_per_mm=8), np.random.default_rng(0)) for s in (spec, hurt)
    )
    ratio = short.lengths_mm["caudal_length"] / whole.lengths_mm["caudal_length"]
    # Rays start on the rear edge of the flesh, not all at caudal_base: close to 0.8, not equal.
    assert ratio == pytest.approx(0.8, abs=0.03)
    assert short.landmarks["caudal_upper_insertion"] == pytest.approx(
        whole.landmarks["caudal_upper_insertion"], abs=1e-9
    )
