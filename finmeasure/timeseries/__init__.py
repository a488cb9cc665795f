"""Change over time: repeatability, change with its limits, regrowth curves, groups, planning."""
