"""Photo files on disk: which names are photos, opening them without ever blocking, checksums."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from io import BufferedReader
from pathlib import Path

from finmeasure.errors import PhotoError

PHOTO_ENDINGS = (".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".heic", ".heif")
READABLE = "Allowed: JPEG, PNG, TIFF and HEIC photos."
LARGEST_FILE_BYTES = 400_000_000
_RESOURCE_FORK = "._"  # AppleDouble companions carry the photo's ending but no picture

_OPEN_FLAGS = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)  # a pipe without a writer must not block
    | getattr(os, "O_NOCTTY", 0)
    | getattr(os, "O_BINARY", 0)
)
_REASONS = {
    errno.ENOENT: "is not there. It was moved, renamed or deleted: look for it, or run again.",
    errno.EACCES: "may not be read. Change the file's permissions.",
    errno.EPERM: "may not be read. Change the file's permissions.",
    errno.ELOOP: "is a link that leads back to itself. Replace it by the photo.",
    errno.ENAMETOOLONG: "has a path that is too long. Shorten its name or its folder's.",
}


def is_photo_name(path: str | Path) -> bool:
    """Tell whether a file is a photo by its ending; the file is not looked at.

    Parameters
    ----------
    path : str or Path
        Any path.

    Returns
    -------
    bool
        True for the endings in :data:`PHOTO_ENDINGS`, upper or lower case.

    Examples
    --------
    >>> is_photo_name("bag 7/IMG_1.JPG"), is_photo_name("notes.txt")
    (True, False)
    """
    name = os.path.basename(os.fspath(path))
    return name.lower().endswith(PHOTO_ENDINGS) and not name.startswith(_RESOURCE_FORK)


def printable(text: str | Path, longest: int = 120) -> str:
    r"""Make a file name or cell fit for one line of text.

    Parameters
    ----------
    text : str or Path
        Of a path, only the last part is shown.
    longest : int
        Characters to keep; the middle is left out where there are more.

    Returns
    -------
    str
        Line breaks and other characters that cannot be shown are written as ``\x0a``.

    Examples
    --------
    >>> printable("a" + chr(10) + "b")
    'a\\x0ab'
    """
    shown = text.name if isinstance(text, Path) else text
    if len(shown) > longest:
        shown = f"{shown[: longest // 2]}…{shown[-longest // 2 :]}"
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in shown)


@contextmanager
def refusals_name(path: Path) -> Iterator[None]:
    """Put the file's name in front of every refusal; turn any decoder's error into one.

    Raises
    ------
    PhotoError
        Instead of whatever was raised inside.
    """
    name = printable(path)
    try:
        yield
    except PhotoError as error:
        message = f"{name} {error}"
        raise PhotoError(message) from error
    except MemoryError as error:
        message = f"{name} needs more memory than there is. Make the photo smaller."
        raise PhotoError(message) from error
    except Exception as error:  # decoders raise anything on damaged files
        message = f"{name} is damaged. Copy it from the camera again."
        raise PhotoError(message) from error


def open_regular(path: Path) -> BufferedReader:
    """Open an ordinary file; folders, pipes and devices are refused and never waited for.

    Raises
    ------
    PhotoError
        Saying what is there instead, without the file's name.
    """
    try:
        # Looked at before opening, because opening some devices already does something.
        _refuse_special(os.stat(path).st_mode)
        descriptor = os.open(path, _OPEN_FLAGS)
    except OSError as error:
        reason = _REASONS.get(error.errno or 0, f"cannot be opened: {error.strerror}.")
        raise PhotoError(reason) from error
    except ValueError as error:
        message = "has a name that no file can have. Check the name."
        raise PhotoError(message) from error
    file = os.fdopen(descriptor, "rb")
    try:
        status = os.fstat(descriptor)
        _refuse_special(status.st_mode)
        _refuse_size(status.st_size)
    except PhotoError:
        file.close()
        raise
    return file


def sha256_of(path: str | Path) -> str:
    """Compute the checksum of a file's bytes, without holding them in memory.

    Parameters
    ----------
    path : str or Path
        An ordinary file.

    Returns
    -------
    str
        64 hexadecimal digits.

    Raises
    ------
    PhotoError
        If there is no such file or it cannot be read.
    """
    path = Path(path)
    with refusals_name(path), open_regular(path) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _refuse_special(mode: int) -> None:
    if stat.S_ISREG(mode):
        return
    kind = "folder" if stat.S_ISDIR(mode) else "pipe or device"
    message = f"is a {kind}, not a photo. {READABLE} Give it another ending or leave it out."
    raise PhotoError(message)


def _refuse_size(size_bytes: int) -> None:
    if size_bytes == 0:
        message = f"is empty (0 bytes). {READABLE} Copy it from the camera again."
        raise PhotoError(message)
    if size_bytes > LARGEST_FILE_BYTES:
        message = (
            f"has {size_bytes / 1e6:.0f} MB. Allowed: up to {LARGEST_FILE_BYTES / 1e6:.0f} MB. "
            "Save it as JPEG."
        )
        raise PhotoError(message)
