"""The report as one HTML file that loads nothing, runs nothing and prints on A4."""

from __future__ import annotations

import base64
import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from finmeasure import __version__
from finmeasure.cautions import cautions
from finmeasure.errors import FinmeasureError
from finmeasure.fins.records import EDGE_CAPTION, MEDIAN_FINS
from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.measurements.definitions import MEASURES
from finmeasure.report.content import (
    TABLE_MEASURES,
    Cell,
    FishRow,
    ReportContent,
    column_titles,
    gather,
    measures_by_fish,
)
from finmeasure.report.numbers import UNITS
from finmeasure.report.pictures import PictureShelf
from finmeasure.report.scale_content import ScaleShown, scales_shown

if TYPE_CHECKING:
    from finmeasure.study.store import Study

TEMPLATES = Path(__file__).with_name("templates")
PICTURE_PX = 1000
FIN_PX = 360
THUMBNAIL_PX = 420


@dataclass(frozen=True, slots=True)
class FishCard:
    """One fish with its picture and all its figures as texts."""

    row: FishRow
    picture: str
    figures: Sequence[tuple[str, str]]
    fins: Sequence[Mapping[str, str]] = ()


def write_table_report(study: Study, file: Path) -> None:
    """Write the report on all photos of a study.

    Parameters
    ----------
    study : Study
        Open.
    file : Path
        HTML file; an older one is replaced when the new one is complete.

    Raises
    ------
    FinmeasureError
        If the file cannot be written.
    """
    content = gather(study)
    shelf = PictureShelf(study.folder / "overlays")
    cards = _cards(study, content, shelf)
    text = _render(
        content,
        change=_change_over_time(study),
        scales=scales_shown(study),
        title=study.folder.resolve().name,
        cards=cards,
        refused=[(p, reason, shelf.overlay(p, THUMBNAIL_PX)) for p, reason in content.refused],
    )
    _write(file, text)


def _change_over_time(study: Study) -> str:
    """Give the section on change over time; empty where no named fish was seen on two days."""
    if not study.has_visits():
        return ""
    from finmeasure.report.change_content import change_page
    from finmeasure.report.change_report import section_html

    return section_html(change_page(study, study.change_over_time(followed_only=True)))


def _cards(study: Study, content: ReportContent, shelf: PictureShelf) -> list[FishCard]:
    """Give the fish that get a picture, worst first."""
    shown = content.fish[: shelf.left]
    figures = measures_by_fish(study, {row.photo for row in shown})
    # Every fish first; the fins share what is left of the room, those of the worst fish first.
    pictures = [shelf.fish(row.photo, row.fish, PICTURE_PX) for row in shown]
    cards = []
    for row, picture in zip(shown, pictures, strict=True):
        cells = figures.get((row.photo, row.fish), {})
        cards.append(FishCard(row, picture, _figures(cells), _fins(shelf, row, cells)))
    return [card for card in cards if card.picture]


def _fins(shelf: PictureShelf, row: FishRow, cells: Mapping[str, Cell]) -> list[dict[str, str]]:
    """Give the pictures of the fin edges, the most ragged first."""
    found = []
    for fin in MEDIAN_FINS:
        area = cells.get(f"{fin}_notch_area")
        picture = shelf.fish(row.photo, row.fish, FIN_PX, fin)
        if picture:
            text = f"raggedness {area.text} %" if area and area.state == "measured" else ""
            caption = f"{fin_definitions()[fin].shown}: {text}".removesuffix(": ")
            found.append((area.value or 0.0 if area else 0.0, caption, picture))
    found.sort(key=lambda item: -item[0])
    return [{"caption": caption, "picture": picture} for _, caption, picture in found]


def _figures(cells: Mapping[str, Cell]) -> list[tuple[str, str]]:
    """Give name and text of each measure that was measured, in the order of the definitions."""
    order = {name: number for number, name in enumerate(MEASURES)}
    named = sorted(cells.items(), key=lambda item: order.get(item[0], len(order)))
    return [
        (MEASURES[name].shown, f"{cell.text} {UNITS[MEASURES[name].unit]}".strip())
        for name, cell in named
        if cell.state == "measured" and _is_worth_a_line(name, cell)
    ]


def _is_worth_a_line(name: str, cell: Cell) -> bool:
    """Whether a picture needs this figure beside it; all of them are in the tables."""
    if name not in MEASURES or name.endswith("_to_sl"):
        return name in TABLE_MEASURES
    counted = name.endswith(("_notch_area", "_notch_depth", "_notch_count", "_split_count"))
    return bool(cell.value) if counted else name in MEASURES


def _render(
    content: ReportContent,
    *,
    change: str,
    scales: Sequence[ScaleShown],
    title: str,
    cards: Sequence[FishCard],
    refused: Sequence[tuple[str, str, str]],
) -> str:
    """Fill the template; whatever comes from outside is escaped there."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    style = (TEMPLATES / "page.css").read_text(encoding="utf-8")
    return environment.get_template("table_report.html.j2").render(
        content=content,
        change=change,
        scales=scales,
        title=title,
        cards=cards,
        refused=refused,
        pictures_left_out=len(content.fish) - len(cards),
        titles=column_titles(content.columns),
        groups=any(row.group for row in content.fish),
        visits=any(row.visit for row in content.fish),
        scale_words=", ".join(name.replace("_", " ") for name in content.scale_methods),
        edge_caption=EDGE_CAPTION,
        cautions=cautions(),
        style=style,
        # The page may use this one style sheet and nothing else
        style_hash=base64.b64encode(hashlib.sha256(style.encode()).digest()).decode(),
        version=__version__,
        written=datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
    )


def _write(file: Path, text: str) -> None:
    """Write the file as a whole or not at all."""
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        # a name may hold half of a surrogate pair, which UTF-8 cannot
        part.write_bytes(text.encode("utf-8", "backslashreplace"))
        os.replace(part, file)
    except OSError as error:
        message = f"The report cannot be written to {file}: {error.strerror}."
        raise FinmeasureError(message) from error
    finally:
        part.unlink(missing_ok=True)
