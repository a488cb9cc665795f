"""Species rows that a stray fits or does not fit; never "this is species X"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from finmeasure.errors import DefinitionError, TableError
from finmeasure.exchange.tables import Row, each_row, read_rows
from finmeasure.shipment.box import BoxFish
from finmeasure.shipment.fin_formula import (
    LATERAL_LINE,
    FinFormula,
    RayCount,
    formulas_of,
    parse_fin_formula,
)

SHIPPED = Path(__file__).with_name("data") / "species.csv"
IN_STUDY = "species.csv"
"""Name of the study's own copy, which a person may edit."""
NOT_IS = "“Fits” is not “is”: rows that fit only say where to look first."
RATIOS = ("body_depth_to_sl", "head_length_to_sl", "predorsal_length_to_sl")
COUNTED = ("dorsal", "anal", "pectoral", "pelvic")
SAME_FIN = {"P": "P1", "V": "P2"}
"""Letters in use for one and the same fin."""
SLACK = 0.05
"""Published ranges rest on few fish: a ratio fits up to this share beyond them (our choice)."""


@dataclass(frozen=True, slots=True)
class SpeciesRow:
    """One row of the reference table.

    Parameters
    ----------
    species, grade, source : str
        Name; SEEN where the text was read, MEMORY where not; where the row comes from.
    ratios : dict of str to tuple of float
        Range of each ratio.
    adipose, dorsals : str
        ``yes`` or ``no``; number of dorsal fins; empty where not told.
    formulas : tuple of FinFormula
        Counts of the fins.
    lateral_line : tuple of float, optional
        Range of the scales along the lateral line.
    sex : str
        What tells its sexes apart, in words.
    cell_sources : dict of str to str
        Sources of single cells (column ``<column>_source``) where they differ from the row's.
    """

    species: str
    ratios: dict[str, tuple[float, float]]
    adipose: str
    dorsals: str
    grade: str
    source: str
    formulas: tuple[FinFormula, ...] = ()
    lateral_line: tuple[float, float] | None = None
    sex: str = ""
    cell_sources: dict[str, str] = field(default_factory=dict)

    @property
    def origin(self) -> str:
        """Source and grade in words for a reader."""
        words = self.grade.replace("SEEN", "read there").replace("MEMORY", "from memory, sureness")
        return f"{self.source}: {words}"


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
        sexes = f" Sexes: {self.row.sex}." if self.row.sex and not self.misfits else ""
        return f"{self.row.species}: {told}{also} [{self.row.origin}]{sexes}"


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


def species_of(folder: Path) -> tuple[tuple[SpeciesRow, ...], tuple[str, ...]]:
    """Read the reference table of a study, else the shipped one; as :func:`read_species`.

    Raises
    ------
    TableError
        If the study's own table cannot be used.
    """
    own = folder / IN_STUDY
    return read_species(own if own.is_file() else SHIPPED)


def _species(row: Row) -> SpeciesRow:
    formulas: list[FinFormula] = []
    for column in COUNTED:
        text = row.text(column, default="")
        try:
            formulas += [parse_fin_formula(text)] if text else []
        except DefinitionError:
            row.refuse(column, "a fin formula such as 'D III,8'")
    ratios = {
        name: limits
        for name in RATIOS
        if (limits := _range(row, name, 5.0, "a ratio or a range of ratios such as 0.24-0.29"))
    }
    scales = _range(row, "lateral_line", 200.0, "a number of scales or a range such as 26-28")
    adipose, dorsals, grade, source, sex = (
        row.text(name, default="") for name in ("adipose", "dorsals", "grade", "source", "sex")
    )
    cells = (*RATIOS, *COUNTED, "lateral_line", "adipose", "dorsals")
    own = {name: told for name in cells if (told := row.text(f"{name}_source", default=""))}
    return SpeciesRow(
        row.text("species"), ratios, adipose, dorsals, grade, source, tuple(formulas), scales, sex,
        own,
    )  # fmt: skip


def _range(row: Row, column: str, most: float, allowed: str) -> tuple[float, float] | None:
    text = row.text(column, default="")
    if not text:
        return None
    match = re.fullmatch(r"(\d*\.?\d+)(?:\s*[-–]\s*(\d*\.?\d+))?", text)
    low, high = (float(match[1]), float(match[2] or match[1])) if match else (1.0, 0.0)
    if not 0 < low <= high <= most:
        row.refuse(column, allowed)
    return low, high


def compare(fish: BoxFish, rows: Sequence[SpeciesRow]) -> tuple[Fit, ...]:
    """Compare a fish with every row; rows with most fitting and fewest other characters first.

    Rows with which nothing could be compared are left out.
    """
    fits = [_compared(fish, row) for row in rows]
    said = [fit for fit in fits if fit.fits or fit.misfits]
    return tuple(sorted(said, key=lambda fit: (len(fit.misfits), -len(fit.fits))))


def fits_in_words(fish: BoxFish, rows: Sequence[SpeciesRow], *, most: int = 3) -> tuple[str, ...]:
    """Say which rows fit what was counted and measured of a fish, and what rules the others out.

    Parameters
    ----------
    fish : BoxFish
        One fish.
    rows : sequence of SpeciesRow
        The reference table.
    most : int
        Rows that are written out.

    Returns
    -------
    tuple of str
        The best rows, a line each, then how many others do not fit. Empty where nothing of the
        fish can be compared.
    """
    fits = compare(fish, rows)
    rest = sum(bool(fit.misfits) for fit in fits[most:])
    tail = (f"{rest} more rows of the reference table do not fit.",) if rest else ()
    return (*map(str, fits[:most]), *tail)


def _compared(fish: BoxFish, row: SpeciesRow) -> Fit:
    good: list[str] = []
    bad: list[str] = []
    for column, agrees, text in (*_ratios(fish, row), *_presence(fish, row), *_counts(fish, row)):
        own = f" [{row.cell_sources[column]}]" if column in row.cell_sources else ""
        (good if agrees else bad).append(text + own)
    return Fit(row, tuple(good), tuple(bad))


def _ratios(fish: BoxFish, row: SpeciesRow) -> Iterator[tuple[str, bool, str]]:
    """Ratios that fish and row have: column, whether they agree, in words."""
    for name, (low, high) in row.ratios.items():
        value = fish.value(name)
        if value is not None:
            inside = low * (1 - SLACK) <= value <= high * (1 + SLACK)
            words = name.removesuffix("_to_sl").replace("_", " ")
            yield name, inside, f"{words} {value:.2f} of SL against {low}-{high}"


def _presence(fish: BoxFish, row: SpeciesRow) -> Iterator[tuple[str, bool, str]]:
    """Fins that are there or not."""
    adipose = {"placed": "yes", "absent": "no"}.get(fish.reading.state_of("adipose_origin"), "")
    dorsals = {"placed": "2", "absent": "1"}.get(fish.reading.state_of("second_dorsal_origin"), "")
    for column, shown, seen, said in (
        ("adipose", "adipose fin", adipose, row.adipose),
        ("dorsals", "dorsal fins", dorsals, row.dorsals),
    ):
        if seen and said:
            yield column, seen == said, f"{shown}: {seen}"


def _counts(fish: BoxFish, row: SpeciesRow) -> Iterator[tuple[str, bool, str]]:
    """Rays and scales that were counted on the fish and that the row gives."""
    for one in counts_of(fish)[0]:
        for known in row.formulas:
            if _same_fin(known.fin, one.fin):
                yield _column_of(known), counts_agree(one, known), f"{one} against {known}"
    scales = fish.labels.get(LATERAL_LINE, "")
    if scales.isdecimal() and row.lateral_line is not None:
        low, high = row.lateral_line
        text = f"lateral line {scales} against {low:g}-{high:g}"
        yield "lateral_line", low <= int(scales) <= high, text


def _column_of(formula: FinFormula) -> str:
    fin = SAME_FIN.get(formula.fin, formula.fin)
    return {"D": "dorsal", "A": "anal"}.get(fin[0], {"P1": "pectoral", "P2": "pelvic"}.get(fin, ""))


def _same_fin(one: str, other: str) -> bool:
    return SAME_FIN.get(one, one) == SAME_FIN.get(other, other)


def counts_of(fish: BoxFish) -> tuple[tuple[FinFormula, ...], tuple[str, ...]]:
    """Give the counts of a fish, and one line for each that cannot be read.

    Counts are labels: a whole formula such as ``D III,8`` (``dorsal_formula``, ``anal_formula``,
    ``pectoral_formula``, ``pelvic_formula``), or what the window keeps of each kind of ray
    (``dorsal_spines``, ``dorsal_soft_rays`` …). A formula goes before single counts of its fin.
    """
    found: list[FinFormula] = []
    problems: list[str] = []
    for column in COUNTED:
        text = fish.labels.get(f"{column}_formula", "")
        try:
            found += [parse_fin_formula(text)] if text else []
        except DefinitionError as error:
            problems.append(f"{fish.fish}, {column}_formula: {error}")
    single = formulas_of(fish.labels)
    found += [one for one in single if not any(_same_fin(one.fin, whole.fin) for whole in found)]
    return tuple(found), tuple(problems)


def counts_agree(one: FinFormula, known: FinFormula) -> bool:
    """Whether counts lie in the ranges of a known formula.

    Run by run where both have the same kinds of rays; else by the total, because sources write the
    front rays of carp-like fish as spines, as unbranched or among all. A count of one kind alone
    also agrees with that kind's run, because a person may have counted no more.
    """
    if [run.kind for run in one.runs] == [run.kind for run in known.runs]:
        pairs = zip(one.runs, known.runs, strict=True)
        return all(_meet(mine, its) for mine, its in pairs)
    if len(one.runs) == 1 and any(_meet(one.runs[0], its) for its in _of_kind(one, known)):
        return True
    (low, high), (least, most) = _all_rays(one), _all_rays(known)
    return high >= least and low <= most and (len(one.runs) > 1 or one.runs[0].kind == "soft")


def _meet(mine: RayCount, its: RayCount) -> bool:
    return mine.high >= its.low and mine.low <= its.high


def _of_kind(one: FinFormula, known: FinFormula) -> list[RayCount]:
    """Give the runs that a lone count may stand for: soft rays the last, front rays the others."""
    if one.runs[0].kind == "soft":
        return [known.runs[-1], RayCount("soft", *known.soft_total)]
    return list(known.runs[:-1])


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
