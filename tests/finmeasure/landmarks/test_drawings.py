"""Our drawings of the body forms hold what the scheme says each form has."""

from xml.etree import ElementTree

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from finmeasure.errors import DefinitionError
from finmeasure.landmarks.drawings.form import draw_form
from finmeasure.landmarks.drawings.svg import DARK, form_svg
from finmeasure.landmarks.scheme import body_form, body_forms

FORMS = list(body_forms())
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("form", FORMS)
def test_every_landmark_and_fin_of_the_form_is_drawn(form):
    drawing, scheme = draw_form(form), body_form(form)
    assert set(scheme.landmarks) <= set(drawing.landmarks)
    assert set(scheme.fins) == set(drawing.fins)


@pytest.mark.parametrize("form", [*FORMS, "livebearer_female"])
def test_points_stand_in_the_order_that_their_definitions_say(form):
    """From the definitions in the scheme: front before rear, back above belly, base 100 % SL."""
    at = draw_form(form).landmarks
    assert at["snout_tip"][0] == 0
    assert at["caudal_base"] == (100, 0)
    assert at["eye_front"][0] < at["eye_centre"][0] < at["eye_back"][0] < at["operculum_end"][0]
    assert at["body_top"][1] < at["peduncle_top"][1] < at["peduncle_bottom"][1]
    assert at["peduncle_bottom"][1] < at["body_bottom"][1]
    assert at["caudal_upper_tip"][1] < at["caudal_fork"][1] < at["caudal_lower_tip"][1]
    for fin in ("dorsal", "second_dorsal", "anal", "pelvic"):
        if f"{fin}_origin" in at:
            assert at[f"{fin}_origin"][0] < at[f"{fin}_end"][0], fin
    assert at["dorsal_tip"][1] < at["dorsal_origin"][1]
    assert at["anal_tip"][1] > at["anal_origin"][1]


@pytest.mark.parametrize("form", FORMS)
def test_body_is_one_simple_shape_and_holds_eye_and_gill_cover(form):
    drawing = draw_form(form)
    body = Polygon(drawing.body)
    assert body.is_valid
    eye = Point(drawing.landmarks["eye_centre"])
    assert body.contains(eye)
    assert body.contains(Point(drawing.landmarks["operculum_end"]))


@pytest.mark.parametrize("form", FORMS)
def test_fin_bases_lie_on_the_body_and_margins_run_from_front_to_rear(form):
    drawing = draw_form(form)
    rim = Polygon(drawing.body).exterior
    for fin in ("dorsal", "second_dorsal", "anal"):
        if fin in drawing.fins:
            margin = drawing.fins[fin].margin
            np.testing.assert_allclose(margin[0], drawing.landmarks[f"{fin}_origin"])
            np.testing.assert_allclose(margin[-1], drawing.landmarks[f"{fin}_end"])
            # the outline is drawn by straight pieces: a base lies within 0.2 % SL of it
            assert rim.distance(Point(margin[0])) < 0.2
            assert rim.distance(Point(margin[-1])) < 0.2


def test_common_practice_in_the_drawings():
    """Common practice, no source: what tells these forms apart at a glance."""
    male, female = draw_form("livebearer").landmarks, draw_form("livebearer_female").landmarks

    def width_to_length(at):
        rear = np.subtract(at["anal_last_ray_tip"], at["anal_tip"])
        return np.hypot(*rear) / np.hypot(*np.subtract(at["anal_tip"], at["anal_origin"]))

    assert width_to_length(male) < 0.25 < width_to_length(female)
    gourami = draw_form("gourami").landmarks
    thread = np.subtract(gourami["pelvic_thread_tip"], gourami["pelvic_origin"])
    assert np.hypot(*thread) > 50
    goby = draw_form("two_dorsals").landmarks
    assert goby["dorsal_end"][0] < goby["second_dorsal_origin"][0]


def test_svg_is_well_formed_and_lights_the_point():
    root = ElementTree.fromstring(form_svg("adipose", lit="adipose_tip", lit_fin="adipose"))
    ids = {element.get("id") for element in root.iter()}
    assert {"body", "dorsal", "adipose", "caudal", "anal", "pelvic", "pectoral", "lit"} <= ids
    ring = next(e for e in root.iter(f"{SVG}g") if e.get("id") == "lit")[0]
    x, y = draw_form("adipose").landmarks["adipose_tip"]
    assert float(ring.get("cx")) == pytest.approx(x, abs=0.06)
    assert float(ring.get("cy")) == pytest.approx(y, abs=0.06)
    low_x, low_y, width, height = map(float, root.get("viewBox").split())
    assert low_x < x < low_x + width
    assert low_y < y < low_y + height


def test_names_are_escaped_and_dark_ink_differs():
    text = form_svg("plain", names={"dorsal": 'A & B <"c">'}, ink=DARK)
    shown = [e.text for e in ElementTree.fromstring(text).iter(f"{SVG}text")]
    assert shown == ['A & B <"c">']
    assert form_svg("plain") != form_svg("plain", ink=DARK)


def test_unknown_form_is_refused_with_those_there_are():
    with pytest.raises(DefinitionError, match="two_dorsals"):
        draw_form("unicorn")
    assert draw_form("betta+long_fin").landmarks == draw_form("betta").landmarks
