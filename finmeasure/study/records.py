"""What is handed to the study and what it gives back."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, Literal

from finmeasure.photo.record import PhotoMetadata
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale

PhotoState = Literal["to_do", "measured", "refused"]
Purpose = Literal["work", "repeat"]
Source = Literal["person", "file", "program"]


@dataclass(frozen=True, slots=True, eq=False)
class FishResult:
    """One fish on one photo, marked and measured.

    Parameters
    ----------
    reading : Reading
        The marks; ``reading.fish`` is the number within the photo or the fish's name.
    measures : tuple of Measure
        Derived with the photo's scale, in the order in which tables show them.
    side : {"left", "right", ""}
        The way the fish faces; empty where unknown.
    visit : datetime.date, optional
        Date of the visit.
    group : str
        Name of the group, or empty.
    source : {"file", "program", "person"}
        Marks given in a table, proposed by the program, or placed by a person in the window.
    confirmed : bool
        False for a proposal that waits for a person.
    """

    reading: Reading
    measures: tuple[Measure, ...] = ()
    side: str = ""
    visit: date | None = None
    group: str = ""
    source: Source = "file"
    confirmed: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class PhotoResult:
    """Everything that one photo gave, recorded as one transaction.

    Parameters
    ----------
    photo : str
        Name within the study: path relative to the folder given.
    sha256 : str
        Of the file's bytes.
    state : {"measured", "refused"}
        ``refused``: no fish could be measured; `reason` says why.
    given_digest : str
        Digest of everything that was given for the photo: options, marks, scale, code version.
        Empty where trying again may help (time limit, file vanished): fish recorded before stay.
    metadata : PhotoMetadata, optional
        None where the file could not be read.
    scale : Scale, optional
        None where there is none; `scale_reason` says why.
    fish : tuple of FishResult
        From left to right.
    fish_found : int, optional
        Fish seen in the photo, where that is known; else the number of `fish`.
    file : pathlib.Path, optional
        Where the file lies, so that `check` can find it again.
    flags : tuple of str
        Flags of the photo itself, e.g. ``date_from_name``.
    """

    photo: str
    sha256: str
    state: Literal["measured", "refused"]
    given_digest: str
    metadata: PhotoMetadata | None = None
    reason: str = ""
    seconds: float | None = None
    scale: Scale | None = None
    scale_reason: str = ""
    fish: tuple[FishResult, ...] = ()
    fish_found: int | None = None
    file: Path | None = None
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordedPhoto:
    """A photo as the study has it."""

    photo: str
    sha256: str
    state: PhotoState
    reason: str
    given_digest: str
    file: Path | None


@dataclass(frozen=True, slots=True, eq=False)
class StoredReading:
    """A reading as the study has it.

    Parameters
    ----------
    ordinal : int
        Counts the readings of one fish on one photo; the highest is the newest.
    reading : Reading
        The marks; ``reading.fish`` is the name the fish has now, or its number.
    """

    id: uuid.UUID
    photo: str
    number: int
    ordinal: int
    purpose: Purpose
    source: Source
    confirmed: bool
    created_at: str
    reading: Reading
    side: str = ""
    group: str = ""
    visit: date | None = None


@dataclass(frozen=True, slots=True)
class PhotoStanding:
    """How far a photo is, for the list of what needs a person.

    Parameters
    ----------
    state : {"begun", "proposal", "to_do", "refused", "confirmed"}
        ``begun``: a draft waits; ``proposal``: marks of the program wait for a person.
    taken_at : str
        ISO 8601, the camera's local time; empty where unknown.
    confidence : float, optional
        Lowest confidence among the marks that wait.
    """

    photo: str
    file: Path | None
    state: Literal["begun", "proposal", "to_do", "refused", "confirmed"]
    reason: str = ""
    group: str = ""
    taken_at: str = ""
    confidence: float | None = None


@dataclass(frozen=True, slots=True)
class CardPrintRow:
    """Check lines of a printed card as a caliper shows them, millimetres."""

    card: str
    design: str
    across_nominal_mm: float
    across_measured_mm: float
    down_nominal_mm: float
    down_measured_mm: float
    u_mm: float
    measured_at: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class ReferenceRow:
    """A whole reference for a fin, declared by a person.

    Parameters
    ----------
    kind : {"own_record", "healthy_mates", "species_row"}
        The fish's own record before the damage, healthy mates of its group, or a species row.
    fin : str
        Empty for all fins.
    document : dict
        What it consists of: dates of visits, names of fish, or values.
    """

    kind: Literal["own_record", "healthy_mates", "species_row"]
    fin: str = ""
    fish: str = ""
    group: str = ""
    name: str = ""
    document: dict[str, Any] = field(default_factory=dict, hash=False)
    declared_by: str = ""
    declared_at: str = ""


@dataclass(frozen=True, slots=True)
class CameraRow:
    """Calibration of one camera and lens."""

    name: str
    focal_35mm: float | None = None
    document: dict[str, Any] = field(default_factory=dict, hash=False)
    calibrated_at: str = ""


@dataclass(frozen=True, slots=True)
class RunRow:
    """One call of a command."""

    id: uuid.UUID
    version: str
    options: dict[str, object] = field(hash=False)
    started_at: str
    ended_at: str | None


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of `check`.

    Parameters
    ----------
    kind : str
        What was looked at, e.g. ``"photo_missing"``.
    severity : {"fault", "note"}
        A fault is a study that lost or may lose something; a note is worth knowing.
    text : str
        What was found and what to do, in plain words.
    """

    kind: str
    severity: Literal["fault", "note"]
    text: str


@dataclass(frozen=True, slots=True)
class MergeReport:
    """What joining another study did.

    Parameters
    ----------
    added, known : mapping of str to int
        Rows that were new, and rows that were here already, by what they are.
    conflicts : tuple of str
        Every contradiction in words; this study's word is kept and nothing is dropped.
    """

    added: Mapping[str, int]
    known: Mapping[str, int]
    conflicts: tuple[str, ...]
