"""Measuring many photos."""
