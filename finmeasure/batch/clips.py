"""Short clips and bursts: the best frames of each are measured, with a record of the choice."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from finmeasure.batch.plan import STUDY_FILE, Plan, PlannedPhoto, plain_text
from finmeasure.batch.runner import Limits, Trouble, in_workers
from finmeasure.errors import FinmeasureError, PhotoError
from finmeasure.photo.files import sha256_of
from finmeasure.photo.metadata import read_metadata
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.proposals.frame_choice import NOTHING_SEEN, FrameSight, best_frames, see_frame
from finmeasure.proposals.sharpness import photo_blur_px, reduced

if TYPE_CHECKING:
    from finmeasure.study.store import Study

CLIP_ENDINGS = (".mp4", ".mov", ".m4v")
FRAMES = "frames"
RECORD = "frames.json"
#: Frames looked at by their sharpness alone, spread over the clip; of these so many are looked at
#: for the fish.
FRAMES_SCANNED, FRAMES_SEEN = 60, 12
MOST_FRAMES = 3
#: Photos taken at most so far apart belong to one burst; cameras tell whole seconds.
BURST_GAP = timedelta(seconds=1)
_FRAME = re.compile(r"#\d+\.png$")


@dataclass(frozen=True, slots=True)
class ChosenFrames:
    """Photos chosen from clips, and what was left out.

    Parameters
    ----------
    photos : tuple of PlannedPhoto
        Named ``<clip>#<frame>.png``.
    notes : tuple of str
        One line for each clip.
    record : dict of str to dict
        For each clip its SHA-256, its frames and those chosen.
    """

    photos: tuple[PlannedPhoto, ...]
    notes: tuple[str, ...]
    record: dict[str, dict[str, object]]


def with_clips(
    study: Study,
    plan: Plan,
    clips: Sequence[tuple[Path, str]],
    *,
    jobs: int | None = None,
    limits: Limits | None = None,
) -> Plan:
    """Add the chosen frames of clips to a plan, and record the choice in the study.

    Parameters
    ----------
    study : Study
        Open for writing; the frames are stored beside it.
    plan : Plan
    clips : sequence of (Path, str)
        From :func:`split_clips`.
    jobs, limits : optional
        Clips at a time, and what one may take.

    Returns
    -------
    Plan
        Frames at their places among the names; one note for each clip.
    """
    if not clips:
        return plan
    found = frames_of_clips(clips, study.folder, jobs=jobs, limits=limits)
    if found.record:
        study.end_run(study.start_run({"command": "frames of clips", "clips": found.record}))
    photos = sorted((*plan.photos, *found.photos), key=lambda photo: photo.name)
    return Plan(tuple(photos), (*plan.notes, *found.notes))


def is_clip_name(path: Path) -> bool:
    """Tell whether a file is a clip by its ending."""
    return path.suffix.lower() in CLIP_ENDINGS and not path.name.startswith("._")


def name_without_frame(photo: str) -> str:
    """Name of the clip that a frame is from; other names as they are.

    Examples
    --------
    >>> name_without_frame("bag 7/2026-05-02_b01.mov#12.png")
    'bag 7/2026-05-02_b01.mov'
    """
    return _FRAME.sub("", photo)


def split_clips(sources: Sequence[Path]) -> tuple[list[Path], list[tuple[Path, str]]]:
    """Part clips from the other sources.

    Parameters
    ----------
    sources : sequence of Path
        Photos, clips and folders.

    Returns
    -------
    others : list of Path
        Photos and folders.
    clips : list of (Path, str)
        Clips, those in the folders too, each with its name in the study.
    """
    others = [source for source in sources if not (is_clip_name(source) and source.is_file())]
    clips = [(source, source.name) for source in sources if source not in others]
    for folder in others:
        if folder.is_dir():
            clips += [(clip, clip.relative_to(folder).as_posix()) for clip in _clips_below(folder)]
    unique = {os.path.abspath(clip): (clip, plain_text(name)) for clip, name in clips}
    return others, list(unique.values())


def _clips_below(folder: Path) -> Iterator[Path]:
    for here, below, files in os.walk(folder):
        if STUDY_FILE in files:  # the study's own pictures
            below[:] = [name for name in below if name not in (FRAMES, "overlays")]
            if Path(here) != folder:
                below[:] = []
                continue
        below.sort()
        yield from (Path(here, name) for name in sorted(files) if is_clip_name(Path(name)))


def frames_of_clips(
    clips: Sequence[tuple[Path, str]],
    study_folder: Path,
    *,
    jobs: int | None = None,
    limits: Limits | None = None,
) -> ChosenFrames:
    """Choose frames of clips and store them in the study's folder, once for each clip.

    Parameters
    ----------
    clips : sequence of (Path, str)
        Files and their names in the study.
    study_folder : Path
    jobs : int, optional
        Clips at a time; one per processor core if None; 0: in this process, without limits.
    limits : Limits, optional
        Time and memory of one clip.

    Returns
    -------
    ChosenFrames
        A clip that cannot be read, or shows no fish from the side, gives a note and no photo.
    """
    sums, problems = _checksums(clips)
    folder = study_folder / FRAMES
    new = {sums[clip]: (clip, name) for clip, name in clips
           if clip in sums and not (folder / sums[clip][:16] / RECORD).is_file()}  # fmt: skip
    places = [clip for clip, _ in new.values()]
    for clip, found in in_workers(choose_in_clip, places, jobs=jobs, limits=limits):
        if isinstance(found, Trouble):
            problems[sums[clip]] = str(found)
        else:
            _store_frames(folder, sums[clip], new[sums[clip]][1], *found)
    photos: list[PlannedPhoto] = []
    notes: list[str] = []
    record: dict[str, dict[str, object]] = {}
    for clip, name in clips:
        problem = problems.get(sums.get(clip, str(clip)))
        if problem is not None:
            notes.append(f"{name}: left out. {problem}")
            continue
        place = folder / sums[clip][:16]
        told = record[name] = json.loads((place / RECORD).read_text("utf-8"))
        photos += [PlannedPhoto(place / f"{n}.png", f"{name}#{n}.png") for n in told["chosen"]]
        notes.append(_note(name, told))
    return ChosenFrames(tuple(photos), tuple(notes), record)


def _checksums(clips: Sequence[tuple[Path, str]]) -> tuple[dict[Path, str], dict[str, str]]:
    """Checksum of each clip, and by its path what is wrong with one that cannot be read."""
    sums, problems = {}, {}
    for clip, _ in clips:
        try:
            sums[clip] = sha256_of(clip)
        except PhotoError as error:
            problems[str(clip)] = str(error)
    return sums, problems


def _note(name: str, told: dict[str, object]) -> str:
    chosen = told["chosen"]
    if not chosen:
        return (
            f"{name}: left out. No frame shows a fish from the side, sharp enough. "
            "Take a clip of one fish square from the side."
        )
    assert isinstance(chosen, list)
    numbers = ", ".join(str(one) for one in chosen)
    return f"{name}: frames {numbers} of {told['frames']} are measured."


def _store_frames(
    folder: Path, sha256: str, name: str, frames: int, chosen: dict[int, np.ndarray]
) -> None:
    """Write the chosen frames of a clip and the record of the choice, whole or not at all."""
    told: dict[str, object] = {
        "clip": name, "sha256": sha256, "frames": frames, "chosen": sorted(chosen),
    }  # fmt: skip
    part = folder / f".{sha256[:16]}.{os.getpid()}.part"
    part.mkdir(parents=True)
    try:
        for number, pixels in chosen.items():
            encoded = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))[1]
            (part / f"{number}.png").write_bytes(encoded.tobytes())
        (part / RECORD).write_text(json.dumps(told, indent=1), "utf-8")
        os.replace(part, folder / sha256[:16])
    finally:
        shutil.rmtree(part, ignore_errors=True)


def choose_in_clip(clip: Path, most: int = MOST_FRAMES) -> tuple[int, dict[int, np.ndarray]]:
    """Choose the frames of a clip that are sharp, side-on and have open fins.

    Parameters
    ----------
    clip : Path
        MP4 or MOV file, as OpenCV reads it.
    most : int

    Returns
    -------
    frames : int
        Number of frames in the clip.
    chosen : dict of int to ndarray of shape (H, W, 3), uint8, RGB
        Upright frames by number, counted from 0.

    Raises
    ------
    PhotoError
        If the file is no clip that can be read.
    """
    total, sharp = _sharpest(clip)
    candidates = {number: pixels for number, pixels in _frames(clip) if number in sharp}
    if not candidates:
        message = "The clip cannot be read. Allowed: MP4 and MOV; save it again on the phone."
        raise PhotoError(message)
    numbers = sorted(candidates)
    sights = [see_frame(_as_photo(candidates[number])) for number in numbers]
    return total, {
        numbers[index]: candidates[numbers[index]] for index in best_frames(sights, most)
    }


def _sharpest(clip: Path) -> tuple[int, frozenset[int]]:
    """Count the frames, and give the sharpest of each stretch of the clip."""
    blurs: list[tuple[int, float]] = []
    step = max(_count(clip) // FRAMES_SCANNED, 1)
    total = 0
    for number, pixels in _frames(clip):
        total = number + 1
        if number % step == 0:
            blurs.append((number, photo_blur_px(reduced(pixels))))
    stretches = np.array_split(np.arange(len(blurs)), min(FRAMES_SEEN, len(blurs)) or 1)
    best = [min((blurs[index] for index in one), key=lambda item: item[1] or np.inf)
            for one in stretches if len(one)]  # fmt: skip
    return total, frozenset(number for number, _ in best)


def _count(clip: Path) -> int:
    capture = cv2.VideoCapture(str(clip))
    try:
        return max(int(capture.get(cv2.CAP_PROP_FRAME_COUNT)), 0)
    finally:
        capture.release()


def _frames(clip: Path) -> Iterator[tuple[int, np.ndarray]]:
    """Decode a clip from its start; OpenCV turns frames upright by the clip's own note."""
    capture = cv2.VideoCapture(str(clip))
    try:
        number = 0
        while True:
            there, pixels = capture.read()
            if not there:
                return
            yield number, cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB)
            number += 1
    finally:
        capture.release()


def _as_photo(pixels: np.ndarray) -> Photo:
    height, width = pixels.shape[:2]
    return Photo(pixels, "", PhotoMetadata(width, height))


def best_of_bursts(
    plan: Plan,
    most: int = MOST_FRAMES,
    *,
    jobs: int | None = None,
    limits: Limits | None = None,
) -> Plan:
    """Keep the best photos of each burst of more than `most`.

    Photos of one folder taken at most a second apart, one after the other, are a burst.

    Parameters
    ----------
    plan : Plan
    most : int
    jobs, limits : optional
        Photos at a time, and what one may take.

    Returns
    -------
    Plan
        Without the photos that are not worth measuring; one note for each burst.
    """
    left_out: set[str] = set()
    notes = []
    bursts = [burst for burst in _bursts(plan) if len(burst) > most]
    every = [photo for burst in bursts for photo in burst]
    seen = dict(in_workers(_sight_of, every, jobs=jobs, limits=limits))
    for burst in bursts:
        sights = [seen[photo] or NOTHING_SEEN for photo in burst]
        kept = {burst[index].name for index in best_frames(sights, most)}
        if not kept:  # each is refused with its own reason
            continue
        left_out |= {photo.name for photo in burst} - kept
        notes.append(f"Burst of {len(burst)} photos: {', '.join(sorted(kept))} are measured.")
    photos = tuple(photo for photo in plan.photos if photo.name not in left_out)
    return Plan(photos, (*plan.notes, *notes))


def _sight_of(photo: PlannedPhoto) -> FrameSight:
    return see_frame(read_photo(photo.path))


def _bursts(plan: Plan) -> list[list[PlannedPhoto]]:
    """Group photos of one folder by the camera's time."""
    timed = []
    for photo in plan.photos:
        try:
            taken = read_metadata(photo.path).taken_at
        except FinmeasureError:
            continue
        if taken is not None:
            timed.append((str(photo.path.parent), taken, photo))
    timed.sort(key=lambda item: (item[0], item[1], item[2].name))
    bursts: list[list[PlannedPhoto]] = []
    for index, (folder, taken, photo) in enumerate(timed):
        before = timed[index - 1] if index else None
        if before is None or before[0] != folder or taken - before[1] > BURST_GAP:
            bursts.append([])
        bursts[-1].append(photo)
    return bursts
