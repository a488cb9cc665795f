"""Species rows that a stray fits or does not fit; never "this is species X"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finmeasure.errors import DefinitionError, TableError
from finmeasure.exchange.tables import Row, each_row, read_rows
from finmeasure.shipment.box import BoxFish
from finmeasure.shipment.fin_formula import FinFormula, parse_fin_formula

SHIPPED = Path(__file__).with_name("data") / "species.csv"
RATIOS = ("body_depth_to_sl", "head_length_to_sl", "predorsal_length_to_sl")
COUNTED = ("dorsal", "anal")
SLACK = 0.05
"""Published ranges rest on few fish: a ratio fits up to this share beyond them (our choice)."""


@dataclass(frozen=True, slots=True)
class SpeciesRow:
    """One row of the reference table."""

    species: str
    ratios: dict[str, tuple[float, float]]
    adipose: str
    dorsals: str
    grade: str
    source: str
    formulas: tuple[FinFormula, ...] = ()


@dataclass(frozen=True, slots=True)
class Fit:
    """How a fish and a row agree: characters that fit and that do not, in words."""

    row: SpeciesRow
    fits: tuple[str, ...]
    misfits: tuple[str, ...]

    def __str__(self) -> str:
        """Say it in one line, with grade and source."""
        told = f"does not fit ({', '.join(self.misfits)})" if self.misfits else "fits"
        also = f" (by {', '.join(self.fits)})" if self.fits and not self.misfits else ""
        return f"{self.row.species}: {told}{also} [{self.row.grade}; {self.row.source}]"


def read_species(path: Path = SHIPPED) -> tuple[tuple[SpeciesRow, ...], tuple[str, ...]]:
    """Read a reference table.

    Returns
    -------
    tuple of SpeciesRow, tuple of str
        Rows in order, and one line for each row that holds nonsense and is left out.

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong.
    """
    rows: list[SpeciesRow] = []
    problems: list[str] = []
    each_row(
        read_rows(path, ("species",)),
        lambda row: rows.append(_species(row)),
        lambda _row, problem: problems.append(problem),
    )
    if not rows:
        message = f"{path.name}: no row can be used. {' '.join(problems[:1])}"
        raise TableError(message)
    return tuple(rows), tuple(problems)


def _species(row: Row) -> SpeciesRow:
    formulas: list[FinFormula] = []
    for column in COUNTED:
        text = row.text(column, default="")
        try:
            formulas += [parse_fin_formula(text)] if text else []
        except DefinitionError:
            row.refuse(column, "a fin formula such as 'D III,8'")
    ratios = {name: limits for name in RATIOS if (limits := _range(row, name)) is not None}
    adipose, dorsals, grade, source = (
        row.text(name, default="") for name in ("adipose", "dorsals", "grade", "source")
    )
    return SpeciesRow(row.text("species"), ratios, adipose, dorsals, grade, source, tuple(formulas))


def _range(row: Row, column: str) -> tuple[float, float] | None:
    text = row.text(column, default="")
    if not text:
        return None
    match = re.fullmatch(r"(\d*\.?\d+)(?:\s*[-–]\s*(\d*\.?\d+))?", text)
    low, high = (float(match[1]), float(match[2] or match[1])) if match else (1.0, 0.0)
    if not 0 < low <= high <= 5:
        row.refuse(column, "a ratio or a range of ratios such as 0.24-0.29")
    return low, high


def compare(fish: BoxFish, rows: Sequence[SpeciesRow]) -> tuple[Fit, ...]:
    """Compare a fish with every row; rows with most fitting and fewest other characters first.

    Rows with which nothing could be compared are left out.
    """
    fits = [_compared(fish, row) for row in rows]
    said = [fit for fit in fits if fit.fits or fit.misfits]
    return tuple(sorted(said, key=lambda fit: (len(fit.misfits), -len(fit.fits))))


def _compared(fish: BoxFish, row: SpeciesRow) -> Fit:
    good: list[str] = []
    bad: list[str] = []
    for name, (low, high) in row.ratios.items():
        value = fish.value(name)
        if value is not None:
            inside = low * (1 - SLACK) <= value <= high * (1 + SLACK)
            words = name.removesuffix("_to_sl").replace("_", " ")
            (good if inside else bad).append(f"{words} {value:.2f} of SL against {low}-{high}")
    adipose = {"placed": "yes", "absent": "no"}.get(fish.reading.state_of("adipose_origin"), "")
    dorsals = {"placed": "2", "absent": "1"}.get(fish.reading.state_of("second_dorsal_origin"), "")
    for shown, seen, said in (
        ("adipose fin", adipose, row.adipose),
        ("dorsal fins", dorsals, row.dorsals),
    ):
        if seen and said:
            (good if seen == said else bad).append(f"{shown}: {seen}")
    counted, _ = counts_of(fish)
    for one in counted:
        for known in row.formulas:
            if known.fin == one.fin:
                (good if counts_agree(one, known) else bad).append(f"{one} against {known}")
    return Fit(row, tuple(good), tuple(bad))


def counts_of(fish: BoxFish) -> tuple[tuple[FinFormula, ...], tuple[str, ...]]:
    """Give the counts that a person labelled, and one line for each label that cannot be read.

    Labels (labels.csv) have the character ``dorsal_formula`` or ``anal_formula`` and a fin formula
    such as ``D III,8``.
    """
    found: list[FinFormula] = []
    problems: list[str] = []
    for column in COUNTED:
        text = fish.labels.get(f"{column}_formula", "")
        try:
            found += [parse_fin_formula(text)] if text else []
        except DefinitionError as error:
            problems.append(f"{fish.fish}, {column}_formula: {error}")
    return tuple(found), tuple(problems)


def counts_agree(one: FinFormula, known: FinFormula) -> bool:
    """Whether counts lie in the ranges of a known formula.

    Run by run where both have the same kinds of rays; else by the total, because sources write the
    front rays of carp-like fish as spines, as unbranched or among all.
    """
    if [run.kind for run in one.runs] == [run.kind for run in known.runs]:
        pairs = zip(one.runs, known.runs, strict=True)
        return all(mine.high >= its.low and mine.low <= its.high for mine, its in pairs)
    (low, high), (least, most) = _all_rays(one), _all_rays(known)
    return high >= least and low <= most


def _all_rays(formula: FinFormula) -> tuple[float, float]:
    return sum(run.low for run in formula.runs), sum(run.high for run in formula.runs)


def first_look(fish: BoxFish) -> tuple[str, ...]:
    """Say among which fish to look first (common practice, no source; all with exceptions)."""
    hints = []
    if fish.reading.state_of("adipose_origin") == "placed":
        hints.append("Adipose fin: look first among characins and catfish (some have none).")
    elif fish.reading.state_of("adipose_origin") == "absent":
        hints.append("No adipose fin: look first among carp-like fish, livebearers, cichlids.")
    if fish.reading.state_of("second_dorsal_origin") == "placed":
        hints.append(
            "Two dorsal fins: look first among gobies (pelvics joined to a disc), sleepers "
            "(pelvics separate), rainbowfish, perches."
        )
    hints.append(
        "Then look for barbels (barbs, loaches, catfish), bony plates (armoured catfish), bristles "
        "(sucker catfish), spines in the dorsal (cichlids, gouramis). Common practice, no source."
    )
    return tuple(hints)
