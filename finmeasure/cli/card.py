"""The command that writes the printed card."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import say
from finmeasure.errors import FinmeasureError

DEFAULT_PAPER = "A5"


class CardKind(StrEnum):
    """Cards that can be printed, and found in photos."""

    WINDOW = "window"
    SQUARES = "squares"


class Paper(StrEnum):
    """Sizes of a card."""

    A4 = "A4"
    A5 = "A5"
    A6 = "A6"
    ID1 = "ID1"
    LETTER = "letter"


class Ground(StrEnum):
    """Field behind the fish."""

    WHITE = "white"
    GREY = "grey"
    BLACK = "black"
    CUT_OUT = "cut-out"


def card(
    out: Annotated[Path, typer.Option(help="PDF file to write.")],
    kind: Annotated[
        CardKind, typer.Option(help="Ring of squares round a blank field, or a grid.")
    ] = CardKind.WINDOW,
    paper: Annotated[
        Paper | None,
        typer.Option(help=f"Size; {DEFAULT_PAPER} if not given.", show_default=False),
    ] = None,
    for_fish: Annotated[
        float | None,
        typer.Option(
            help="Choose the smallest card that holds a fish of this total length.",
            metavar="MM",
            show_default=False,
        ),
    ] = None,
    ground: Annotated[
        Ground, typer.Option(help="Field behind the fish; cut-out lets light come from behind.")
    ] = Ground.WHITE,
) -> None:
    """Write a card to print: every photo taken against it gets its scale from it."""
    from finmeasure.card.advice import card_for_fish
    from finmeasure.card.sheet import PRINT_SENTENCE, write_card

    if paper is not None and for_fish is not None:
        message = "Give --paper or --for-fish, not both: --for-fish chooses the paper."
        raise FinmeasureError(message)
    chosen = DEFAULT_PAPER if paper is None else paper.value
    if for_fish is not None:
        advice = card_for_fish(for_fish, kind.value)
        chosen = advice.design.paper
        for sentence in advice.sentences():
            say(sentence)
    if not out.parent.is_dir():
        message = f"{out.parent}: there is no such folder. Make it, or choose another --out."
        raise FinmeasureError(message)
    write_card(out, kind.value, chosen, ground=ground.value)
    say(f"Wrote {out}: {kind.value} card, {chosen}. {PRINT_SENTENCE}")
