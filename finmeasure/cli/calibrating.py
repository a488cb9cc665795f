"""`card --calibrate`: the lens of each camera, from a folder of card photos, kept in a study."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from finmeasure.cli.printing import complain, counted, say
from finmeasure.errors import FinmeasureError, PhotoError

if TYPE_CHECKING:
    from finmeasure.batch.plan import PlannedPhoto
    from finmeasure.photo.record import Photo


def calibrate_cameras(folder: Path, study_folder: Path) -> None:
    """Calibrate every camera of the photos and keep it.

    Raises
    ------
    FinmeasureError
        If no camera could be calibrated.
    """
    from finmeasure.batch.plan import plan_photos
    from finmeasure.scale.lens_calibration import calibrate
    from finmeasure.study.records import CameraRow
    from finmeasure.study.store import Study

    found = calibrate(_photos(plan_photos([folder]).photos))
    for name, problem in found.problems:
        complain(f"{name}: left out. {problem.reason} {problem.remedy}")
    if not found.lenses:
        message = (
            f"{folder}: no camera could be calibrated. Give a folder with at least 3 photos of our "
            "card by one camera at one zoom, the card filling the photo, as the camera wrote them."
        )
        raise FinmeasureError(message)
    with Study.open(study_folder, create=True) as study:
        for lens in found.lenses:
            study.add_camera(CameraRow(lens.camera, lens.focal_35mm, lens.to_json()))
            at = "" if lens.focal_35mm is None else f" at {lens.focal_35mm:g} mm (35 mm film)"
            say(
                f"Kept in {study_folder}: {lens.camera}{at}, {lens.long_px} × {lens.short_px} px: "
                f"radial term {lens.radial:+.4f} ± {1.96 * lens.u_radial:.4f} (95 %) "
                f"from {counted(lens.photos, 'photo')}."
            )


def _photos(planned: Sequence[PlannedPhoto]) -> Iterator[tuple[str, Photo]]:
    """Read the photos one by one; one that cannot be read is said and left out."""
    from finmeasure.photo.reading import read_photo

    for photo in planned:
        try:
            yield photo.name, read_photo(photo.path)
        except PhotoError as error:
            complain(str(error))
