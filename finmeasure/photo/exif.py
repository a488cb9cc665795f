"""The few EXIF tags that are needed, read without touching any other.

Only six tags are looked at: place and owner are never read, so they cannot be stored. General
EXIF readers build every tag; a hostile file can make them copy itself thousands of times.
Structure: TIFF Revision 6.0, section 2; tags: CIPA DC-008 (EXIF).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from datetime import datetime

_HEADER = b"Exif\x00\x00"
ORIENTATION = 0x0112
_MAKER, _MODEL, _CHANGED_AT, _EXIF_DIRECTORY = 0x010F, 0x0110, 0x0132, 0x8769
_TAKEN_AT, _FOCAL_35MM = 0x9003, 0xA405
_TYPE_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_INTEGERS = {1: "B", 3: "H", 4: "I"}
_LONGEST_TEXT = 60


@dataclass(frozen=True, slots=True)
class CameraRecord:
    """What the camera wrote; empty where it wrote nothing usable."""

    orientation: int = 1
    taken_at: datetime | None = None
    camera: str = ""
    focal_35mm: float | None = None


@dataclass(frozen=True, slots=True)
class TagDirectory:
    """One directory of tags.

    Parameters
    ----------
    data : bytes
        The TIFF structure from its byte-order mark on.
    order : str
        ``"<"`` or ``">"``.
    entries : dict of int to (int, int, int)
        Tag → type, count, place of the value in `data`.
    payload_bytes : int
        What all values together claim to hold.
    next_offset : int
        Place of the next directory; 0 where there is none.
    """

    data: bytes
    order: str
    entries: dict[int, tuple[int, int, int]]
    payload_bytes: int
    next_offset: int

    def integer(self, tag: int) -> int | None:
        """First whole number of a tag, or None."""
        kind, count, place = self.entries.get(tag, (0, 0, 0))
        if kind not in _INTEGERS or count < 1:
            return None
        return int(struct.unpack_from(self.order + _INTEGERS[kind], self.data, place)[0])

    def text(self, tag: int) -> str:
        """Printable part of a text tag; empty where there is none."""
        kind, count, place = self.entries.get(tag, (0, 0, 0))
        if kind != 2:
            return ""
        raw = self.data[place : place + min(count, _LONGEST_TEXT)].split(b"\x00")[0]
        return "".join(c for c in raw.decode("ascii", "ignore") if c.isprintable()).strip()

    def directory_at(self, offset: int) -> TagDirectory | None:
        """Another directory of the same file, or None where none can be read."""
        return _directory(self.data, self.order, offset)


def first_directory(data: bytes) -> TagDirectory | None:
    """Read the first directory of a TIFF structure.

    Parameters
    ----------
    data : bytes
        From the byte-order mark on.

    Returns
    -------
    TagDirectory or None
        None where the bytes are no (classic) TIFF structure.
    """
    order = {b"II*\x00": "<", b"MM\x00*": ">"}.get(data[:4])
    if order is None or len(data) < 8:
        return None
    return _directory(data, order, struct.unpack_from(order + "I", data, 4)[0])


def camera_record(exif: bytes) -> CameraRecord:
    """Read the tags that are needed from an EXIF block; damage reads as "not written".

    Parameters
    ----------
    exif : bytes
        With or without the leading ``Exif`` mark.

    Returns
    -------
    CameraRecord
        Orientation 1 where none of 1–8 is given.
    """
    top = first_directory(exif.removeprefix(_HEADER))
    if top is None:
        return CameraRecord()
    detail = top.directory_at(top.integer(_EXIF_DIRECTORY) or 0)
    taken = (detail.text(_TAKEN_AT) if detail else "") or top.text(_CHANGED_AT)
    focal = (detail.integer(_FOCAL_35MM) if detail else None) or None
    orientation = top.integer(ORIENTATION) or 1
    return CameraRecord(
        orientation=orientation if 1 <= orientation <= 8 else 1,
        taken_at=_local_time(taken),
        camera=_camera_name(top.text(_MAKER), top.text(_MODEL)),
        focal_35mm=None if focal is None else float(focal),
    )


def _directory(data: bytes, order: str, offset: int) -> TagDirectory | None:
    if offset < 8 or offset + 2 > len(data):
        return None
    (count,) = struct.unpack_from(order + "H", data, offset)
    end = offset + 2 + 12 * count
    if end + 4 > len(data):
        count = max(0, (len(data) - offset - 6) // 12)
        end = len(data)
    entries: dict[int, tuple[int, int, int]] = {}
    payload_bytes = 0
    for place in range(offset + 2, offset + 2 + 12 * count, 12):
        tag, kind, items, value = struct.unpack_from(order + "HHII", data, place)
        size = items * _TYPE_BYTES.get(kind, 1)
        payload_bytes += size if size > 4 else 0
        start = value if size > 4 else place + 8
        if start + min(size, 8) <= len(data):
            entries.setdefault(tag, (kind, items, start))
    next_offset = struct.unpack_from(order + "I", data, end)[0] if end + 4 <= len(data) else 0
    return TagDirectory(data, order, entries, payload_bytes, next_offset)


def _local_time(text: str) -> datetime | None:
    """Camera time ``YYYY:MM:DD HH:MM:SS``; cameras without a clock write zeros or blanks."""
    try:
        return datetime.strptime(text[:19], "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def _camera_name(maker: str, model: str) -> str:
    """Maker and model, the maker once."""
    return model if model.lower().startswith(maker.lower()) else f"{maker} {model}".strip()
