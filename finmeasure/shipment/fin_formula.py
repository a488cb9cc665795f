"""Fin formulas: Roman spines, lower-case unbranched rays, Arabic soft rays."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from finmeasure.errors import DefinitionError

ROMAN = {"i": 1, "v": 5, "x": 10, "l": 50}
DASH = r"\s*(?:-|–|or|to)\s*"
COUNT = r"[IVXL]+|[ivxl]+|\d+½?"
PART = re.compile(rf"(?P<low>{COUNT})(?:{DASH}(?P<high>{COUNT}))?\.?")


@dataclass(frozen=True, slots=True)
class RayCount:
    """One run of like rays.

    Parameters
    ----------
    kind : {"spine", "unbranched", "soft"}
        Capitals are spines, lower-case Roman unbranched soft rays, Arabic branched or all rays.
    low, high : float
        Range; a half stands for the last two rays on one base.
    """

    kind: str
    low: float
    high: float

    def holds(self, count: float) -> bool:
        """Whether a count lies in the range."""
        return self.low <= count <= self.high

    def __str__(self) -> str:
        """Write the run in its own notation."""
        low, high = (_written(self.kind, value) for value in (self.low, self.high))
        return low if low == high else f"{low}-{high}"


@dataclass(frozen=True, slots=True)
class FinFormula:
    """Counts of one fin, e.g. ``D III,8``: letter of the fin and its runs of rays."""

    fin: str
    runs: tuple[RayCount, ...]

    def __str__(self) -> str:
        """Write the formula with commas between runs."""
        return f"{self.fin} {','.join(str(run) for run in self.runs)}"

    @property
    def soft_total(self) -> tuple[float, float]:
        """Range of all soft rays, unbranched ones counted (ii,9 gives 11)."""
        soft = [run for run in self.runs if run.kind != "spine"]
        return sum(run.low for run in soft), sum(run.high for run in soft)


def parse_fin_formula(text: str) -> FinFormula:
    """Read one fin's formula.

    Parameters
    ----------
    text : str
        For example ``"D III,8"``, ``"A iv-v,23-27"``, ``"D XV–XVII/7-9"`` or ``"P1 i,13"``.

    Raises
    ------
    DefinitionError
        If it cannot be read.

    Examples
    --------
    >>> str(parse_fin_formula("D ii,9"))
    'D ii,9'
    >>> parse_fin_formula("D ii,9").soft_total
    (11.0, 11.0)
    """
    match = re.fullmatch(r"\s*(D1|D2|P1|P2|[DAPVC])\.?\s+(.+?)\s*", text)
    pieces = re.split(r"\s*[,/+]\s*", match[2]) if match else []
    runs = [PART.fullmatch(piece.strip()) for piece in pieces]
    if match is None or not all(runs):
        message = (
            f"Fin formula {text!r} cannot be read. Write the fin's letter (D, D1, D2, A, P, V, C) "
            "and counts such as 'D III,8' (Roman spines, Arabic soft rays, ranges with a dash)."
        )
        raise DefinitionError(message)
    return FinFormula(match[1], tuple(_run(run["low"], run["high"]) for run in runs if run))


def _run(low: str, high: str | None) -> RayCount:
    """Build one run from its written bounds."""
    kind = "soft" if low[0].isdigit() else "spine" if low.isupper() else "unbranched"
    bounds = sorted((_counted(low), _counted(high or low)))
    return RayCount(kind, bounds[0], bounds[1])


def _counted(text: str) -> float:
    """Value of an Arabic (with a half) or Roman number."""
    if text[0].isdigit():
        return float(text.rstrip("½")) + (0.5 if text.endswith("½") else 0.0)
    digits = [ROMAN[letter] for letter in text.lower()]
    signs = [-1 if a < b else 1 for a, b in zip(digits, [*digits[1:], 0], strict=True)]
    return float(sum(sign * digit for sign, digit in zip(signs, digits, strict=True)))


def _written(kind: str, value: float) -> str:
    """Write a count in the notation of its kind."""
    if kind == "soft":
        return f"{int(value)}{'½' if value % 1 else ''}"
    left, letters = int(value), ""
    for step, letter in (
        (50, "l"),
        (40, "xl"),
        (10, "x"),
        (9, "ix"),
        (5, "v"),
        (4, "iv"),
        (1, "i"),
    ):
        letters += letter * (left // step)
        left %= step
    return letters.upper() if kind == "spine" else letters


FIN_LETTERS: dict[str, str] = {
    "dorsal": "D", "second_dorsal": "D2", "anal": "A", "pectoral": "P1", "pelvic": "P2",
    "caudal": "C",
}  # fmt: skip
"""Letter of each fin; the front dorsal is D1 where a second one is counted."""
COUNTED: dict[str, str] = {
    "spines": "spine",
    "unbranched_rays": "unbranched",
    "soft_rays": "soft",
}
"""Ending of the label that keeps a count, and kind of its run; in the order of a formula."""
LATERAL_LINE = "lateral_line_scales"


def count_label(fin: str, counted: str) -> str:
    """Name the label that keeps a count.

    Parameters
    ----------
    fin : str
        Fin of :data:`FIN_LETTERS`; not used for scales.
    counted : str
        Of :data:`COUNTED`, or :data:`LATERAL_LINE`.

    Raises
    ------
    DefinitionError
        If fin or kind is not known.

    Examples
    --------
    >>> count_label("anal", "soft_rays")
    'anal_soft_rays'
    """
    if counted == LATERAL_LINE:
        return LATERAL_LINE
    if fin not in FIN_LETTERS or counted not in COUNTED:
        message = (
            f"Counts of {counted!r} on {fin!r} are not known. Allowed: {', '.join(COUNTED)} on "
            f"{', '.join(FIN_LETTERS)}, or {LATERAL_LINE}."
        )
        raise DefinitionError(message)
    return f"{fin}_{counted}"


def formulas_of(labels: Mapping[str, str]) -> tuple[FinFormula, ...]:
    """Write the counts that a fish is labelled with as fin formulas; unreadable ones are left out.

    Parameters
    ----------
    labels : mapping of str to str
        Values by character, e.g. ``{"dorsal_spines": "3", "dorsal_soft_rays": "8"}``.

    Examples
    --------
    >>> [str(one) for one in formulas_of({"dorsal_spines": "3", "dorsal_soft_rays": "8"})]
    ['D III,8']
    """
    found = []
    two = any(f"second_dorsal_{ending}" in labels for ending in COUNTED)
    for fin, letter in FIN_LETTERS.items():
        runs = []
        for ending, kind in COUNTED.items():
            text = labels.get(f"{fin}_{ending}", "")
            if text.isdecimal() and int(text) > 0:
                runs.append(RayCount(kind, float(text), float(text)))
        if runs:
            found.append(FinFormula("D1" if letter == "D" and two else letter, tuple(runs)))
    return tuple(found)
