"""The manifest, napari's own ways to open things, the fin guide and the first screen."""

from pathlib import Path

import numpy as np
import pytest
from napari_finmeasure._keys import KEYS
from npe2 import PluginManifest
from qtpy.QtCore import Qt
from qtpy.QtWidgets import QFileDialog

from finmeasure.landmarks.scheme import body_form, body_forms
from finmeasure.reading import EDGE_MARKS

MANIFEST = Path(__file__).parents[2] / "plugins" / "napari_finmeasure" / "napari.yaml"


def test_the_manifest_is_valid_and_everything_it_names_can_be_imported():
    manifest = PluginManifest.from_file(MANIFEST)
    manifest.validate_imports()
    installed = PluginManifest.from_distribution("finmeasure")
    assert installed.name == "finmeasure"
    contributed = installed.contributions
    assert {w.display_name for w in contributed.widgets} == {"Measure fish", "Fin guide"}
    patterns = contributed.readers[0].filename_patterns
    assert {"*.jpg", "*.heic", "study.db"} <= set(patterns)
    assert contributed.sample_data[0].key == "three_fish"


def test_every_key_has_a_method_and_is_used_once():
    from napari_finmeasure._desk import Desk

    assert all(callable(getattr(Desk, key.does)) for key in KEYS)
    marks = [key.given for key in KEYS if key.does == "mark_edge"]
    assert tuple(marks) == EDGE_MARKS
    sequences = [key.sequence for key in KEYS]
    assert len(sequences) == len(set(sequences))


@pytest.mark.gui
def test_naparis_own_open_leads_to_the_desk_and_reads_no_photo_itself(window, photos):
    """A photo with EXIF orientation 6 (EXIF 2.32, tag 0x0112) stands upright in the window."""
    from PIL import Image

    sideways = photos / "sideways.jpg"
    exif = Image.Exif()
    exif[0x0112] = 6
    pixels = np.zeros((300, 400, 3), np.uint8)
    pixels[:, :100] = 250  # left in the file is on top when turned by 90 degrees clockwise
    Image.fromarray(pixels).save(sideways, exif=exif)
    hands = window(1366, 768)
    with hands.qtbot.waitSignal(hands.desk.bench.photo_changed, timeout=20000):
        hands.viewer.open(str(sideways), plugin="finmeasure")
    shown = hands.viewer.layers["Photo"].data
    assert shown.shape == (400, 300, 3)
    assert shown[20].mean() > 200 > 60 > shown[-20].mean()
    assert [layer.name for layer in hands.viewer.layers] == [
        "Photo", "Fin edges and lengths", "Points",
    ]  # fmt: skip


@pytest.mark.gui
def test_the_sample_opens_on_the_desk(window):
    hands = window(1366, 768)
    with hands.qtbot.waitSignal(hands.desk.bench.photo_changed, timeout=60000):
        hands.viewer.open_sample("finmeasure", "three_fish")
    assert len(hands.desk.bench.workspace.queue) == 3
    assert hands.desk.bench.scale.method == "window_card"


@pytest.mark.gui
def test_the_first_screen_asks_three_things(window, photos, monkeypatch):
    hands = window(1366, 768)
    buttons = hands.desk.start.buttons
    assert [b.text() for b in buttons.values()] == [
        "Measure a folder", "Is it a male?", "Go on with a study",
    ]  # fmt: skip
    monkeypatch.setattr(
        QFileDialog, "getOpenFileName", lambda *_, **__: (str(photos / "c.jpg"), "")
    )
    with hands.qtbot.waitSignal(hands.desk.bench.photo_changed, timeout=20000):
        hands.qtbot.mouseClick(buttons["sex"], Qt.MouseButton.LeftButton)
    desk = hands.desk
    assert desk.start is None
    assert desk.pages.currentWidget() is desk.kinds  # which kind of fish comes first
    desk.kinds.chosen.emit("livebearer")
    assert hands.session.order == body_form("livebearer").questions["sex"]
    desk.bench.ask_for("anal_tip")
    hint = desk.stage.card.hint
    assert hint.lit_fin == "anal"
    assert "single" in hint.text  # told apart from the paired pelvic fins
    assert body_form("livebearer").sex_note in desk.points_page.told.text()


@pytest.mark.gui
def test_big_buttons_theme_and_cheat_sheet(window, photos):
    hands = window(1366, 768)
    hands.open(photos / "a.jpg", kind="plain")
    desk = hands.desk
    hands.key(Qt.Key.Key_W)
    hands.qtbot.wait(50)
    heights = [button.height() for button in desk.wet_bar.buttons.values()]
    assert desk.wet_bar.isVisible()
    assert min(heights) >= 70  # a fingertip on a touch screen needs about 10 mm
    hands.qtbot.mouseClick(desk.wet_bar.buttons["answer_hidden"], Qt.MouseButton.LeftButton)
    assert hands.session.reading().state_of("snout_tip") == "hidden"
    hands.key(Qt.Key.Key_T)
    assert hands.viewer.theme == "light"
    hands.key(Qt.Key.Key_Question)
    assert desk.sheet.isVisible()
    desk.sheet.close()
    assert desk.width() + desk.queue_list.width() < 1366


@pytest.mark.gui
def test_the_fin_guide_tells_of_every_fin_of_every_kind(make_napari_viewer, qtbot):
    viewer = make_napari_viewer(show=False)
    _, guide = viewer.window.add_plugin_dock_widget("finmeasure", "Fin guide")
    for form in body_forms().values():
        guide.show_kind(form.id)
        assert guide.fins.count() == len(form.fins)
        for row, fin in enumerate(form.fins):
            guide.fins.setCurrentRow(row)
            text = guide.text.toPlainText()
            assert form.tells[fin].text in text
            assert form.tells[fin].source in text
