"""References told on the command line or in scales.csv, through `measure` to the study's tables.

Truth: the pinhole camera of drawn.py; for glass and water the ray-traced table of methods.md B3.
"""

import cv2
import numpy as np
import pytest

from .conftest import length, marks, rows
from .drawn import Camera, Conditions, draw
from .paper_sheets import ruler_sheet

CAMERA = Camera(width=1000, height=700, focal_px=900.0, distance_mm=130.0, aim_mm=(60.0, 40.0),
                roll_deg=7.0)  # fmt: skip
FISH_MM = np.array([[40.0, 62.0], [80.0, 60.0]])
TRUE_MM = float(np.hypot(*(FISH_MM[1] - FISH_MM[0])))
HEADER = "photo,kind,x1_px,y1_px,x2_px,y2_px,tick_mm,coin,points_px\n"


def points(places_mm):
    return "; ".join(f"{x:.2f} {y:.2f}" for x, y in CAMERA.to_pixel(places_mm))


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """One photo of a ruler; the blank card and the coin are marks on it, as a person sets them."""
    folder = tmp_path_factory.mktemp("told")
    sheet = np.full((80 * 16, 120 * 16), 235, np.uint8)
    sheet[: 25 * 16] = ruler_sheet(length_mm=120.0)
    pixels = draw(sheet, 16.0, CAMERA, Conditions(blur_px=0.8, background=120.0))
    for name in ("ruler.png", "id1.png", "coin.png", "bar.png"):
        cv2.imwrite(str(folder / name), pixels)
    (x1, y1), (x2, y2) = CAMERA.to_pixel([[12.0, 2.0], [108.0, 2.0]])
    card = np.array([[5, 4], [5 + 85.6, 4], [5 + 85.6, 4 + 53.98], [5, 4 + 53.98]])  # ISO 7810
    turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    rim = 23.25 / 2 * np.column_stack([np.cos(turn), np.sin(turn)]) + [60, 40]  # 1 euro
    table = folder / "scales.csv"
    table.write_text(
        HEADER
        + f"ruler.png,ruler,{x1},{y1},{x2},{y2},1,,\n"
        + f"id1.png,id1,,,,,,,{points(card)}\n"
        + f"coin.png,coin,,,,,,EUR 1,{points(rim)}\n",
        encoding="utf-8",
    )
    names = ("ruler.png", "id1.png", "coin.png", "bar.png")
    ends = {name: CAMERA.to_pixel(FISH_MM) for name in names}
    return folder, marks(folder, ends), table


def test_ruler_card_and_coin_of_the_table_give_the_length(run, told, tmp_path):
    folder, landmarks, scales = told
    study = tmp_path / "study"
    done = run("measure", folder, "--study", study, "--landmarks", landmarks,
               "--scales", scales, "--jobs", "0")  # fmt: skip
    assert done.returncode == 1  # nothing is told of bar.png, and no card is in it
    assert "1 refused" in done.stdout
    methods = {row["photo"]: row["scale_method"] for row in rows(study, "photos")}
    assert methods == {
        "ruler.png": "ruler", "id1.png": "known_object", "coin.png": "known_object", "bar.png": "",
    }  # fmt: skip
    for name in ("ruler.png", "id1.png", "coin.png"):
        value, u, state, _ = length(study, name)
        assert state == "measured"
        assert abs(value - TRUE_MM) < 1.96 * u
        assert value == pytest.approx(TRUE_MM, rel=0.01)
    assert length(study, "bar.png")[2] == "refused"
    advice = {row["photo"]: row["advice"] for row in rows(study, "photos")}
    assert "tilt: tilt and depth" in advice["ruler.png"]
    assert "Next photo: Most of the scale" in done.stdout
    report = (study / "report.html").read_text(encoding="utf-8")
    assert "Shares of the uncertainty" in report
    assert "reference 0.22 %: wear and tolerance of the coin" in report  # 0.05 mm of 23.25 mm


def test_a_changed_row_measures_its_photo_anew(run, told, tmp_path):
    folder, landmarks, scales = told
    study, other = tmp_path / "study", tmp_path / "scales.csv"
    call = ("measure", folder, "--study", study, "--landmarks", landmarks, "--jobs", "0")
    run(*call, "--scales", scales)
    text = scales.read_text(encoding="utf-8").replace(",1,,\n", ",2,,\n")
    other.write_text(text, encoding="utf-8")
    done = run(*call, "--scales", other)
    assert "3 of them as before" in done.stdout
    assert length(study, "ruler.png")[0] == pytest.approx(2 * TRUE_MM, rel=0.01)


@pytest.mark.parametrize(
    ("distance", "options", "reads"),
    [  # methods.md B3, ray-traced, camera 300 mm from the pane: so much too small uncorrected
        (300, ["--water-mm", "5"], 1 - 0.025),
        (300, ["--water-mm", "15"], 1 - 0.048),
        (300, ["--water-mm", "30", "--tank-glass-mm", "6"], 1 - 0.081),
        # card on the back wall, fish 15 mm before it: + 3.3 %; the tape goes on to the card
        (300 + 6 + 60, ["--water-mm", "45", "--card-water-mm", "60"], 1 + 0.033),
    ],
)
def test_glass_and_water_are_put_right(run, told, tmp_path, distance, options, reads):
    folder, landmarks, _ = told
    call = ("measure", folder / "bar.png", "--landmarks", landmarks, "--jobs", "0",
            "--px-per-mm", "7", "--px-per-mm-u", "0.01")  # fmt: skip
    run(*call, "--study", tmp_path / "plain")
    run(*call, "--study", tmp_path / "tank", "--camera-distance", distance, *options)
    plain, put_right = (length(tmp_path / name, "bar.png")[0] for name in ("plain", "tank"))
    # the table is rounded to a tenth of a percent
    assert plain / put_right == pytest.approx(reads, abs=0.0025)


def test_through_a_bag_there_are_ratios_but_no_millimetres(run, told, tmp_path):
    folder, landmarks, scales = told
    study = tmp_path / "study"
    run("measure", folder / "id1.png", "--study", study, "--landmarks", landmarks,
        "--scales", scales, "--through-curved", "--jobs", "0")  # fmt: skip
    assert length(study, "id1.png")[2] == "refused"
    assert "bag or curved glass" in rows(study, "photos")[0]["scale_reason"]


def test_a_ruler_that_the_program_finds_is_a_proposal(run, told, tmp_path):
    folder, landmarks, _ = told
    study = tmp_path / "study"
    done = run("measure", folder / "bar.png", "--study", study, "--landmarks", landmarks,
               "--tick-mm", "1", "--jobs", "0")  # fmt: skip
    assert done.returncode == 0, done.stderr
    value, u, state, flags = length(study, "bar.png")
    assert state == "measured"
    assert "ruler_proposed" in flags
    assert abs(value - TRUE_MM) < 1.96 * u
    assert value == pytest.approx(TRUE_MM, rel=0.01)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--tank-glass-mm", "6"], ["--water-mm"]),
        (["--water-mm", "-5"], ["water before the fish", "0 or more"]),
        (["--water-mm", "5", "--tank-glass-mm", "-6"], ["thickness of the glass"]),
        (["--water-mm", "5", "--fish-before-card", "3"], ["tank", "both given"]),
        (["--water-mm", "5", "--card-water-mm", "60", "--camera-distance", "50"], ["50 mm"]),
        (["--camera-distance", "-300"], ["camera distance", "above 0"]),
        (["--fish-before-card", "-3"], ["before the card", "0 or more"]),
        (["--tick-mm", "0"], ["ruler's ticks", "above 0"]),
    ],
)
def test_what_cannot_be_is_one_line(run, told, tmp_path, options, words):
    done = run("measure", told[0], "--study", tmp_path / "study", *options)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    for word in words:
        assert word in done.stderr
    assert not (tmp_path / "study").exists()
