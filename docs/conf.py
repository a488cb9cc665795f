"""Sphinx settings; pages that repeat what the program knows are written by `generated_pages`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from generated_pages import write_generated_pages

import finmeasure

project = "finmeasure"
author = "the finmeasure developers"
copyright = "2026, the finmeasure developers"
release = finmeasure.__version__
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.autosummary", "numpydoc"]
exclude_patterns = ["_build"]
html_theme = "pydata_sphinx_theme"
html_title = "finmeasure"
html_theme_options = {"show_prev_next": True, "navigation_with_keys": True}
myst_enable_extensions = ["deflist", "colon_fence"]
myst_heading_anchors = 3
numpydoc_show_class_members = False
autodoc_typehints = "none"
autosummary_generate = True


def setup(app):
    """Write the pages made from the program's own data before Sphinx looks for pages."""
    write_generated_pages(Path(__file__).parent / "generated")
