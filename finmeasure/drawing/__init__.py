"""Drawn photos whose every length is known."""
