"""Square paper that is not ours, on drawn photos with known millimetres.

Bars: methods.md B, square grid: rms 0.06 % (median), 0.35 % (worst); no error above 2 %.
"""

import dataclasses
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
import skimage.data

from finmeasure.card_design import Rectangle
from finmeasure.scale.find import find_scale
from finmeasure.scale.paper import find_paper
from finmeasure.scale.request import ScaleRequest

from .drawn import Camera, Conditions, draw
from .paper_sheets import SIZE_MM, square_paper
from .series import as_photo, length_errors, random_camera, random_conditions, random_lengths_mm
from .test_negative import rgb, texture

SHEET = SimpleNamespace(size_mm=SIZE_MM, field=Rectangle(20, 20, 250, 170), module_mm=1.0)
PLAIN = Conditions(blur_px=0.9, noise=3.0, jpeg=90)
KINDS = ("5", "10", "5+10", "1")


def found(pixels, square_mm):
    return find_scale(as_photo(pixels), ScaleRequest(card="squares", square_mm=square_mm))


def test_drawn_series_of_all_papers_meets_the_bars():
    rng = np.random.default_rng(77)
    rms, inside = [], []
    for number in range(6):
        sheet, spacing = square_paper(KINDS[number % 4])
        fill = (1.3, 1.7) if spacing == 1 else (0.8, 1.6)  # 1 mm lines need a nearer photo
        camera = random_camera(rng, SHEET, fill=fill)
        conditions = random_conditions(rng, camera, SHEET, blur_px=(0.7, 1.2))
        scale = found(draw(sheet, 16.0, camera, conditions), spacing)
        assert scale, (number, scale)
        errors = length_errors(scale, camera, random_lengths_mm(rng, SHEET, camera=camera))
        rms.append(np.sqrt(np.mean(errors**2)))
        inside.append(np.mean(np.abs(errors) < 1.96 * scale.u_rel))
    assert np.median(rms) <= 0.0006
    assert max(rms) <= 0.0035
    assert np.mean(inside) >= 0.93


def test_light_lines_on_dark_ground_and_coloured_lines():
    sheet, spacing = square_paper("5+10")
    camera = Camera(distance_mm=250.0, aim_mm=(135.0, 95.0), roll_deg=20.0, tilt_deg=8.0)
    dark = draw(255 - sheet, 16.0, camera, PLAIN)
    scale = found(dark, spacing)
    assert scale, scale
    ends = random_lengths_mm(np.random.default_rng(5), SHEET, camera=camera)
    assert np.abs(length_errors(scale, camera, ends)).max() < 0.003
    gray = draw(sheet, 16.0, camera, PLAIN)
    gray = gray if gray.ndim == 2 else cv2.cvtColor(gray, cv2.COLOR_BGR2GRAY)
    orange = np.dstack([np.full_like(gray, 235), (gray // 2 + 110), gray])  # lines show in blue
    scale = found(orange, spacing)
    assert scale, scale
    assert np.abs(length_errors(scale, camera, ends)).max() < 0.003


def test_the_note_says_what_was_counted_so_that_a_person_can_confirm():
    sheet, spacing = square_paper("10")
    camera = Camera(distance_mm=320.0, aim_mm=(135.0, 95.0))
    scale = found(draw(sheet, 16.0, camera, PLAIN), spacing)
    note = next(line.note for line in scale.budget if line.source == "paper")
    assert "squares counted as 10 mm each" in note
    assert scale.method == "square_paper"
    assert "print_unchecked" in scale.flags
    assert scale.px_per_mm == pytest.approx(1550 / 320, rel=2e-3)


@pytest.mark.parametrize("distance_mm", [200.0, 255.0, 420.0])
def test_bold_lines_are_never_taken_for_the_fine_ones_between_them(distance_mm):
    # 1 mm lines are 8, 6 and 4 px apart: followed one by one, seen between bold ones, or lost.
    sheet, _ = square_paper("1")
    camera = Camera(distance_mm=distance_mm, aim_mm=(135.0, 95.0), roll_deg=31.0)
    scale = found(draw(sheet, 16.0, camera, dataclasses.replace(PLAIN, blur_px=0.8)), 1.0)
    if distance_mm < 300:
        assert scale, scale
    if scale:
        assert scale.px_per_mm == pytest.approx(1550 / distance_mm, rel=3e-3)


def test_one_millimetre_said_of_five_and_ten_millimetre_paper_is_refused():
    sheet, _ = square_paper("5+10")
    camera = Camera(distance_mm=250.0, aim_mm=(135.0, 95.0))
    refused = found(draw(sheet, 16.0, camera, PLAIN), 1.0)
    assert not refused
    assert "bold" in refused.reason
    assert "1 mm" in refused.reason


def test_wavy_paper_is_refused():
    sheet, _ = square_paper("5")
    y, x = np.mgrid[0 : sheet.shape[0], 0 : sheet.shape[1]].astype(np.float32)
    wave = 10.0 * np.sin(2 * np.pi * x / 900).astype(np.float32)
    bent = cv2.remap(sheet, x, y + wave, cv2.INTER_LINEAR, borderValue=255)
    refused = found(draw(bent, 16.0, Camera(distance_mm=280.0, aim_mm=(135.0, 95.0)), PLAIN), 5.0)
    assert not refused
    assert refused.reason


@pytest.mark.parametrize(
    "name", ["astronaut", "camera", "coins", "page", "text", "brick", "grass", "gravel"]
)
def test_sample_images_have_no_square_paper(name):
    try:
        picture = getattr(skimage.data, name)()
    except (OSError, ImportError, ModuleNotFoundError) as reason:
        pytest.skip(f"this scikit-image does not carry {name}: {reason}")
    assert not found(rgb(picture), 5.0)


@pytest.mark.parametrize("number", range(24))
def test_textures_have_no_square_paper(number):
    assert not found(texture(number), 5.0)


def test_real_photos_without_square_paper_give_no_scale(shared):
    from finmeasure.photo.reading import read_photo

    for path in sorted((shared / "photos").glob("*.jpg"))[::3]:
        refused = find_scale(read_photo(path), ScaleRequest(square_mm=5.0))
        assert not refused, path.name


@pytest.mark.parametrize("roll_deg", [0.0, 37.0, 205.0])
def test_numbered_lines_lie_on_the_drawn_lines(roll_deg):
    """Truth: the drawing's own mapping; every line stands at a multiple of 5 mm from the corner."""
    sheet, spacing = square_paper("5")
    camera = Camera(distance_mm=320.0, aim_mm=(135.0, 95.0), roll_deg=roll_deg, tilt_deg=8.0)
    paper = find_paper(as_photo(draw(sheet, 16.0, camera, PLAIN)).pixels, spacing)
    assert paper, paper
    lines = paper.lines_px(every=10)
    for start, number in ((i, n) for i, (n, _) in enumerate(lines) if n == 10):
        gaps = []
        for line in (lines[start - 1][1], lines[start][1]):
            places = camera.to_mm(line) / spacing
            across = int(np.ptp(places, axis=0).argmin())
            assert np.abs(places[:, across] - np.round(places[:, across])).max() < 0.05
            gaps.append(np.round(places[0, across]))
        assert abs(gaps[1] - gaps[0]) == number
