"""Write the pictures of one measured photo: overlay, each fish, each fin edge."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import FinmeasureError
from finmeasure.report.fish_drawing import OverlayFish
from finmeasure.report.overlay import (
    CLOSE_UPS,
    draw_close_up,
    draw_fin,
    draw_overlay,
    overlay_name,
)
from finmeasure.scale.calibration import Scale


class PictureError(FinmeasureError):
    """A picture cannot be written."""


def write_pictures(
    folder: Path,
    photo: str,
    pixels: NDArray[np.uint8],
    *,
    scale: Scale | None,
    fish: Sequence[OverlayFish],
    refusal: str,
) -> None:
    """Write a photo's overlay and, if it was not refused, the pictures of its fish.

    Parameters
    ----------
    folder : Path
        Folder of overlays, with a folder for the fish in it.
    photo : str
        Name in the study.
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        The upright photo.
    scale, fish, refusal
        As for :func:`finmeasure.report.overlay.draw_overlay`.

    Raises
    ------
    PictureError
        If a picture cannot be written; no half-written one is left.
    """
    overlay = draw_overlay(pixels, scale=scale, fish=fish, refusal=refusal)
    _write_whole(folder / overlay_name(photo), overlay)
    for one in fish if not refusal else ():
        _write_fish(folder / CLOSE_UPS, photo, pixels, one, scale)


def _write_fish(
    folder: Path, photo: str, pixels: NDArray[np.uint8], fish: OverlayFish, scale: Scale | None
) -> None:
    """Write the picture of one fish and those of its fin edges."""
    name = fish.reading.fish
    if (picture := draw_close_up(pixels, fish, scale)) is not None:
        _write_whole(folder / overlay_name(photo, name), picture)
    for fin, edge in fish.fins.items():
        file = folder / overlay_name(photo, name, fin)
        picture = draw_fin(pixels, edge)
        if picture is None:
            file.unlink(missing_ok=True)  # of an earlier reading
        else:
            _write_whole(file, picture)


def _write_whole(file: Path, content: bytes) -> None:
    """Write a file so that it is never seen half-written."""
    part = file.with_name(f".{file.stem}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, file)
    except OSError as error:
        part.unlink(missing_ok=True)
        message = f"The picture {file.name} cannot be written: {error.strerror}."
        raise PictureError(message) from error
