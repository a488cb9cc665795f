"""Our own vector drawings of the body forms: one source for the fin guide and for marking."""
