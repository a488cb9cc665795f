"""Which rows of the reference table fit a stray or a fish whose rays were counted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from finmeasure.report.condition_parts import Section, Table
from finmeasure.shipment.box import BoxFish
from finmeasure.shipment.fin_formula import LATERAL_LINE
from finmeasure.shipment.reference_table import (
    NOT_IS,
    Fit,
    compare,
    counts_of,
    first_look,
    read_species,
)

ROWS_NAMED = 3
FISH_NAMED = 24


def naming_section(
    strays: Sequence[BoxFish], box: Sequence[BoxFish], species: Path | None
) -> tuple[Section | None, tuple[str, ...]]:
    """Compare strays, and fish with counts, with the reference table.

    Parameters
    ----------
    strays : sequence of BoxFish
        Fish that stand apart.
    box : sequence of BoxFish
        All fish.
    species : Path, optional
        Reference table; the shipped one if None.

    Returns
    -------
    Section or None, tuple of str
        None where there is nothing to compare; a line for the terminal per counted fish.
    """
    rows, problems = read_species(species) if species else read_species()
    counted = [one for one in box if counts_of(one)[0] or one.labels.get(LATERAL_LINE)]
    unreadable = [line for one in box for line in counts_of(one)[1]]
    shown = [*strays, *(one for one in counted if one not in strays)][:FISH_NAMED]
    cells: list[tuple[str, ...]] = []
    lines: list[str] = []
    for one in shown:
        fits = compare(one, rows)
        cells += [_cells(one, fit) for fit in fits[:ROWS_NAMED]]
        if one in counted:
            lines += [f"counted: {one.fish}: {fit}" for fit in fits[:1]]
    if not cells:
        texts = (*problems, *unreadable)
        return (Section("Naming", texts) if texts else None), ()
    hints = dict.fromkeys(f"{one.fish}: {first_look(one)[0]}" for one in strays[:FISH_NAMED])
    last = (first_look(shown[0])[-1],) if strays else ()
    heads = ("Fish", "Row of the reference table", "", "Deciding characters", "Source")
    section = Section(
        "Naming", (*problems, *unreadable, NOT_IS), (Table(heads, tuple(cells)),),
        bullets=(*hints, *last),
    )  # fmt: skip
    return section, tuple(lines)


def _cells(fish: BoxFish, fit: Fit) -> tuple[str, ...]:
    """Give one row: what rules it out, else what it fits by."""
    verdict = "does not fit" if fit.misfits else "fits"
    sexes = f"Sexes: {fit.row.sex}" if fit.row.sex and not fit.misfits else ""
    deciding = "; ".join(fit.misfits or (*fit.fits, *([sexes] if sexes else [])))
    return fish.fish, fit.row.species, verdict, deciding, fit.row.origin
