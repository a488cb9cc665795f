"""One fish's marks at one moment; never changed in place, so undo is a list of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from finmeasure.reading import Landmark, Outline


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What has been decided on one fish so far.

    Parameters
    ----------
    body_form : str
        Id of the body form.
    question : str
        ``size``, ``sex``, ``fin:<name>`` or ``full``.
    landmarks : mapping of str to Landmark
        Decided ones only; a landmark that is missing is still to be asked for.
    outlines : mapping of str to Outline
        By part, pixels.
    zooms : mapping of str to float
        Screen pixels per photo pixel at which each landmark was placed.
    at : str, optional
        The landmark asked for now; None when all are decided.
    """

    body_form: str
    question: str
    landmarks: Mapping[str, Landmark] = field(default_factory=lambda: MappingProxyType({}))
    outlines: Mapping[str, Outline] = field(default_factory=lambda: MappingProxyType({}))
    zooms: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    at: str | None = None

    def with_landmark(self, landmark: Landmark, zoom: float | None = None) -> Marks:
        """Give the marks with one landmark set or replaced."""
        zooms = {name: value for name, value in self.zooms.items() if name != landmark.name}
        if zoom is not None:
            zooms[landmark.name] = zoom
        landmarks = {**self.landmarks, landmark.name: landmark}
        return replace(self, landmarks=landmarks, zooms=zooms)

    def without(self, *names: str) -> Marks:
        """Give the marks with landmarks taken away; they will be asked for again."""
        return replace(
            self,
            landmarks={n: v for n, v in self.landmarks.items() if n not in names},
            zooms={n: v for n, v in self.zooms.items() if n not in names},
        )

    def with_outline(self, outline: Outline) -> Marks:
        """Give the marks with one outline set or replaced."""
        return replace(self, outlines={**self.outlines, outline.part: outline})

    def without_outline(self, part: str) -> Marks:
        """Give the marks with one outline taken away."""
        return replace(self, outlines={p: v for p, v in self.outlines.items() if p != part})
