"""Values by Pythagoras, states, flags and refusals of one reading."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from finmeasure.errors import DefinitionError
from finmeasure.measurements.measure import measure_reading
from finmeasure.reading import Landmark, Outline, Reading


def measured(reading, scale, **more):
    return measure_reading(reading, scale, **more).by_id


def fan(start, end, depth, count=40):
    """A rounded margin from start to end that reaches `depth` beyond their middle."""
    start, end = np.array(start, float), np.array(end, float)
    turn = np.linspace(0, np.pi, count)[:, None]
    across = np.array([-(end - start)[1], (end - start)[0]]) / np.hypot(*(end - start))
    middle, half = (start + end) / 2, (end - start) / 2
    return middle - half * np.cos(turn) + across * depth * np.sin(turn)


def test_lengths_and_ratios_by_pythagoras(fish_points, fish_lengths_px, reading_of, card_scale):
    found = measured(reading_of(fish_points), card_scale(20.0))
    for name, length_px in fish_lengths_px.items():
        assert found[name].state == "measured", name
        assert found[name].value == pytest.approx(length_px / 20.0), name
        if name != "standard_length":
            assert found[f"{name}_to_sl"].value == pytest.approx(length_px / 100.0), name
    assert found["fineness_ratio"].value == pytest.approx(100 / 30)


def test_uncertainty_of_one_length_by_hand(fish_points, reading_of, card_scale):
    # u² = (u1² + u2²) / k² for the two ends, plus the scale's share of the length.
    found = measured(reading_of(fish_points, u_px=0.5), card_scale(20.0, u_rel=0.004))
    by_hand = math.hypot(math.sqrt(0.5) / 20, 0.004 * 5.0)
    assert found["standard_length"].u == pytest.approx(by_hand, rel=1e-3)
    # In a ratio the scale cancels: h/SL with h square to the body.
    ratio = found["body_depth_to_sl"]
    assert ratio.u == pytest.approx(ratio.value * math.hypot(0.7071 / 30, 0.7071 / 100), rel=1e-3)


def test_scale_cancels_in_every_ratio(fish_points, reading_of, card_scale):
    sharp, coarse = (
        measured(reading_of(fish_points), card_scale(20.0, u_rel=u_rel)) for u_rel in (1e-6, 0.04)
    )
    for name, row in sharp.items():
        if row.unit == "1" and row.state == "measured":
            assert coarse[name].u == pytest.approx(row.u, rel=0.02), name
        elif row.unit == "mm" and row.state == "measured":
            assert coarse[name].u == pytest.approx(math.hypot(row.u, 0.04 * row.value), rel=0.05)


def test_u_across_counts_for_a_depth_and_u_px_for_a_length(fish_points, reading_of, card_scale):
    reading = reading_of(fish_points, u_px=2.0)
    marks = {
        name: replace(mark, u_across_px=0.5 if name.startswith("body_") else None)
        for name, mark in reading.landmarks.items()
    }
    found = measured(replace(reading, landmarks=marks), card_scale(1.0, u_rel=1e-9))
    # Of a depth the 0.5 px across the body count; a pair that slips along the body by 2 px each
    # only makes the line of 30 px oblique: √3 · (2² + 2²) / (2 · 30) px.
    by_hand = math.hypot(math.sqrt(0.5), math.sqrt(3) * 8 / 60)
    assert found["body_depth"].u == pytest.approx(by_hand, rel=5e-3)
    assert found["standard_length"].u == pytest.approx(math.sqrt(8), rel=1e-3)


def test_default_uncertainty_of_a_careful_person(fish_points, reading_of, card_scale):
    # Table of two observers: snout .12, caudal base .86 % SL along the body (project's own data).
    found = measured(reading_of(fish_points, u_px=None), card_scale(1.0, u_rel=1e-9))
    length = found["standard_length"]
    assert "u_default" in length.flags
    assert length.u == pytest.approx(math.hypot(0.12, 0.86), rel=0.01)
    assert "u_default" not in measured(reading_of(fish_points), card_scale())["total_length"].flags


def test_without_a_scale_lengths_are_refused_and_ratios_carry_tilt(
    fish_points, reading_of, card_scale
):
    with_card = measured(reading_of(fish_points), card_scale())
    inside = {name: (x + 100, y + 100) for name, (x, y) in fish_points.items()}
    without = measured(reading_of(inside), None, size_px=(400, 300))
    assert without["standard_length"].state == "refused"
    assert without["standard_length"].flags == ("no_scale",)
    assert "card" in without["standard_length"].reason
    depth = without["body_depth_to_sl"]
    assert depth.value == pytest.approx(with_card["body_depth_to_sl"].value)
    assert "not_rectified" in depth.flags
    assert depth.u > with_card["body_depth_to_sl"].u


def test_tilt_hurts_a_fin_across_the_body_and_not_one_along_it(reading_of):
    # ε_rms / √2 of the ratio for a length square to the body, nothing for one along it, when both
    # have the same middle (perspective then cancels).
    points = {
        "snout_tip": (-50, 0), "caudal_base": (50, 0), "body_top": (0, -50), "body_bottom": (0, 50),
        "anal_origin": (-50, 0), "anal_tip": (50, 0),
    }  # fmt: skip
    points = {name: (x + 1000, y + 1000) for name, (x, y) in points.items()}
    found = measured(reading_of(points, u_px=1e-6), None, size_px=(10**7, 10**7))
    shortening = math.sqrt(2) * math.radians(7) ** 2
    across = found["body_depth_to_sl"]
    assert across.u == pytest.approx(across.value * shortening / math.sqrt(2), rel=0.01)
    assert found["anal_height_to_sl"].u == pytest.approx(0, abs=1e-4)


def test_a_bar_leaves_the_tilt_of_lengths_to_the_scale(fish_points, reading_of, card_scale):
    card = card_scale(20.0, u_rel=0.02)
    bar = replace(card, rectified=False, flags=("scale_uncertain",))
    by_card, by_bar = (measured(reading_of(fish_points), scale) for scale in (card, bar))
    assert by_bar["dorsal_height"].u == pytest.approx(by_card["dorsal_height"].u)
    assert "scale_uncertain" in by_bar["dorsal_height"].flags
    assert by_bar["dorsal_height_to_sl"].u > by_card["dorsal_height_to_sl"].u
    assert by_bar["dorsal_height_to_sl"].flags == ("not_rectified",)


def test_states_of_landmarks(fish_points, reading_of, card_scale):
    del fish_points["operculum_end"]
    fish_points["pelvic_tip"] = fish_points["pelvic_origin"] = None
    found = measured(reading_of(fish_points), card_scale())
    assert found["head_length"].state == found["head_length_to_sl"].state == "hidden"
    assert found["pelvic_length"].state == found["pelvic_length_to_sl"].state == "absent"
    assert found["pelvic_length"].value is None
    assert found["standard_length"].state == "measured"


def test_what_a_body_form_has_not_got_is_absent(reading_of, card_scale):
    # Common practice, no source: puffers have no pelvic fins.
    found = measured(reading_of({"snout_tip": (0, 0)}, body_form="puffer"), card_scale())
    assert found["pelvic_length"].state == "absent"
    assert found["pectoral_length"].state == "hidden"
    assert "tip of the breast fin" in found["pectoral_length"].reason


def test_total_length_takes_the_farthest_end(fish_points, reading_of, card_scale):
    fish_points["caudal_lower_tip"] = (140, 20)
    assert measured(reading_of(fish_points), card_scale(1.0))["total_length"].value == 140
    fish_points["caudal_fork"] = (150, 1)
    found = measured(reading_of(fish_points), card_scale(1.0))
    assert found["total_length"].value == 150
    assert found["caudal_length"].value == pytest.approx(math.hypot(40, 20))


def test_a_rounded_tail_needs_only_its_middle(fish_points, reading_of, card_scale):
    for name in ("caudal_upper_tip", "caudal_lower_tip"):
        del fish_points[name]
    livebearer = reading_of(fish_points, body_form="livebearer")
    assert measured(livebearer, card_scale(1.0))["total_length"].value == 120
    # In a plain fish either tip may be the farthest end.
    assert measured(reading_of(fish_points), card_scale())["total_length"].state == "hidden"
    fish_points["caudal_upper_tip"] = fish_points["caudal_lower_tip"] = None
    assert measured(reading_of(fish_points), card_scale(1.0))["total_length"].value == 120
    assert measured(reading_of(fish_points), card_scale(1.0))["caudal_length"].state == "absent"


@pytest.mark.parametrize("middle", [130.0, 138.0])
def test_no_fork_where_the_middle_reaches_the_line(fish_points, reading_of, card_scale, middle):
    fish_points["caudal_fork"] = (middle, 0)
    found = measured(reading_of(fish_points), card_scale())
    assert found["caudal_fork_depth"].state == "absent"
    assert found["caudal_fork_depth_to_sl"].state == "absent"
    assert found["caudal_span"].state == "measured"


@pytest.mark.parametrize("spread", ["part_folded", "clamped"])
def test_folded_fin_gives_no_length(fish_points, reading_of, card_scale, spread):
    margin = fan(fish_points["dorsal_origin"], fish_points["dorsal_end"], -16)
    folded = Outline("dorsal", margin, spread=spread)
    reading = reading_of(fish_points, outlines={"dorsal": folded})
    found = measured(reading, card_scale())
    for name in ("dorsal_height", "dorsal_height_to_sl", "dorsal_notch_area"):
        assert found[name].state == "refused", name
        assert found[name].flags == ("folded",)
    assert found["dorsal_base_length"].state == found["anal_height"].state == "measured"


@pytest.mark.parametrize("point", [(-0.6, 10), (10, -3), (399.6, 5), (5, 299.7)])
def test_marks_outside_the_photo(fish_points, reading_of, card_scale, point):
    fish_points["pelvic_tip"] = point
    shifted = {name: (x + 100, y + 100) for name, (x, y) in fish_points.items()}
    shifted["pelvic_tip"] = point
    found = measured(reading_of(shifted), card_scale(), size_px=(400, 300))
    assert found["pelvic_length"].state == "refused"
    assert found["pelvic_length"].flags == ("out_of_frame",)
    assert "pelvic_tip" in found["pelvic_length"].reason
    assert found["dorsal_height"].state == "measured"


def test_implausible_total_length_is_flagged_with_its_ratio(fish_points, reading_of, card_scale):
    for name in ("caudal_upper_tip", "caudal_lower_tip", "caudal_fork"):
        fish_points[name] = (fish_points[name][0] + 60, fish_points[name][1])
    found = measured(reading_of(fish_points), card_scale())
    assert "implausible" in found["total_length_to_sl"].flags
    assert "implausible" in found["total_length"].flags
    assert "implausible" not in found["standard_length"].flags
    veil = measured(reading_of(fish_points, body_form="plain+long_fin"), card_scale())
    assert "long_fin_strain" in veil["dorsal_height_to_sl"].flags


def test_flags_of_the_scale_go_with_lengths_only(fish_points, reading_of, card_scale):
    scale = card_scale(flags=("plane_assumed", "print_unchecked"))
    found = measured(reading_of(fish_points), scale)
    assert found["standard_length"].flags == ("plane_assumed", "print_unchecked")
    assert found["dorsal_height_to_sl"].flags == ()


def test_bent_body_is_flagged(fish_points, reading_of, card_scale):
    x = np.linspace(0, 100, 60)
    bow = 8 * np.sin(np.pi * x / 100)
    half = 12 * np.sin(np.pi * x / 100) + 3
    ring = np.vstack([np.column_stack([x, bow - half]), np.column_stack([x, bow + half])[::-1]])
    body = Outline("body", ring, closed=True)
    found = measured(reading_of(fish_points, outlines={"body": body}), card_scale())
    assert "bent" in found["standard_length"].flags
    assert "bent" in found["dorsal_height_to_sl"].flags
    assert "bent" not in found["dorsal_height"].flags


def test_snout_on_the_caudal_base_is_refused(fish_points, reading_of, card_scale):
    fish_points["caudal_base"] = fish_points["snout_tip"]
    found = measured(reading_of(fish_points), card_scale())
    assert found["body_depth_to_sl"].state == "refused"
    assert "Move one" in found["body_depth_to_sl"].reason


def test_empty_reading(card_scale):
    measures = measure_reading(Reading("1", {}), card_scale())
    assert {row.state for row in measures.rows} <= {"hidden", "absent"}
    assert measures.side == ""


def test_placed_without_coordinates_counts_as_not_placed(fish_points, reading_of, card_scale):
    reading = reading_of(fish_points)
    marks = dict(reading.landmarks) | {"dorsal_tip": Landmark("dorsal_tip")}
    found = measured(replace(reading, landmarks=marks), card_scale())
    assert found["dorsal_height"].state == "hidden"


@pytest.mark.parametrize(
    ("question", "some", "none"),
    [
        ("size", {"standard_length", "total_length"}, {"dorsal_height", "head_length"}),
        ("fin:dorsal", {"dorsal_height", "dorsal_height_to_sl"}, {"anal_height", "body_depth"}),
        ("full", {"head_length", "caudal_span"}, {"anal_rod_to_sl"}),
    ],
)
def test_questions_ask_only_for_their_rows(fish_points, reading_of, question, some, none):
    found = set(measured(reading_of(fish_points), None, question=question))
    assert some <= found
    assert not none & found


def test_unknown_question_and_body_form(fish_points, reading_of):
    with pytest.raises(DefinitionError, match="size"):
        measure_reading(reading_of(fish_points), None, question="length")
    with pytest.raises(DefinitionError, match="plain"):
        measure_reading(reading_of(fish_points, body_form="shark"), None)


def test_unknown_landmark_has_no_default_uncertainty(fish_points, reading_of):
    fish_points["tail_end"] = (130, 0)
    with pytest.raises(DefinitionError, match=r"'tail_end'.*caudal_base"):
        measure_reading(reading_of(fish_points, u_px=None), None)


def test_order_of_rows(fish_points, reading_of, card_scale):
    rows = [row.id for row in measure_reading(reading_of(fish_points), card_scale()).rows]
    assert rows[:3] == ["dorsal_height_to_sl", "caudal_fork_depth_to_sl", "pelvic_length_to_sl"]
    assert len(set(rows)) == len(rows)


# --- ratios from outlines --------------------------------------------------------------------


def tail(shape, span, depth):
    """Margin of a tail fin whose base is on the left, span upright, tips included."""
    half = span / 2
    if shape == "rectangle":
        corners = [(0, -half), (depth, -half), (depth, half), (0, half)]
    elif shape == "triangle":  # its point is blunt by 0.05 % of the span, as a base needs a width
        blunt = span / 4000
        corners = [(0, -blunt), (depth, -half), (depth, half), (0, blunt)]
    else:
        turn = np.linspace(0, np.pi, 400)
        return np.column_stack([depth * np.sin(turn), -half * np.cos(turn)])
    corners = np.array(corners)
    steps = [np.linspace(a, b, 60, endpoint=False) for a, b in pairwise(corners)]
    return np.vstack([*steps, corners[-1:]])


@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("with_scale", [True, False])
def test_aspect_ratio_of_plane_shapes(truth, reading_of, card_scale, place, with_scale):
    row = truth("tail_aspect_ratios")[place]
    k, span, depth = 60.0, float(row["span"]), float(row["depth"])
    margin = tail(row["shape"], span, depth) * k
    tips = (depth, -span / 2), (depth, span / 2)
    if row["shape"] in ("half_ellipse", "semicircle"):
        tips = (0, -span / 2), (0, span / 2)
    points = {
        "snout_tip": (-100, 0), "caudal_base": (0, 0),
        "caudal_upper_insertion": margin[0] / k, "caudal_lower_insertion": margin[-1] / k,
        "caudal_upper_tip": tips[0], "caudal_lower_tip": tips[1],
    }  # fmt: skip
    points = {name: np.multiply(point, k) for name, point in points.items()}
    reading = reading_of(points, outlines={"caudal": Outline("caudal", margin)})
    found = measured(reading, card_scale(k) if with_scale else None, edges=False)
    aspect = found["caudal_aspect_ratio"]
    assert aspect.value == pytest.approx(float(row["aspect_ratio"]), rel=1e-3)
    assert 0 < aspect.u < 0.15 * aspect.value


def test_untraced_tail_has_no_aspect_row(fish_points, reading_of, card_scale):
    assert "caudal_aspect_ratio" not in measured(reading_of(fish_points), card_scale())


def test_unusable_outline_is_refused_with_its_reason(fish_points, reading_of, card_scale):
    crossing = Outline("caudal", np.array([(98, -6), (130, 20), (130, -20), (98, 6)], float))
    reading = reading_of(fish_points, outlines={"caudal": crossing})
    row = measured(reading, card_scale(), edges=False)["caudal_aspect_ratio"]
    assert row.state == "refused"
    assert row.flags == ("outline_invalid",)
    assert row.reason


def test_anal_rod_of_a_livebearer(reading_of, card_scale):
    # A rod 20 long and 2 wide on a fish of 100; a triangular fan is half its base wide half-way.
    rod = [(60, 10), (60, 30), (61, 31), (62, 30), (62, 10)]
    sides = [np.linspace(a, b, 10, endpoint=False) for a, b in pairwise(rod)]
    margin = np.vstack([*sides, np.array(rod[-1:], float)]) * 10.0
    points = {
        "snout_tip": (0, 0), "caudal_base": (100, 0), "anal_origin": (60, 10), "anal_end": (62, 10),
        "anal_tip": (60, 30),
    }  # fmt: skip
    points = {name: np.multiply(point, 10.0) for name, point in points.items()}
    outlines = {"anal": Outline("anal", margin)}
    reading = reading_of(points, body_form="livebearer", outlines=outlines)
    for scale in (card_scale(), None):
        found = measured(reading, scale, question="sex", edges=False)
        assert found["anal_rod_to_sl"].value == pytest.approx(0.2)
        assert found["anal_rod_width_to_sl"].value == pytest.approx(0.02)
        assert 0 < found["anal_rod_width_to_sl"].u < 0.01
    plain = measured(replace(reading, body_form="plain"), card_scale())
    assert "anal_rod_to_sl" not in plain
