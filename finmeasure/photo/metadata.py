"""Size, time and camera of a photo file, without decoding its pixels."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from PIL.PngImagePlugin import PngImageFile

from finmeasure.errors import PhotoError
from finmeasure.photo.exif import TagDirectory, camera_record, first_directory
from finmeasure.photo.files import (
    READABLE,
    is_photo_name,
    open_regular,
    refusals_name,
    sha256_of,
)
from finmeasure.photo.jpeg import read_jpeg_head
from finmeasure.photo.record import PhotoMetadata

__all__ = ["Header", "is_photo_name", "read_header", "read_metadata", "sha256_of"]

LARGEST_PIXELS = 200_000_000
SMALLEST_SIDE_PX = 32
_HEAD_BYTES = 1 << 20
_LARGEST_TAGS_BYTES = 32_000_000
_MOST_PAGES = 8
_WIDTH, _HEIGHT, _PAGE_KIND = 256, 257, 254
_SUB_DIRECTORIES = (0x8769, 0x8825, 0xA005)
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_OTHER_KINDS = {
    b"GIF8": "a GIF picture",
    b"BM": "a BMP picture",
    b"%PDF": "a PDF document",
    b"PK\x03\x04": "a ZIP archive",
    b"\x1f\x8b": "a packed archive",
    b"II+\x00": "a BigTIFF file",
    b"MM\x00+": "a BigTIFF file",
    b"<": "a web page or drawing",
}


@dataclass(frozen=True, slots=True)
class Header:
    """Kind of file, stored size before the orientation, and the EXIF block."""

    kind: str
    width_px: int
    height_px: int
    exif: bytes


def read_metadata(path: str | Path) -> PhotoMetadata:
    """Read what a photo file says about itself; pixels are not decoded.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, TIFF or HEIC file; what is inside counts, not the ending.

    Returns
    -------
    PhotoMetadata
        Upright size, local capture time, camera. Place and owner are never read.

    Raises
    ------
    PhotoError
        One line: the file's name, what is wrong, what is allowed, what to do.
    """
    path = Path(path)
    with refusals_name(path), open_regular(path) as file:
        head = file.read(_HEAD_BYTES)
        try:
            return metadata_of(read_header(head))
        except Exception:  # decoders raise anything when the rest of the file is missing
            if len(head) < _HEAD_BYTES:
                raise
        return metadata_of(read_header(head + file.read()))


def metadata_of(header: Header) -> PhotoMetadata:
    """Turn a header into the upright record and check the picture's size.

    Raises
    ------
    PhotoError
        For pictures that are too small or too large; the text goes behind the file's name.
    """
    _refuse_pixels(header.width_px, header.height_px)
    camera = camera_record(header.exif)
    # HEIC turns the picture by its own properties (ISO/IEC 23008-12), not by EXIF.
    orientation = 1 if header.kind == "HEIC" else camera.orientation
    size = (header.width_px, header.height_px)
    width_px, height_px = size if orientation < 5 else size[::-1]
    return PhotoMetadata(
        width_px, height_px, camera.taken_at, camera.camera, camera.focal_35mm, orientation
    )


def read_header(data: bytes) -> Header:
    """Find out what a file is from its bytes, and how large its picture is.

    Raises
    ------
    PhotoError
        For anything but one JPEG, PNG, TIFF or HEIC picture; the text goes behind the name.
    """
    if data[:3] == b"\xff\xd8\xff":
        head = read_jpeg_head(data)
        return Header("JPEG", head.width_px, head.height_px, head.exif)
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return _png_header(data)
    if data[:4] in (b"II*\x00", b"MM\x00*"):
        return _tiff_header(data)
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        return _heic_header(data)
    message = f"holds {_what_else(data)}. {READABLE} Save it as JPEG."
    raise PhotoError(message)


def _png_header(data: bytes) -> Header:
    with PngImageFile(io.BytesIO(data)) as picture:
        if getattr(picture, "is_animated", False):
            message = f"is an animation. {READABLE} Save one picture of it as JPEG."
            raise PhotoError(message)
        exif = picture.info.get("exif", b"")
        exif = exif if isinstance(exif, bytes) else b""
        return Header("PNG", picture.width, picture.height, exif)


def _tiff_header(data: bytes) -> Header:
    directory = first_directory(data)
    width_px = directory.integer(_WIDTH) if directory else None
    height_px = directory.integer(_HEIGHT) if directory else None
    if directory is None or not width_px or not height_px:
        message = "is a TIFF file without a picture. Copy it from the camera again."
        raise PhotoError(message)
    _refuse_tags(directory)
    _refuse_pages(directory)
    return Header("TIFF", width_px, height_px, data)


def _refuse_tags(directory: TagDirectory) -> None:
    """Refuse tags that claim far more than any photo's, here and one level down."""
    below = [directory.directory_at(directory.integer(tag) or 0) for tag in _SUB_DIRECTORIES]
    for each in (directory, *filter(None, below)):
        if each.payload_bytes > _LARGEST_TAGS_BYTES:
            message = "has more tags than any photo. Save it again as JPEG."
            raise PhotoError(message)


def _refuse_pages(directory: TagDirectory) -> None:
    """Refuse a second full-size page; reduced copies (bit 0 of the page kind) are let pass."""
    page = directory.directory_at(directory.next_offset)
    for _ in range(_MOST_PAGES):
        if page is None:
            return
        if not (page.integer(_PAGE_KIND) or 0) & 1:
            break
        page = page.directory_at(page.next_offset)
    message = "has several pages. Allowed: one picture in a file. Save each page as a file."
    raise PhotoError(message)


def _heic_header(data: bytes) -> Header:
    import pillow_heif  # slow to load and rarely needed

    picture = pillow_heif.open_heif(io.BytesIO(data))
    width_px, height_px = picture.size
    return Header("HEIC", width_px, height_px, picture.info.get("exif") or b"")


def _refuse_pixels(width_px: int, height_px: int) -> None:
    if width_px * height_px > LARGEST_PIXELS:
        message = (
            f"has {width_px} × {height_px} pixels. Allowed: up to {LARGEST_PIXELS // 10**6} "
            "million. Make the photo smaller."
        )
        raise PhotoError(message)
    if min(width_px, height_px) < SMALLEST_SIDE_PX:
        message = (
            f"has {width_px} × {height_px} pixels. Allowed: at least {SMALLEST_SIDE_PX} each way. "
            "Take the camera's original."
        )
        raise PhotoError(message)


def _what_else(data: bytes) -> str:
    """Say what the bytes look like, so that the person knows what happened."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "a WebP picture"
    if data[4:8] == b"ftyp":
        return "a video or another kind of picture"
    for start, kind in _OTHER_KINDS.items():
        if data.startswith(start):
            return kind
    return "no photo"
