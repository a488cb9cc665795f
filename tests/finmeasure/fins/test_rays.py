"""Ray profiles: what shortens them and what does not."""

from dataclasses import replace

import numpy as np
import pytest

from finmeasure.drawing.damage import Damage
from finmeasure.drawing.fin_photo import FinView
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.variation import resized, with_fin
from finmeasure.errors import DefinitionError
from finmeasure.fins.change import fin_change, fin_erosion, length_change
from finmeasure.fins.measure import measure_fin
from finmeasure.fins.rays import fan_between, ray_lengths, sector_means
from finmeasure.fins.records import RayProfile
from finmeasure.fins.smoothing import resample
from finmeasure.quantity import Measure

from .conftest import KIND_DEPTHS, fin_spec, photographed

SHARP = FinView(length_px=300, blur_px=0, noise=0, jpeg_quality=0, ray_contrast=0)
KINDS = sorted(KIND_DEPTHS.keys() - {"comb"})


def profile_of(spec, rng, view=SHARP):
    return photographed(spec, view, rng, clicks=False).true_edge().profile


def test_lines_of_a_rectangular_fin():
    """Parallel rays of one length under a slanted margin: closed form."""
    margin = resample(np.array([[0, 0], [0, -4.0], [10, -2.0], [10, 0]]), 0.01)
    fan = fan_between(margin[0], np.array([0, -1]), margin[-1], np.array([10, -1]))
    lengths = ray_lengths(margin, fan)
    assert lengths == pytest.approx(4 - 0.2 * 10 * fan.places, abs=1e-3)
    # The outermost lines stand at 5 and 95 % of the base.
    means = 4 - 2 * (0.05 + 0.9 * (np.arange(5) + 0.5) / 5)
    # 181 lines in five bands: a line more or less moves a mean by 0.005.
    assert sector_means(lengths) == pytest.approx(means, abs=0.006)


def test_lines_of_a_fan_end_on_its_arc():
    """All rays of a fan from one point have the radius as length."""
    angle = np.linspace(np.radians(-30), np.radians(30), 500)
    arc = 5 * np.column_stack([np.cos(angle), np.sin(angle)])
    margin = np.vstack([[0, -1e-9], arc, [0, 1e-9]])
    fan = fan_between(margin[0], arc[0], margin[-1], arc[-1])
    assert ray_lengths(margin, fan) == pytest.approx(np.full(181, 5.0), rel=1e-4)


def test_a_line_that_misses_gives_no_length():
    margin = np.array([[0, 0], [0, -1.0], [0.1, -1.0], [0.1, 0.0]])
    away = fan_between(margin[0], np.array([0.0, 1.0]), margin[-1], np.array([0.1, 1.0]))
    assert np.isnan(ray_lengths(margin, away)).all()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("opening", [0.8, 1.2])
def test_a_fin_that_only_opens_does_not_change(kind, opening, rng):
    first = profile_of(fin_spec(kind), rng)
    later = profile_of(fin_spec(kind, opening=opening), rng)
    change = fin_change(first, later, fin=first.fin)
    assert abs(change.measure.value) <= 0.1


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("lost", [0.05, 0.1, 0.2])
def test_shortened_rays_give_their_share(kind, lost, rng):
    whole = profile_of(fin_spec(kind), rng)
    spec = fin_spec(kind, opening=0.9, damages=(Damage("shortening", depth=lost),))
    shorter = profile_of(spec, rng, replace(SHARP, length_px=220, angle_deg=70))
    erosion = fin_erosion(whole, shorter, fin=whole.fin, own_record=True)
    # Smoothing of the margin (3 % of the fin) rounds tips and troughs by less than this.
    assert erosion.measure.value == pytest.approx(100 * lost, abs=0.15)
    change = fin_change(whole, shorter, fin=whole.fin)
    assert change.measure.value == pytest.approx(-erosion.measure.value)
    for sector in erosion.sectors:
        assert sector.value == pytest.approx(100 * lost, abs=0.5)


def test_loss_in_one_place_shows_in_its_sector(rng):
    whole = profile_of(fin_spec("rounded"), rng)
    bitten = profile_of(fin_spec("rounded", damages=(Damage("bite", 0.1, 0.15),)), rng)
    sectors = [each.value for each in
               fin_erosion(whole, bitten, fin="dorsal", own_record=True).sectors]  # fmt: skip
    assert max(sectors) == sectors[0]
    assert sectors[0] > 5
    assert abs(sectors[4]) < 0.2


def test_a_narrow_split_is_not_taken_for_lost_length(rng):
    whole = profile_of(fin_spec("rounded"), rng)
    split = profile_of(fin_spec("rounded", damages=(Damage("slit", 0.4, 0.2, 0.02),)), rng)
    assert abs(fin_change(whole, split, fin="dorsal").measure.value) < 0.3


def test_unmarked_last_ray_is_flagged_and_costs_uncertainty(rng):
    fin = photographed(fin_spec("triangular"), SHARP, rng)
    marked = fin.true_edge().profile
    fin.reading.landmarks.pop("dorsal_last_ray_tip")
    unmarked = fin.true_edge().profile
    assert "two_point_profile" in unmarked.flags
    assert "two_point_profile" not in marked.flags
    assert unmarked.u_rel > marked.u_rel


RECORD = RayProfile("dorsal", 0.2, 0.003, (0.2,) * 5, 30.0, 0.1)


def test_uncertainty_of_a_change_follows_the_law_of_propagation():
    # JCGM 100:2008, 5.1.6: relative variances of a quotient add.
    later = replace(RECORD, mean_to_sl=0.18, u_rel=0.004)
    measure = fin_change(RECORD, later, fin="dorsal", posture_u_pct=1.0).measure
    squares = 0.003**2 + 0.004**2 + 2 * (0.1 / 30) ** 2 + 2 * 0.01**2
    assert measure.value == pytest.approx(-10.0)
    assert measure.u == pytest.approx(100 * 0.9 * np.sqrt(squares))


def test_a_bulging_base_is_taken_away_from_both_records():
    # Rays of 0.30 of standard length that begin 0.03 behind the straight line, then 0.24 of them.
    first = replace(RECORD, mean_to_sl=0.33, sectors_to_sl=(0.33,) * 5, base_to_sl=(0.03,) * 5)
    later = replace(RECORD, mean_to_sl=0.27, sectors_to_sl=(0.27,) * 5, base_to_sl=(0.03,) * 5)
    found = fin_change(first, later, fin="dorsal")
    assert found.measure.value == pytest.approx(-20.0)
    assert [sector.value for sector in found.sectors] == pytest.approx([-20.0] * 5)
    # The doubt about one click of the base's middle makes no change where there is none.
    moved = replace(first, base_to_sl=(0.05,) * 5)
    assert fin_change(first, moved, fin="dorsal").measure.value == pytest.approx(0.0)


@pytest.mark.parametrize("kind", ["forked", "rounded"])
def test_a_whole_tail_shortened_by_15_percent_reads_so(kind):
    """A tail's base bulges; from the straight line between its ends it read 14.1 %."""
    spec = resized(random_spec(np.random.default_rng(23), body_form="plain"), 28.0)
    whole = with_fin(spec, "caudal", length_mm=8.0, kind=kind, depth=0.3)
    shorter = with_fin(whole, "caudal", damages=(Damage("shortening", depth=0.15),))
    profiles = []
    for fish in (whole, shorter):
        photo = draw_photo(fish, View(750, 500, px_per_mm=15.0), np.random.default_rng(1))
        reading = true_reading(photo)
        edge = measure_fin("caudal", reading.outlines["caudal"], reading, None)
        profiles.append(edge.profile)
    found = fin_change(*profiles, fin="caudal")
    assert found.measure.value == pytest.approx(-15.0, abs=0.25)
    assert [sector.value for sector in found.sectors] == pytest.approx([-15.0] * 5, abs=0.6)


def test_erosion_needs_a_whole_reference():
    result = fin_erosion(None, RECORD, fin="dorsal", own_record=False)
    assert result.measure.state == "refused"
    assert result.measure.flags == ("no_whole_reference",)
    assert result.measure.reason == "no whole reference"
    assert [sector.state for sector in result.sectors] == ["refused"] * 5


def test_free_tips_are_compared_with_their_own_record_only():
    comb = replace(RECORD, flags=("free_tips",))
    mates = fin_erosion(RECORD, comb, fin="dorsal", own_record=False)
    own = fin_erosion(RECORD, comb, fin="dorsal", own_record=True)
    assert mates.measure.state == "refused"
    assert own.measure.state == "measured"
    assert "free_tips" in own.measure.flags


def test_records_without_lengths_and_of_other_fins():
    assert fin_change(RECORD, None, fin="dorsal").measure.state == "refused"
    hidden = replace(RECORD, flags=("edge_not_visible",))
    assert fin_change(RECORD, hidden, fin="dorsal").measure.state == "refused"
    with pytest.raises(DefinitionError, match="'anal'"):
        fin_change(RECORD, replace(RECORD, fin="anal"), fin="dorsal")


def test_paired_fins_are_compared_on_one_side_only():
    first = Measure("pelvic_length_to_sl", "1", "measured", 0.20, 0.002)
    later = Measure("pelvic_length_to_sl", "1", "measured", 0.18, 0.002)
    same = length_change(first, later, first_side="left", later_side="left")
    assert same.value == pytest.approx(-10.0)
    assert same.u == pytest.approx(90 * np.hypot(0.01, 0.002 / 0.18))
    other = length_change(first, later, first_side="left", later_side="right")
    assert other.state == "refused"
    assert "left" in other.reason
    missing = Measure("pelvic_length_to_sl", "1", "hidden")
    assert length_change(first, missing, first_side="left", later_side="left").state == "refused"
