"""Triggers that keep confirmed readings as they were made.

They stand in the database itself, so that no program can change a reading by mistake. Nothing
else in a study may be a trigger or a view: `expected_triggers` is what opening compares with.
"""

from __future__ import annotations

from collections.abc import Iterator

IMMUTABLE_TABLES = ("reading", "reading_landmark", "reading_outline", "scale")
MESSAGE = "readings and scales are never changed; make a new one"


def expected_triggers() -> dict[str, str]:
    """Give every trigger of a study: name to SQL text."""
    return dict(_triggers())


def _triggers() -> Iterator[tuple[str, str]]:
    for table in IMMUTABLE_TABLES:
        for action in ("UPDATE", "DELETE"):
            name = f"{table}_no_{action.lower()}"
            yield (
                name,
                f"CREATE TRIGGER {name} BEFORE {action} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
            )
