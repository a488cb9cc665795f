"""Tables of a study: photos, what was seen on them, what was marked and measured.

Keys are UUIDs so that two studies can be joined. Times are ISO 8601 text: ``taken_at`` is the
camera's local time, every other time is UTC.
"""

from __future__ import annotations

import uuid
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, MetaData, UniqueConstraint, text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from finmeasure.study.keys import new_key

Json = JSON(none_as_null=True)


class Base(DeclarativeBase):
    """Root of all tables; constraints get fixed names so that migrations can find them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class Keyed:
    """Mixin of a UUID key."""

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=new_key, sort_order=-1)


class Run(Keyed, Base):
    """One call of a command that wrote to the study."""

    __tablename__ = "run"

    version: Mapped[str]
    options: Mapped[dict[str, Any]] = mapped_column(Json)
    started_at: Mapped[str]
    ended_at: Mapped[str | None]


class PhotoRow(Keyed, Base):
    """One photo's content under one name.

    A file that was replaced by another of the same name makes a new row: what was marked on the
    old content stays with the old content, which is then no longer `current`.
    """

    __tablename__ = "photo"
    __table_args__ = (
        CheckConstraint("state IN ('to_do', 'measured', 'refused')", name="state"),
        Index("ix_photo_current_name", "name", unique=True, sqlite_where=text("current = 1")),
        Index("ix_photo_sha256", "sha256"),
    )

    name: Mapped[str]
    current: Mapped[bool] = mapped_column(default=True)
    sha256: Mapped[str]
    file: Mapped[str] = mapped_column(default="")
    role: Mapped[str] = mapped_column(default="fish")
    width_px: Mapped[int | None]
    height_px: Mapped[int | None]
    taken_at: Mapped[str | None]
    camera: Mapped[str] = mapped_column(default="")
    focal_35mm: Mapped[float | None]
    state: Mapped[str] = mapped_column(default="to_do")
    reason: Mapped[str] = mapped_column(default="")
    flags: Mapped[str] = mapped_column(default="")
    fish_found: Mapped[int | None]
    seconds: Mapped[float | None]
    given_digest: Mapped[str] = mapped_column(default="")
    run_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("run.id"))
    added_at: Mapped[str]


class ScaleRow(Keyed, Base):
    """One scale of a photo; the one with the highest ordinal counts.

    "No scale was found" is a row too (no document), so that measures always name their scale.
    """

    __tablename__ = "scale"
    __table_args__ = (UniqueConstraint("photo_id", "ordinal"),)

    photo_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("photo.id"))
    ordinal: Mapped[int]
    method: Mapped[str] = mapped_column(default="")
    px_per_mm: Mapped[float | None]
    px_per_mm_u: Mapped[float | None]
    document: Mapped[dict[str, Any] | None] = mapped_column(Json)
    reason: Mapped[str] = mapped_column(default="")
    created_at: Mapped[str]


class Fish(Keyed, Base):
    """A named individual that is followed over time."""

    __tablename__ = "fish"
    __table_args__ = (UniqueConstraint("name"),)

    name: Mapped[str]
    group_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("grp.id"))
    body_form: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    created_at: Mapped[str]


class Sighting(Keyed, Base):
    """One animal on one photo; its number is given once and never changed."""

    __tablename__ = "sighting"
    __table_args__ = (
        UniqueConstraint("photo_id", "number"),
        UniqueConstraint("photo_id", "fish_id"),
        CheckConstraint("number >= 1", name="number"),
        CheckConstraint("side IN ('left', 'right', '')", name="side"),
        Index("ix_sighting_fish_id", "fish_id"),
        Index("ix_sighting_group_id", "group_id"),
    )

    photo_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("photo.id"))
    number: Mapped[int]
    fish_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("fish.id"))
    group_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("grp.id"))
    visit_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("visit.id"))
    side: Mapped[str] = mapped_column(default="")
    withdrawn: Mapped[bool] = mapped_column(default=False)


class ReadingRow(Keyed, Base):
    """One reading; never changed. The ordinal, not the clock, tells which is the newest."""

    __tablename__ = "reading"
    __table_args__ = (
        UniqueConstraint("sighting_id", "ordinal"),
        CheckConstraint("purpose IN ('work', 'repeat')", name="purpose"),
        CheckConstraint("source IN ('person', 'file', 'program')", name="source"),
    )

    sighting_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("sighting.id"))
    ordinal: Mapped[int]
    purpose: Mapped[str]
    source: Mapped[str]
    confirmed: Mapped[bool]
    placed_by: Mapped[str]
    body_form: Mapped[str]
    created_at: Mapped[str]
    run_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("run.id"))
    seconds: Mapped[float | None]
    note: Mapped[str] = mapped_column(default="")


class ReadingLandmark(Base):
    """One landmark of a reading."""

    __tablename__ = "reading_landmark"
    __table_args__ = (
        CheckConstraint("state IN ('placed', 'absent', 'hidden')", name="state"),
        {"sqlite_with_rowid": False},
    )

    reading_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("reading.id"), primary_key=True)
    landmark: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[int]
    x_px: Mapped[float | None]
    y_px: Mapped[float | None]
    u_px: Mapped[float | None]
    u_across_px: Mapped[float | None]
    state: Mapped[str]
    placed_by: Mapped[str]
    confidence: Mapped[float | None]


class ReadingOutline(Base):
    """One outline of a reading, as WKT in pixels."""

    __tablename__ = "reading_outline"
    __table_args__ = (
        CheckConstraint("spread IN ('spread', 'part_folded', 'clamped')", name="spread"),
        {"sqlite_with_rowid": False},
    )

    reading_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("reading.id"), primary_key=True)
    part: Mapped[str] = mapped_column(primary_key=True)
    position: Mapped[int]
    wkt: Mapped[str]
    placed_by: Mapped[str]
    confidence: Mapped[float | None]
    spread: Mapped[str]
    edge: Mapped[str]


class MeasureSet(Keyed, Base):
    """Measures of one reading with one scale by one version of the program: a cache.

    Each column holds a list, in the order of the measures. A row for each measure would be a
    million rows in a season, which only ever are read and written together.
    """

    __tablename__ = "measure_set"
    __table_args__ = (UniqueConstraint("reading_id", "scale_id", "code_version"),)

    reading_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("reading.id"))
    scale_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("scale.id"))
    code_version: Mapped[str]
    measure: Mapped[list[str]] = mapped_column(Json)
    value: Mapped[list[float | None]] = mapped_column(Json)
    unit: Mapped[list[str]] = mapped_column(Json)
    u: Mapped[list[float | None]] = mapped_column(Json)
    state: Mapped[list[str]] = mapped_column(Json)
    flags: Mapped[list[str]] = mapped_column(Json)
    reason: Mapped[list[str]] = mapped_column(Json)
    created_at: Mapped[str]


class Draft(Keyed, Base):
    """Unfinished marks of one person on one fish; overwritten at every change."""

    __tablename__ = "draft"
    __table_args__ = (
        UniqueConstraint("photo_id", "fish", "person", "purpose"),
        CheckConstraint("purpose IN ('work', 'repeat')", name="purpose"),
    )

    photo_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("photo.id"))
    fish: Mapped[str]
    person: Mapped[str]
    purpose: Mapped[str]
    document: Mapped[dict[str, Any]] = mapped_column(Json)
    saved_at: Mapped[str]
