"""Real windows, real mouse: from a drawn photo to a reading in the study."""

import numpy as np
import pytest
from qtpy.QtCore import Qt

from finmeasure.landmarks.scheme import points_for
from finmeasure.measurements.definitions import MEASURES
from finmeasure.study.store import Study

pytestmark = pytest.mark.gui
STUDY = "finmeasure study"


def value_in_table(hands, measure_id, column):
    """Number and 95 % limits of a cell, as a person reads them."""
    text = hands.desk.numbers.cell(measure_id, column).removesuffix("mm").strip()
    value, limits = text.split(" ± ")
    return float(value), float(limits)


def true_length_mm(truth, measure_id):
    """Straight length between the true landmarks, in the card's plane."""
    first, second = (truth.landmarks[name] for name in MEASURES[measure_id].landmarks)
    return float(np.hypot(*np.diff(truth.true_mm([first, second]), axis=0)[0]))


@pytest.mark.parametrize("size", [(1500, 950), (1366, 768)])
def test_a_fish_is_marked_read_and_saved(window, photos, drawn, size):
    """Truth: the drawn landmarks, mapped to the card's plane by the drawing's own camera."""
    hands, truth = window(*size), drawn["a"].truth
    hands.open(photos / "a.jpg", kind="adipose")
    assert hands.desk.bench.scale
    hands.mark_all(truth)
    for measure_id in ("standard_length", "head_length", "dorsal_height", "anal_base_length"):
        value, limits = value_in_table(hands, measure_id, 1)
        assert abs(value - true_length_mm(truth, measure_id)) <= limits, measure_id
    ratio, limits = value_in_table(hands, "dorsal_height_to_sl", 2)
    true = true_length_mm(truth, "dorsal_height") / true_length_mm(truth, "standard_length")
    assert abs(ratio - true) <= limits
    hands.key(Qt.Key.Key_Return)
    with Study.open(photos / STUDY, read_only=True) as study:
        (stored,) = study.current_readings("a.jpg")
        measures = {row.id: row for row in study.measures(stored.id)}
    assert stored.confirmed
    # a click lands on a whole screen pixel, at most 0.71 of one away
    tolerance = 0.75 / hands.zoom
    for name in points_for("full", "adipose"):
        assert stored.reading.state_of(name) == truth.states[name]
        np.testing.assert_allclose(
            stored.reading.point(name), truth.landmarks[name], atol=tolerance
        )
    assert measures["dorsal_height_to_sl"].value == pytest.approx(ratio, abs=limits / 20)


def test_dragging_gives_live_numbers_and_undo_brings_the_point_back(window, photos, drawn):
    hands, truth = window(1366, 768), drawn["a"].truth
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    hands.mark_all(truth)
    snout, base = (np.array(truth.landmarks[n]) for n in ("snout_tip", "caudal_base"))
    before, _ = value_in_table(hands, "standard_length", 1)
    target = snout + 0.1 * (base - snout)  # a tenth shorter
    seen = []
    hands.desk.bench.live_changed.connect(
        lambda: seen.append(value_in_table(hands, "standard_length", 1)[0])
    )
    hands.drag(snout, target)
    after, limits = value_in_table(hands, "standard_length", 1)
    assert len(seen) >= 4
    assert np.all(np.diff(seen) <= 0)  # the number follows the mouse, shorter and shorter
    assert after == pytest.approx(0.9 * before, abs=limits)
    tolerance = 1.5 / hands.zoom  # both ends of the drag are rounded to a screen pixel
    np.testing.assert_allclose(hands.session.reading().point("snout_tip"), target, atol=tolerance)
    hands.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert value_in_table(hands, "standard_length", 1)[0] == before
    hands.key(Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert value_in_table(hands, "standard_length", 1)[0] == after


def test_answers_by_key_and_choosing_both_ways(window, photos, drawn):
    hands, truth = window(), drawn["a"].truth
    hands.open(photos / "a.jpg", kind="adipose")
    desk = hands.desk
    hands.click(truth.landmarks["snout_tip"])
    assert desk.stage.card.hint.lit == "eye_front"
    hands.key(Qt.Key.Key_S)
    assert hands.session.at == "eye_centre"
    hands.key(Qt.Key.Key_B)
    assert hands.session.at == "eye_front"
    hands.key(Qt.Key.Key_H)
    desk.bench.ask_for("adipose_origin")
    hands.key(Qt.Key.Key_A)
    reading = hands.session.reading()
    assert reading.state_of("eye_front") == "hidden"
    assert reading.state_of("adipose_tip") == "absent"  # no origin, no fin
    hands.mark_all(truth)
    assert desk.numbers.cell("eye_diameter", 1) == ""  # it needs the hidden edge of the eye
    hands.click(truth.landmarks["dorsal_tip"])  # a point that is set: chosen, not placed anew
    assert desk.bench.chosen_point == "dorsal_tip"
    assert desk.numbers.cell("dorsal_height", 0).startswith("▌")
    assert not desk.numbers.cell("head_length", 0).startswith("▌")
    rows = [desk.numbers.table.item(r, 0).text() for r in range(desk.numbers.table.rowCount())]
    row = next(i for i, text in enumerate(rows) if text.endswith("Height of the dorsal fin"))
    desk.numbers.table.selectRow(row)
    shown = {dot.symbol for dot in desk.stage.view.shown_dots}
    assert desk.bench.chosen_measure == "dorsal_height"
    assert "triangle_up" in shown  # its two points are lit on the fish
    hands.click(truth.landmarks["dorsal_tip"], button=Qt.MouseButton.RightButton)
    assert hands.session.at == "dorsal_tip"


def test_a_double_click_makes_one_point(window, photos, drawn, qtbot):
    hands, truth = window(1366, 768), drawn["a"].truth
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    zoom = hands.zoom
    hands.click(truth.landmarks["snout_tip"])
    qtbot.mouseDClick(
        hands.canvas, Qt.MouseButton.LeftButton, pos=hands.at(truth.landmarks["snout_tip"])
    )
    assert len(hands.session.marks.landmarks) == 1
    assert hands.zoom == zoom


def test_a_fin_edge_is_traced_mended_and_measured(window, photos, drawn):
    """Truth: the drawn margin of a whole fin, so there is no notch to be found."""
    hands, truth = window(), drawn["b"].truth
    hands.open(photos / "b.jpg", kind="plain", question="fin:caudal")
    hands.mark_all(truth)
    desk = hands.desk
    desk.edges_page.choose("caudal")
    desk.go_to_step("edges")
    margin = np.asarray(truth.outlines["caudal"])
    corners = margin[np.linspace(0, len(margin) - 1, 14).astype(int)][1:-1]
    for corner in corners:
        hands.click(corner)
    traced = hands.session.marks.outlines["caudal"].points_px
    np.testing.assert_allclose(traced[1:-1], corners, atol=0.75 / hands.zoom)
    ends = [hands.session.reading().point(n) for n in ("caudal_upper_insertion",
                                                       "caudal_lower_insertion")]  # fmt: skip
    np.testing.assert_allclose(traced[[0, -1]], ends)
    hands.drag(corners[3], corners[3] + [12, 0])
    moved = hands.session.marks.outlines["caudal"].points_px
    np.testing.assert_allclose(moved[4], corners[3] + [12, 0], atol=1.5 / hands.zoom)
    between = (corners[8] + corners[9]) / 2
    aside = between + np.array([6, 0])
    hands.drag(between, aside)  # the line itself gives a new corner
    assert len(hands.session.marks.outlines["caudal"].points_px) == len(traced) + 1
    hands.click(aside, button=Qt.MouseButton.RightButton)
    hands.key(Qt.Key.Key_Backspace)
    assert len(hands.session.marks.outlines["caudal"].points_px) == len(traced) - 1
    hands.click(corners[-1])
    hands.drag(corners[3] + [12, 0], corners[3])
    hands.key(Qt.Key.Key_G)
    assert value_in_table(hands, "caudal_relative_length", 1)[0] > 0.1
    hands.key(Qt.Key.Key_2)
    hands.key(Qt.Key.Key_9)
    outline = hands.session.reading().outlines["caudal"]
    assert (outline.edge, outline.spread) == ("clear_new_growth", "part_folded")
    assert desk.numbers.cell("caudal_relative_length", 1) == "not given"  # folded
    for _ in range(2):
        hands.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert value_in_table(hands, "caudal_relative_length", 1)[0] > 0.1


def test_a_bar_of_known_length_gives_the_scale(window, photos, drawn):
    """Truth: the drawn photo's millimetres; the bar is laid over a known piece of the fish."""
    hands, truth = window(), drawn["c"].truth
    hands.open(photos / "c.jpg", kind="livebearer")
    desk = hands.desk
    assert not desk.bench.scale
    assert desk.pages.currentWidget() is desk.scale_page
    first, second = (truth.landmarks[n] for n in ("snout_tip", "caudal_base"))
    desk.scale_page.reference.choose("bar")
    hands.qtbot.mouseClick(desk.scale_page.mark, Qt.MouseButton.LeftButton)
    hands.click(first)
    hands.click(second)
    for wrong, words in (("0", "0"), ("-3", "-3"), ("ten", "'ten'"), ("", "''")):
        desk.scale_page.reference.length.setText(wrong)
        hands.qtbot.mouseClick(desk.scale_page.use, Qt.MouseButton.LeftButton)
        assert words in desk.stage.message.text()
        assert not desk.bench.scale
    length = true_length_mm(truth, "standard_length")
    typed = f"{length:.3f}".replace(".", ",")  # a decimal comma is fine
    desk.scale_page.reference.length.setText(typed)
    hands.qtbot.mouseClick(desk.scale_page.use, Qt.MouseButton.LeftButton)
    assert desk.bench.scale.method == "bar"
    assert desk.pages.currentWidget() is desk.points_page
    hands.mark_all(truth)
    value, limits = value_in_table(hands, "standard_length", 1)
    assert abs(value - length) <= limits


def test_stepping_naming_and_a_second_blind_marking(window, photos, drawn):
    hands = window(1366, 768)
    hands.open(photos, kind="adipose", question="size")
    desk = hands.desk
    assert [p.state for p in desk.bench.workspace.queue] == ["to_do"] * 3
    hands.mark_all(drawn["a"].truth)
    hands.confirm_to("b.jpg")
    assert desk.bench.workspace.queue["a.jpg"].state == "confirmed"
    hands.mark_all(drawn["b"].truth)
    desk.bench.choose_point("caudal_upper_tip")
    desk.bench.rename("caudal_upper_tip", "caudal_lower_tip")  # the two change places
    points = hands.session.reading()
    assert points.point("caudal_upper_tip")[1] > points.point("caudal_lower_tip")[1]
    hands.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    hands.go_to("a.jpg", Qt.Key.Key_PageUp)
    assert hands.session.at is None
    hands.key(Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    assert hands.session.marks.landmarks == {}  # blind to the first
    hands.mark_all(drawn["a"].truth)
    hands.confirm_to("b.jpg")
    with Study.open(photos / STUDY, read_only=True) as study:
        purposes = [one.purpose for one in study.readings_of("a.jpg")]
        (current,) = study.current_readings("a.jpg")
    assert purposes == ["work", "repeat"]
    assert current.purpose == "work"


def test_a_long_fin_strain_is_chosen_with_its_kind(window, photos):
    hands = window(1366, 768)
    hands.open(photos / "a.jpg")
    desk = hands.desk
    desk.kinds.long_fin.setChecked(True)
    row = next(r for r in range(desk.kinds.list.count())
               if desk.kinds.list.item(r).data(Qt.ItemDataRole.UserRole) == "betta")  # fmt: skip
    desk.kinds.list.itemClicked.emit(desk.kinds.list.item(row))
    assert hands.session.marks.body_form == "betta+long_fin"
    assert "long-fin strain" in desk.points_page.kind.text()


def test_two_fish_on_one_photo_are_two_readings(window, photos, drawn):
    hands, truth = window(1366, 768), drawn["a"].truth
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    desk = hands.desk
    hands.mark_all(truth)
    hands.key(Qt.Key.Key_Return)
    assert [desk.fish.itemText(i) for i in range(desk.fish.count())] == ["fish 1", "another fish"]
    desk.fish.setCurrentIndex(1)
    desk.fish.activated.emit(1)
    assert hands.session.fish == "2"
    assert hands.session.marks.landmarks == {}
    hands.mark_all(truth)
    hands.key(Qt.Key.Key_Return)
    with Study.open(photos / STUDY, read_only=True) as study:
        assert [one.reading.fish for one in study.current_readings("a.jpg")] == ["1", "2"]


def test_a_drag_along_the_fish_sets_both_ends_of_a_length(window, photos, drawn):
    truth = drawn["a"].truth
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="adipose", question="size")
    assert "drag from it" in hands.desk.stage.card.hint.text
    centre = hands.viewer.scene.camera.center
    hands.drag(truth.landmarks["snout_tip"], truth.landmarks["caudal_base"])
    assert hands.viewer.scene.camera.center == centre
    hands.drag(truth.landmarks["caudal_upper_tip"], truth.landmarks["caudal_lower_tip"])
    assert hands.session.at is None
    answer = hands.desk.numbers.cell("total_length", 1)
    assert answer in hands.desk.stage.card.hint.title  # told at the mouse, no further key
    for name, mark in hands.session.marks.landmarks.items():
        away = np.hypot(*np.subtract(mark.point, truth.landmarks[name]))
        assert away < 1.5 / hands.zoom, name
    hands.desk.bench.set_question("full")
    hands.drag((700.0, 700.0), (740.0, 720.0))  # a click is wanted: a drag moves the photo
    assert hands.viewer.scene.camera.center != centre
    assert len(hands.session.marks.landmarks) == 4


def test_a_point_changes_its_name_and_undo_and_redo_lead_through_everything(window, photos, drawn):
    truth = drawn["a"].truth
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="adipose", question="fin:dorsal")
    hands.mark_all(truth)
    session = hands.session
    tip = session.marks.landmarks["dorsal_tip"].point
    session_before = session.marks
    hands.desk.bench.rename("dorsal_tip", "dorsal_origin")  # they change places
    assert session.marks.landmarks["dorsal_origin"].point == tip
    control = Qt.KeyboardModifier.ControlModifier
    hands.key(Qt.Key.Key_Z, control)
    assert session.marks.landmarks == session_before.landmarks
    hands.key(Qt.Key.Key_Y, control)
    assert session.marks.landmarks["dorsal_origin"].point == tip
    steps = 0
    while session.can_undo:
        hands.key(Qt.Key.Key_Z, control)
        steps += 1
    assert not session.marks.landmarks
    while session.can_redo:
        hands.key(Qt.Key.Key_Y, control)
        steps -= 1
    assert steps == 0
    assert session.marks.landmarks["dorsal_origin"].point == tip
