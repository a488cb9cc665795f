"""Marking a fish by hand, without a window: what comes next, undo, drafts, the queue."""
