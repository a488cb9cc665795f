"""The program's proposal in a real window: shown, checked, corrected, refused, confirmed.

How near proposals are to the truth is the matter of tests/finmeasure/proposals and of the
benchmark; here a drawn fish of known truth is what a person corrects by.
"""

import numpy as np
import pytest

pytest.importorskip("napari")

from napari.utils import progress
from PIL import Image
from qtpy.QtCore import Qt

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_several
from finmeasure.study.store import Study

STUDY = "finmeasure study"
pytestmark = pytest.mark.gui


@pytest.fixture
def looked_at(window, photos, qtbot):
    """Give hands on photo b once the program has marked its fish."""
    for name in ("a", "c"):
        (photos / f"{name}.jpg").unlink()
    hands = window(1366, 768)
    hands.open(photos, kind="plain", proposes=True)
    qtbot.waitUntil(lambda: bool(hands.session.to_check), timeout=60000)
    return hands


def test_a_proposal_is_shown_checked_corrected_and_confirmed(looked_at, photos):
    hands, desk = looked_at, looked_at.desk
    session = hands.session
    assert desk.bench.workspace.queue["b.jpg"].state == "proposal"
    sure = [session.marks.landmarks[name].confidence for name in session.to_check]
    assert sure == sorted(sure)
    first = session.at
    assert first == session.to_check[0]
    assert {dot.symbol for dot in desk.stage.view.shown_dots} == {"diamond"}
    drawing = desk.stage.glass._drawing
    assert drawing.moving == session.marks.landmarks[first].point  # the ring
    assert any("?" in label.text for label in drawing.labels)
    assert desk.stage.magnifier.isVisible()
    assert "Right?" in desk.stage.card.hint.title
    assert session.marks.outlines["body"].closed
    hands.key(Qt.Key.Key_Y)
    assert not session.is_proposed(first)
    assert {dot.symbol for dot in desk.stage.view.shown_dots} == {"diamond", "disc"}
    hands.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert session.is_proposed(first)
    # the asked point is clicked elsewhere; the peduncle's other side follows
    desk.bench.ask_for("peduncle_top")
    before = session.marks.landmarks["peduncle_bottom"].point
    place = np.add(session.marks.landmarks["peduncle_top"].point, (60.0, 0.0))
    hands.click(place, modifier=Qt.KeyboardModifier.ShiftModifier)
    moved = session.marks.landmarks["peduncle_top"]
    assert moved.placed_by != "finmeasure"
    assert np.hypot(*np.subtract(moved.point, place)) < 1.5 / hands.zoom
    assert session.marks.landmarks["peduncle_bottom"].point != before
    assert session.is_proposed("peduncle_bottom")
    # a proposed point is dragged
    tip = session.marks.landmarks["dorsal_tip"].point
    hands.drag(tip, np.add(tip, (50.0, -40.0)))
    # a proposed point is found right by a click on it
    fork = session.marks.landmarks["caudal_fork"].point
    hands.click(fork)
    assert not session.is_proposed("caudal_fork")
    hands.key(Qt.Key.Key_Return)
    assert desk.bench.workspace.queue["b.jpg"].state == "confirmed"
    assert session.to_check == ()
    desk.bench.close_workspace()
    with Study.open(photos / STUDY, read_only=True) as study:
        (stored,) = study.current_readings("b.jpg")
    assert stored.confirmed
    marks = stored.reading.landmarks
    assert marks["peduncle_top"].placed_by == marks["dorsal_tip"].placed_by == "hand"
    assert marks["snout_tip"].placed_by == "finmeasure"
    assert marks["snout_tip"].confidence is not None
    assert stored.reading.outlines["body"].placed_by == "finmeasure"


def test_one_key_says_yes_to_all_and_one_throws_the_proposal_away(looked_at):
    session = looked_at.session
    proposed = set(session.to_check)
    looked_at.key(Qt.Key.Key_Delete, Qt.KeyboardModifier.ShiftModifier)
    assert not session.marks.landmarks
    assert session.at == session.order[0]
    looked_at.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert set(session.to_check) == proposed
    looked_at.key(Qt.Key.Key_Y, Qt.KeyboardModifier.ShiftModifier)
    assert session.to_check == ()
    assert {dot.symbol for dot in looked_at.desk.stage.view.shown_dots} == {"disc"}


def test_a_checked_proposal_comes_back_as_a_draft_and_another_question_asks_less(
    looked_at, photos, qtbot
):
    desk = looked_at.desk
    first = looked_at.session.at
    looked_at.key(Qt.Key.Key_Y)
    waiting = looked_at.session.to_check
    looked_at.open(photos, proposes=True)
    assert looked_at.session.to_check == waiting
    assert first in looked_at.session.marks.agreed
    desk.bench.set_question("size")
    assert set(looked_at.session.to_check) <= set(looked_at.session.order)
    assert len(looked_at.session.order) == 4


def test_no_fish_is_said_in_one_sentence_and_marking_by_hand_goes_on(window, tmp_path, qtbot):
    noise = np.random.default_rng(4).integers(90, 120, (900, 1200, 3)).astype(np.uint8)
    Image.fromarray(noise).save(tmp_path / "empty.png")
    hands = window(1366, 768)
    hands.open(tmp_path, kind="plain", question="size", proposes=True)
    qtbot.waitUntil(lambda: "fish" in hands.desk.bench.unseen, timeout=60000)
    assert "by hand" in hands.desk.stage.message.text()
    assert "Photograph" in hands.desk.points_page.told.text()
    assert hands.desk.bench.workspace.queue["empty.png"].state == "to_do"
    hands.click((500.0, 400.0))
    assert len(hands.session.marks.landmarks) == 1


def test_proposals_of_measure_wait_in_the_queue_worst_first(window, photos, drawn, qtbot):
    from typer.testing import CliRunner

    from finmeasure.cli.app import app

    result = CliRunner().invoke(
        app, ["measure", str(photos), "--study", str(photos / STUDY), "--jobs", "0"]
    )
    assert result.exit_code in (0, 1), result.output
    with Study.open(photos / STUDY, read_only=True) as study:
        waiting = [one for one in study.standings() if one.state == "proposal"]
        assert len(waiting) >= 2
        assert not any(one.confirmed for one in study.current_readings())
    worst_first = sorted(waiting, key=lambda one: one.confidence)
    hands = window(1366, 768)
    hands.open(photos / STUDY, kind="plain")
    assert [one.photo for one in hands.desk.bench.workspace.queue][: len(waiting)] == [
        one.photo for one in worst_first
    ]
    assert hands.session.to_check
    hands.confirm_to(worst_first[1].photo)
    assert hands.desk.bench.workspace.queue[worst_first[0].photo].state == "confirmed"


def test_two_fish_are_checked_one_after_the_other(window, tmp_path, qtbot):
    rng = np.random.default_rng(8)
    spec = random_spec(rng, body_form="plain")
    length = spec.standard_length_mm
    views = [
        View(1600, 800, px_per_mm=450 / length, fish_at_mm=(s * 0.75 * length, 0.0), ground="water")
        for s in (1, -1)
    ]
    pixels = draw_several([(spec, view) for view in views], rng)[0].pixels
    Image.fromarray(pixels).save(tmp_path / "two.png")
    hands = window(1366, 768)
    hands.open(tmp_path, kind="plain", question="size", proposes=True)
    desk = hands.desk
    qtbot.waitUntil(lambda: bool(hands.session.to_check), timeout=60000)
    assert [desk.fish.itemData(i) for i in range(desk.fish.count())] == ["1", "2", "3"]
    assert hands.session.fish == "1"
    first = hands.session.marks.landmarks["snout_tip"].x_px
    hands.key(Qt.Key.Key_Return)
    assert hands.session.fish == "2"
    assert hands.session.marks.landmarks["snout_tip"].x_px > first
    assert desk.bench.workspace.queue["two.png"].state == "proposal"
    hands.key(Qt.Key.Key_Return)
    assert desk.bench.workspace.queue["two.png"].state == "confirmed"
    assert {one.reading.fish for one in desk.bench.workspace.study.current_readings("two.png")} == {
        "1", "2"}  # fmt: skip


def test_the_activity_dock_shows_what_is_under_way(window, photos, qtbot):
    seen = []
    progress._all_instances.events.changed.connect(lambda event: seen.extend(event.added or ()))
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="adipose", proposes=True)
    qtbot.waitUntil(lambda: hands.desk.prefetch.is_idle, timeout=60000)
    assert any("a.jpg" in (bar.desc or "") for bar in seen)
    qtbot.waitUntil(lambda: not any("a.jpg" in (b.desc or "") for b in progress._all_instances),
                    timeout=5000)  # fmt: skip
