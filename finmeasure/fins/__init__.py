"""Fin edges: raggedness, notches, splits, loss."""
