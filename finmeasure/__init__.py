"""finmeasure: measure fish fins on side-view photographs, every number with its uncertainty."""

__version__ = "0.1.0"
