"""Pieces of the pages on one box: records of a section, pictures, plot, sex, form figures."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.scheme import body_form
from finmeasure.report.overlay import CLOSE_UPS, overlay_name
from finmeasure.shipment.box import BoxFish, SortedBox
from finmeasure.shipment.form_figures import face_slope_deg
from finmeasure.shipment.sex import LABELS_PER_SEX, learn_sex, sex_in_words
from finmeasure.shipment.sex_rules import tell_sex

if TYPE_CHECKING:
    from finmeasure.study.store import Study

METHOD = (
    "Each fish was photographed from the side before a printed card, which gives the scale; a "
    "person placed or confirmed the marks. Lengths and ratios carry the uncertainty of scale, "
    "marks and posture; ± holds in 95 of 100 cases. Shares have 95 % intervals (Wilson 1927). "
    "Fish unlike the rest are found by Hotelling's T² and Student's t of each fish against all "
    "others on at most four ratios, and by the distance of its pattern of marks from theirs, with "
    "limits that about one box in twenty of equal fish passes by chance."
)
NOT_A_PROOF = (
    "It is no diagnosis, no disease certificate and no legal finding on welfare.",
    "It does not prove where or when damage happened, nor that photos show this shipment.",
    "It names no species and no sex with certainty.",
    "It is a dated measurement with a stated uncertainty.",
)
ATTACHMENT_NOTE = "A SHA-256 shows whether a file was changed since this report was written."
SEX_RATIOS = (
    "dorsal_height_to_sl", "anal_height_to_sl", "body_depth_to_sl", "caudal_length_to_sl",
    "pelvic_length_to_sl",
)  # fmt: skip
FORM = {
    "fineness_ratio": "fineness (length / depth)",
    "caudal_aspect_ratio": "aspect ratio of the tail fin",
    "dorsal_height_to_sl": "height of the (first) dorsal / SL",
    "snout_length_to_sl": "snout / SL",
}
FACE = "slope of the face, degrees to the body axis"
PAIRS_SHOWN = 3
PAIR_HEIGHT_PX = 360
FORM_NOTE = (
    "Slender fish with a high, narrow tail fin are often held to like current; evidence is mixed "
    "(Walker et al. 2013, PLoS ONE 8:e75422: for fish that swim with body and tail the relation is "
    "not simple and largely negative; Langerhans 2008: from memory). What snout and face "
    "say of feeding, and the height of the dorsal of current, is common practice, no source. The "
    "slope of the face needs a traced body outline. Never a promise."
)


@dataclass(frozen=True, slots=True)
class Table:
    """Head and rows as texts."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its caption; ``kind`` is jpeg or png."""

    caption: str
    content: bytes
    kind: str = "jpeg"


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with paragraphs, tables, pictures and bullets."""

    title: str
    paragraphs: tuple[str, ...]
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    bullets: tuple[str, ...] = ()


def fish_picture(study: Study, fish: BoxFish, caption: str, *fin: str) -> list[Picture]:
    """Give the picture of a fish (of one of its fins) that `measure` drew; none where missing."""
    pixels = _close_up(study, fish, *fin)
    return [] if pixels is None else [_picture(pixels, caption)]


def two_pictures(
    study: Study, fish: tuple[BoxFish, BoxFish], caption: str, *fin: str
) -> list[Picture]:
    """Give the pictures of two fish side by side; as far as they are there."""
    found = [_close_up(study, one, *fin) for one in fish]
    both = [pixels for pixels in found if pixels is not None]
    if not both:
        return []
    room = np.full((PAIR_HEIGHT_PX, 16, 3), 255, np.uint8)
    scaled = [
        cv2.resize(
            pixels,
            (max(1, round(PAIR_HEIGHT_PX * pixels.shape[1] / pixels.shape[0])), PAIR_HEIGHT_PX),
            interpolation=cv2.INTER_AREA,
        )
        for pixels in both
    ]
    beside = [part for pixels in scaled for part in (room, pixels)][1:]
    return [_picture(np.hstack(beside), caption, longest_px=1040)]


def _close_up(study: Study, fish: BoxFish, *fin: str) -> NDArray[np.uint8] | None:
    """Read the close-up that `measure` drew; of the whole fish where its fin has none."""
    file = study.folder / "overlays" / CLOSE_UPS / overlay_name(fish.photo, fish.fish, *fin)
    if not file.is_file():
        return _close_up(study, fish) if fin else None
    pixels = cv2.imdecode(np.fromfile(file, np.uint8), cv2.IMREAD_COLOR)
    return None if pixels is None else np.asarray(pixels, np.uint8)


def _picture(pixels: NDArray[np.uint8], caption: str, *, longest_px: int = 520) -> Picture:
    factor = min(1.0, longest_px / max(pixels.shape[:2]))
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    encoded = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 78])[1]
    return Picture(caption, encoded.tobytes())


def spread_plot(result: SortedBox) -> list[Picture]:
    """Draw the two ratios in which the odd fish differ most; none where nothing was compared."""
    if result.table.shape[0] < 4 or result.table.shape[1] < 2 or not result.ranked:
        return []
    from matplotlib.figure import Figure

    odd = {id(one.fish) for one in result.odd}
    mask = np.array([id(fish) in odd for fish in result.rows])
    table, rest = result.table, result.table[~mask] if (~mask).any() else result.table
    away = np.abs(table[mask] - rest.mean(axis=0)).mean(axis=0) if mask.any() else np.zeros(1)
    spread = np.maximum(rest.std(axis=0), 1e-9)
    first, second = np.argsort(-(away / spread))[:2] if mask.any() else (0, 1)
    figure = Figure(figsize=(5.2, 3.8), layout="constrained")
    axes = figure.subplots()
    axes.plot(*table[~mask][:, [first, second]].T, "o", color="#0072b2", label="the rest")
    axes.plot(*table[mask][:, [first, second]].T, "^", ms=9, color="#d55e00", label="unlike")
    for fish, row, is_odd in zip(result.rows, table, mask, strict=True):
        if is_odd:
            axes.annotate(fish.fish, (row[first], row[second]), xytext=(6, 4),
                          textcoords="offset points", fontsize=9, parse_math=False)  # fmt: skip
    names = [name.replace("_to_sl", " / SL").replace("_", " ") for name in result.characters]
    axes.set_xlabel(names[first])
    axes.set_ylabel(names[second])
    axes.legend(frameon=False)
    target = io.BytesIO()
    figure.savefig(target, format="png", dpi=100)
    return [Picture("Two of the ratios that were compared.", target.getvalue(), "png")]


def sex_section(box: Sequence[BoxFish]) -> Section:
    """Sex by the rule of the body form, else learned from labels."""
    form = box[0].reading.body_form
    if form.split("+")[0] == "livebearer":
        answers = [(one, tell_sex(form, one.measures)) for one in box]
        counts: dict[str, int] = {}
        for _, answer in answers:
            counts[answer.answer] = counts.get(answer.answer, 0) + 1
        text = ", ".join(f"{n} {word}" for word, n in counts.items()) + "."
        rows = tuple((one.fish, answer.answer, answer.reason) for one, answer in answers)
        return Section("Sex", (text,), (Table(("Fish", "Answer", "Why"), rows),))
    return _learned_section(box, tell_sex(form, {}).reason)


def _learned_section(box: Sequence[BoxFish], note: str) -> Section:
    names = [n for n in SEX_RATIOS if all(one.value(n) is not None for one in box)]
    labelled = [one for one in box if one.labels.get("sex") in ("male", "female")]
    confused = sum(one.labels.get("sex") == "contradictory" for one in box)
    texts = [note]
    if confused:
        texts.append(f"{confused} fish with contradictory labels are not learned from.")
    sexes = [one.labels["sex"] for one in labelled]
    few = min(sexes.count("male"), sexes.count("female"))
    if few < LABELS_PER_SEX or not names:
        texts.insert(0, (
            f"Sex cannot be learned: {sexes.count('male')} males and {sexes.count('female')} "
            f"females are labelled (labels.csv); {LABELS_PER_SEX} of each are needed."
        ))  # fmt: skip
        return Section("Sex", tuple(texts))
    ratios = [[one.value(n) or 0.0 for n in names] for one in labelled]
    learned = learn_sex(ratios, sexes, names)
    told = (
        (
            f"Learned from {learned.labelled} labelled fish: {learned.correct} told rightly when "
            f"left out in turn ({learned.low:.0%} to {learned.high:.0%}); most weight: "
        ).replace("%", " %")
        + learned.deciding.replace("_to_sl", " / SL").replace("_", " ")
        + "."
    )
    texts.insert(0, told)
    if learned.low < 0.6:
        texts.insert(1, "That is hardly better than guessing: no fish is told by it.")
        return Section("Sex", tuple(texts))
    chances = learned.male_probability([[one.value(n) or 0.0 for n in names] for one in box])
    rows = tuple(
        (one.fish, sex_in_words(float(p)), f"{p:.0%} male".replace("%", " %"),
         one.labels.get("sex", ""))
        for one, p in zip(box, chances, strict=True)
    )  # fmt: skip
    return Section(
        "Sex", tuple(texts), (Table(("Fish", "By its fins", "Probability", "Label"), rows),)
    )


def form_section(box: Sequence[BoxFish]) -> Section:
    """Figures of form, over the box and fish by fish."""
    figures = [(shown, [one.value(name) for one in box]) for name, shown in FORM.items()]
    figures.append((FACE, [face_slope_deg(one.reading) for one in box]))
    rows = []
    for shown, given in figures:
        values = sorted(value for value in given if value is not None)
        if values:
            texts = (f"{v:.3g}" for v in (values[len(values) // 2], values[0], values[-1]))
            rows.append((shown, str(len(values)), *texts))
    if not rows:
        return Section("Form", (FORM_NOTE,))
    group = Table(("Figure", "Fish", "Middle", "Smallest", "Largest"), tuple(rows))
    figures = [(shown, given) for shown, given in figures if any(v is not None for v in given)]
    heads = ("Fish", *(shown for shown, _ in figures))
    each = tuple(
        (one.fish, *("" if v is None else f"{v:.3g}" for v in values))
        for one, *values in zip(box, *(given for _, given in figures), strict=True)
    )
    return Section("Form", (FORM_NOTE,), (group, Table(heads, each)))


def sexes_section(study: Study, box: Sequence[BoxFish]) -> Section | None:
    """Put labelled males and females side by side; None unless there are both.

    For dwarf cichlids and gouramis, for example, the difference is one of degree.
    """
    sexes = {sex: [o for o in box if o.labels.get("sex") == sex] for sex in ("male", "female")}
    if not all(sexes.values()):
        return None
    rows = [
        (
            name.replace("_to_sl", " / SL").replace("_", " "),
            *(_spread(sexes[s], name) for s in sexes),
        )
        for name in SEX_RATIOS
        if all(any(one.value(name) is not None for one in fish) for fish in sexes.values())
    ]
    told = [fin for fin in body_form(box[0].reading.body_form).tells if fin != "body"]
    fin = next(iter(told), "dorsal")
    pictures: list[Picture] = []
    for pair in zip(sexes["male"][:PAIRS_SHOWN], sexes["female"][:PAIRS_SHOWN], strict=False):
        male, female = pair
        said = f"{fin} fin: left {male.fish}, labelled male; right {female.fish}, labelled female"
        pictures += two_pictures(study, pair, f"{said} (not to one scale)", fin)
    text = (
        f"{len(sexes['male'])} labelled males and {len(sexes['female'])} labelled females of this "
        "group; middle, smallest and largest. Where the ranges overlap, the ratio alone does not "
        "tell the sexes apart."
    )
    table = Table(("Ratio", "Males", "Females"), tuple(rows))
    return Section("Males and females side by side", (text,), (table,) if rows else (),
                   tuple(pictures))  # fmt: skip


def _spread(fish: Sequence[BoxFish], name: str) -> str:
    values = sorted(value for one in fish if (value := one.value(name)) is not None)
    middle = values[len(values) // 2]
    return f"{middle:.3g} ({values[0]:.3g} to {values[-1]:.3g}, {len(values)} fish)"
