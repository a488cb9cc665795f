"""A wrong spacing, or a card printed at half size, cannot be seen in a photo: the fish tells."""

import cv2
import numpy as np
import pytest

from .conftest import length, marks
from .drawn import Camera, Conditions, draw
from .paper_sheets import square_paper
from .series import draw_card

CAMERA = Camera(width=1200, height=900, focal_px=1000.0, distance_mm=150.0, aim_mm=(90.0, 65.0))
FISH_MM = np.array([[60.0, 65.0], [100.0, 65.0]])  # 40 mm


@pytest.fixture(scope="module")
def paper(tmp_path_factory):
    folder = tmp_path_factory.mktemp("paper")
    sheet, _ = square_paper("5")
    cv2.imwrite(str(folder / "a.png"), draw(sheet, 16.0, CAMERA, Conditions(blur_px=0.8)))
    (folder / "groups.csv").write_text(
        "group,grade_mm_from,grade_mm_to\nBag 7,35,50\n", encoding="utf-8"
    )
    return folder, marks(folder, {"a.png": CAMERA.to_pixel(FISH_MM)})


def measured(run, paper, study, square_mm):
    folder, landmarks = paper
    return run("measure", folder, "--study", study, "--landmarks", landmarks, "--group", "Bag 7",
               "--card", "squares", "--square-mm", square_mm, "--jobs", "0")  # fmt: skip


def test_one_millimetre_told_for_five_is_implausible_for_the_group(run, paper, tmp_path):
    right = measured(run, paper, tmp_path / "right", 5)
    assert right.returncode == 0, right.stderr
    assert length(tmp_path / "right", "a.png")[0] == pytest.approx(40, rel=2e-3)
    assert "would be" not in right.stderr
    wrong = measured(run, paper, tmp_path / "wrong", 1)
    (line,) = [line for line in wrong.stderr.splitlines() if "would be" in line]
    for word in ("a.png", "8 mm", "35 to 50 mm", "spacing", "100 %"):
        assert word in line


def test_a_card_printed_at_half_size_is_told_by_the_fish(run, tmp_path):
    camera = Camera(width=1200, height=900, focal_px=1000.0, distance_mm=200.0,
                    aim_mm=(74.0, 52.0))  # fmt: skip
    cv2.imwrite(str(tmp_path / "a.png"), draw_card("window", "A6", camera, Conditions()))
    # The sheet is drawn at 100 %: at 50 % the same picture shows a fish of half the length.
    table = marks(tmp_path, {"a.png": camera.to_pixel([[34.0, 52.0], [114.0, 52.0]])})
    (tmp_path / "groups.csv").write_text(
        "group,grade_mm_from,grade_mm_to\nBag 7,38,42\n", encoding="utf-8"
    )
    done = run("measure", tmp_path / "a.png", "--study", tmp_path / "s", "--landmarks", table,
               "--group", "Bag 7", "--jobs", "0")  # fmt: skip
    assert "a.png: its fish would be 80 mm long" in done.stderr
    assert "printed at 100 %" in done.stderr


def test_no_fish_is_two_metres_long(run, paper, tmp_path):
    folder, landmarks = paper
    done = run("measure", folder / "a.png", "--study", tmp_path / "s", "--landmarks", landmarks,
               "--px-per-mm", "0.1", "--px-per-mm-u", "0.001", "--jobs", "0")  # fmt: skip
    assert "which no fish is that anybody keeps" in done.stderr
