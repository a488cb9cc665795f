"""The command `measure`: photos in, study with tables, overlays and report out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from finmeasure.cli.card import CardKind
from finmeasure.cli.options import (
    BodyFormOption,
    CardOption,
    FishBeforeCardOption,
    GroupOption,
    NamePatternOption,
    QuestionOption,
    SquareOption,
    ThroughCurvedOption,
)
from finmeasure.cli.printing import complain, counted, say
from finmeasure.cli.progress import shown_progress
from finmeasure.errors import FinmeasureError

if TYPE_CHECKING:
    from finmeasure.batch.given import Given
    from finmeasure.batch.run import Summary
    from finmeasure.scale.request import ScaleRequest
    from finmeasure.scale.water import Tank

MOST_WARNINGS = 10  # lines of the same kind that anybody reads
OUR_CARDS = ("window_card", "squares_card")
PRINT_QUESTION = (
    "Was the card printed at 100 %, not “fit to page” (A4 on letter paper: all lengths 6 % wrong)? "
    "Measure its check lines once: finmeasure card --paper A5 --check-lines ACROSS DOWN "
    "--study {study}"
)


@dataclass(frozen=True, slots=True)
class Run:
    """Where a run measures, and what one photo may take."""

    jobs: int | None
    cluster: str | None
    photo_seconds: float
    photo_memory_mb: int


def measure(
    photos: Annotated[
        list[str],
        typer.Argument(
            help="Photos, short clips (MP4, MOV) and folders of them; photos also at a URL such as "
            "s3://BUCKET/FOLDER.",
            metavar="PHOTO_OR_FOLDER",
        ),
    ],
    study: Annotated[
        Path, typer.Option(help="Folder of the study; made where it is missing.", metavar="FOLDER")
    ],
    landmarks: Annotated[
        Path | None,
        typer.Option(
            help="Table of landmarks (landmarks.csv).", metavar="FILE", show_default=False
        ),
    ] = None,
    outlines: Annotated[
        Path | None,
        typer.Option(help="Table of outlines (outlines.csv).", metavar="FILE", show_default=False),
    ] = None,
    card: CardOption = None,
    square_mm: SquareOption = None,
    scales: Annotated[
        Path | None,
        typer.Option(
            help="Table with what is marked in a photo: a bar, a ruler by two clicks, a blank "
            "bank-size card (ID-1) or a coin (scales.csv).",
            metavar="FILE",
            show_default=False,
        ),
    ] = None,
    tick_mm: Annotated[
        float | None,
        typer.Option(
            help="Look for a straight ruler with ticks so far apart: 1, or 1.5875 for sixteenths "
            "of an inch. Check the dashed frame in the picture.",
            metavar="MM",
            show_default=False,
        ),
    ] = None,
    px_per_mm: Annotated[
        float | None,
        typer.Option(
            help="A known scale, pixels per millimetre.", metavar="NUMBER", show_default=False
        ),
    ] = None,
    px_per_mm_u: Annotated[
        float | None,
        typer.Option(help="Its standard uncertainty.", metavar="NUMBER", show_default=False),
    ] = None,
    fish_before_card: FishBeforeCardOption = None,
    camera_distance: Annotated[
        float | None, typer.Option(help="Lens to card.", metavar="MM", show_default=False)
    ] = None,
    water_mm: Annotated[
        float | None,
        typer.Option(
            help="Fish in a tank with a flat front pane: water between pane and fish.",
            metavar="MM",
            show_default=False,
        ),
    ] = None,
    card_water_mm: Annotated[
        float | None,
        typer.Option(
            help="Water between pane and card; not given: the card is outside on the pane.",
            metavar="MM",
            show_default=False,
        ),
    ] = None,
    tank_glass_mm: Annotated[
        float | None,
        typer.Option(
            help="Thickness of the front pane; 6 if not given.", metavar="MM", show_default=False
        ),
    ] = None,
    through_curved: ThroughCurvedOption = False,
    question: QuestionOption = "full",
    body_form: BodyFormOption = None,
    group: GroupOption = "",
    name_pattern: NamePatternOption = None,
    tags: Annotated[
        bool,
        typer.Option(
            "--tags",
            help="Read our number tags (`finmeasure card --kind tags`): a photo of a tag alone "
            "opens its group for the photos that follow, a tag beside the card names the fish. "
            "What --name-pattern or a table says goes before a tag, a tag before --group.",
        ),
    ] = False,
    bursts: Annotated[
        bool,
        typer.Option(
            "--bursts",
            help="Of photos taken in one go, a second or less apart, measure the three best: "
            "sharp, from the side, fins open.",
        ),
    ] = False,
    jobs: Annotated[
        int | None,
        typer.Option(
            min=0,
            help="Photos at a time; one per processor core if not given. "
            "0 measures in the program's own process without limits, for debugging.",
            metavar="NUMBER",
            show_default=False,
        ),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            help="Dask scheduler, tls://HOST:PORT; its workers must see the same folders.",
            metavar="ADDRESS",
            show_default=False,
        ),
    ] = None,
    photo_seconds: Annotated[
        float,
        typer.Option(min=1.0, help="Refuse a photo that takes longer.", metavar="S"),
    ] = 60.0,
    photo_memory_mb: Annotated[
        int,
        typer.Option(
            min=200,
            help="Refuse a photo that needs more; more than 2048 for scans of over 200 megapixels.",
            metavar="MB",
        ),
    ] = 2048,
) -> None:
    """Measure photos: lengths and ratios, each with its uncertainty.

    On a study that exists, photos whose content and marks are as before are skipped.
    """
    from finmeasure.batch.given import read_given

    request = _scale_request(
        card=card,
        square_mm=square_mm,
        px_per_mm=px_per_mm,
        px_per_mm_u=px_per_mm_u,
        fish_before_card=fish_before_card,
        camera_distance=camera_distance,
        tick_mm=tick_mm,
        tank=_tank(water_mm, card_water_mm, tank_glass_mm),
        through_curved=through_curved,
    )
    given = read_given(
        landmarks=landmarks,
        outlines=outlines,
        scales=scales,
        scale_request=request,
        question=question,
        body_form=body_form,
        group=group,
        name_pattern=name_pattern,
    )
    run = Run(jobs, cluster, photo_seconds, photo_memory_mb)
    try:
        summary = _measure_and_report(photos, study, given, run, tags=tags, bursts=bursts)
    except KeyboardInterrupt:
        complain("stopped. What was measured is kept; the same command goes on from here.")
        raise typer.Exit(130) from None
    if summary.refused:
        raise typer.Exit(1)


def _measure_and_report(
    photos: list[str],
    folder: Path,
    given: Given,
    run: Run,
    *,
    tags: bool,
    bursts: bool,
) -> Summary:
    """Measure into the study, then write its tables and its report."""
    from finmeasure.batch.clips import best_of_bursts, split_clips, with_clips
    from finmeasure.batch.keeper_inputs import read_keeper_tables
    from finmeasure.batch.plausible import size_warnings
    from finmeasure.batch.priors import group_priors
    from finmeasure.batch.run import measure_into_study, plan_for_study
    from finmeasure.batch.runner import Limits
    from finmeasure.photo.remote import source_of
    from finmeasure.report.html import write_table_report
    from finmeasure.study.store import Study

    limits = Limits(run.photo_seconds, run.photo_memory_mb)
    sources = [source_of(photo) for photo in photos]
    stores = [source for source in sources if isinstance(source, str)]
    here = [source for source in sources if isinstance(source, Path)]
    if stores and (tags or bursts):
        message = (
            f"--tags and --bursts look at photos before they are measured; {stores[0]} is no "
            "folder of this computer. Leave them out, or copy the photos here."
        )
        raise FinmeasureError(message)
    tables = read_keeper_tables(here, folder)
    for line in tables.read:
        say(line)
    for problem in tables.problems:
        complain(problem)
    with Study.open(folder, create=True) as study:
        others, clips = split_clips(here)
        plan = plan_for_study(study, [*others, *stores])
        plan = with_clips(study, plan, clips, jobs=run.jobs, limits=limits)
        if bursts:
            plan = best_of_bursts(plan, jobs=run.jobs, limits=limits)
        given = replace(given, body_forms=tables.put_into(study), priors=group_priors(study))
        given = given.with_calibration(study.print_checks(), study.lenses())
        if tags:
            from finmeasure.batch.tag_reading import with_tags

            plan, given = with_tags(study, plan, given, jobs=run.jobs, limits=limits)
        for note in (*plan.notes, *given.notes(plan)):
            complain(note)
        with shown_progress() as progress:
            summary = measure_into_study(
                study,
                plan,
                given,
                progress=progress,
                jobs=run.jobs,
                limits=limits,
                cluster=run.cluster,
            )
        for line in tables.put_labels_into(study):
            complain(line)
        study.export("csv")
        write_table_report(study, folder / "report.html")
        told = study.table("photos")
        is_unchecked = not study.print_checks() and told["scale_method"].isin(OUR_CARDS).any()
        _warn(size_warnings(study))
    _tell(len(plan.photos), summary, int((told["advice"].fillna("") != "").sum()))
    if is_unchecked:
        say(PRINT_QUESTION.format(study=folder))
    say(f"Tables, pictures and report.html are in {folder}.")
    return summary


def _warn(warnings: Sequence[str]) -> None:
    """Show the first warnings, and how many more there are."""
    for warning in warnings[:MOST_WARNINGS]:
        complain(warning)
    if len(warnings) > MOST_WARNINGS:
        complain(f"{counted(len(warnings) - MOST_WARNINGS, 'more photo')} like these.")


def _tell(photos: int, summary: Summary, better: int) -> None:
    """Say what became of the photos, and how many could be taken better."""
    say(
        f"{counted(photos, 'photo')}: {summary.measured} measured, "
        f"{summary.refused} refused; {summary.skipped} of them as before and skipped."
    )
    if better:
        say(f"Advice for {counted(better, 'next photo')}: photos.csv and report.html.")


def _scale_request(
    *,
    card: CardKind | None,
    square_mm: float | None,
    px_per_mm: float | None,
    px_per_mm_u: float | None,
    fish_before_card: float | None,
    camera_distance: float | None,
    tick_mm: float | None,
    tank: Tank | None,
    through_curved: bool,
) -> ScaleRequest:
    """Put the scale options together; contradictions are refused there."""
    from finmeasure.scale.request import ScaleRequest

    return ScaleRequest(
        card=None if card is None else card.value,
        square_mm=square_mm,
        px_per_mm=px_per_mm,
        px_per_mm_u=px_per_mm_u,
        fish_before_card_mm=fish_before_card,
        camera_distance_mm=camera_distance,
        tick_mm=tick_mm,
        tank=tank,
        through_curved=through_curved,
    )


def _tank(
    water_mm: float | None, card_water_mm: float | None, tank_glass_mm: float | None
) -> Tank | None:
    """Put the options of a tank together."""
    from finmeasure.scale.water import GLASS_MM, Tank

    if water_mm is not None:
        return Tank(water_mm, card_water_mm, GLASS_MM if tank_glass_mm is None else tank_glass_mm)
    if card_water_mm is None and tank_glass_mm is None:
        return None
    message = (
        "A tank was given without the water before the fish. Give --water-mm, from the inner face "
        "of the front pane to the middle of the fish."
    )
    raise FinmeasureError(message)
