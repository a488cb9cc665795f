"""Bend of the body: a circular arc in closed form, drawn bends, and real straight fish."""

from dataclasses import replace

import numpy as np
import pytest

from finmeasure.drawing.anatomy import build_fish
from finmeasure.drawing.forms import BODY_FORMS, random_spec
from finmeasure.drawing.marks import landmarks_mm
from finmeasure.errors import NotFound
from finmeasure.fins.posture import BENT_FROM_PCT, bend_of, is_bent
from finmeasure.reading import Landmark, Outline, Reading

from .real_fish import fish_of, photos_with


def reading_of(body, snout, tail):
    marks = {
        "snout_tip": Landmark("snout_tip", *snout),
        "caudal_base": Landmark("caudal_base", *tail),
    }
    return Reading("1", marks, {"body": Outline("body", body, closed=True)})


def drawn(form, bend_deg, rng):
    fish = build_fish(replace(random_spec(rng, body_form=form), bend_deg=bend_deg, yaw_deg=0.0))
    named = landmarks_mm(fish)
    ends = fish.posture.apply(np.stack([named["snout_tip"], named["caudal_base"]])) * 20
    return reading_of(fish.posture.apply(fish.body) * 20, *ends)


@pytest.mark.parametrize("bow_pct", [1.0, 5.0, 10.0])
def test_a_circular_band_has_the_bow_of_its_arc(bow_pct):
    """Chord 1000, bow b: radius = L²/8b + b/2."""
    bow = 10 * bow_pct
    radius = 1000**2 / (8 * bow) + bow / 2
    half = np.arcsin(500 / radius)
    angle = np.linspace(-half, half, 200)
    arcs = [np.column_stack([r * np.sin(angle), -r * np.cos(angle)]) for r in
            (radius + 80, radius - 80)]  # fmt: skip
    ends = radius * np.array([[np.sin(-half), -np.cos(half)], [np.sin(half), -np.cos(half)]])
    found = bend_of(reading_of(np.vstack([arcs[0], arcs[1][::-1]]), *ends))
    # The fitted parabola departs from the circle by less than 4 % at the deepest bow.
    assert found.bow_pct == pytest.approx(bow_pct, rel=0.06)


def test_drawn_straight_fish_are_not_called_bent(rng):
    for form in BODY_FORMS:
        for _ in range(3):
            assert not is_bent(drawn(form, 0.0, rng)), form


@pytest.mark.parametrize("bend_deg", [-30.0, -25.0, 25.0, 30.0])
def test_drawn_bends_are_found(bend_deg, rng):
    found = [is_bent(drawn(form, bend_deg, rng)) for form in BODY_FORMS for _ in range(3)]
    assert np.mean(found) >= 0.95


def test_bends_that_shorten_by_less_than_half_a_percent_are_let_pass(rng):
    found = [is_bent(drawn(form, 10.0, rng)) for form in BODY_FORMS for _ in range(3)]
    assert np.mean(found) <= 0.1


def test_real_straight_fish_are_not_called_bent(shared):
    bows = {photo: bend_of(fish_of(shared, photo)).bow_pct for photo in photos_with(shared, "body")}
    assert len(bows) >= 8
    assert max(bows.values()) < BENT_FROM_PCT


def test_what_is_missing_is_told():
    nothing = bend_of(Reading("1", {}))
    assert isinstance(nothing, NotFound)
    assert "body" in nothing.remedy
    short = np.array([[0, 0], [30, -10], [60, 0], [30, 10]], float)
    assert "does not reach" in bend_of(reading_of(short, (0, 0), (1000, 0))).reason
