"""Results and readings made from a seed, and the writers that the kill tests run and kill."""

from __future__ import annotations

import hashlib
import os
from dataclasses import astuple
from datetime import date, datetime
from pathlib import Path

import numpy as np

from finmeasure.photo.record import PhotoMetadata
from finmeasure.quantity import Measure
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.scale.calibration import Scale
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study

LANDMARKS = ("snout_tip", "caudal_base", "dorsal_origin", "dorsal_tip", "pelvic_origin")
MEASURES = ("standard_length", "dorsal_height_to_sl", "caudal_notch_area")


def scale_of(seed: int) -> Scale:
    mm_per_px = 1 / (20.0 + seed % 7)
    return Scale("bar", np.diag([mm_per_px, mm_per_px, 1.0]), 0.001, False, (2000.0, 1500.0))


def reading_of(seed: int, fish: str = "1", placed_by: str = "hand", points: int = 5) -> Reading:
    rng = np.random.default_rng(seed)
    landmarks = {
        name: Landmark(name, *rng.uniform(0, 4000, 2).tolist(), u_px=2.5, placed_by=placed_by)
        for name in LANDMARKS
    }
    landmarks["adipose_tip"] = Landmark("adipose_tip", state="absent", placed_by=placed_by)
    outlines = {"caudal": Outline("caudal", rng.uniform(0, 4000, (points, 2)), edge="clean")}
    return Reading(fish, landmarks, outlines, body_form="adipose", placed_by=placed_by)


def plain(reading: Reading) -> tuple[object, ...]:
    """Give a reading in a form that can be compared: NaN equals NaN, arrays are lists."""
    landmarks = [
        tuple("nan" if part != part else part for part in astuple(mark))
        for mark in reading.landmarks.values()
    ]
    outlines = [
        (o.part, o.points_px.tolist(), o.closed, o.placed_by, o.confidence, o.spread, o.edge)
        for o in reading.outlines.values()
    ]
    return reading.fish, landmarks, outlines, reading.body_form, reading.placed_by


def measures_of(seed: int) -> tuple[Measure, ...]:
    rng = np.random.default_rng(seed + 1)
    values = rng.uniform(0, 40, len(MEASURES)).tolist()
    measured = [
        Measure(name, "mm", "measured", value, 0.1, ("no_scale", "u_default"))
        for name, value in zip(MEASURES, values, strict=True)
    ]
    refused = Measure("caudal_area", "mm2", "refused", flags=("folded",), reason="fin, folded")
    return (*measured, refused)


def fish_of(seed: int, fish: str = "1", **more: object) -> FishResult:
    return FishResult(
        reading_of(seed, fish),
        measures_of(seed),
        side="left",
        visit=date(2026, 5, 3),
        group="tank 1",
        **more,
    )


def result_of(number: int, *, digest: str = "given", **changes: object) -> PhotoResult:
    values: dict[str, object] = {
        "photo": f"tank 1/{number:05}.jpg",
        "sha256": hashlib.sha256(str(number).encode()).hexdigest(),
        "state": "measured",
        "given_digest": digest,
        "metadata": PhotoMetadata(4000, 3000, datetime(2026, 5, 3, 10, 11, 12), "Invented A1"),
        "seconds": 0.25,
        "scale": scale_of(number),
        "fish": (fish_of(number),),
    }
    return PhotoResult(**(values | changes))


def tell(journal: Path, line: str) -> None:
    """Note that something was confirmed; a plain append survives the kill of this process."""
    with journal.open("a", encoding="utf-8") as opened:
        opened.write(line + "\n")
        opened.flush()


def write_photos(folder: Path, journal: Path, first: int, last: int) -> None:
    """Record photos, telling each one that the study has confirmed."""
    with Study.open(folder, create=True) as study:
        tell(journal, "open")
        for number in range(first, last):
            result = result_of(number)
            if not study.photo_is_done(result.photo, result.sha256, result.given_digest):
                study.record_photo_result(result)
            tell(journal, f"photo {result.photo}")


def mark_in_the_window(folder: Path, journal: Path, first: int, last: int) -> None:
    """Do what the window does: autosave after every change, now and then confirm."""
    with Study.open(folder) as study:
        tell(journal, "open")
        for number in range(first, last):
            photo = result_of(number % 10).photo
            study.save_draft(photo, "1", "Keeper", {"change": number})
            tell(journal, f"draft {photo} {number}")
            if number % 3 == 0:
                reading_id = study.confirm_reading(photo, reading_of(number, placed_by="Keeper"))
                tell(journal, f"reading {reading_id.hex} {number}")


def export_again_and_again(folder: Path, journal: Path, first: int, last: int) -> None:
    """Export the same study many times."""
    with Study.open(folder) as study:
        tell(journal, "open")
        for _ in range(first, last):
            study.export("csv")
            tell(journal, "export")


def write_until_refused(folder: Path, journal: Path, limit_bytes: int) -> None:
    """Record photos while no file may grow over a limit; tell what was confirmed and the end."""
    import resource

    from finmeasure.errors import StudyError

    with Study.open(folder, create=True) as study:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, resource.RLIM_INFINITY))
        told = []
        try:
            for number in range(10_000):
                study.record_photo_result(result_of(number))
                told.append(f"photo {result_of(number).photo}")
        except StudyError as error:
            told.append(f"refused {error}")
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
        for line in told:
            tell(journal, line)
    os._exit(0)  # as a process ends that has nothing more to tidy


def fill_the_disk(folder: Path, journal: Path) -> None:
    """Record photos until the file system is full; then make room and go on."""
    from finmeasure.errors import StudyError

    ballast = folder.with_name("ballast")
    ballast.write_bytes(bytes(200_000))
    with Study.open(folder, create=True) as study:
        try:
            for number in range(10_000):
                study.record_photo_result(result_of(number))
                tell(journal, f"photo {result_of(number).photo}")
        except StudyError as error:
            tell(journal, f"refused {error}")
        ballast.unlink()
        study.record_photo_result(result_of(9_999))
        tell(journal, f"there {len(study.recorded_photos())} {study.check(photos=False)}")


def lines_of(journal: Path, kind: str) -> list[str]:
    """What was told of one kind; a last line cut by the kill counts as not told."""
    if not journal.exists():
        return []
    whole = journal.read_text(encoding="utf-8").rpartition("\n")[0].splitlines()
    return [line.partition(" ")[2] for line in whole if line.split(" ")[0] == kind]
