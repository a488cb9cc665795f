"""Options that more than one command has, each worded once."""

from __future__ import annotations

from typing import Annotated

import typer

from finmeasure.cli.card import CardKind

CardOption = Annotated[
    CardKind | None, typer.Option(help="Look for this card only.", show_default=False)
]
SquareOption = Annotated[
    float | None,
    typer.Option(
        help="Spacing of square paper that is not ours, with --card squares.",
        metavar="MM",
        show_default=False,
    ),
]
FishBeforeCardOption = Annotated[
    float | None,
    typer.Option(
        help="How far the middle of the fish stands before the card.",
        metavar="MM",
        show_default=False,
    ),
]
QuestionOption = Annotated[
    str,
    typer.Option(help="What you want to know: size, sex, fin:NAME or full.", metavar="QUESTION"),
]
BodyFormOption = Annotated[
    str | None,
    typer.Option(
        help="Body form of the fish; see `finmeasure fins`.", metavar="FORM", show_default=False
    ),
]
GroupOption = Annotated[str, typer.Option(help="Group that the fish belong to.", metavar="GROUP")]
NamePatternOption = Annotated[
    str | None,
    typer.Option(
        help='What the photos\' names say, e.g. "{group}/{date}_{fish}".',
        metavar="PATTERN",
        show_default=False,
    ),
]
ThroughCurvedOption = Annotated[
    bool,
    typer.Option(
        "--through-curved",
        help="Seen through a bag, a bowl or curved glass: ratios only, no millimetres.",
    ),
]
