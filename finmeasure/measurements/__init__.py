"""Lengths and ratios of one fish from its landmarks and the scale."""
