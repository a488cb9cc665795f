"""Sphinx settings; pages that repeat what the program knows are written by `generated_pages`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent / "tutorials"))

from generated_pages import write_generated_pages

import finmeasure

HERE = Path(__file__).parent

project = "finmeasure"
author = "the finmeasure developers"
copyright = "2026, the finmeasure developers"
release = finmeasure.__version__
extensions = [
    "myst_parser",
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "numpydoc",
    "sphinx_gallery.gen_gallery",
]
exclude_patterns = ["_build", "tutorials"]
html_theme = "pydata_sphinx_theme"
html_title = "finmeasure"
html_theme_options = {
    "show_prev_next": True,
    "navigation_with_keys": True,
    "navbar_center": [],  # the whole of the contents stands at the left
}
html_sidebars = {"**": ["globaltoc"]}
myst_enable_extensions = ["attrs_inline", "colon_fence", "deflist"]
myst_heading_anchors = 3
numpydoc_show_class_members = False
autodoc_typehints = "none"
autosummary_generate = True

# The tutorials are run anew in every build: an example that no longer works must stop it.
sphinx_gallery_conf = {
    "examples_dirs": "tutorials",
    "gallery_dirs": "generated/tutorials",
    "filename_pattern": r"plot_",
    "ignore_pattern": r"typed\.py",
    "within_subsection_order": "FileNameSortKey",
    "run_stale_examples": True,
    "abort_on_example_error": True,
    "remove_config_comments": True,
    "download_all_examples": False,
    "show_signature": False,
    "capture_repr": ("_repr_html_",),
    "write_computation_times": False,
    "copyfile_regex": r"typed\.py",
}


def setup(app):
    """Write the pages made from the program's own data before Sphinx looks for pages."""
    write_generated_pages(HERE / "generated")
