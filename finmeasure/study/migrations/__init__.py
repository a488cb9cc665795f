"""Alembic migrations of the study, shipped with the package."""
