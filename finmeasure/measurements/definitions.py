"""The one table of all measures: what they are called, what they need and where they come from.

To add a length, add one row to ``_LENGTHS``: its ratio to standard length, its place in tables,
its uncertainty and its line in the docs follow from the row.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from finmeasure.errors import DefinitionError
from finmeasure.fins.records import MEDIAN_FINS

Kind = Literal[
    "distance", "farthest_along_axis", "farther", "offset_from_line",
    "ratio", "aspect_ratio", "rod_width", "fin_edge", "over_time",
]  # fmt: skip
TAIL_TIPS = ("caudal_upper_tip", "caudal_lower_tip", "caudal_fork")

_E_COURSE = "ICAR-IASRI e-course, morphometric measurements for cyprinids (after Hubbs & Lagler)"
_MICHIGAN = "University of Michigan, ichthyology course glossary"
_HUBBS = "Hubbs & Lagler 1964, Fishes of the Great Lakes Region (from memory)"
_PRACTICE = "common practice, no source"
_EXPERIMENT = "chosen by experiment on drawn fins, docs/method/fin_edges.md"


@dataclass(frozen=True, slots=True)
class MeasureDefinition:
    """One row of the table of measures.

    Parameters
    ----------
    id : str
        Stable id, as in every output table.
    shown : str
        Name that people read.
    unit : str
        ``"mm"``, ``"mm2"``, ``"%"`` or ``"1"``.
    kind : str
        Kind of formula; see :mod:`finmeasure.measurements.formulas`.
    landmarks : tuple of str
        Landmarks that are needed, in the order of the formula.
    formula : str
        The formula in words.
    source : str
        Where the definition comes from.
    explanation : str
        What it tells, in plain words.
    fin : str
        Fin that it belongs to, or empty.
    needs_spread : bool
        Refused where that fin is folded.
    parts : tuple of str
        Ids of numerator and denominator of a ratio.
    plausible : tuple of float, optional
        Smallest and largest value without the flag ``implausible``.
    body_forms : tuple of str
        Body forms that have it; empty for all.
    """

    id: str
    shown: str
    unit: str
    kind: Kind
    landmarks: tuple[str, ...]
    formula: str
    source: str
    explanation: str
    fin: str = ""
    needs_spread: bool = False
    parts: tuple[str, ...] = ()
    plausible: tuple[float, float] | None = None
    body_forms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Length:
    """A length and the range of its ratio to standard length that raises no question."""

    definition: MeasureDefinition
    plausible_to_sl: tuple[float, float] | None = None


def _length(
    id_: str,
    shown: str,
    landmarks: tuple[str, ...],
    source: str,
    explanation: str,
    *,
    fin: str = "",
    spread: bool = False,
    kind: Kind = "distance",
    formula: str = "",
    to_sl: tuple[float, float] | None = None,
) -> _Length:
    """Fill in what most lengths have in common."""
    words = formula or f"straight line {' – '.join(landmarks)}"
    row = MeasureDefinition(
        id_, shown, "mm", kind, landmarks, words, source, explanation, fin, spread
    )
    return _Length(row, to_sl)


# Ranges of ratios: total length from the literature (SL/TL 0.65–0.90 for fish without filaments,
# FishBase LENGTHLENGTH, typical values from memory); the others are wide limits from memory that
# only catch swapped or slipped marks (common practice, no source).
_LENGTHS = (
    _length(
        "standard_length", "standard length", ("snout_tip", "caudal_base"),
        "FishBase Glossary, \"standard length\"",
        "Length without the tail fin. Everything else is compared with it, because a damaged tail "
        "does not change it.",
    ),
    _length(
        "total_length", "total length", ("snout_tip", "caudal_base", *TAIL_TIPS),
        "FishBase Glossary, \"total length\"; here with the fins as they lie",
        "Length with the tail fin, threads and swords left out. Too short where the tail is "
        "damaged.",
        kind="farthest_along_axis", to_sl=(1.0 / 0.90, 1.0 / 0.65),
        formula="snout_tip to the farthest of upper, lower and middle tail end, along the line "
        "snout_tip – caudal_base",
    ),
    _length(
        "fork_length", "fork length", ("snout_tip", "caudal_fork"),
        "FishBase Glossary, \"fork length\"",
        "Length to the end of the middle rays of the tail fin.", to_sl=(1.0, 1.55),
    ),
    _length(
        "head_length", "head length", ("snout_tip", "operculum_end"),
        "FishDB glossary, Academia Sinica, \"head length\"; bony edge, membrane left out",
        "From the snout to the bony edge of the gill cover.", to_sl=(0.12, 0.50),
    ),
    _length(
        "snout_length", "snout length", ("snout_tip", "eye_front"), _HUBBS,
        "From the snout to the front edge of the eye.", to_sl=(0.01, 0.30),
    ),
    _length(
        "eye_diameter", "eye diameter", ("eye_front", "eye_back"), _HUBBS,
        "Width of the eye along the body.", to_sl=(0.01, 0.25),
    ),
    _length(
        "body_depth", "body depth", ("body_top", "body_bottom"), _MICHIGAN,
        "Greatest height of the body, fins left out.", to_sl=(0.04, 1.40),
    ),
    _length(
        "predorsal_length", "predorsal length", ("snout_tip", "dorsal_origin"), _E_COURSE,
        "From the snout to the front end of the dorsal fin.", to_sl=(0.15, 0.95),
    ),
    _length(
        "prepelvic_length", "prepelvic length", ("snout_tip", "pelvic_origin"), _E_COURSE,
        "From the snout to the base of the ventral (pelvic) fin.", to_sl=(0.15, 0.90),
    ),
    _length(
        "preanal_length", "preanal length", ("snout_tip", "anal_origin"), _E_COURSE,
        "From the snout to the front end of the anal fin.", to_sl=(0.20, 0.98),
    ),
    _length(
        "peduncle_depth", "depth of the tail stalk", ("peduncle_top", "peduncle_bottom"),
        _MICHIGAN, "Smallest height between anal fin and tail fin.", to_sl=(0.01, 0.35),
    ),
    _length(
        "peduncle_length", "length of the tail stalk", ("anal_end", "caudal_base"),
        f"{_MICHIGAN}; {_HUBBS}", "From the rear end of the anal fin to the tail fin, slanting.",
        to_sl=(0.0, 0.55),
    ),
    _length(
        "dorsal_base_length", "base of the dorsal fin", ("dorsal_origin", "dorsal_end"),
        "Pravdin's scheme (Plotnikov, textbook)", "How long the dorsal fin is along the back.",
        fin="dorsal", to_sl=(0.02, 0.85),
    ),
    _length(
        "dorsal_height", "height of the dorsal fin", ("dorsal_origin", "dorsal_tip"), _HUBBS,
        "From the front end of the dorsal fin to its tip. The first dorsal where there are two.",
        fin="dorsal", spread=True, to_sl=(0.02, 1.20),
    ),
    _length(
        "anal_base_length", "base of the anal fin", ("anal_origin", "anal_end"),
        "Pravdin's scheme (Plotnikov, textbook)", "How long the anal fin is along the belly.",
        fin="anal", to_sl=(0.005, 0.85),
    ),
    _length(
        "anal_height", "height of the anal fin", ("anal_origin", "anal_tip"), _HUBBS,
        "From the front end of the anal fin to its tip; of a male livebearer, the rod.",
        fin="anal", spread=True, to_sl=(0.02, 1.20),
    ),
    _length(
        "pelvic_length", "ventral (pelvic) fin length", ("pelvic_origin", "pelvic_tip"), _HUBBS,
        "Length of the ventral fin without its thread.",
        fin="pelvic", spread=True, to_sl=(0.01, 1.20),
    ),
    _length(
        "pelvic_thread_length", "ventral (pelvic) fin length with its thread",
        ("pelvic_origin", "pelvic_thread_tip"), _PRACTICE,
        "Length of the ventral fin with the thread of gouramis and some other fish.",
        fin="pelvic", spread=True, to_sl=(0.05, 2.50),
    ),
    _length(
        "pectoral_length", "pectoral fin length", ("pectoral_origin", "pectoral_tip"), _HUBBS,
        "Length of the fin behind the gill cover.",
        fin="pectoral", spread=True, to_sl=(0.02, 0.80),
    ),
    _length(
        "caudal_length", "length of the tail fin",
        ("caudal_base", "caudal_upper_tip", "caudal_lower_tip"), _PRACTICE,
        "From the base of the tail fin to its farther tip; a sword is left out.",
        fin="caudal", spread=True, kind="farther", to_sl=(0.05, 1.50),
        formula="longer of the straight lines caudal_base – upper and – lower tip",
    ),
    _length(
        "caudal_span", "span of the tail fin", ("caudal_upper_tip", "caudal_lower_tip"),
        "ICAR-IASRI e-course, definitions of position (N – N')",
        "From tip to tip of the tail fin.", fin="caudal", spread=True, to_sl=(0.02, 1.50),
    ),
    _length(
        "caudal_fork_depth", "fork depth of the tail fin",
        ("caudal_upper_tip", "caudal_lower_tip", "caudal_fork", "caudal_base"),
        "ICAR-IASRI e-course, definitions of position (M – F')",
        "How deep the tail fin is forked. Absent where the middle rays reach the line between "
        "the tips or go beyond it.",
        fin="caudal", spread=True, kind="offset_from_line", to_sl=(0.0, 0.80),
        formula="distance of caudal_fork from the line joining the tips, towards the body",
    ),
)  # fmt: skip


def _to_sl(length: _Length) -> MeasureDefinition:
    """Ratio of a length to standard length."""
    row, base = length.definition, _LENGTHS[0].definition
    return MeasureDefinition(
        f"{row.id}_to_sl", f"{row.shown} / standard length", "1", "ratio",
        tuple(dict.fromkeys((*row.landmarks, *base.landmarks))),
        f"{row.id} / {base.id}", row.source, f"{row.explanation} As a share of standard length.",
        row.fin, row.needs_spread, (row.id, base.id), length.plausible_to_sl,
    )  # fmt: skip


_FORM_RATIOS = (
    MeasureDefinition(
        "fineness_ratio", "fineness ratio (length / depth)", "1", "ratio",
        ("snout_tip", "caudal_base", "body_top", "body_bottom"),
        "standard_length / body_depth", _PRACTICE,
        "How slender the body is.", parts=("standard_length", "body_depth"), plausible=(0.7, 25.0),
    ),
    MeasureDefinition(
        "caudal_aspect_ratio", "aspect ratio of the tail fin", "1", "aspect_ratio",
        ("caudal_upper_tip", "caudal_lower_tip"),
        "caudal_span² / area of the tail fin closed by its base line",
        "Pauly 1989, Fishbyte 7(1):22; his area reaches forward to the narrowest part of the tail "
        "stalk, ours ends at the base line, so ours is the larger number",
        "Wide and narrow against short and broad tail fins.",
        fin="caudal", needs_spread=True, plausible=(0.2, 15.0),
    ),
    MeasureDefinition(
        "anal_rod_to_sl", "length of the anal rod / standard length", "1", "ratio",
        ("anal_origin", "anal_tip", "snout_tip", "caudal_base"),
        "anal_height / standard_length", _PRACTICE,
        "Livebearers of the guppy family: the adult male's anal fin is a rod.",
        fin="anal", parts=("anal_height", "standard_length"), plausible=(0.02, 0.70),
        body_forms=("livebearer",),
    ),
    MeasureDefinition(
        "anal_rod_width_to_sl", "width of the anal rod at half length / standard length", "1",
        "rod_width", ("anal_origin", "anal_tip", "snout_tip", "caudal_base"),
        "width of the anal fin's outline square to anal_origin – anal_tip at half of that line, "
        "divided by standard_length", _PRACTICE,
        "Livebearers of the guppy family: narrow in a rod, wide in a fan.", fin="anal",
        body_forms=("livebearer",),
    ),
)  # fmt: skip

_EDGE_FIGURES: tuple[tuple[str, str, str, str, str], ...] = (
    ("notch_area", "raggedness (notch area)", "%", "area of all notches / area of the fin made "
     "good", "How much of the fin's edge is missing in notches. A fin that is shorter all over "
     "has none."),
    ("area", "area", "mm2", "area inside the edge, closed by the straight base line",
     "Area of the fin; it changes as the fin opens."),
    ("notch_depth", "deepest notch", "%", "depth of the deepest notch / length of the fin",
     "How deep the worst notch goes."),
    ("notch_count", "notches", "1", "notches at least 3 % of the fin's length deep",
     "How many notches there are."),
    ("split_count", "splits", "1", "narrow splits between rays",
     "Splits between rays, kept apart from lost tissue."),
    ("relative_length", "length of the fin / standard length", "1",
     "longest distance from the middle of the base to the edge / standard_length",
     "Falls when the whole fin gets shorter."),
)  # fmt: skip
_OVER_TIME: tuple[tuple[str, str, str, str, str], ...] = (
    ("change", "change since the first visit", "%", "relative length now / at this fish's first "
     "visit − 1", "−10 means a tenth shorter."),
    ("erosion", "erosion", "%", "share of the fin's length that is missing against a declared "
     "whole reference", "How much is missing against a whole fin."),
)  # fmt: skip


def _of_fin(fin: str, figure: tuple[str, str, str, str, str], kind: Kind) -> MeasureDefinition:
    """One figure of one median fin."""
    name, shown, unit, formula, explanation = figure
    fin_shown = {"caudal": "tail fin", "second_dorsal": "second dorsal fin"}.get(fin, f"{fin} fin")
    return MeasureDefinition(
        f"{fin}_{name}", f"{fin_shown}: {shown}", unit, kind, (), formula, _EXPERIMENT,
        explanation, fin, True,
    )  # fmt: skip


HEADLINE = ("dorsal_height_to_sl", "caudal_fork_depth_to_sl", "pelvic_length_to_sl")
"""Ratios that come first wherever measures are listed."""
LENGTHS = tuple(row.definition for row in _LENGTHS)
RATIOS = (*(_to_sl(row) for row in _LENGTHS[1:]), *_FORM_RATIOS)
_NOTCH_AREAS = tuple(_of_fin(fin, _EDGE_FIGURES[0], "fin_edge") for fin in MEDIAN_FINS)
_OTHER_FIGURES = (
    *(_of_fin(fin, figure, "fin_edge") for fin in MEDIAN_FINS for figure in _EDGE_FIGURES[1:]),
    *(_of_fin(fin, figure, "over_time") for fin in MEDIAN_FINS for figure in _OVER_TIME),
)


def _in_order() -> dict[str, MeasureDefinition]:
    """All measures: headline ratios, raggedness, lengths, other ratios, other edge figures."""
    ratios = {row.id: row for row in RATIOS}
    first = [ratios.pop(id_) for id_ in HEADLINE]
    rows = (*first, *_NOTCH_AREAS, *LENGTHS, *ratios.values(), *_OTHER_FIGURES)
    return {row.id: row for row in rows}


MEASURES: Mapping[str, MeasureDefinition] = MappingProxyType(_in_order())
"""Every measure by id, in the order of tables and screens."""


def measure_definition(id_: str) -> MeasureDefinition:
    """Look one measure up.

    Raises
    ------
    DefinitionError
        If there is no such measure.
    """
    if id_ not in MEASURES:
        message = f"Measure {id_!r} is not known. Allowed: {', '.join(MEASURES)}."
        raise DefinitionError(message)
    return MEASURES[id_]


def measures_of_landmark(name: str) -> tuple[str, ...]:
    """Ids of the measures that hang on a landmark, in table order.

    Examples
    --------
    >>> measures_of_landmark("pelvic_thread_tip")
    ('pelvic_thread_length', 'pelvic_thread_length_to_sl')
    """
    return tuple(row.id for row in MEASURES.values() if name in row.landmarks)
