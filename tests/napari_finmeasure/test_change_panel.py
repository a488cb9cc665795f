"""Change over time in the window: the same words and numbers as the core gives."""

import contextlib
from pathlib import Path

import pytest
from qtpy.QtCore import Qt

from finmeasure.cli import main
from finmeasure.report.change_tables import changes_table
from finmeasure.study.store import Study

pytestmark = pytest.mark.gui


@pytest.fixture(scope="module")
def treated(tmp_path_factory):
    """One drawn fish at three visits (sample photos of a treatment), measured by the core."""
    samples = Path(__file__).parents[2] / "sample_images"
    folder = tmp_path_factory.mktemp("treated")
    photos = folder / "photos" / "treatment"
    photos.mkdir(parents=True)
    for file in sorted((samples / "treatment").glob("2026-03-*_ember.jpg"))[::2]:
        (photos / file.name).write_bytes(file.read_bytes())
    given = {
        "--study": folder / "study", "--jobs": 1, "--landmarks": samples / "landmarks.csv",
        "--outlines": samples / "outlines.csv", "--name-pattern": "{group}/{date}_{fish}",
    }  # fmt: skip
    options = [str(part) for pair in given.items() for part in pair]
    with contextlib.suppress(SystemExit):  # whatever its status, the study must be there below
        main(["measure", str(folder / "photos"), *options])
    return folder / "study"


def test_verdicts_and_plots_of_a_followed_fish_are_shown(window, treated):
    hands = window(1366, 768)
    hands.open(treated)
    hands.key(Qt.Key.Key_V)
    panel = hands.desk.change_panel
    assert panel.isVisible()
    with Study.open(treated, read_only=True) as study:
        table = changes_table(study.change_over_time())
    assert panel.fins.rowCount() == len(table.groupby(["fish", "fin", "side"]))
    rows = [panel.fins.item(row, 2).text() for row in range(panel.fins.rowCount())]
    panel.fins.selectRow(next(i for i, text in enumerate(rows) if text.startswith("caudal")))
    tail = table[table["fin"] == "caudal"].sort_values("visit")
    assert panel.steps.rowCount() == len(tail)  # the intervals between, and the whole time
    for row, (_, one) in enumerate(list(tail.iterrows())[1:]):
        assert panel.steps.item(row, 1).text() == one["visit"]
        assert panel.steps.item(row, 2).text() == one["step_verdict"]
        assert panel.steps.item(row, 3).text().startswith(f"{one['step_pct']:+.1f} %")
    assert panel.plot.pixmap().width() > 300
    assert "ember" in panel.story.text()
    panel.close()


def test_a_study_without_visits_says_what_to_do(window, photos, drawn):
    hands = window(1366, 768)
    hands.open(photos, kind="adipose")
    hands.desk.change_over_time()
    assert "Give fish names" in hands.desk.change_panel.story.text()
    hands.desk.change_panel.close()
