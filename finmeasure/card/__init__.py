"""The printable card and its numbers on paper."""
