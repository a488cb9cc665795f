"""Every way to give a scale, by real mouse and keys, on drawings with known millimetres."""

import numpy as np
import pytest
from PIL import Image
from qtpy.QtCore import Qt

from finmeasure.scale.objects import ID1_MM
from finmeasure.scale.references import COINS_MM

pytestmark = pytest.mark.gui
LEFT = Qt.MouseButton.LeftButton
PX_PER_MM = 9.0
SIZE_PX = (1500, 1100)


def ground():
    """A plain, slightly grainy ground, as a photo has it."""
    rng = np.random.default_rng(4)
    return np.clip(rng.normal(215, 2, (SIZE_PX[1], SIZE_PX[0])), 0, 255)


def write(pixels, file):
    Image.fromarray(np.repeat(pixels.astype(np.uint8)[..., None], 3, axis=2)).save(file, quality=95)
    return file


def blurred(pixels):
    import cv2

    return cv2.GaussianBlur(pixels, (0, 0), 0.8)


def paper(file, square_mm=5.0):
    """Lines every `square_mm`, 9 px to the millimetre."""
    pixels, step = ground(), square_mm * PX_PER_MM
    for axis, size in ((1, SIZE_PX[0]), (0, SIZE_PX[1])):
        for at in np.arange(20.0, size, step).astype(int):
            np.moveaxis(pixels, axis, 0)[at : at + 2] = 90
    return write(blurred(pixels), file)


def ruler(file):
    """Ticks every millimetre, every fifth and tenth longer, 9 px to the millimetre."""
    pixels = ground()
    for number in range(140):
        x = int(100 + number * PX_PER_MM)
        long = 90 if number % 10 == 0 else 65 if number % 5 == 0 else 45
        pixels[500 : 500 + long, x : x + 2] = 40
    return write(blurred(pixels), file)


def test_square_paper_counts_only_once_its_numbered_lines_are_confirmed(window, tmp_path, qtbot):
    """Truth: drawn 9 px to the millimetre, lines 5 mm apart."""
    hands = window(1366, 768)
    hands.open(paper(tmp_path / "paper.png"), kind="plain")
    page, desk = hands.desk.scale_page, hands.desk
    assert desk.pages.currentWidget() is page
    page.reference.choose("paper")
    for wrong, words in (("0", "0"), ("-5", "-5"), ("five", "'five'"), ("", "''")):
        page.reference.square_mm.setText(wrong)
        qtbot.mouseClick(page.use, LEFT)
        assert words in desk.stage.message.text()
        assert page.paper is None
    page.reference.square_mm.setText("5")
    qtbot.mouseClick(page.use, LEFT)
    assert page.yes.isVisible()
    assert "counted as 5 mm each" in page.question.text()
    assert not desk.bench.scale  # nothing counts yet
    labels = [label.text for label in desk.stage.glass._drawing.labels]
    assert {"0", "10", "20"} <= set(labels)
    hands.key(Qt.Key.Key_Escape)
    assert not desk.bench.scale
    assert not page.yes.isVisible()
    qtbot.mouseClick(page.use, LEFT)
    qtbot.mouseClick(page.yes, LEFT)
    assert desk.bench.scale.px_per_mm == pytest.approx(PX_PER_MM, rel=0.003)
    assert desk.pages.currentWidget() is desk.points_page


def test_a_ruler_is_read_from_two_clicks_and_its_budget_is_shown(window, tmp_path, qtbot):
    """Truth: drawn 9 px to the millimetre; sixteenths of an inch said of it are 1.5875 mm."""
    hands = window(1366, 768)
    hands.open(ruler(tmp_path / "ruler.png"), kind="plain")
    page, desk = hands.desk.scale_page, hands.desk
    page.reference.choose("ruler")
    assert not page.use.isEnabled()
    qtbot.mouseClick(page.mark, LEFT)
    hands.click((120.0, 515.0))
    hands.click((900.0, 900.0))
    hands.key(Qt.Key.Key_Backspace)  # that one was wrong
    assert not page.use.isEnabled()
    hands.click((1300.0, 515.0))
    qtbot.mouseClick(page.use, LEFT)
    scale = desk.bench.scale
    assert scale.method == "ruler"
    assert scale.px_per_mm == pytest.approx(PX_PER_MM, rel=0.005)
    rows = [
        [page.budget.item(row, column).text() for column in range(3)]
        for row in range(page.budget.rowCount())
    ]
    assert [row[0] for row in rows] == ["tilt of the camera", "bending by the lens",
                                        "fit to the picture"]  # fmt: skip
    shown = np.array([float(row[1].removesuffix(" %")) for row in rows]) / 100
    # JCGM 100:2008, 5.1.2: the sum of variances; two digits are shown
    assert np.sqrt((shown**2).sum()) == pytest.approx(1.96 * scale.u_rel, rel=0.05)
    assert sum(float(row[2].removesuffix("%")) for row in rows) == pytest.approx(100, abs=2)


@pytest.mark.parametrize("thing", ["ID1", "coin"])
def test_a_blank_card_and_a_coin_are_marked(window, tmp_path, qtbot, thing):
    """Truth: ISO/IEC 7810 ID-1 is 85.60 × 53.98 mm; the coin's diameter by its mint."""
    hands = window(1366, 768)
    hands.open(write(ground(), tmp_path / "thing.png"), kind="plain")
    page, desk = hands.desk.scale_page, hands.desk
    page.reference.choose(thing)
    if thing == "ID1":
        width, height = ID1_MM[0] * PX_PER_MM, ID1_MM[1] * PX_PER_MM
        corners = np.array([[0, 0], [width, 0], [width, height], [0, height]])
        points = corners + np.array([300, 200])
    else:
        page.reference.coin.setCurrentIndex(page.reference.coin.findData("EUR 2"))
        angles = np.arange(10) * 2 * np.pi / 10
        radius = COINS_MM["EUR 2"] / 2 * PX_PER_MM
        points = np.column_stack([np.cos(angles), np.sin(angles)]) * radius + [700, 500]
    qtbot.mouseClick(page.mark, LEFT)
    for point in points:
        hands.click(point)
    qtbot.mouseClick(page.use, LEFT)
    assert desk.bench.scale.method == "known_object"
    tolerance = max(0.01, 2 / np.ptp(points))  # a click lands on a whole screen pixel
    assert desk.bench.scale.px_per_mm == pytest.approx(PX_PER_MM, rel=tolerance)


def test_where_the_fish_stands_corrects_a_known_scale(window, tmp_path, qtbot):
    """Truth: similar triangles: (D − h) / D of the length, D = 400 mm, h = 20 mm."""
    hands = window(1366, 768)
    hands.open(write(ground(), tmp_path / "thing.png"), kind="plain")
    page, desk = hands.desk.scale_page, hands.desk
    page.reference.choose("known")
    page.reference.px_per_mm.setText("9")
    page.depth.place.setCurrentIndex(page.depth.place.findData("before"))
    page.depth.before_mm.setText("-4")
    page.depth.distance_mm.setText("400")
    qtbot.mouseClick(page.use, LEFT)
    assert "-4" in desk.stage.message.text()
    page.depth.before_mm.setText("20")
    qtbot.mouseClick(page.use, LEFT)
    assert desk.bench.scale.px_per_mm == pytest.approx(9 * 400 / 380, rel=1e-6)
    desk.go_to_step("scale")
    page.depth.place.setCurrentIndex(page.depth.place.findData("tank"))
    page.depth.fish_behind_mm.setText("40")
    page.depth.glass_mm.setText("6")
    qtbot.mouseClick(page.use, LEFT)
    # card outside on the pane; apparent depths 6 / 1.52 + 40 / 1.333 (paraxial refraction)
    behind = 6 / 1.52 + 40 / 1.333
    assert desk.bench.scale.px_per_mm == pytest.approx(9 * 400 / (400 + behind), rel=1e-3)
    desk.go_to_step("scale")
    page.depth.place.setCurrentIndex(page.depth.place.findData("curved"))
    qtbot.mouseClick(page.use, LEFT)
    assert "curved glass" in desk.stage.message.text()
