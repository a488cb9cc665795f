"""Pixels of a photo file: always 8-bit RGB, turned upright by us and by nobody else."""

from __future__ import annotations

import io
import os
import re
import struct
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TiffImagePlugin import TiffImageFile

from finmeasure.errors import PhotoError
from finmeasure.photo.exif import ORIENTATION, first_directory
from finmeasure.photo.jpeg import (
    read_jpeg_head,
    scan_count,
    without_application_data,
)
from finmeasure.photo.metadata import Header

Pixels = NDArray[np.uint8]
# Some cameras leave a few stray bytes before the end mark; more of them mean lost data.
_PADDING = re.compile(r"\b([0-9]|1[0-6]) extraneous bytes before marker 0xd9")
_MOST_SCANS = 200
_WITH_ALPHA = ("RGBA", "LA", "PA", "RGBa", "La")
_ONE_AT_A_TIME = threading.Lock()
_PLAIN_MODES = ("1", "L", "P", "RGB", "RGBX", "CMYK", "YCbCr")


def stored_pixels(data: bytes, header: Header) -> Pixels:
    """Decode a file's picture as it is stored, before the orientation.

    16-bit values keep their upper 8 bits; transparent places are white; palettes, grey values
    and printing inks become RGB by the plain formulas, without colour profiles.

    Parameters
    ----------
    data : bytes
        The whole file.
    header : Header
        What :func:`finmeasure.photo.metadata.read_header` found in it.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8, RGB
        Not turned.

    Raises
    ------
    PhotoError
        For cut-off files and for value types that are no photo; the text goes behind the name.
    """
    decode = {"JPEG": _jpeg, "PNG": _png, "TIFF": _tiff, "HEIC": _heic}[header.kind]
    pixels = decode(data)
    if pixels.shape[:2] != (header.height_px, header.width_px):
        message = "holds a picture of another size than it says. Save it again as JPEG."
        raise PhotoError(message)
    return pixels


def upright(pixels: Pixels, orientation: int) -> Pixels:
    """Turn stored pixels upright.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        As stored.
    orientation : int
        EXIF orientation 1–8 (CIPA DC-008): where row 0 and column 0 of the stored picture lie.

    Returns
    -------
    ndarray of shape (H, W, 3) or (W, H, 3), uint8
        Upright, C-contiguous.
    """
    turned: Any = {
        1: lambda p: p,
        2: lambda p: cv2.flip(p, 1),
        3: lambda p: cv2.rotate(p, cv2.ROTATE_180),
        4: lambda p: cv2.flip(p, 0),
        5: lambda p: cv2.transpose(p),
        6: lambda p: cv2.rotate(p, cv2.ROTATE_90_CLOCKWISE),
        7: lambda p: cv2.flip(cv2.rotate(p, cv2.ROTATE_90_CLOCKWISE), 0),
        8: lambda p: cv2.rotate(p, cv2.ROTATE_90_COUNTERCLOCKWISE),
    }[orientation](pixels)
    return np.ascontiguousarray(turned)


def _jpeg(data: bytes) -> Pixels:
    head = read_jpeg_head(data)
    if scan_count(data, head) > _MOST_SCANS:  # each one costs as much as a whole picture
        message = "is a JPEG built to take hours. Open it and save it again as JPEG."
        raise PhotoError(message)
    if head.components not in (1, 3):
        return _rgb(JpegImageFile(io.BytesIO(without_application_data(data, head))))
    try:
        return _jpeg_pixels(data, strict=True)
    except ValueError as error:
        if _PADDING.search(str(error)):
            return _jpeg_pixels(data, strict=False)
        cut = str(error).startswith("Premature end of JPEG")
        what = "is cut off" if cut else "is damaged inside or no ordinary JPEG"
        message = f"{what} ({error}). Copy it from the camera again."
        raise PhotoError(message) from error


def _jpeg_pixels(data: bytes, *, strict: bool) -> Pixels:
    """Decode with the library that tells of lost data; OpenCV fills the gap with grey."""
    pixels = simplejpeg.decode_jpeg(data, colorspace="RGB", strict=strict)
    return np.asarray(pixels, dtype=np.uint8)


def _png(data: bytes) -> Pixels:
    return _rgb(PngImageFile(io.BytesIO(data)))


def _tiff(data: bytes) -> Pixels:
    with _without_chatter():
        return _rgb(TiffImageFile(io.BytesIO(_not_to_be_turned(data))))


@contextmanager
def _without_chatter() -> Iterator[None]:
    """Keep what a C library writes to the process's error output from the keeper's screen.

    libtiff writes there of every damaged strip; the refusal already says it in plain words.
    """
    with _ONE_AT_A_TIME:
        try:
            screen = os.dup(2)
        except OSError:  # a window program may have no error output at all
            yield
            return
        try:
            with open(os.devnull, "wb") as nowhere:
                os.dup2(nowhere.fileno(), 2)
            yield
        finally:
            os.dup2(screen, 2)
            os.close(screen)


def _not_to_be_turned(data: bytes) -> bytes:
    """Blank the orientation of a TIFF file: some versions of Pillow turn TIFF and nothing else."""
    directory = first_directory(data)
    if directory is None or ORIENTATION not in directory.entries:
        return data
    place = directory.entries[ORIENTATION][2]
    return data[:place] + struct.pack(directory.order + "H", 1) + data[place + 2 :]


def _heic(data: bytes) -> Pixels:
    import pillow_heif  # slow to load and rarely needed

    return _rgb(pillow_heif.open_heif(io.BytesIO(data)).to_pillow())


def _rgb(picture: Image.Image) -> Pixels:
    with picture:
        if picture.mode.startswith("I;16"):
            return _upper_byte(picture)
        if picture.mode in _WITH_ALPHA or "transparency" in picture.info:
            return _on_white(picture.convert("RGBA"))
        if picture.mode not in _PLAIN_MODES:
            message = (
                f"has values of the type {picture.mode}. Allowed: 8 or 16 bits per colour. "
                "Save it as JPEG."
            )
            raise PhotoError(message)
        return np.array(picture.convert("RGB"), dtype=np.uint8)


def _upper_byte(picture: Image.Image) -> Pixels:
    grey = (np.asarray(picture, dtype=np.uint16) >> 8).astype(np.uint8)
    return np.repeat(grey[:, :, np.newaxis], 3, axis=2)


def _on_white(picture: Image.Image) -> Pixels:
    white = Image.new("RGB", picture.size, (255, 255, 255))
    white.paste(picture, mask=picture.getchannel("A"))
    return np.array(white, dtype=np.uint8)
