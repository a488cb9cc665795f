"""Draw the sample photos and their tables: ``python -m finmeasure.drawing.samples OUT``."""

from __future__ import annotations

import csv
import shutil
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from finmeasure.drawing.hand import careful_reading, traced_edge
from finmeasure.drawing.noise import smooth_field
from finmeasure.drawing.photo import DrawnPhoto, draw_photo
from finmeasure.drawing.sample_tables import EVENTS, GROUPS, REFERENCES, WATER
from finmeasure.drawing.scenario import Shot, is_male, shots
from finmeasure.geometry import distance

SEED = 7
_README = Path(__file__).with_name("sample_readme.md")
_EXIF_IFD, _DATE_TIME_ORIGINAL = 0x8769, 0x9003
_SEX_POINTS = ("snout_tip", "caudal_base", "anal_origin", "anal_tip")

Cells = Sequence[object]
_KEEPER_TABLES = {
    "groups": GROUPS, "events": EVENTS, "water": WATER, "references": REFERENCES
}  # fmt: skip


def write_samples(folder: Path, seed: int = SEED) -> None:
    """Draw all photos and write all tables.

    Parameters
    ----------
    folder : Path
        Made where it does not exist; files of the same names are replaced.
    seed : int
        The same seed gives the same photos and tables.
    """
    landmarks: list[Cells] = []
    outlines: list[Cells] = []
    truth: list[Cells] = []
    labels: list[Cells] = []
    for number, shot in enumerate(shots(seed)):
        rng = np.random.default_rng([seed, number])
        photo = draw_photo(shot.spec, shot.view, rng)
        _save(folder / shot.photo, _spoilt(photo.pixels, shot, rng), shot)
        landmarks += _landmark_rows(shot, photo, rng)
        outlines += _outline_rows(shot, photo, rng)
        truth += _truth_rows(shot, photo)
        labels += _label_rows(shot)
    _write(
        folder / "landmarks.csv",
        ("photo,fish,landmark,x_px,y_px,u_px,state,placed_by,confidence,u_across_px"),
        landmarks,
    )
    _write(
        folder / "outlines.csv", "photo,fish,part,wkt,placed_by,confidence,spread,edge", outlines
    )
    _write(folder / "truth.csv", "photo,fish,part,quantity,value,unit", truth)
    _write(folder / "labels.csv", "fish,character,value,set_by,photo", labels)
    for name, (header, rows) in _KEEPER_TABLES.items():
        _write(folder / f"{name}.csv", header, rows)
    shutil.copyfile(_README, folder / "README.md")


def _write(path: Path, header: str, rows: Iterable[Cells]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header.split(","))
        writer.writerows(rows)


def _save(path: Path, pixels: NDArray[np.uint8], shot: Shot) -> None:
    """Write a JPEG with the time in EXIF."""
    path.parent.mkdir(parents=True, exist_ok=True)
    exif = Image.Exif()
    exif.get_ifd(_EXIF_IFD)[_DATE_TIME_ORIGINAL] = f"{shot.taken_at:%Y:%m:%d %H:%M:%S}"
    Image.fromarray(pixels).save(path, quality=shot.quality, exif=exif, optimize=True)


def _spoilt(pixels: NDArray[np.uint8], shot: Shot, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Look through a wrinkled bag, where the shot says so."""
    if shot.spoilt != "bag":
        return pixels
    height, width = pixels.shape[:2]
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    x += 6 * smooth_field(rng, (height, width), 5)
    y += 6 * smooth_field(rng, (height, width), 5)
    bent = cv2.remap(pixels, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    folds = np.clip(smooth_field(rng, (height, width), 7, octaves=4) - 1.3, 0, 1)[..., None]
    return np.asarray(np.clip(bent + 110 * folds, 0, 255), np.uint8)


def _landmark_rows(shot: Shot, photo: DrawnPhoto, rng: np.random.Generator) -> Iterator[Cells]:
    if shot.marked == "none":
        return
    reading = careful_reading(photo, rng, fish=shot.fish)
    for mark in reading.landmarks.values():
        if shot.marked == "sex" and mark.name not in _SEX_POINTS:
            continue
        if mark.state == "placed":
            across = mark.u_px if mark.u_across_px is None else mark.u_across_px
            cells = [f"{value:.2f}" for value in (mark.x_px, mark.y_px, mark.u_px, across)]
        else:
            cells = ["", "", "", ""]
        x, y, along, u_across = cells
        yield (shot.photo, shot.fish, mark.name, x, y, along, mark.state, "demo", "", u_across)


def _outline_rows(shot: Shot, photo: DrawnPhoto, rng: np.random.Generator) -> Iterator[Cells]:
    for part in shot.outlined:
        if part in photo.outlines:
            trace = traced_edge(photo.outlines[part], rng)
            text = ", ".join(f"{x:.1f} {y:.1f}" for x, y in trace)
            spread = photo.spread[part]
            yield (shot.photo, shot.fish, part, f"LINESTRING ({text})", "demo", "", spread, "")


def _truth_rows(shot: Shot, photo: DrawnPhoto) -> Iterator[Cells]:
    """Tell lengths in the card's plane and held straight, and what damage took."""
    length = photo.lengths_mm["standard_length"]
    for name, value in photo.lengths_mm.items():
        yield (shot.photo, shot.fish, "", name, f"{value:.4f}", "mm")
        if name != "standard_length":
            yield (shot.photo, shot.fish, "", f"{name}_to_sl", f"{value / length:.5f}", "1")
    relaxed = photo.relaxed_lengths_mm["standard_length"]
    yield (shot.photo, shot.fish, "", "standard_length_held_straight", f"{relaxed:.4f}", "mm")
    x, y = photo.camera.centre_px
    left, right, up, down = photo.true_mm([(x - 0.5, y), (x + 0.5, y), (x, y - 0.5), (x, y + 0.5)])
    px_per_mm = 2.0 / (distance(left, right) + distance(up, down))
    yield (shot.photo, shot.fish, "", "px_per_mm_in_the_middle", f"{px_per_mm:.5f}", "px/mm")
    for loss in photo.damages:
        for what, value in (("depth", loss.depth_pct), ("area", loss.area_pct)):
            name = f"{loss.kind}_{what}"
            yield (shot.photo, shot.fish, loss.part, name, f"{value:.3f}", "%")


#: Fins of the whole fish that the others are held against; tails have a row in references.csv.
_WHOLE = "dorsal; anal; pelvic; pectoral"


def _label_rows(shot: Shot) -> Iterator[Cells]:
    """Give what the invented keeper is sure of: sixteen sexes in the bag, two whole fish."""
    if shot.group == "bag_7" and int(shot.fish[1:]) <= 17 and shot.fish != "b09":
        sex = "male" if is_male(shot) else "female"
        yield (shot.fish, "sex", sex, "demo", shot.photo)
    if shot.group == "treatment" and shot.fish in ("flint", "moss") and "2026-03-26" in shot.photo:
        yield (shot.fish, "whole_reference", _WHOLE, "demo", shot.photo)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("Give the folder to write to: python -m finmeasure.drawing.samples OUT")
    write_samples(Path(sys.argv[1]))
