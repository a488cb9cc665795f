"""Lens calibration from card photos, drawn with Brown's radial term, through the command."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image

from finmeasure.card_design import card_design
from finmeasure.errors import NotFound
from finmeasure.photo.record import PhotoMetadata
from finmeasure.scale.find import find_scale
from finmeasure.scale.lens import SeenRadial, lens_from
from finmeasure.scale.request import ScaleRequest
from finmeasure.study.store import Study

from .conftest import marks, rows
from .drawn import Camera
from .series import as_photo, draw_card, length_errors, random_conditions, random_lengths_mm

CAMERA, FOCAL = "Invented A1", 26.0
META = PhotoMetadata(2000, 1500, datetime(2026, 5, 1, tzinfo=UTC), CAMERA, FOCAL)
BRIGHT = -0.1  # Brown's k1, of the focal length: a wide phone lens


def card_photo(rng, paper, per_mm, *, hidden=False, roll_deg=4.0, shift_px=(0, 0)):
    """A card photographed through the bending lens; hidden: a fish over half of it."""
    design = card_design("window", paper)
    camera = Camera(
        radial=BRIGHT, distance_mm=1550 / per_mm, tilt_deg=rng.uniform(2, 15),
        tilt_direction_deg=rng.uniform(0, 360), roll_deg=rng.uniform(-roll_deg, roll_deg),
        aim_mm=tuple(np.array(design.size_mm) / 2), shift_px=tuple(shift_px),
    )  # fmt: skip
    conditions = replace(random_conditions(rng, camera, design), fish_mm=None)
    if hidden:
        conditions = replace(conditions, fish_mm=(60, 20, 50, 20, 20))
    return draw_card("window", paper, camera, conditions), camera


def true_radial():
    """k1 of the inverse mapping that bends straight: fitted to the drawn lens over the photo."""
    ideal = np.linspace(0.01, 0.8, 200)
    bent = ideal * (1 + BRIGHT * ideal**2) * 1550 / 1250  # in half diagonals
    straight = ideal * 1550 / 1250
    return float(np.sum((straight / bent - 1) * bent**2) / np.sum(bent**4))


def written(pixels, file, camera=CAMERA):
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = camera.split()
    exif.get_ifd(0x8769)[0xA405] = int(FOCAL)
    Image.fromarray(pixels).save(file, quality=92, exif=exif)


def test_a_folder_of_card_photos_calibrates_its_camera(run, tmp_path):
    rng, folder, study = np.random.default_rng(1), tmp_path / "cards", tmp_path / "study"
    folder.mkdir()
    for number in range(4):
        written(card_photo(rng, "A5", rng.uniform(8, 9))[0], folder / f"{number}.jpg")
    written(card_photo(rng, "A5", 5.5)[0], folder / "small.jpg")
    done = run("card", "--calibrate", folder, "--study", study)
    assert done.returncode == 0, done.stderr
    assert "small.jpg: left out. The card reaches" in done.stderr
    with Study.open(study) as opened:
        (lens,) = opened.lenses()
    assert (lens.camera, lens.focal_35mm, lens.photos) == (CAMERA, FOCAL, 4)
    assert lens.radial == pytest.approx(true_radial(), abs=2 * lens.u_radial)
    # small, half hidden cards: the table of errors is in tests/benchmarks
    pairs = with_and_without(rng, lens, 5)
    unknown = [
        (plain, known) for plain, known, _ in pairs if "too little of the card" in str(plain)
    ]
    assert unknown
    for plain, known in unknown:
        assert known.u_rel < 0.9 * plain.u_rel  # most of the rest is the fit of a hidden card
    assert all("calibrated from 4 photos" in str(known.budget) for _, known, _ in pairs)
    inside = [np.abs(off) < 1.96 * known.u_rel for _, known, off in pairs]
    assert np.mean(inside) > 0.7


def with_and_without(rng, lens, count):
    """Scales of half hidden cards without and with a calibration, and the errors of the latter."""
    pairs = []
    for _ in range(count):
        pixels, camera = card_photo(rng, "ID1", 6.0, hidden=True, roll_deg=180,
                                    shift_px=rng.uniform(-1, 1, 2) * [550, 350])  # fmt: skip
        ends = random_lengths_mm(rng, card_design("window", "ID1"), camera=camera)
        photo = as_photo(pixels, camera=CAMERA, focal_35mm=FOCAL)
        plain, known = (find_scale(photo, ScaleRequest(lenses=one)) for one in ((), (lens,)))
        if plain and known:
            pairs.append((plain, known, length_errors(known, camera, ends)))
    return pairs


def test_measure_uses_what_the_study_keeps(run, tmp_path):
    rng, study, folder = np.random.default_rng(2), tmp_path / "study", tmp_path / "photos"
    folder.mkdir()
    pixels, camera = card_photo(rng, "ID1", 6.0, hidden=True)
    written(pixels, folder / "a.jpg")
    table = marks(folder, {"a.jpg": camera.to_pixel([[20, 27], [60, 27]])})
    call = ("measure", folder, "--study", study, "--landmarks", table, "--jobs", "0")
    run(*call)
    before = float(rows(study, "photos")[0]["px_per_mm_u"])
    lens = lens_from([SeenRadial(true_radial(), 0.001)] * 3, META)
    with Study.open(study) as opened:
        from finmeasure.study.records import CameraRow

        opened.add_camera(CameraRow(lens.camera, lens.focal_35mm, lens.to_json()))
    assert "0 of them as before" in run(*call).stdout  # more is known, so it is measured anew
    assert float(rows(study, "photos")[0]["px_per_mm_u"]) < before


def test_only_the_same_camera_lens_and_size_is_meant():
    lens = lens_from([SeenRadial(0.07, 0.001)] * 3, META)
    assert lens.fits(META)
    assert lens.fits(replace(META, width_px=1500, height_px=2000))  # held upright
    for other in (
        replace(META, camera="Invented A2"), replace(META, focal_35mm=52.0),
        replace(META, focal_35mm=None), replace(META, width_px=1999),
    ):  # fmt: skip
        assert not lens.fits(other)


def test_photos_that_differ_too_much_are_no_calibration():
    few = lens_from([SeenRadial(0.07, 0.001)] * 2, META)
    assert isinstance(few, NotFound)
    assert "at least 3" in few.reason
    mixed = lens_from([SeenRadial(k, 0.001) for k in (0.07, -0.03, 0.02, 0.07)], META)
    assert isinstance(mixed, NotFound)
    assert "not show one lens" in mixed.reason


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--calibrate", "{t}"], ["--study"]),
        (["--calibrate", "{t}", "--study", "{t}/s", "--out", "{t}/c.pdf"], ["--out"]),
        (["--calibrate", "{t}", "--study", "{t}/s"], ["no camera", "3 photos"]),
        (["--calibrate", "{t}/none", "--study", "{t}/s"], ["no such file or folder"]),
    ],
)
def test_a_wrong_call_is_one_line(run, tmp_path, arguments, words):
    done = run("card", *[item.format(t=tmp_path) for item in arguments])
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert all(word in done.stderr for word in words)
