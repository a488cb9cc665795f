"""Commands on change over time: regrowth, repeat, plan."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from finmeasure.cli.printing import complain, counted, say
from finmeasure.cli.study_commands import StudyFolder

if TYPE_CHECKING:
    import pandas as pd

    from finmeasure.landmarks.placement import Placement
    from finmeasure.study.store import Study

_FEW_LINES = 20


def regrowth(
    study: StudyFolder,
    reference: Annotated[
        Path | None,
        typer.Option(
            help="Table of whole fins of this kind of fish (CSV: name, fin, length_to_sl, sd, "
            "length_along, sl_mm, kind, group) to tell what is missing.",
            metavar="FILE",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Tell whether fins grow back, how fast, and when they are whole.

    Tables, plots and a report (regrowth.html and regrowth.pdf) go into the folder "regrowth" of the
    study. groups.csv, labels.csv, events.csv, water.csv and references.csv of the study's folder
    are read first.
    """
    from finmeasure.report.change_content import change_page
    from finmeasure.report.change_report import write_change_report
    from finmeasure.report.change_tables import write_tables
    from finmeasure.study.store import Study

    with Study.open(study) as opened:
        take_keeper_tables(opened, reference)
        change = opened.change_over_time()
        page = change_page(opened, change)
        folder = study / "regrowth"
        folder.mkdir(exist_ok=True)
        _write_tables(folder, write_tables(change))
        for number, figure in enumerate(page.groups, start=1):
            _write(folder / f"group_{number}.{figure.kind}", figure.content)
        for number, story in enumerate(page.stories, start=1):
            for figure in story.figures:
                name = f"fin_{number}_{figure.title.lower().replace(' ', '_')}.{figure.kind}"
                _write(folder / name, figure.content)
        for ending in ("html", "pdf"):
            write_change_report(opened, folder / f"regrowth.{ending}", page)
    for row in page.rows[:_FEW_LINES]:
        say(f"{row[0]}, {row[2]}: {row[4]}")
    if len(page.rows) > _FEW_LINES:
        say(f"… and {len(page.rows) - _FEW_LINES} more fins in changes.csv.")
    if not page.rows:
        complain(
            "No named fish of this study was photographed, so nothing can be followed. Name the "
            'fish: measure with --name-pattern "{group}/{date}_{fish}".'
        )
    for text in page.remarks:
        complain(text)
    say(f"Tables, plots, regrowth.html and regrowth.pdf are in {folder}.")


def repeat(study: StudyFolder) -> None:
    """Tell how well the same fish is measured twice, and the smallest change that can be seen.

    Mark some photos twice (in the window: second marking), or photograph fish more than once per
    visit. Writes repeat.csv and plots of agreement into the folder "repeat" of the study.
    """
    from finmeasure.errors import FinmeasureError
    from finmeasure.study.store import Study
    from finmeasure.timeseries.repeats import repeat_table

    with Study.open(study) as opened:
        frame = opened.repeat_frame()
        placement = opened.own_placement()
    table = repeat_table(frame)
    if not len(table):
        message = (
            "No fish of this study was marked twice or photographed twice on one day. Mark at "
            "least ten fish a second time, best on another day, and run again."
        )
        raise FinmeasureError(message)
    folder = study / "repeat"
    folder.mkdir(exist_ok=True)
    _write_tables(folder, {"repeat.csv": table, "landmarks.csv": _placement_table(placement)})
    shown = _worth_showing(table)
    for measure in shown:
        _write_agreement(folder, frame, measure)
    for row in table[table["measure"].isin(shown)].to_dict("records"):
        say(
            f"{row['measure']}, {row['condition']}: one reading ± {1.96 * row['sd']:.3g} "
            f"{_unit(str(row['unit']))}(95 %), smallest visible change {row['mdc95']:.3g} "
            f"({row['objects']:.0f} fish, {row['readings']:.0f} readings)."
        )
    if placement:
        say(
            f"{len(placement)} landmarks were marked twice: how exactly you place them is the "
            "default from now on for marks without an uncertainty of their own (landmarks.csv)."
        )
    say(f"All measures and the plots are in {folder}.")


def plan(
    study: StudyFolder,
    change: Annotated[
        float,
        typer.Option(
            help="Change to find, % of the fin's length.", metavar="PERCENT", min=0.1, max=100.0
        ),
    ] = 5.0,
    fin: Annotated[str, typer.Option(help="Fin that is looked at.", metavar="FIN")] = "caudal",
    draws: Annotated[
        int,
        typer.Option(
            help="Simulated series for each way.", metavar="NUMBER", min=1000, max=100_000
        ),
    ] = 2000,
) -> None:
    """Tell how many fish, photos per fish and visits are needed to find a change.

    The spread comes from this study's own series and repeats. Writes plan.csv and plan.png into
    the folder "repeat" of the study.
    """
    from finmeasure.report.change_plots import power_plot
    from finmeasure.report.plan_table import plan_designs, plan_table, study_spread
    from finmeasure.study.store import Study

    with Study.open(study) as opened:
        spread, words = study_spread(opened.change_over_time(), fin)
    say(words)
    designs = plan_designs()
    with _counting(len(designs)) as advance:
        table = plan_table(designs, spread, change, draws=draws, progress=advance)
    folder = study / "repeat"
    folder.mkdir(exist_ok=True)
    _write_tables(folder, {"plan.csv": table})
    _write(folder / "plan.png", power_plot(table, change))
    enough = table[table["power"] >= 0.8].sort_values(["pictures", "fish"])
    if not len(enough):
        say(f"None of these ways finds a change of {change:g} % in 80 of 100 series.")
    for row in enough.head(3).to_dict("records"):
        say(
            f"{row['fish']} fish, {counted(row['photos'], 'photo')} each, {row['visits']} visits: "
            f"found in {100 * row['power']:.0f} of 100 series ({row['pictures']} photos in all)."
        )
    say(f"The whole table and a plot are in {folder}.")


def take_keeper_tables(study: Study, reference: Path | None = None) -> None:
    """Read the keeper's tables that lie in the study's folder, and a named one, into the study."""
    from finmeasure.batch.keeper_inputs import add_references, read_keeper_tables

    tables = read_keeper_tables((), study.folder)
    if reference is not None:
        add_references(tables, reference)
    for line in tables.read:
        say(line)
    tables.put_into(study)
    for problem in (*tables.problems, *tables.put_labels_into(study)):
        complain(problem)


@contextmanager
def _counting(total: int) -> Iterator[Callable[[], None]]:
    """Show how far the simulation is: a bar on a terminal, nothing otherwise."""
    from rich.console import Console
    from rich.progress import Progress

    console = Console(highlight=False)
    bar = Progress(console=console, transient=True, disable=not console.is_terminal)
    with bar:
        task = bar.add_task("simulating", total=total)
        yield lambda: bar.advance(task)


def _placement_table(placement: Mapping[str, Placement]) -> pd.DataFrame:
    """Give the study's own uncertainty of each landmark beside that of the general table."""
    import pandas as pd

    from finmeasure.landmarks.scheme import landmark_definition

    rows = [
        (name, own.along_pct_sl, own.across_pct_sl, own.repeats,
         landmark_definition(name).u_along_pct_sl, landmark_definition(name).u_across_pct_sl)
        for name, own in placement.items()
    ]  # fmt: skip
    columns = ["landmark", "u_along_pct_sl", "u_across_pct_sl", "repeats",
               "table_along_pct_sl", "table_across_pct_sl"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def _worth_showing(table: pd.DataFrame) -> list[str]:
    """Choose the measures that a keeper asks for first."""
    wanted = ("standard_length", "caudal_relative_length", "dorsal_relative_length",
              "dorsal_height_to_sl", "caudal_fork_depth_to_sl", "caudal_notch_area")  # fmt: skip
    present = list(dict.fromkeys(table["measure"]))
    return [name for name in wanted if name in present] or present[:4]


def _write_agreement(folder: Path, frame: pd.DataFrame, measure: str) -> None:
    from finmeasure.measurements.definitions import MEASURES
    from finmeasure.report.change_plots import agreement_plot
    from finmeasure.timeseries.repeats import reading_pairs

    pairs = reading_pairs(frame, measure)
    if len(pairs) > 1:
        definition = MEASURES[measure]
        plot = agreement_plot(pairs, definition.shown, _unit(definition.unit).strip())
        _write(folder / f"agreement_{measure}.png", plot)


def _unit(unit: str) -> str:
    return "" if unit == "1" else f"{unit.replace('mm2', 'mm²')} "


def _write_tables(folder: Path, tables: Mapping[str, pd.DataFrame]) -> None:
    from finmeasure.exchange.tables import guarded

    for name, table in tables.items():
        texts = table.select_dtypes(exclude="number").columns
        safe = table.copy()
        for column in texts:
            safe[column] = [guarded(v) if isinstance(v, str) else v for v in table[column]]
        _write(folder / name, safe.to_csv(index=False, lineterminator="\n").encode())


def _write(file: Path, content: bytes) -> None:
    """Write a file so that it is never seen half-written."""
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, file)
    finally:
        part.unlink(missing_ok=True)
