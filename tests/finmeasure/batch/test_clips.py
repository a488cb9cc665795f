"""Clips and bursts of drawn fish: the frames whose faults are known are not the ones measured."""

import csv
import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from finmeasure.batch.clips import (
    best_of_bursts,
    choose_in_clip,
    frames_of_clips,
    split_clips,
)
from finmeasure.batch.plan import plan_photos
from finmeasure.batch.runner import Limits
from finmeasure.cli import main
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.errors import PhotoError
from finmeasure.photo.files import sha256_of
from finmeasure.proposals.frame_choice import NOTHING_SEEN, FrameSight, best_frames
from finmeasure.study.store import Study

VIEW = View(900, 650, card=printed_card("window", "A6"), px_per_mm=5.5)


def frame(*, yaw_deg=0.0, folded=0.0, blur_px=0.0, seed=5):
    spec = random_spec(np.random.default_rng(5), body_form="plain")
    fins = tuple(
        replace(fin, folded=folded) if fin.part in ("caudal", "dorsal", "anal") else fin
        for fin in spec.fins
    )
    rng = np.random.default_rng(seed)
    pixels = draw_photo(replace(spec, fins=fins, yaw_deg=yaw_deg), VIEW, rng).pixels
    return cv2.GaussianBlur(pixels, (0, 0), blur_px) if blur_px else pixels


@pytest.fixture(scope="module")
def burst():
    """Frames 2 and 4 are good; each of the others has one fault."""
    faults = [{"folded": 0.9}, {"yaw_deg": 35.0}, {}, {"blur_px": 4.0}, {"seed": 6},
              {"folded": 0.7}]  # fmt: skip
    return [frame(**fault) for fault in faults]


@pytest.fixture(scope="module")
def clip(burst, tmp_path_factory):
    path = tmp_path_factory.mktemp("clip") / "fish.mp4"
    height, width = burst[0].shape[:2]
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"mp4v"), 10, (width, height))
    if not writer.isOpened():
        pytest.skip("this build of OpenCV writes no clips")
    for pixels in burst:
        writer.write(pixels[..., ::-1])
    writer.release()
    return path


def test_the_good_frames_of_a_clip_are_measured_and_the_choice_is_recorded(clip, tmp_path):
    study = tmp_path / "study"
    with pytest.raises(SystemExit) as ended:
        main(["measure", str(clip), "--study", str(study), "--jobs", "0"])
    assert ended.value.code == 0
    with (study / "photos.csv").open(newline="", encoding="utf-8") as file:
        photos = {row["photo"]: row["state"] for row in csv.DictReader(file)}
    assert photos == {"fish.mp4#2.png": "measured", "fish.mp4#4.png": "measured"}
    [record] = (study / "frames").glob("*/frames.json")
    told = json.loads(record.read_text("utf-8"))
    assert told == {"clip": "fish.mp4", "sha256": sha256_of(clip), "frames": 6, "chosen": [2, 4]}
    with Study.open(study) as opened:
        assert told in [run["clips"]["fish.mp4"] for run in runs(opened) if "clips" in run]


def runs(study):
    return [run.options for run in study.runs()]


def test_a_clip_that_takes_too_long_is_left_out_and_named(clip, tmp_path):
    found = frames_of_clips([(clip, "fish.mp4")], tmp_path, jobs=1, limits=Limits(seconds=0.05))
    assert found.photos == ()
    assert "fish.mp4: left out. Measuring took more than 0.05 s" in found.notes[0]
    assert not list(tmp_path.rglob("*.part"))


def test_a_file_that_is_no_clip_says_so(tmp_path):
    path = tmp_path / "broken.mov"
    path.write_bytes(b"not a clip" * 100)
    with pytest.raises(PhotoError, match="MP4 and MOV"):
        choose_in_clip(path)


def test_clips_are_found_in_folders_but_not_in_a_study(tmp_path):
    (tmp_path / "bag").mkdir()
    (tmp_path / "study").mkdir()
    for name in ("bag/a.MOV", "bag/._a.MOV", "bag/b.jpg", "study/study.db", "study/c.mp4"):
        (tmp_path / name).write_bytes(b"x")
    others, clips = split_clips([tmp_path, tmp_path / "bag" / "a.MOV"])
    assert others == [tmp_path]
    assert clips == [(tmp_path / "bag" / "a.MOV", "bag/a.MOV")]


def test_of_a_burst_the_best_are_kept(burst, tmp_path):
    for number, pixels in enumerate(burst):
        cv2.imwrite(str(tmp_path / f"IMG_{number}.jpg"), pixels[..., ::-1])
        stamp(tmp_path / f"IMG_{number}.jpg", f"2026:05:02 10:00:0{number // 2}")
    plan = best_of_bursts(plan_photos([tmp_path]), jobs=0)
    assert [photo.name for photo in plan.photos] == ["IMG_2.jpg", "IMG_4.jpg"]
    assert "Burst of 6 photos" in plan.notes[0]


def stamp(path, taken_at):
    from PIL import Image

    with Image.open(path) as picture:
        exif = picture.getexif()
        exif.get_ifd(0x8769)[0x9003] = taken_at  # DateTimeOriginal
        picture.save(path, exif=exif, quality=95)


def test_photos_without_a_time_are_no_burst(tmp_path):
    for number in range(5):
        cv2.imwrite(str(tmp_path / f"{number}.png"), np.full((64, 64, 3), number, np.uint8))
    plan = plan_photos([tmp_path])
    assert best_of_bursts(plan, jobs=0).photos == plan.photos


def test_the_rule_weighs_turn_blur_and_fins():
    # a turn by 20 degrees shortens to cos 20 degrees = 0.94
    good = FrameSight(1.0, 4.0, 0.2)
    turned = replace(good, slenderness=4.0 * np.cos(np.radians(20)))
    blurred, shut = replace(good, blur_px=2.5), replace(good, open_share=0.08)
    assert best_frames([turned, blurred, good, shut, NOTHING_SEEN]) == (2,)
    assert best_frames([good, good, good, good], most=3) == (0, 1, 2)
    assert best_frames([NOTHING_SEEN]) == ()
