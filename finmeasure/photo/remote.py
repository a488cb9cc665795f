"""Photos in stores that fsspec reads (buckets, SFTP, ZIP archives …): list them, fetch one."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO
from urllib.parse import unquote, urlsplit

from finmeasure.errors import FinmeasureError, PhotoError
from finmeasure.photo.files import LARGEST_FILE_BYTES, is_photo_name, printable

KINDS = ("file", "s3", "s3a", "gs", "gcs", "abfs", "az", "sftp", "smb", "https", "memory", "zip")
"""Kinds of URL that are read: none runs what it reads, or sends photos through a network in the
clear as plain http would."""

_ALLOWED = (
    "Allowed: s3://BUCKET/FOLDER, gs://, abfs://, sftp://, smb://, https://, file:///FOLDER, and "
    "zip://FOLDER::URL for a ZIP archive at one of these."
)
_CHANGES = (
    "ETag", "etag", "content_md5", "md5Hash", "CRC", "generation",
    "mtime", "LastModified", "last_modified", "updated", "date_time", "created",
)  # fmt: skip
_CHUNK_BYTES = 1 << 20
_LONGEST_NAME = 100


@dataclass(frozen=True, slots=True)
class RemotePhoto:
    """A photo in a store.

    Parameters
    ----------
    url : str
        Where a worker fetches it.
    name : str
        Path below the URL that was given, with ``/``.
    stamp : str
        Changes when the photo does; empty where the store tells nothing of the kind.
    """

    url: str
    name: str
    stamp: str = ""


def source_of(text: str) -> Path | str:
    """Tell a path from the URL of a store; a ``file://`` URL is a path.

    Parameters
    ----------
    text : str
        As given on the command line.

    Returns
    -------
    Path or str
        A path of this computer, or the URL as it is.

    Raises
    ------
    FinmeasureError
        If a ``file://`` URL names another computer.

    Examples
    --------
    >>> source_of("s3://bench/2026"), source_of("file:///shared/bag%207").as_posix()
    ('s3://bench/2026', '/shared/bag 7')
    >>> source_of("photos/bag 7").as_posix()
    'photos/bag 7'
    """
    kind, mark, _ = text.partition("://")
    if not mark or len(kind) < 2 or not kind.isalnum():
        return Path(text)
    if kind != "file":
        return text
    parts = urlsplit(text)
    if parts.netloc not in ("", "localhost"):
        message = f"{printable(text)} names another computer. Mount its folder, then give the path."
        raise FinmeasureError(message)
    return Path(unquote(parts.path))


def remote_photos(url: str) -> tuple[list[RemotePhoto], list[str]]:
    """List the photos at and below a URL.

    Parameters
    ----------
    url : str
        Of a folder or one photo, of one of the :data:`KINDS`.

    Returns
    -------
    photos : list of RemotePhoto
        Sorted by name.
    notes : list of str
        One line for each photo that is left out.

    Raises
    ------
    FinmeasureError
        If such a URL is not read, a package for it is missing, or the store gives no list.
    """
    store, root = _opened(url)
    with _one_line(url):
        found = store.find(root, detail=True)
    if not found:
        message = f"{printable(url)}: there are no files. Check the spelling."
        raise FinmeasureError(message)
    root = root.rstrip("/")
    base = root.rpartition("/")[0] if list(found) == [root] else root
    archive = url.partition("::")[2] if url.startswith("zip://") else ""
    photos, notes = [], []
    for path in sorted(found):
        name = path.removeprefix(base).lstrip("/")
        if not is_photo_name(name):
            continue
        if ".." in PurePosixPath(name).parts or "::" in path:
            notes.append(f"{printable(name)}: left out, its path leads out of the folder.")
            continue
        place = f"zip://{path}::{archive}" if archive else str(store.unstrip_protocol(path))
        photos.append(RemotePhoto(place, name, _stamp(found[path])))
    return photos, notes


@contextmanager
def fetched(url: str) -> Iterator[Path]:
    """Fetch a photo into a file of its own, which is gone afterwards.

    Parameters
    ----------
    url : str
        From a :class:`RemotePhoto`.

    Yields
    ------
    Path
        A file with the photo's name.

    Raises
    ------
    PhotoError
        If it cannot be fetched, or has more bytes than a photo may have.
    """
    store, path = _opened(url)
    with tempfile.TemporaryDirectory(prefix="finmeasure-") as folder:
        place = Path(folder) / PurePosixPath(path).name[-_LONGEST_NAME:]
        with _one_line(path), store.open(path, "rb") as source, place.open("wb") as target:
            _copy(source, target)
        yield place


def _copy(source: BinaryIO, target: BinaryIO) -> None:
    """Copy a photo's bytes; what a store tells of the size is not believed."""
    left = LARGEST_FILE_BYTES
    while chunk := source.read(_CHUNK_BYTES):
        left -= len(chunk)
        if left < 0:
            message = f"has more than the allowed {LARGEST_FILE_BYTES / 1e6:.0f} MB."
            raise PhotoError(message)
        target.write(chunk)


def _opened(url: str) -> tuple[Any, str]:
    """Open the store of a URL, and give the path in it."""
    archive = url.startswith("zip://")
    inner = url.partition("::")[2] if archive else url
    kind = inner.partition("://")[0]
    if kind not in KINDS or kind == "zip" or "::" in inner:
        message = f"Photos at {printable(url)} are not read. {_ALLOWED}"
        raise FinmeasureError(message)
    try:
        from fsspec.core import url_to_fs
    except ImportError as error:
        message = f"Photos at {printable(url)} need fsspec: pip install 'finmeasure[cluster]'."
        raise FinmeasureError(message) from error
    with _one_line(url):
        store, path = url_to_fs(url)
    return store, str(path)


@contextmanager
def _one_line(what: str) -> Iterator[None]:
    """Turn whatever a store raises into one line.

    Raises
    ------
    PhotoError
        Naming the photo or folder.
    """
    name = printable(PurePosixPath(what).name if "://" not in what else what)
    try:
        yield
    except PhotoError as error:
        message = f"{name} {error}"
        raise PhotoError(message) from error
    except ImportError as error:
        message = f"{name}: {error}. Install that package here and on every worker."
        raise PhotoError(message) from error
    except FileNotFoundError as error:
        message = f"{name}: there is no such file or folder. Check the spelling."
        raise PhotoError(message) from error
    except Exception as error:  # each store has errors of its own
        told = " ".join(f"{type(error).__name__}: {error}".split())[:160]
        message = f"{name} cannot be read ({told}). Check the address and your access to it."
        raise PhotoError(message) from error


def _stamp(info: Mapping[str, Any]) -> str:
    """Put together what a store tells that changes with the file; its size alone is not enough."""
    told = {name: str(info[name]) for name in _CHANGES if info.get(name)}
    return repr((info.get("size"), told)) if told else ""
