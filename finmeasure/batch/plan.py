"""Which photos a run measures, and the name each of them has in the study."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from finmeasure.errors import FinmeasureError, PhotoError
from finmeasure.photo.files import is_photo_name, sha256_of
from finmeasure.photo.remote import RemotePhoto, remote_photos

STUDY_FILE = "study.db"


@dataclass(frozen=True, slots=True)
class PlannedPhoto:
    """One photo file that a run is to measure.

    Parameters
    ----------
    path : Path
        Absolute path of the file.
    name : str
        Its name in the study: the path relative to the folder given, with ``/``.
    url, stamp : str
        Where a photo in a store is fetched, and what changes when it does; empty for files.
    """

    path: Path
    name: str
    url: str = ""
    stamp: str = ""


@dataclass(frozen=True, slots=True)
class KnownPhoto:
    """A photo that the study has already: its absolute path and its checksum."""

    path: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The photos of a run in the order they are measured.

    Parameters
    ----------
    photos : tuple of PlannedPhoto
        Sorted by name, names unique.
    notes : tuple of str
        One line for everything that was left out and might be missed.
    """

    photos: tuple[PlannedPhoto, ...]
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Walk:
    """What has been met so far while folders are walked."""

    found: list[tuple[Path, Path]] = field(default_factory=list)  # source and path
    notes: list[str] = field(default_factory=list)
    remote: dict[str, RemotePhoto] = field(default_factory=dict)  # by path


def plan_photos(
    sources: Sequence[Path | str], *, known: Mapping[str, KnownPhoto] | None = None
) -> Plan:
    """List the photos of files and folders under names that are unique in the study.

    Folders are walked to the bottom. Links to folders are not followed (they may lead in a
    circle or out of the folder), and folders that hold a study are left out, because their
    pictures are the program's own.

    Parameters
    ----------
    sources : sequence of Path or str
        Photo files and folders; as str, URLs of stores (:func:`finmeasure.photo.remote.source_of`).
    known : mapping of str to KnownPhoto, optional
        The photos that the study has already, by name; they keep it.

    Returns
    -------
    Plan
        The photos and what was left out.

    Raises
    ------
    FinmeasureError
        If a source does not exist, is a file that is no photo by its ending, or is a folder
        that cannot be opened.
    """
    walk = _Walk()
    for source in sources:
        if isinstance(source, str):
            _add_remote(walk, source)
        else:
            _add_source(walk, Path(os.path.abspath(source)))
    files = list({str(path): (source, path) for source, path in walk.found}.values())
    names = _unique_names(files, known or {}, walk.remote)
    photos = [_planned(path, names[str(path)], walk.remote.get(str(path))) for _, path in files]
    return Plan(tuple(sorted(photos, key=lambda photo: photo.name)), tuple(walk.notes))


def _planned(path: Path, name: str, remote: RemotePhoto | None) -> PlannedPhoto:
    if remote is None:
        return PlannedPhoto(path, name)
    return PlannedPhoto(path, name, remote.url, remote.stamp)


def plain_text(text: str) -> str:
    r"""Give a file name as text that every table can hold.

    Bytes of a name that are not UTF-8 are written as ``\xNN``.

    Examples
    --------
    >>> plain_text("caf\udce9.jpg")
    'caf\\xe9.jpg'
    """
    return os.fsencode(text).decode("utf-8", "backslashreplace")


def _add_remote(walk: _Walk, url: str) -> None:
    """Add the photos of a store, each under a path that no file has."""
    photos, notes = remote_photos(url)
    walk.notes.extend(notes)
    base = Path(url)
    walk.found.extend((base, base / photo.name) for photo in photos)
    walk.remote |= {str(base / photo.name): photo for photo in photos}


def _add_source(walk: _Walk, source: Path) -> None:
    """Add a file or the photos of a folder, or say why that cannot be."""
    if os.path.isdir(source):
        _check_folder(source)
        walk.found.extend((source, path) for path in _photos_below(source, walk.notes))
        return
    if not os.path.lexists(source):
        message = f"{plain_text(str(source))}: there is no such file or folder. Check the spelling."
        raise FinmeasureError(message)
    if not is_photo_name(source.name):
        message = (
            f"{plain_text(source.name)} is no photo by its ending. "
            "Give photo files (JPEG, PNG, TIFF, HEIC) or a folder that holds them."
        )
        raise FinmeasureError(message)
    walk.found.append((source.parent, source))


def _check_folder(folder: Path) -> None:
    """Refuse a folder that cannot be listed."""
    try:
        os.scandir(folder).close()
    except OSError as error:
        message = f"{plain_text(str(folder))}: the folder cannot be opened ({error.strerror})."
        raise FinmeasureError(message) from error


def _photos_below(folder: Path, notes: list[str]) -> Iterator[Path]:
    """Walk a folder to the bottom; yield each photo file."""
    waiting = [folder]
    while waiting:
        here = waiting.pop()
        try:
            with os.scandir(here) as entries:
                children = sorted(entries, key=lambda entry: entry.name)
        except OSError as error:
            notes.append(f"{plain_text(str(here))}: left out, cannot be opened: {error.strerror}")
            continue
        if any(child.name == STUDY_FILE for child in children):
            if here != folder:
                continue
            children = [child for child in children if child.name != "overlays"]
        yield from _sort_children(children, waiting, notes)


def _sort_children(
    children: Iterable[os.DirEntry[str]], waiting: list[Path], notes: list[str]
) -> Iterator[Path]:
    """Tell photos from folders to walk; a folder is a folder whatever its name ends in."""
    for child in children:
        if child.is_dir(follow_symlinks=False):
            waiting.append(Path(child.path))
        elif child.is_symlink() and os.path.isdir(child.path):
            notes.append(f"{plain_text(child.path)}: left out, a link to a folder is not followed.")
        elif is_photo_name(child.name) and not child.name.startswith("._"):
            # "._" files are side files that some systems write beside every photo
            yield Path(child.path)


def _unique_names(
    files: Sequence[tuple[Path, Path]],
    known: Mapping[str, KnownPhoto],
    remote: Mapping[str, RemotePhoto],
) -> dict[str, str]:
    """Name each file by its path below its source; put folder names in front where names clash."""
    names = _names_kept(files, known, remote)
    taken = set(known) | set(names.values())
    fresh = [(source, path) for source, path in files if str(path) not in names]
    depth = 0
    while fresh:
        tried = [
            (source, path, _name(source, path, depth=depth, number=number))
            for number, (source, path) in enumerate(fresh, 1)
        ]
        count = Counter(name for _, _, name in tried)
        clear = {p: n for _, p, n in tried if count[n] == 1 and n not in taken}
        names.update((str(path), name) for path, name in clear.items())
        fresh = [item for item in fresh if item[1] not in clear]
        taken.update(count)
        depth += 1
    return names


def _names_kept(
    files: Sequence[tuple[Path, Path]],
    known: Mapping[str, KnownPhoto],
    remote: Mapping[str, RemotePhoto],
) -> dict[str, str]:
    """Give the names of files that the study knows, by their path or, where moved, by content."""
    by_path = {photo.path: name for name, photo in known.items()}
    kept = {str(path): by_path[str(path)] for _, path in files if str(path) in by_path}
    used = set(kept.values())
    for source, path in files:
        name = _name(source, path, depth=0, number=0)
        if str(path) in kept or name in used or name not in known:
            continue
        of_a_store = str(path) in remote and not known[name].path  # never read only to compare
        if of_a_store or _same_content(path, known[name].sha256):
            kept[str(path)] = name
            used.add(name)
    return kept


def _same_content(path: Path, sha256: str) -> bool:
    """Tell whether the file is the one with that checksum, e.g. on a drive mounted elsewhere."""
    try:
        return sha256_of(path) == sha256
    except PhotoError:
        return False


def _name(source: Path, path: Path, *, depth: int, number: int) -> str:
    """Path below the source with `depth` folder names in front; numbered when none are left."""
    if depth > len(source.parts):
        return f"{plain_text(str(path))} ({number})"
    base = Path(*source.parts[: len(source.parts) - depth])
    return plain_text(path.relative_to(base).as_posix()) if base.parts else plain_text(str(path))
