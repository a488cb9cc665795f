"""The cautions, once, for every place that shows them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

_FILE = Path(__file__).with_name("cautions.txt")


@cache
def cautions() -> Mapping[str, tuple[str, ...]]:
    """Read all cautions.

    Returns
    -------
    mapping of str to tuple of str
        One sentence or two each, by heading: ``handling``, ``reading``, ``first advice``.

    Examples
    --------
    >>> list(cautions())
    ['handling', 'reading', 'first advice']
    """
    sections: dict[str, list[str]] = {}
    for line in _FILE.read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            sections[line.strip("[]")] = []
        elif line and not line.startswith("#"):
            sections[list(sections)[-1]].append(line)
    return MappingProxyType({heading: tuple(lines) for heading, lines in sections.items()})
