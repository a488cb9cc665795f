"""Whole fins through the package's door: figures, gates, flags and refusals."""

import time
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from finmeasure.drawing.damage import Damage
from finmeasure.errors import DefinitionError
from finmeasure.fins.measure import measure_fin
from finmeasure.landmarks.scheme import body_forms
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.scale.calibration import Scale

from .conftest import (
    GOOD,
    SMOOTH_KINDS,
    STANDARD_LENGTH_MM,
    closing_by_shapely,
    fin_spec,
    fork_of,
    photographed,
)

BITE = (Damage("bite", 0.3, 0.1),)
EDGE = ("notch_area", "notch_depth", "notch_count", "split_count")


def fin_at(kind, rng, *, length_px=200.0, view=GOOD, **changes):
    return photographed(fin_spec(kind, **changes), replace(view, length_px=length_px), rng)


def value(edge, name):
    return edge.by_id[f"{edge.fin}_{name}"].value


@pytest.mark.parametrize("kind", SMOOTH_KINDS)
def test_whole_fins_are_never_called_eroded(kind, rng):
    for length_px in (100, 200, 400):
        edge = fin_at(kind, rng, length_px=length_px).measured()
        assert value(edge, "notch_area") == 0
        assert value(edge, "notch_depth") == 0
        assert value(edge, "notch_count") == value(edge, "split_count") == 0


@pytest.mark.parametrize("kind", SMOOTH_KINDS)
@pytest.mark.parametrize("depth", [0.05, 0.1, 0.15])
def test_every_bite_is_found_within_its_uncertainty(kind, depth, rng):
    fin = fin_at(kind, rng, length_px=150, damages=(Damage("bite", 0.3, depth),))
    edge = fin.measured()
    true = closing_by_shapely(fin.drawn.margin_px, fin.length_px, natural=fork_of(fin.drawn))
    assert value(edge, "notch_count") == 1
    # 3 u: eighteen fins; the share within 1.96 u is the benchmark's business.
    for name, wanted in (("notch_area", true.area), ("notch_depth", true.depth)):
        measure = edge.by_id[f"{edge.fin}_{name}"]
        assert abs(measure.value - wanted) < 3 * measure.u


@pytest.mark.parametrize("kind", SMOOTH_KINDS)
def test_closing_on_the_true_margin_agrees_with_shapely(kind, rng):
    damages = (Damage("bite", 0.25, 0.12), Damage("slit", 0.75, 0.15, 0.03))
    fin = photographed(fin_spec(kind, damages=damages), GOOD, rng, clicks=False)
    true = closing_by_shapely(fin.drawn.margin_px, fin.length_px, natural=fork_of(fin.drawn))
    edge = fin.true_edge()
    # Grid of S/250 and a margin filter of 3 % S: lips are rounded.
    assert value(edge, "notch_area") == pytest.approx(true.area, abs=0.25)
    assert value(edge, "notch_depth") == pytest.approx(true.depth, abs=0.75)
    assert len(edge.notches) == true.count == 2


@pytest.mark.parametrize("kind", ["rounded", "triangular", "truncate"])
def test_narrow_slits_are_counted_apart_from_bites(kind, rng):
    damages = (Damage("bite", 0.2, 0.1), Damage("slit", 0.7, 0.2, 0.02))
    edge = fin_at(kind, rng, damages=damages).measured()
    assert value(edge, "notch_count") == 1
    assert value(edge, "split_count") == 1
    assert [notch.kind for notch in edge.notches] == ["notch", "split"]


def test_area_and_length_against_shapely_and_the_drawing(rng):
    fin = photographed(fin_spec("triangular"), replace(GOOD, length_px=300), rng, clicks=False)
    margin = fin.traced()
    edge = fin.measured(margin, scale=fin.scale())
    true_mm = fin.drawn.true_mm(fin.drawn.margin_px)
    area = edge.by_id["dorsal_area"]
    assert area.unit == "mm2"
    traced_mm = margin / fin.drawn.px_per_mm
    assert area.value == pytest.approx(shapely.Polygon(traced_mm).area, rel=1e-9)
    # A shift of the edge by a tenth of a pixel would change the area by 0.1 %.
    assert area.value == pytest.approx(shapely.Polygon(true_mm).area, rel=2e-3)
    length = edge.by_id["dorsal_relative_length"]
    wanted = np.hypot(*(true_mm - true_mm[[0, -1]].mean(axis=0)).T).max() / STANDARD_LENGTH_MM
    assert abs(length.value - wanted) < 2.5 * length.u


def test_shared_scale_uncertainty_doubles_in_the_area_and_cancels_in_ratios(rng):
    fin = fin_at("rounded", rng)
    margin = fin.traced()
    exact = fin.measured(margin, scale=fin.scale())
    loose = fin.measured(margin, scale=replace(fin.scale(), u_rel=0.02))
    area, worse = exact.by_id["dorsal_area"], loose.by_id["dorsal_area"]
    assert worse.u == pytest.approx(np.hypot(area.u, 0.04 * area.value))
    assert loose.by_id["dorsal_relative_length"].u == exact.by_id["dorsal_relative_length"].u
    assert loose.profile.u_rel == exact.profile.u_rel


def test_without_a_scale_percentages_are_the_same_and_the_area_is_refused(rng):
    fin = fin_at("rounded", rng, damages=BITE)
    margin = fin.traced()
    bare, scaled = fin.measured(margin), fin.measured(margin, scale=fin.scale())
    for name in EDGE:
        assert value(bare, name) == pytest.approx(value(scaled, name), abs=1e-6)
    assert bare.by_id["dorsal_area"].state == "refused"
    assert bare.by_id["dorsal_area"].flags == ("no_scale",)
    assert "not_rectified" in bare.by_id["dorsal_relative_length"].flags
    assert np.allclose(bare.margin_px, scaled.margin_px, atol=1e-6)


def test_tilt_is_taken_out_by_the_scale(rng):
    """A fin seen under a tilt, with the homography known, measures as seen straight on."""
    fin = photographed(fin_spec("truncate", damages=BITE), replace(GOOD, length_px=300), rng,
                       clicks=False)  # fmt: skip
    straight = fin.measured(fin.drawn.margin_px, scale=fin.scale())
    tilt = np.array([[0.93, 0.04, 5.0], [0.02, 1.05, -4.0], [2e-4, 1e-4, 1.0]])

    def seen(points):
        mapped = np.column_stack([points, np.ones(len(points))]) @ tilt.T
        return mapped[:, :2] / mapped[:, 2:]

    marks = {name: Landmark(name, *seen(np.array([mark.point]))[0], u_px=0.05)
             for name, mark in fin.reading.landmarks.items()}  # fmt: skip
    scale = replace(fin.scale(), pixel_to_mm=fin.scale().pixel_to_mm @ np.linalg.inv(tilt))
    margin = seen(fin.drawn.margin_px)
    tilted = measure_fin("dorsal", Outline("dorsal", margin), Reading("1", marks), scale)
    for name in ("area", *EDGE, "relative_length"):
        assert value(tilted, name) == pytest.approx(value(straight, name), rel=2e-3, abs=0.02)
    assert tilted.profile.mean_to_sl == pytest.approx(straight.profile.mean_to_sl, rel=1e-4)
    assert np.hypot(*(tilted.notches[0].deepest_px - seen(straight.notches[0].deepest_px[None])[0])
                    ) < 3.0  # fmt: skip


@pytest.mark.parametrize("kind", ["forked", "triangular"])
def test_mirrored_and_turned_fish_give_the_same(kind, rng):
    fin = photographed(fin_spec(kind, damages=BITE), GOOD, rng, clicks=False)
    first = fin.true_edge()
    for matrix in (np.diag([-1.0, 1.0]), np.diag([1.0, -1.0]), np.array([[0, -1.0], [1, 0]])):
        marks = {name: Landmark(name, *(matrix @ mark.point))
                 for name, mark in fin.reading.landmarks.items()}  # fmt: skip
        outline = Outline(fin.part, fin.drawn.margin_px @ matrix.T)
        edge = measure_fin(fin.part, outline, Reading("1", marks), None)
        for name in (*EDGE, "relative_length"):
            # The grid falls differently on the fin: methods give 0.04 and 0.2.
            assert value(edge, name) == pytest.approx(value(first, name), abs=0.2)
        assert edge.profile.mean_to_sl == pytest.approx(first.profile.mean_to_sl, rel=1e-9)


def test_reference_length_keeps_the_limits_of_a_shrunken_fin(rng):
    """Limits and depths are shares of the reference's length."""
    fin = photographed(fin_spec("rounded", damages=BITE), GOOD, rng, clicks=False)
    margin, scale, own = fin.drawn.margin_px, fin.scale(), fin.drawn.length_mm
    alone = fin.measured(margin, scale=scale)
    longer = fin.measured(margin, scale=scale, reference_length_mm=1.5 * own)
    # Disc and filter grow too: the depth in mm stays within a tenth.
    assert value(longer, "notch_depth") == pytest.approx(value(alone, "notch_depth") / 1.5, rel=0.1)
    far = fin.measured(margin, scale=scale, reference_length_mm=3.8 * own)
    assert value(far, "notch_count") == 0
    assert value(far, "relative_length") == value(alone, "relative_length")
    with pytest.raises(DefinitionError, match="Reference length 100 mm"):
        fin.measured(margin, scale=scale, reference_length_mm=100.0)


def refused_flags(edge, names=EDGE):
    measures = [edge.by_id[f"{edge.fin}_{name}"] for name in names]
    assert {measure.state for measure in measures} == {"refused"}
    assert all(measure.reason.endswith(".") for measure in measures)
    return set(measures[0].flags)


def test_resolution_gate(rng):
    small = fin_at("rounded", rng, length_px=75).measured()
    assert refused_flags(small) == {"low_resolution"}
    assert small.envelope_px == small.notches == ()
    assert value(small, "relative_length") is not None
    weak = fin_at("rounded", rng, length_px=120).measured()
    assert weak.by_id["dorsal_notch_area"].state == "measured"
    assert "low_resolution" in weak.by_id["dorsal_notch_area"].flags
    good = fin_at("rounded", rng, length_px=170).measured()
    assert "low_resolution" not in good.by_id["dorsal_notch_area"].flags


def test_coarsely_traced_margin_is_flagged_and_less_certain(rng):
    fin = photographed(fin_spec("rounded", damages=BITE), GOOD, rng, clicks=False)
    fine, coarse = fin.drawn.margin_px, fin.drawn.margin_px[np.r_[0:467:27, -1]]
    dense, few = (fin.measured(points).by_id["dorsal_notch_area"] for points in (fine, coarse))
    assert "low_resolution" in few.flags
    assert "low_resolution" not in dense.flags
    assert few.u > dense.u


def test_contrast_gate(rng):
    view = replace(GOOD, contrast=0.0, ray_contrast=0.0)
    fin = fin_at("rounded", rng, view=view)
    edge = fin.measured(fin.drawn.margin_px)
    assert refused_flags(edge) == {"edge_not_visible"}
    assert "edge_not_visible" in edge.profile.flags


def test_fork_without_its_mark_is_never_called_eroded(rng):
    for depth in (0.1, 0.2, 0.3, 0.4, 0.55, 0.7):
        fin = fin_at("forked", rng, depth=depth)
        del fin.reading.landmarks["caudal_fork"]
        edge = fin.measured()
        if depth >= 0.3:
            assert "fork_not_marked" in refused_flags(edge)
        else:
            assert value(edge, "notch_area") == 0


@pytest.mark.parametrize("kind", ["rounded", "truncate"])
@pytest.mark.parametrize("depth", [0.05, 0.1])
def test_a_bite_in_an_unmarked_tail_is_not_taken_for_a_fork(kind, depth, rng):
    spec = fin_spec(kind, part="caudal", rear_mm=4.0, first_ray_deg=40.0, last_ray_deg=-40.0,
                    damages=(Damage("bite", 0.5, depth),))  # fmt: skip
    fin = photographed(spec, replace(GOOD, length_px=200), rng)
    fin.reading.landmarks.pop("caudal_fork", None)
    assert value(fin.measured(), "notch_count") == 1


def test_a_fork_point_far_from_the_margin_does_not_count_as_marked(rng):
    fin = fin_at("forked", rng)
    x, y = fin.reading.landmarks["caudal_fork"].point
    fin.reading.landmarks["caudal_fork"] = Landmark("caudal_fork", x, y + 0.3 * fin.length_px)
    edge = fin.measured()
    assert edge.by_id["caudal_notch_area"].state == "refused"


def test_a_tail_marked_as_not_forked_is_measured(rng):
    fin = fin_at("emarginate", rng)
    fin.reading.landmarks["caudal_fork"] = Landmark("caudal_fork", state="absent")
    assert value(fin.measured(), "notch_area") == 0


@pytest.mark.parametrize("off", [0.0, 0.01, 0.02, 0.04])
def test_a_fork_point_beside_the_fork_is_moved_there(off, rng):
    fin = fin_at("forked", rng)
    x, y = fin.reading.landmarks["caudal_fork"].point
    moved = Landmark("caudal_fork", x + off * fin.length_px, y - off * fin.length_px / 2)
    fin.reading.landmarks["caudal_fork"] = moved
    edge = fin.measured()
    assert value(edge, "notch_count") == 0
    assert len(edge.natural_notches_px) == 1


def test_a_rounded_tail_bitten_at_its_middle_ray_is_not_forked(rng):
    """The end of the middle rays is marked on every tail; a bite there must stay visible."""
    spec = fin_spec("rounded", part="caudal", rear_mm=4.0, first_ray_deg=40.0,
                    last_ray_deg=-40.0, damages=(Damage("bite", 0.42, 0.1),))  # fmt: skip
    edge = photographed(spec, replace(GOOD, length_px=200), rng).measured()
    assert value(edge, "notch_count") == 1


def test_dip_between_spines_and_soft_rays_is_natural(rng):
    fin = fin_at("lobed", rng, length_px=300, ray_count=3)
    edge = fin.measured()
    assert len(edge.natural_notches_px) == 1
    dip = edge.natural_notches_px[0]
    assert all(np.hypot(*(notch.deepest_px - dip)) > 10 for notch in edge.notches)


def test_comb_like_edges_get_no_absolute_verdict(rng):
    edge = fin_at("comb", rng, length_px=300).measured()
    assert "free_tips" in edge.by_id["dorsal_notch_area"].flags
    assert "free_tips" in edge.profile.flags


def test_body_form_tells_of_free_tips(rng):
    form = next(form for form in body_forms().values() if "dorsal" in form.free_tips)
    fin = fin_at("rounded", rng)
    told = replace(fin, reading=replace(fin.reading, body_form=form.id)).measured()
    assert "free_tips" in told.by_id["dorsal_notch_area"].flags


def test_uneven_damage_is_not_taken_for_free_tips(rng):
    torn = 0
    for seed in range(8):
        damages = tuple(
            Damage("bite", float(at), float(depth))
            for at, depth in zip(rng.uniform(0.1, 0.9, 6), rng.uniform(0.04, 0.14, 6), strict=True)
        )
        fray = (Damage("fray", 0.5, 0.15, 0.6, seed),)
        for chosen in (damages, fray):
            fin = photographed(fin_spec("rounded", damages=chosen), GOOD, rng, clicks=False)
            torn += "free_tips" in fin.true_edge().by_id["dorsal_notch_area"].flags
    # Teeth of one drawn fray stand as evenly as a comb's.
    assert torn <= 1


def test_folded_and_clamped_fins_are_refused(rng):
    fin = fin_at("rounded", rng)
    for spread in ("part_folded", "clamped"):
        outline = Outline("dorsal", fin.drawn.margin_px, spread=spread)
        edge = measure_fin("dorsal", outline, fin.reading, fin.scale())
        assert {measure.state for measure in edge.measures} == {"refused"}
        assert {measure.flags for measure in edge.measures} == {("folded",)}
        assert edge.profile is None


def test_bad_outline_is_refused_in_one_line(rng):
    fin = fin_at("rounded", rng)
    edge = fin.measured(fin.drawn.margin_px - [5000.0, 0.0])
    assert {measure.flags for measure in edge.measures} == {("outline_invalid",)}
    assert "outside the photo" in edge.measures[0].reason


def test_fin_that_was_not_traced_and_fin_that_is_not_there():
    hidden = measure_fin("anal", None, Reading("1", {}), None)
    assert {measure.state for measure in hidden.measures} == {"hidden"}
    gone = Reading("1", {"anal_origin": Landmark("anal_origin", state="absent")})
    absent = measure_fin("anal", None, gone, None)
    assert {measure.state for measure in absent.measures} == {"absent"}


def test_wrong_fin_is_a_wrong_call():
    with pytest.raises(DefinitionError, match="'pelvic' has no edge figures"):
        measure_fin("pelvic", None, Reading("1", {}), None)


def test_without_standard_length_edge_figures_remain(rng):
    fin = fin_at("rounded", rng, damages=BITE)
    del fin.reading.landmarks["snout_tip"]
    edge = fin.measured()
    assert value(edge, "notch_count") == 1
    assert edge.by_id["dorsal_relative_length"].state == "hidden"
    assert edge.profile is None
    assert len(edge.sectors_px) == 5


def test_flags_of_the_scale_reach_lengths_and_areas(rng):
    fin = fin_at("rounded", rng)
    scale = Scale("known", fin.scale().pixel_to_mm, 0.01, True, (0, 0), flags=("plane_assumed",))
    edge = fin.measured(scale=scale)
    assert edge.by_id["dorsal_area"].flags == ("plane_assumed",)


@pytest.mark.benchmark  # a slow machine is no fault of the program
def test_time_of_one_fin(rng):
    """At most 50 ms of processor time per fin, two-lobed tails included."""
    cv2.setNumThreads(1)
    for kind in ("forked", "rounded"):
        fin = fin_at(kind, rng, length_px=400, damages=BITE)
        margin = fin.traced()
        spent = []
        for _ in range(7):
            start = time.process_time()
            fin.measured(margin, scale=fin.scale())
            spent.append(time.process_time() - start)
        assert min(spent) < 0.050
