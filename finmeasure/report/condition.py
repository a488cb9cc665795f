"""What the pages on one box show: sorting, and the claim report. Plain records, no layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from finmeasure.cautions import cautions
from finmeasure.errors import FinmeasureError
from finmeasure.exchange.inputs import GroupRow
from finmeasure.fins.records import MEDIAN_FINS
from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.photo.files import sha256_of
from finmeasure.report.condition_box import load_box
from finmeasure.report.condition_naming import naming_section
from finmeasure.report.condition_parts import (
    ATTACHMENT_NOTE,
    METHOD,
    NOT_A_PROOF,
    Picture,
    Section,
    Table,
    fish_picture,
    form_section,
    sex_section,
    sexes_section,
    spread_plot,
    two_pictures,
)
from finmeasure.report.numbers import with_limits
from finmeasure.shipment.box import BoxFish, OddOne, SortedBox, sort_box
from finmeasure.shipment.grade import condition_shares, fin_state, share_of, size_grade

if TYPE_CHECKING:
    from finmeasure.study.store import Study

ODD_SHOWN = 12


@dataclass(frozen=True, slots=True, eq=False)
class BoxPage:
    """A page on one box: title, subtitle, sections, and a few lines for the terminal."""

    title: str
    sections: tuple[Section, ...]
    summary: tuple[str, ...] = field(default=())


def sort_page(
    study: Study,
    group: str,
    *,
    characters: Sequence[str] = (),
    reference: str = "",
    species: Path | None = None,
) -> BoxPage:
    """Gather what `sort` shows of a group.

    Parameters
    ----------
    study : Study
        Open.
    group : str
        Group to sort.
    characters : sequence of str
        At most four ratios; chosen by the program if empty.
    reference : str
        Group that is known to be all of one kind.
    species : Path, optional
        Reference table; the shipped one if None.

    Raises
    ------
    FinmeasureError
        If a group has no fish, or the table is unusable.
    """
    box = load_box(study, group)
    known = load_box(study, reference) if reference else ()
    try:
        result = sort_box(box, characters=characters, reference=known)
    except ValueError as error:
        raise FinmeasureError(str(error)) from error
    entered = _entered(study, group)
    odd = _odd_section(study, result)
    naming, counted = naming_section([one.fish for one in result.odd], box, species)
    parts = (odd, sex_section(box), _grade_section(box, entered), _condition_section(study, box))
    named = (odd, naming, *parts[1:], sexes_section(study, box), form_section(box))
    sections = tuple(section for section in named if section is not None)
    lines = [*result.notes]
    lines += [f"odd: {one.fish.fish} ({one.fish.photo}): {_why(one)}" for one in result.odd]
    if len(box) < 20 and not result.odd:
        lines += [f"rank {i}: {o.fish.fish}: {_why(o)}" for i, o in enumerate(result.ranked[:5], 1)]
    lines += counted
    lines += [text for part in parts[1:] for text in part.paragraphs[:2]]
    return BoxPage(f"Sorting of {group}", sections, tuple(lines))


def claim_page(study: Study, group: str, attachments: Sequence[Path] = ()) -> BoxPage:
    """Gather the claim report of a group.

    Parameters
    ----------
    study : Study
        Open.
    group : str
        Group, bag or shipment.
    attachments : sequence of Path
        Further files, e.g. photos of the unopened bag, the label, dead fish.

    Raises
    ------
    FinmeasureError
        If the group has no fish, or an attachment cannot be read.
    """
    box = load_box(study, group)
    entered = _entered(study, group)
    result = sort_box(box)
    naming, _ = naming_section([one.fish for one in result.odd], box, None)
    sections = (
        _shipment_section(study, entered),
        _count_section(study, box, entered),
        _grade_section(box, entered),
        _odd_section(study, result),
        *((naming,) if naming is not None else ()),
        _condition_section(study, box),
        Section("What to do first", (), bullets=tuple(cautions()["first advice"])),
        Section("Method and uncertainty", (METHOD,)),
        Section("What this record is not", (), bullets=NOT_A_PROOF),
        _photo_section(study, group, attachments),
        Section("Cautions", (), bullets=(*cautions()["reading"], *cautions()["handling"])),
    )
    return BoxPage(f"Condition on arrival: {group}", sections)


def _entered(study: Study, group: str) -> GroupRow:
    """Give what the keeper entered of a group; an empty row where nothing was."""
    return next((row for row in study.groups() if row.group == group), GroupRow(group))


def _why(one: OddOne) -> str:
    return ", ".join(one.reasons) or "no single character stands out"


def _odd_section(study: Study, result: SortedBox) -> Section:
    """Fish that stand apart, each beside a typical one."""
    ranked = len(result.rows) < 20 and not result.odd
    shown = result.ranked[:5] if ranked else result.odd
    cells = tuple(
        (one.fish.fish, one.fish.photo, "second kind" if one.kind else "", _why(one))
        for one in shown
    )
    pictures: list[Picture] = []
    typical = result.typical
    for one in shown[:ODD_SHOWN]:
        said = f"{one.fish.fish}: {_why(one)}"
        if typical is None or typical is one.fish:
            pictures += fish_picture(study, one.fish, said)
        else:
            pair = (one.fish, typical)
            pictures += two_pictures(
                study, pair, f"{said} (left); right a typical one, {typical.fish}"
            )
    return Section(
        "Fish unlike the rest",
        result.notes,
        (Table(("Fish", "Photo", "", "Why"), cells),) if cells else (),
        (*pictures, *spread_plot(result)),
    )


def _grade_section(box: Sequence[BoxFish], entered: GroupRow) -> Section:
    """Lengths against the grade that was paid for."""
    known = [one.measures["standard_length"] for one in box if one.value("standard_length")]
    lengths = [(row.value or 0.0, row.u or 0.0) for row in known]
    if not lengths:
        return Section("Size", ("No fish has a length in millimetres: the photos have no scale.",))
    values = sorted(value for value, _ in lengths)
    totals = sorted(value for one in box if (value := one.value("total_length")) is not None)
    middle = values[len(values) // 2]
    texts = [
        f"Standard length of {len(values)} fish: middle {middle:.1f} mm, from {values[0]:.1f} to "
        f"{values[-1]:.1f} mm."
    ]
    if totals:
        texts.append(
            f"Total length: middle {totals[len(totals) // 2]:.1f} mm; too short where the tail is "
            "damaged."
        )
    if entered.grade_mm_from is None:
        texts.insert(0, "No paid grade is entered (groups.csv, grade_mm_from).")
    else:
        grade = size_grade([v for v, _ in lengths], [u for _, u in lengths], entered.grade_mm_from)
        texts.insert(
            0,
            f"Under the paid grade of {entered.grade_mm_from:g} mm standard length: {grade.under}; "
            f"{grade.surely_under} by more than the measuring uncertainty.",
        )
    rows = tuple(
        (one.fish, f"{with_limits(one.value('standard_length') or 0, u)} mm")
        for one, u in ((one, one.measures["standard_length"].u) for one in box
                       if one.value("standard_length") is not None)
        if entered.grade_mm_from is not None
        and (one.value("standard_length") or 0) < entered.grade_mm_from
    )  # fmt: skip
    table = (Table(("Fish under the grade", "Standard length"), rows),) if rows else ()
    return Section("Size", tuple(texts), table)


def _condition_section(study: Study, box: Sequence[BoxFish]) -> Section:
    """State of each fin over the box, worst fish first."""
    states = {
        fin: [_state(one, fin) for one in box if fin in _fins_of(box)] for fin in _fins_of(box)
    }
    rows = []
    for fin, mine in states.items():
        judged = [state for state in mine if state != "cannot tell"]
        if judged:
            shares = condition_shares(judged)
            rows.append((fin_definitions()[fin].shown, *(
                str(shares[state]) if state in shares else f"0 of {len(judged)}"
                for state in ("whole", "notched", "split", "clamped")
            ), str(len(mine) - len(judged))))  # fmt: skip
    hurt = [one for one in box if any(_state(one, f) in ("notched", "clamped") for f in states)]
    told = [one for one in box if any(_state(one, f) != "cannot tell" for f in states)]
    texts = [
        "Whether fins are shorter overall: cannot tell without an independent whole reference."
    ]
    if told:
        share = share_of(len(hurt), len(told))
        texts.insert(0, f"Fish with a notched or clamped fin: {share} of those whose edges show.")
    else:
        texts.insert(0, "No fin edge could be judged: none was traced, or they are hidden.")
    hurt.sort(key=lambda one: -max((one.value(f"{f}_notch_area") or 0.0) for f in states))
    pictures: list[Picture] = []
    for one in hurt[:ODD_SHOWN]:
        worst = max(states, key=lambda f: one.value(f"{f}_notch_area") or 0.0)
        area = one.value(f"{worst}_notch_area")
        said = f"{area:.1f} % of the fin missing in notches" if area else "clamped"
        pictures += fish_picture(study, one, f"{one.fish}, {worst} fin: {said}", worst)
    heads = ("Fin", "whole", "notched", "split", "clamped", "cannot tell")
    return Section(
        "Fins", tuple(texts), (Table(heads, tuple(rows)),) if rows else (), tuple(pictures)
    )


def _fins_of(box: Sequence[BoxFish]) -> tuple[str, ...]:
    return tuple(f for f in MEDIAN_FINS if any(f in one.reading.outlines for one in box))


def _state(fish: BoxFish, fin: str) -> str:
    outline = fish.reading.outlines.get(fin)
    values = {name: fish.value(f"{fin}_{name}") for name in ("notch_count", "split_count")}
    return fin_state(values, "" if outline is None else outline.spread)


def _shipment_section(study: Study, entered: GroupRow) -> Section:
    """Show what was typed in."""
    names = {
        "kind": entered.kind, "from": entered.came_from, "box": entered.box, "bag": entered.bag,
        "opened": entered.opened_at, "claim until": entered.claim_until,
    }  # fmt: skip
    rows = tuple((name, str(value)) for name, value in names.items() if value)
    rows += tuple((row.date, f"{row.event} {row.note}") for row in study.events(entered.group))
    rows += tuple(
        (row.taken_at, f"water: {row.quantity} {row.value:g} {row.unit.removesuffix('1')}")
        for row in study.water(entered.group)
    )
    text = "As entered by the keeper; nothing of this can be proven from the photos."
    return Section("Shipment", (text,), (Table(("What", "Entered"), rows),) if rows else ())


def _count_section(study: Study, box: Sequence[BoxFish], entered: GroupRow) -> Section:
    """Show counts as typed, and what was photographed."""
    stored = study.current_readings(group=entered.group)
    confirmed = all(one.confirmed for one in stored)
    what = "fish, each marked or confirmed by a person" if confirmed else "photos (not confirmed)"
    number = len(box) if confirmed else len({one.photo for one in stored})
    typed = {"invoiced": entered.invoiced, "alive": entered.alive, "dead": entered.dead}
    rows = [(name, "not entered" if n is None else str(n)) for name, n in typed.items()]
    rows.append(("photographed", f"{number} {what}"))
    late = [
        row for row in study.events(entered.group) if "dead" in row.event or "died" in row.event
    ]
    rows += [("died (event)", f"{row.date} {row.note}") for row in late]
    texts = []
    if entered.invoiced is not None and confirmed:
        texts.append(f"Invoiced {entered.invoiced}, photographed {number}.")
    names = [one for one in box if not one.fish.isdecimal()]
    if len(stored) > len(box):
        texts.append(f"{len(stored)} photos joined by name to {len(box)} fish.")
    elif not names:
        texts.append("The fish have no names: a fish photographed twice would count twice.")
    return Section("Counts", tuple(texts), (Table(("Count", "Value"), tuple(rows)),))


def _photo_section(study: Study, group: str, attachments: Sequence[Path]) -> Section:
    """Checksum and time of every photo and attachment."""
    frame = study.table("photos")
    mine = {one.photo for one in study.current_readings(group=group)}
    rows: list[tuple[str, ...]] = [
        (str(row["photo"]), str(row["taken_at"] or "not told"), str(row["sha256"]))
        for row in frame[frame["photo"].isin(mine)].to_dict("records")
    ]
    rows += [(f"attached: {path.name}", "", sha256_of(path)) for path in attachments]
    text = "Times come from the camera's own clock (EXIF) and are unproven. " + ATTACHMENT_NOTE
    return Section("Photos", (text,), (Table(("Photo", "Taken at", "SHA-256"), tuple(rows)),))
