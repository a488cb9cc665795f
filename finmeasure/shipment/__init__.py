"""A box of fish: odd ones out, sex by the fins, size grade, fin condition, fin formulas."""
