"""The head of a JPEG file: size, colour components, EXIF block (ITU-T T.81, annex B)."""

from __future__ import annotations

from dataclasses import dataclass

from finmeasure.errors import PhotoError

_FRAME_MARKERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_SCAN, _END, _APPLICATION_1 = 0xDA, 0xD9, 0xE1
_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
_MOST_SEGMENTS = 4096
_EXIF = b"Exif\x00\x00"


@dataclass(frozen=True, slots=True)
class JpegHead:
    """What stands before the picture data.

    Parameters
    ----------
    width_px, height_px : int
        As stored, before the EXIF orientation.
    components : int
        1 grey, 3 colour, 4 printing inks.
    exif : bytes
        The first EXIF block; empty where there is none.
    scan_at : int
        Place of the first scan.
    """

    width_px: int
    height_px: int
    components: int
    exif: bytes
    scan_at: int


def read_jpeg_head(data: bytes) -> JpegHead:
    """Walk the segments up to the first scan.

    Parameters
    ----------
    data : bytes
        The file, or its beginning.

    Returns
    -------
    JpegHead
        Size, components and EXIF.

    Raises
    ------
    PhotoError
        Where the head is cut off or broken; the text goes behind the file's name.
    """
    frame: tuple[int, int, int] | None = None
    exif, place = b"", 2
    for _ in range(_MOST_SEGMENTS):
        marker, start, end = _segment(data, place)
        if marker == _SCAN and frame is not None:
            return JpegHead(*frame, exif, place)
        if marker in _FRAME_MARKERS:
            frame = _frame(data[start:end], frame)
        if marker == _APPLICATION_1 and not exif and data[start : start + 6] == _EXIF:
            exif = data[start:end]
        place = end
    message = "has thousands of segments before its picture. Save it again as JPEG."
    raise PhotoError(message)


def scan_count(data: bytes, head: JpegHead) -> int:
    """Count the scans from the first on; ordinary progressive files have about ten."""
    return data.count(b"\xff\xda", head.scan_at)


def without_application_data(data: bytes, head: JpegHead) -> bytes:
    """Leave out EXIF and other APP1 segments, for decoders that would read all of them."""
    kept, place = [data[:2]], 2
    while place < head.scan_at:
        marker, _, end = _segment(data, place)
        if marker != _APPLICATION_1:
            kept.append(data[place:end])
        place = end
    return b"".join([*kept, data[place:]])


def _segment(data: bytes, place: int) -> tuple[int, int, int]:
    """Marker of the segment at a place, start of its payload, and its end."""
    if data[place : place + 1] != b"\xff":
        _refuse_cut(place >= len(data))
    while data[place : place + 1] == b"\xff":
        place += 1
    if place >= len(data):
        _refuse_cut(cut=True)
    marker = data[place]
    if marker in _ALONE:
        return marker, place + 1, place + 1
    size = int.from_bytes(data[place + 1 : place + 3], "big")
    if marker == _END or size < 2 or place + 1 + size > len(data):
        _refuse_cut(place + 1 + size > len(data))
    return marker, place + 3, place + 1 + size


def _frame(payload: bytes, earlier: tuple[int, int, int] | None) -> tuple[int, int, int]:
    if len(payload) < 6 or earlier is not None:
        _refuse_cut(cut=False)
    height_px = int.from_bytes(payload[1:3], "big")
    return int.from_bytes(payload[3:5], "big"), height_px, payload[5]


def _refuse_cut(cut: bool) -> None:
    how = "is cut off: its picture data are missing" if cut else "is a damaged JPEG"
    message = f"{how}. Copy it from the camera again."
    raise PhotoError(message)
