"""Tables of a study that the keeper fills: groups, visits, events, water, labels, cards."""

from __future__ import annotations

import uuid
from typing import Any

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from finmeasure.study.tables import Base, Json, Keyed


class Group(Keyed, Base):
    """A tank, bag, batch or shipment ("group" is a word of SQL, hence the table's name)."""

    __tablename__ = "grp"
    __table_args__ = (UniqueConstraint("name"),)

    name: Mapped[str]
    kind: Mapped[str] = mapped_column(default="")
    body_form: Mapped[str] = mapped_column(default="")
    came_from: Mapped[str] = mapped_column(default="")
    box: Mapped[str] = mapped_column(default="")
    bag: Mapped[str] = mapped_column(default="")
    invoiced: Mapped[int | None]
    grade_mm_from: Mapped[float | None]
    grade_mm_to: Mapped[float | None]
    alive: Mapped[int | None]
    dead: Mapped[int | None]
    opened_at: Mapped[str | None]
    claim_until: Mapped[str | None]


class Visit(Keyed, Base):
    """One date on which a group (or fish without a group) was photographed."""

    __tablename__ = "visit"
    __table_args__ = (Index("ix_visit_group_id_date", "group_id", "date"),)

    group_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("grp.id"))
    date: Mapped[str]
    note: Mapped[str] = mapped_column(default="")


class Event(Keyed, Base):
    """Something that happened to a group or a fish: water change, treatment, move, death."""

    __tablename__ = "event"
    __table_args__ = (Index("ix_event_group_id_date", "group_id", "date"),)

    group_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("grp.id"))
    fish_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("fish.id"))
    date: Mapped[str]
    event: Mapped[str]
    note: Mapped[str] = mapped_column(default="")


class WaterTest(Keyed, Base):
    """One quantity of one water test."""

    __tablename__ = "water_test"
    __table_args__ = (UniqueConstraint("group_id", "taken_at", "quantity"),)

    group_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("grp.id"))
    taken_at: Mapped[str]
    quantity: Mapped[str]
    value: Mapped[float]
    unit: Mapped[str] = mapped_column(default="")


class Label(Keyed, Base):
    """What a person says of a fish: sex, kind, healthy mate …; on the fish or on one sighting."""

    __tablename__ = "label"
    __table_args__ = (
        CheckConstraint("(fish_id IS NULL) <> (sighting_id IS NULL)", name="one_target"),
        UniqueConstraint("fish_id", "character", "set_by"),
        UniqueConstraint("sighting_id", "character", "set_by"),
    )

    fish_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("fish.id"))
    sighting_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("sighting.id"))
    character: Mapped[str]
    value: Mapped[str]
    set_by: Mapped[str] = mapped_column(default="")
    set_at: Mapped[str]


class Reference(Keyed, Base):
    """A whole reference for a fin: own record before the damage, healthy mates, a species row."""

    __tablename__ = "reference"
    __table_args__ = (
        CheckConstraint("kind IN ('own_record', 'healthy_mates', 'species_row')", name="kind"),
    )

    kind: Mapped[str]
    fin: Mapped[str] = mapped_column(default="")
    fish_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("fish.id"))
    group_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("grp.id"))
    name: Mapped[str] = mapped_column(default="")
    document: Mapped[dict[str, Any]] = mapped_column(Json)
    declared_by: Mapped[str] = mapped_column(default="")
    declared_at: Mapped[str]


class CardPrint(Keyed, Base):
    """Check lines of one printed card, measured with a caliper."""

    __tablename__ = "card_print"

    card: Mapped[str]
    design: Mapped[str]
    across_nominal_mm: Mapped[float]
    across_measured_mm: Mapped[float]
    down_nominal_mm: Mapped[float]
    down_measured_mm: Mapped[float]
    u_mm: Mapped[float]
    measured_at: Mapped[str]
    note: Mapped[str] = mapped_column(default="")


class Camera(Keyed, Base):
    """Calibration of one camera and lens."""

    __tablename__ = "camera"

    name: Mapped[str]
    focal_35mm: Mapped[float | None]
    document: Mapped[dict[str, Any]] = mapped_column(Json)
    calibrated_at: Mapped[str]


class Setting(Base):
    """Facts of the study itself, by key."""

    __tablename__ = "setting"

    key: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[Any] = mapped_column(Json)
