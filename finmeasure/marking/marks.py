"""One fish's marks at one moment; never changed in place, so undo is a list of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from finmeasure.reading import Landmark, Outline, Reading


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
    proposal : Reading, optional
        The program's marks of this fish, as it proposed them.
    agreed : frozenset of str
        Landmarks and parts of the proposal that the person found right as they stand.
    """

    body_form: str
    question: str
    landmarks: Mapping[str, Landmark] = field(default_factory=lambda: MappingProxyType({}))
    outlines: Mapping[str, Outline] = field(default_factory=lambda: MappingProxyType({}))
    zooms: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    at: str | None = None
    proposal: Reading | None = None
    agreed: frozenset[str] = frozenset()

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

    def signed(self, before: str, after: str) -> Marks:
        """Give the marks with those of one person under another name."""
        landmarks = {
            n: replace(m, placed_by=after) if m.placed_by == before else m
            for n, m in self.landmarks.items()
        }
        outlines = {
            p: replace(o, placed_by=after) if o.placed_by == before else o
            for p, o in self.outlines.items()
        }
        return replace(self, landmarks=landmarks, outlines=outlines)
