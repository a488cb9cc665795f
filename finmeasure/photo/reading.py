"""Read a photo file: upright pixels, checksum, time and camera."""

from __future__ import annotations

import hashlib
from pathlib import Path

from finmeasure.photo.decoding import stored_pixels, upright
from finmeasure.photo.files import is_photo_name, open_regular, refusals_name, sha256_of
from finmeasure.photo.metadata import metadata_of, read_header, read_metadata
from finmeasure.photo.record import Photo

__all__ = ["is_photo_name", "read_metadata", "read_photo", "sha256_of"]


def read_photo(path: str | Path) -> Photo:
    """Read a photo.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, TIFF or HEIC file; what is inside counts, not the ending. One picture per
        file: animations and several full-size pages are refused; of a HEIC file with several
        pictures the primary one is read, of a JPEG with appended pictures the first.

    Returns
    -------
    Photo
        Upright 8-bit RGB pixels, SHA-256 of the file's bytes, metadata without place and owner.

    Raises
    ------
    PhotoError
        One line: the file's name, what is wrong, what is allowed, what to do.

    Examples
    --------
    >>> import finmeasure as fm
    >>> photo = fm.read_photo("sample_images/counter/customer_photo.jpg")
    >>> photo.pixels.dtype, photo.pixels.shape[2]
    (dtype('uint8'), 3)
    """
    path = Path(path)
    with refusals_name(path):
        with open_regular(path) as file:
            data = file.read()
        header = read_header(data)
        metadata = metadata_of(header)  # refuses bombs before anything is decoded
        pixels = upright(stored_pixels(data, header), metadata.orientation)
        return Photo(pixels, hashlib.sha256(data).hexdigest(), metadata)
