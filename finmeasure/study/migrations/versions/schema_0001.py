"""Schema 0001: the first released form of a study.

A released migration is never edited: it must go on making what it made on the day of release.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_APPLICATION_ID = 0x66696E6D
_IMMUTABLE = ("reading", "reading_landmark", "reading_outline", "scale")


def upgrade() -> None:
    """Make all tables and the triggers that keep readings and scales unchanged."""
    op.execute(f"PRAGMA application_id = {_APPLICATION_ID}")
    _make_run()
    _make_grp()
    _make_fish()
    _make_visit()
    _make_photo()
    _make_scale()
    _make_sighting()
    _make_reading()
    _make_reading_landmark()
    _make_reading_outline()
    _make_measure_set()
    _make_draft()
    _make_event()
    _make_water_test()
    _make_label()
    _make_reference()
    _make_card_print()
    _make_camera()
    _make_setting()
    for table in _IMMUTABLE:
        for action in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table} "
                "BEGIN SELECT RAISE(ABORT, "
                "'readings and scales are never changed; make a new one'); END"
            )


def _make_run() -> None:
    op.create_table(
        "run",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("version"),
        sa.Column("options", sa.JSON(), nullable=False),
        *_texts("started_at"),
        sa.Column("ended_at", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_run"),
    )


def _make_grp() -> None:
    op.create_table(
        "grp",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("name", "kind", "body_form", "came_from", "box", "bag"),
        sa.Column("invoiced", sa.Integer(), nullable=True),
        sa.Column("grade_mm_from", sa.Double(), nullable=True),
        sa.Column("grade_mm_to", sa.Double(), nullable=True),
        sa.Column("alive", sa.Integer(), nullable=True),
        sa.Column("dead", sa.Integer(), nullable=True),
        sa.Column("opened_at", sa.String(), nullable=True),
        sa.Column("claim_until", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_grp"),
        sa.UniqueConstraint("name", name="uq_grp_name"),
    )


def _make_fish() -> None:
    op.create_table(
        "fish",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("name"),
        sa.Column("group_id", sa.Uuid(), nullable=True),
        *_texts("body_form", "note", "created_at"),
        sa.ForeignKeyConstraint(["group_id"], ["grp.id"], name="fk_fish_group_id"),
        sa.PrimaryKeyConstraint("id", name="pk_fish"),
        sa.UniqueConstraint("name", name="uq_fish_name"),
    )


def _make_visit() -> None:
    op.create_table(
        "visit",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("group_id", sa.Uuid(), nullable=True),
        *_texts("date", "note"),
        sa.ForeignKeyConstraint(["group_id"], ["grp.id"], name="fk_visit_group_id"),
        sa.PrimaryKeyConstraint("id", name="pk_visit"),
    )
    op.create_index("ix_visit_group_id_date", "visit", ["group_id", "date"])


def _make_photo() -> None:
    op.create_table(
        "photo",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("name"),
        sa.Column("current", sa.Boolean(), nullable=False),
        *_texts("sha256", "file", "role"),
        sa.Column("width_px", sa.Integer(), nullable=True),
        sa.Column("height_px", sa.Integer(), nullable=True),
        sa.Column("taken_at", sa.String(), nullable=True),
        *_texts("camera"),
        sa.Column("focal_35mm", sa.Double(), nullable=True),
        *_texts("state", "reason", "flags"),
        sa.Column("fish_found", sa.Integer(), nullable=True),
        sa.Column("seconds", sa.Double(), nullable=True),
        *_texts("given_digest"),
        sa.Column("run_id", sa.Uuid(), nullable=True),
        *_texts("added_at"),
        sa.CheckConstraint("state IN ('to_do', 'measured', 'refused')", name="ck_photo_state"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_photo_run_id"),
        sa.PrimaryKeyConstraint("id", name="pk_photo"),
    )
    op.create_index(
        "ix_photo_current_name", "photo", ["name"], unique=True, sqlite_where=sa.text("current = 1")
    )
    op.create_index("ix_photo_sha256", "photo", ["sha256"])


def _make_scale() -> None:
    op.create_table(
        "scale",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("photo_id", sa.Uuid(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        *_texts("method"),
        sa.Column("px_per_mm", sa.Double(), nullable=True),
        sa.Column("px_per_mm_u", sa.Double(), nullable=True),
        sa.Column("document", sa.JSON(), nullable=True),
        *_texts("reason", "created_at"),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name="fk_scale_photo_id"),
        sa.PrimaryKeyConstraint("id", name="pk_scale"),
        sa.UniqueConstraint("photo_id", "ordinal", name="uq_scale_photo_id_ordinal"),
    )


def _make_sighting() -> None:
    op.create_table(
        "sighting",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("photo_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("fish_id", sa.Uuid(), nullable=True),
        sa.Column("group_id", sa.Uuid(), nullable=True),
        sa.Column("visit_id", sa.Uuid(), nullable=True),
        *_texts("side"),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.CheckConstraint("side IN ('left', 'right', '')", name="ck_sighting_side"),
        sa.CheckConstraint("number >= 1", name="ck_sighting_number"),
        sa.ForeignKeyConstraint(["fish_id"], ["fish.id"], name="fk_sighting_fish_id"),
        sa.ForeignKeyConstraint(["group_id"], ["grp.id"], name="fk_sighting_group_id"),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name="fk_sighting_photo_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_sighting_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_sighting"),
        sa.UniqueConstraint("photo_id", "fish_id", name="uq_sighting_photo_id_fish_id"),
        sa.UniqueConstraint("photo_id", "number", name="uq_sighting_photo_id_number"),
    )
    op.create_index("ix_sighting_fish_id", "sighting", ["fish_id"])
    op.create_index("ix_sighting_group_id", "sighting", ["group_id"])


def _make_reading() -> None:
    op.create_table(
        "reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("sighting_id", sa.Uuid(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        *_texts("purpose", "source"),
        sa.Column("confirmed", sa.Boolean(), nullable=False),
        *_texts("placed_by", "body_form", "created_at"),
        sa.Column("run_id", sa.Uuid(), nullable=True),
        sa.Column("seconds", sa.Double(), nullable=True),
        *_texts("note"),
        sa.CheckConstraint("purpose IN ('work', 'repeat')", name="ck_reading_purpose"),
        sa.CheckConstraint("source IN ('person', 'file', 'program')", name="ck_reading_source"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_reading_run_id"),
        sa.ForeignKeyConstraint(["sighting_id"], ["sighting.id"], name="fk_reading_sighting_id"),
        sa.PrimaryKeyConstraint("id", name="pk_reading"),
        sa.UniqueConstraint("sighting_id", "ordinal", name="uq_reading_sighting_id_ordinal"),
    )


def _make_reading_landmark() -> None:
    op.create_table(
        "reading_landmark",
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        *_texts("landmark"),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("x_px", sa.Double(), nullable=True),
        sa.Column("y_px", sa.Double(), nullable=True),
        sa.Column("u_px", sa.Double(), nullable=True),
        sa.Column("u_across_px", sa.Double(), nullable=True),
        *_texts("state", "placed_by"),
        sa.Column("confidence", sa.Double(), nullable=True),
        sa.CheckConstraint(
            "state IN ('placed', 'absent', 'hidden')", name="ck_reading_landmark_state"
        ),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name="fk_reading_landmark_reading_id"
        ),
        sa.PrimaryKeyConstraint("reading_id", "landmark", name="pk_reading_landmark"),
        sqlite_with_rowid=False,
    )


def _make_reading_outline() -> None:
    op.create_table(
        "reading_outline",
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        *_texts("part"),
        sa.Column("position", sa.Integer(), nullable=False),
        *_texts("wkt", "placed_by"),
        sa.Column("confidence", sa.Double(), nullable=True),
        *_texts("spread", "edge"),
        sa.CheckConstraint(
            "spread IN ('spread', 'part_folded', 'clamped')", name="ck_reading_outline_spread"
        ),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name="fk_reading_outline_reading_id"
        ),
        sa.PrimaryKeyConstraint("reading_id", "part", name="pk_reading_outline"),
        sqlite_with_rowid=False,
    )


def _make_measure_set() -> None:
    op.create_table(
        "measure_set",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        sa.Column("scale_id", sa.Uuid(), nullable=False),
        *_texts("code_version"),
        sa.Column("measure", sa.JSON(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("unit", sa.JSON(), nullable=False),
        sa.Column("u", sa.JSON(), nullable=False),
        sa.Column("state", sa.JSON(), nullable=False),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.Column("reason", sa.JSON(), nullable=False),
        *_texts("created_at"),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name="fk_measure_set_reading_id"),
        sa.ForeignKeyConstraint(["scale_id"], ["scale.id"], name="fk_measure_set_scale_id"),
        sa.PrimaryKeyConstraint("id", name="pk_measure_set"),
        sa.UniqueConstraint(
            "reading_id",
            "scale_id",
            "code_version",
            name="uq_measure_set_reading_id_scale_id_code_version",
        ),
    )


def _make_draft() -> None:
    op.create_table(
        "draft",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("photo_id", sa.Uuid(), nullable=False),
        *_texts("fish", "person", "purpose"),
        sa.Column("document", sa.JSON(), nullable=False),
        *_texts("saved_at"),
        sa.CheckConstraint("purpose IN ('work', 'repeat')", name="ck_draft_purpose"),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name="fk_draft_photo_id"),
        sa.PrimaryKeyConstraint("id", name="pk_draft"),
        sa.UniqueConstraint(
            "photo_id", "fish", "person", "purpose", name="uq_draft_photo_id_fish_person_purpose"
        ),
    )


def _make_event() -> None:
    op.create_table(
        "event",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("group_id", sa.Uuid(), nullable=True),
        sa.Column("fish_id", sa.Uuid(), nullable=True),
        *_texts("date", "event", "note"),
        sa.ForeignKeyConstraint(["fish_id"], ["fish.id"], name="fk_event_fish_id"),
        sa.ForeignKeyConstraint(["group_id"], ["grp.id"], name="fk_event_group_id"),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
    )
    op.create_index("ix_event_group_id_date", "event", ["group_id", "date"])


def _make_water_test() -> None:
    op.create_table(
        "water_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("group_id", sa.Uuid(), nullable=False),
        *_texts("taken_at", "quantity"),
        sa.Column("value", sa.Double(), nullable=False),
        *_texts("unit"),
        sa.ForeignKeyConstraint(["group_id"], ["grp.id"], name="fk_water_test_group_id"),
        sa.PrimaryKeyConstraint("id", name="pk_water_test"),
        sa.UniqueConstraint(
            "group_id", "taken_at", "quantity", name="uq_water_test_group_id_taken_at_quantity"
        ),
    )


def _make_label() -> None:
    op.create_table(
        "label",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("fish_id", sa.Uuid(), nullable=True),
        sa.Column("sighting_id", sa.Uuid(), nullable=True),
        *_texts("character", "value", "set_by", "set_at"),
        sa.CheckConstraint(
            "(fish_id IS NULL) <> (sighting_id IS NULL)", name="ck_label_one_target"
        ),
        sa.ForeignKeyConstraint(["fish_id"], ["fish.id"], name="fk_label_fish_id"),
        sa.ForeignKeyConstraint(["sighting_id"], ["sighting.id"], name="fk_label_sighting_id"),
        sa.PrimaryKeyConstraint("id", name="pk_label"),
        sa.UniqueConstraint(
            "fish_id", "character", "set_by", name="uq_label_fish_id_character_set_by"
        ),
        sa.UniqueConstraint(
            "sighting_id", "character", "set_by", name="uq_label_sighting_id_character_set_by"
        ),
    )


def _make_reference() -> None:
    op.create_table(
        "reference",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("kind", "fin"),
        sa.Column("fish_id", sa.Uuid(), nullable=True),
        sa.Column("group_id", sa.Uuid(), nullable=True),
        *_texts("name"),
        sa.Column("document", sa.JSON(), nullable=False),
        *_texts("declared_by", "declared_at"),
        sa.CheckConstraint(
            "kind IN ('own_record', 'healthy_mates', 'species_row')", name="ck_reference_kind"
        ),
        sa.ForeignKeyConstraint(["fish_id"], ["fish.id"], name="fk_reference_fish_id"),
        sa.ForeignKeyConstraint(["group_id"], ["grp.id"], name="fk_reference_group_id"),
        sa.PrimaryKeyConstraint("id", name="pk_reference"),
    )


def _make_card_print() -> None:
    op.create_table(
        "card_print",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("card", "design"),
        sa.Column("across_nominal_mm", sa.Double(), nullable=False),
        sa.Column("across_measured_mm", sa.Double(), nullable=False),
        sa.Column("down_nominal_mm", sa.Double(), nullable=False),
        sa.Column("down_measured_mm", sa.Double(), nullable=False),
        sa.Column("u_mm", sa.Double(), nullable=False),
        *_texts("measured_at", "note"),
        sa.PrimaryKeyConstraint("id", name="pk_card_print"),
    )


def _make_camera() -> None:
    op.create_table(
        "camera",
        sa.Column("id", sa.Uuid(), nullable=False),
        *_texts("name"),
        sa.Column("focal_35mm", sa.Double(), nullable=True),
        sa.Column("document", sa.JSON(), nullable=False),
        *_texts("calibrated_at"),
        sa.PrimaryKeyConstraint("id", name="pk_camera"),
    )


def _make_setting() -> None:
    op.create_table(
        "setting",
        *_texts("key"),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_setting"),
    )


def _texts(*names: str) -> list[sa.Column[str]]:
    """Columns of text that is always there, if need be empty."""
    return [sa.Column(name, sa.String(), nullable=False) for name in names]
