"""All fish at a glance, and a fish against its group, in a real window."""

import numpy as np
import pytest
from qtpy.QtCore import Qt

from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.reading import read_photo
from finmeasure.reading import Landmark, Reading
from finmeasure.report.contact_sheet import contact_sheet, fish_picture
from finmeasure.scale.find import find_scale
from finmeasure.study.store import Study

pytestmark = pytest.mark.gui
LEFT = Qt.MouseButton.LeftButton


def marked(truth, fish, rng=None):
    """The drawn fish as a reading; with a generator each point is a little off, as by hand."""
    landmarks = {}
    for name, state in truth.states.items():
        if state != "placed":
            landmarks[name] = Landmark(name, state=state, placed_by="ann")
            continue
        x, y = truth.landmarks[name] + (0 if rng is None else rng.normal(0, 4.0, 2))
        landmarks[name] = Landmark(name, float(x), float(y), placed_by="ann")
    return Reading(fish, landmarks, {}, body_form="adipose", placed_by="ann")


@pytest.fixture
def study(photos, drawn):
    """Six confirmed fish on b.jpg, all like the fish of a.jpg; a.jpg itself is not marked yet."""
    truth, rng = drawn["a"].truth, np.random.default_rng(8)
    photo = read_photo(photos / "a.jpg")
    scale = find_scale(photo)
    folder = photos / "finmeasure study"
    with Study.open(folder, create=True) as made:
        for name in ("a.jpg", "b.jpg"):
            here = read_photo(photos / name)
            made.add_photo(name, here.sha256, metadata=here.metadata, file=photos / name)
            made.set_scale(name, scale)
        for number in range(1, 7):
            reading = marked(truth, str(number), rng)
            rows = measure_reading(reading, scale, size_px=(1600, 1150)).rows
            made.confirm_reading("b.jpg", reading, measures=rows)
    return folder


def test_all_fish_are_listed_sorted_marked_and_opened(window, photos, drawn, study, qtbot):
    hands = window(1366, 768)
    hands.open(photos, kind="adipose")
    desk = hands.desk
    hands.key(Qt.Key.Key_C)
    sheet = desk.all_fish_sheet
    table = sheet.table
    assert table.rowCount() == 7  # six fish on b, and a without any; c is not in the study yet
    headings = [table.horizontalHeaderItem(c).text() for c in range(table.columnCount())]
    length = headings.index("standard length")
    table.sortItems(length, Qt.SortOrder.AscendingOrder)
    shown = [table.item(row, length).text() for row in range(7)]
    values = [float(text.removesuffix(" mm")) for text in shown[:6]]
    assert values == sorted(values)
    assert shown[6] == ""  # the photo that has no fish yet comes last
    qtbot.waitUntil(lambda: not table.item(0, 0).icon().isNull(), timeout=15000)
    numbers = [table.item(row, 1).text() for row in range(3)]
    for row in range(3):
        table.selectionModel().select(
            table.model().index(row, 0),
            table.selectionModel().SelectionFlag.Select | table.selectionModel().SelectionFlag.Rows,
        )
    assert sheet.mark_button.text() == "Mark 3 fish"
    sheet.sex.setCurrentIndex(sheet.sex.findData("female"))
    sheet.species.setText("Invented tetra")
    qtbot.mouseClick(sheet.mark_button, LEFT)
    with Study.open(study, read_only=True) as written:
        labels = {(row.fish, row.character): row.value for row in written.labels()}
    assert labels == {(n, "sex"): "female" for n in numbers} | {
        (n, "species"): "Invented tetra" for n in numbers
    }
    sex = headings.index("sex")
    assert sorted(table.item(row, sex).text() for row in range(7)) == [""] * 4 + ["female"] * 3
    table.sortItems(1, Qt.SortOrder.DescendingOrder)
    rows = [table.item(row, 1).text() for row in range(7)]
    table.selectRow(rows.index("6"))
    with qtbot.waitSignal(desk.bench.photo_changed, timeout=20000):
        qtbot.mouseClick(sheet.open_button, LEFT)
    assert (desk.photo_name.text(), hands.session.fish) == ("b.jpg", "6")
    assert not sheet.isVisible()
    desk.contact_sheet()
    rows = [table.item(row, 1).text() for row in range(7)]
    table.selectRow(rows.index("6"))
    sheet.name.setText("Kim")
    qtbot.mouseClick(sheet.mark_button, LEFT)
    names = {table.item(row, 1).text() for row in range(table.rowCount())}
    assert "Kim" in names
    assert "6" not in names
    sheet.close()


def test_a_ratio_far_from_the_groups_is_marked_and_explained(window, photos, drawn, study, qtbot):
    """Truth: the fish on a.jpg is the fish of the group, until its dorsal tip is set elsewhere."""
    hands, truth = window(1366, 768), drawn["a"].truth
    hands.open(photos / "a.jpg", kind="adipose")
    hands.mark_all(truth)
    desk = hands.desk
    assert len(desk.bench.ranges) > 5
    assert desk.bench.ranges["dorsal_height_to_sl"].fish == 6
    assert "▲" not in desk.numbers.cell("dorsal_height_to_sl", 2)
    tip, origin = (np.array(truth.landmarks[n]) for n in ("dorsal_tip", "dorsal_origin"))
    seen = []
    desk.bench.live_changed.connect(
        lambda: seen.append(desk.numbers.cell("dorsal_height_to_sl", 2))
    )
    hands.drag(tip, tip + 0.8 * (tip - origin))
    assert any(text.startswith("▲") for text in seen)  # while dragging, not only after
    assert desk.numbers.cell("dorsal_height_to_sl", 2).startswith("▲")
    desk.numbers.table.selectRow(0)
    assert "above what the group's 6 confirmed fish show" in desk.numbers.note.text()
    hands.key(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert "▲" not in desk.numbers.cell("dorsal_height_to_sl", 2)


def test_the_small_picture_shows_the_fish_and_a_lost_photo_none(photos, drawn, study):
    """Truth: the drawn points; the picture is the photo cut to them, a quarter as fine at most."""
    with Study.open(study, read_only=True) as opened:
        rows = {(one.photo, one.fish): one for one in contact_sheet(opened)}
    one = rows["b.jpg", "1"]
    left, top, right, bottom = one.box_px
    picture = fish_picture(one, (132, 58))
    assert picture.shape[0] <= 58
    assert picture.shape[1] <= 132
    ratio = (right - left) / (bottom - top)
    room = 0.12 * (right - left)
    expected = (right - left + room) / (bottom - top + room)
    assert picture.shape[1] / picture.shape[0] == pytest.approx(expected, rel=0.08)
    assert ratio > 1
    (photos / "b.jpg").unlink()
    assert fish_picture(one, (132, 58)).size == 0
    assert rows["a.jpg", ""].state == "to_do"
