"""Input table of whole fins of a kind of fish: references.csv."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from finmeasure.exchange.inputs import InputTable
from finmeasure.exchange.tables import Row, each_row, read_rows

FINS = ("dorsal", "second_dorsal", "caudal", "anal", "pelvic", "pectoral")
RUNS = ("straight", "rays")
#: A fin longer than its fish five times over is a slip of the pen.
LARGEST_RATIO = 5.0


@dataclass(frozen=True, slots=True)
class WholeFinRow:
    """How long a whole fin is, from a book or from fish of one's own.

    Parameters
    ----------
    name : str
        Where the figures come from; shown beside every result.
    fin : str
    length_to_sl : float
        Fin length by standard length.
    sd : float, optional
        Standard deviation between fish, in the same unit.
    length_along : {"straight", "rays"}
        Straight length between landmarks, as books give it, or the mean along the rays of traced
        fins, as this program gives it.
    sl_mm : float, optional
        Standard length of those fish.
    kind, group : str
        Kind of fish (as in groups.csv), or group, that it holds for; empty for all.
    """

    name: str
    fin: str
    length_to_sl: float
    sd: float | None = None
    length_along: Literal["straight", "rays"] = "straight"
    sl_mm: float | None = None
    kind: str = ""
    group: str = ""


def read_references(path: str | Path) -> InputTable[WholeFinRow]:
    """Read references.csv (name, fin, length_to_sl; sd, length_along, sl_mm, kind, group).

    Raises
    ------
    TableError
        If the file cannot be read or its header is wrong; bad rows are among the problems.
    """
    made: dict[tuple[str, ...], WholeFinRow] = {}
    problems: list[str] = []

    def take(row: Row) -> None:
        record = _whole_fin(row)
        key = record.fin, record.kind, record.group, record.length_along
        if key in made:
            row.refuse("fin", "each once per kind, group and length_along; an earlier row has it")
        made[key] = record

    needed = ("name", "fin", "length_to_sl")
    each_row(read_rows(Path(path), needed), take, lambda _row, problem: problems.append(problem))
    return InputTable(tuple(made.values()), tuple(problems))


def _whole_fin(row: Row) -> WholeFinRow:
    along = row.one_of("length_along", RUNS, default="straight")
    return WholeFinRow(
        name=row.text("name"),
        fin=row.one_of("fin", FINS),
        length_to_sl=row.number_in("length_to_sl", 0.01, LARGEST_RATIO),
        sd=row.number_or_none("sd", 0.0, LARGEST_RATIO),
        length_along="rays" if along == "rays" else "straight",
        sl_mm=row.number_or_none("sl_mm", 1.0, 10_000.0),
        kind=row.text("kind", default=""),
        group=row.text("group", default=""),
    )
