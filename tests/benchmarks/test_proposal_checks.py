"""Proposals on outlines of reef fish, their stated confidence, and pictures without fish.

Runs with whatever weights are packaged. The tables go to docs/method/proposals.md between the
markers, the plot beside it: `pytest -m benchmark tests/benchmarks/test_proposal_checks.py`.
"""

import csv
import gzip
import math
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import cv2
import matplotlib as mpl
import numpy as np
import pytest

from finmeasure.drawing.photo import draw_photo
from finmeasure.drawing.views import random_card_view
from finmeasure.drawing.wild import wild_spec
from finmeasure.errors import NotFound
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.proposals.find import Sighting
from finmeasure.proposals.fine import look_closely
from finmeasure.proposals.frames import Pyramid
from finmeasure.proposals.layout import LANDMARKS
from finmeasure.proposals.propose import propose
from finmeasure.proposals.weights import load_network

from .pictures import KINDS, picture

mpl.use("Agg")
pytestmark = pytest.mark.benchmark
PAGE = Path(__file__).resolve().parents[2] / "docs" / "method" / "proposals.md"
PLOT = PAGE.with_name("proposals_reliability.png")
DRAWN, PICTURES = 60, 1000
BINS = (0.0, 0.6, 0.8, 0.9, 0.96, 1.001)
RIGHT_WITHIN = 0.03  # of standard length: what a confidence is the probability of
#: Numbers of the 12 published landmarks (drawn over the outlines): 2 is the foremost point, 4 and 7
#: are the rear ends of dorsal and anal fin, 5 and 6 the insertions of the tail, 11 and 12 the eye.
REEF = {
    "snout_tip": (2,), "caudal_base": (5, 6), "dorsal_origin": (3,), "dorsal_end": (4,),
    "anal_origin": (8,), "anal_end": (7,), "caudal_upper_insertion": (5,),
    "caudal_lower_insertion": (6,), "eye_front": (11,), "eye_back": (12,),
}  # fmt: skip


def write(name, lines):
    """Put lines between their markers in the page; the markers are made where they are missing."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- {name} -->\n", f"<!-- end {name} -->"
    if start not in page:
        page = page.rstrip() + f"\n\n{start}{end}\n"
    before, _, rest = page.partition(start)
    _, _, after = rest.partition(end)
    PAGE.write_text(before + start + "\n".join(lines) + "\n" + end + after, encoding="utf-8")


@pytest.fixture(autouse=True, scope="module")
def one_thread():
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


def photo_of(pixels):
    height, width = pixels.shape[:2]
    return Photo(np.ascontiguousarray(pixels), "0" * 64, PhotoMetadata(width, height))


# -- reef fish -------------------------------------------------------------------------------


def reef_fish(shared):
    """Outline and landmarks of each specimen, y down, 100 px from the corner."""
    folder = shared / "tables" / "05_coralfish_outlines_landmarks"
    marks, outlines = defaultdict(dict), defaultdict(list)
    with (folder / "landmarks12.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            marks[row["specimen"]][int(row["landmark"])] = (float(row["x"]), -float(row["y_up"]))
    with gzip.open(folder / "outlines.csv.gz", "rt", encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            outlines[row["specimen"]].append((float(row["x"]), -float(row["y_up"])))
    for specimen, points in marks.items():
        outline = np.array(outlines[specimen])
        corner = outline.min(axis=0) - 100
        yield outline - corner, {number: np.array(at) - corner for number, at in points.items()}


def reef_photo(outline, marks, rng, *, textured):
    """Draw an outline before a plain ground: all of one grey, or with fins, scales and an eye."""
    width, height = np.ceil(outline.max(axis=0) + 100).astype(int)
    ground = rng.uniform(150, 235) * np.array([1, 1, 1]) + textured * rng.uniform(-25, 25, 3)
    inside = np.zeros((height, width), np.float32)
    filled(inside, outline, 1.0)
    if textured:
        fish = scaled_skin(outline, rng, (height, width))
        put_fins(fish, outline, marks, ground, rng)
        put_eye(fish, marks)
    else:
        fish = np.full((height, width, 3), rng.uniform(30, 90))
    pixels = inside[..., None] * fish + (1 - inside[..., None]) * ground
    pixels = cv2.GaussianBlur(pixels, (0, 0), 1.0) + rng.normal(0, 3, pixels.shape)
    return photo_of(pixels.clip(0, 255).astype(np.uint8))


def filled(picture_, polygon, value):
    cv2.fillPoly(picture_, [np.rint(polygon * 16).astype(np.int32)], value, cv2.LINE_AA, 4)


def scaled_skin(outline, rng, size):
    """A colour that pales towards the belly, with rows of scales and soft blotches."""
    y, x = np.mgrid[0 : size[0], 0 : size[1]].astype(np.float32)
    top, bottom = outline[:, 1].min(), outline[:, 1].max()
    shade = 0.75 + 0.7 * ((y - top) / (bottom - top)) ** 2
    shade += 0.08 * np.sin(x / 2.5) * np.sin(y / 2.5)
    noise = cv2.GaussianBlur(rng.normal(0, 1, shade.shape).astype(np.float32), (0, 0), 9)
    shade += 0.07 * noise / noise.std()
    return shade[..., None] * rng.uniform(45, 130, 3)


def put_fins(fish, outline, marks, ground, rng):
    """Dorsal, anal and tail fin: paler, half transparent, with rays; where a base lies is invented.

    The outlines do not tell body from fin. The base bends from landmark to landmark, a third of the
    way to the outline; the tail begins at the line between its insertions.
    """
    colour = 0.6 * rng.uniform(60, 170, 3) + 0.4 * ground
    for first, last, bend in ((3, 4, 0.45), (8, 7, 0.45), (5, 6, 0.0)):
        arc = arc_between(outline, marks[first], marks[last])
        chord = np.linspace(marks[first], marks[last], len(arc))
        bulge = np.sin(np.linspace(0, np.pi, len(arc)))[:, None]
        base = chord + bend * bulge * (arc - chord)
        mask = np.zeros(fish.shape[:2], np.float32)
        filled(mask, np.vstack([arc, base[::-1]]), 1.0)
        fin = np.full_like(fish, 0) + colour
        for at in np.linspace(0, len(arc) - 1, 26).astype(int):
            ends = np.rint(16 * np.stack([base[at], arc[at]])).astype(int).tolist()
            cv2.line(fin, *ends, (0.65 * colour).tolist(), 1, cv2.LINE_AA, 4)
        fish[:] = mask[..., None] * fin + (1 - mask[..., None]) * fish


def arc_between(outline, first, last):
    """The shorter way along the outline from one point to another, 200 points."""
    start, stop = (int(np.argmin(np.hypot(*(outline - at).T))) for at in (first, last))
    size = len(outline)
    ahead = np.arange(start, start + (stop - start) % size + 1) % size
    back = np.arange(start, start - (start - stop) % size - 1, -1) % size
    way = outline[min(ahead, back, key=len)]
    return way[np.linspace(0, len(way) - 1, 200).astype(int)]


def put_eye(fish, marks):
    """A pale ring round a black pupil, and the fold of the gill cover."""
    front, back = marks[11], marks[12]
    eye, radius = (front + back) / 2, np.hypot(*(back - front)) / 2
    for size, value in ((1.0, 200.0), (0.55, 12.0)):
        cv2.circle(fish, np.rint(eye * 16).astype(int).tolist(), round(16 * size * radius),
                   [value] * 3, -1, cv2.LINE_AA, 4)  # fmt: skip
    gill, high = marks[9], 0.9 * np.hypot(*(marks[9] - eye))
    middle, axes = (
        np.rint(gill - [0.5 * high, 0]).astype(int).tolist(),
        (round(high / 2), round(high)),
    )
    cv2.ellipse(fish, middle, axes, 0, -70, 70, [30.0] * 3, 2, cv2.LINE_AA)


def test_reef_fish_by_their_outlines(shared):
    """Marks of the close look, told roughly where the fish lies; and whether `propose` takes it."""
    errors = {False: defaultdict(list), True: defaultdict(list)}
    taken = {False: 0, True: 0}
    fine = load_network("fine")
    for number, (outline, marks) in enumerate(reef_fish(shared)):
        textured = bool(number % 2)
        rng = np.random.default_rng([900, number])
        photo = reef_photo(outline, marks, rng, textured=textured)
        taken[textured] += not isinstance(propose(photo), NotFound)
        true = {name: np.mean([marks[one] for one in ones], axis=0) for name, ones in REEF.items()}
        length = math.dist(true["snout_tip"], true["caudal_base"])
        near = [
            true[name] + rng.normal(0, 0.04 * length, 2) for name in ("snout_tip", "caudal_base")
        ]
        sighting = Sighting(near[0], near[1], outline[::20], 0.0, 1.0, 1.0)
        look = look_closely(Pyramid.of(photo.pixels), fine, sighting)
        for name, at in true.items():
            if textured or not name.startswith("eye"):
                place = look.points[LANDMARKS.index(name)]
                errors[textured][name].append(100 * math.dist(place, at) / length)
    write("reef fish", list(reef_lines(errors, taken)))
    for told in errors.values():
        assert np.median(np.concatenate(list(told.values()))) < 6


def reef_lines(errors, taken):
    yield "| landmark: median, 90 % within, fish | silhouettes | textured |"
    yield "|---|---|---|"
    for name in (*REEF, None):
        cells = []
        for told in errors.values():
            values = told[name] if name else [one for some in told.values() for one in some]
            cells.append(
                f"{np.median(values):.1f} %, {np.quantile(values, 0.9):.1f} %, {len(values)}"
                if values else "not visible")  # fmt: skip
        yield f"| {name or '**all (bar: median 2 %)**'} | {' | '.join(cells)} |"
    yield f"| taken for a fish by `propose`, of 56 each | {taken[False]} | {taken[True]} |"


# -- confidence ------------------------------------------------------------------------------


def judged(reading, truth):
    """Confidence, error in standard lengths, and error / u per axis, of every placed landmark."""
    length = math.dist(truth["snout_tip"], truth["caudal_base"])
    for name, at in truth.items():
        mark = reading.landmarks.get(name)
        if mark is not None and mark.state == "placed":
            away = np.subtract(mark.point, at)
            yield mark.confidence, np.hypot(*away) / length, *np.abs(away) / mark.u_px


def drawn_held_out():
    for number in range(DRAWN):
        rng = np.random.default_rng([3131, number])
        drawn = draw_photo(wild_spec(rng), random_card_view(rng, (1200, 900)), rng)
        found = propose(photo_of(drawn.pixels))
        if not isinstance(found, NotFound):
            yield list(judged(found[0].reading, drawn.landmarks))


def development(shared):
    truth = defaultdict(dict)
    with (shared / "photos" / "landmarks.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["state"] == "placed":
                truth[row["photo"]][row["landmark"]] = (float(row["x_px"]), float(row["y_px"]))
    with (shared / "photos" / "photos.csv").open(newline="", encoding="utf-8") as file:
        wanted = [row["photo"] for row in csv.DictReader(file) if row["expected"] == "measure"]
    for name in wanted:
        if {"snout_tip", "caudal_base"} <= set(truth[name]):
            found = propose(read_photo(shared / "photos" / name))
            if not isinstance(found, NotFound):
                best = max(found, key=lambda one: one.confidence)
                yield list(judged(best.reading, truth[name]))


def binned(fish):
    """Per bin of confidence: landmarks, mean confidence, share right, its limits, coverage.

    Limits by a bootstrap over fish: the errors of one fish go together.
    """
    rng = np.random.default_rng(0)
    for low, high in pairwise(BINS):
        per_fish = [np.array([row for row in rows if low <= row[0] < high]) for rows in fish]
        per_fish = [rows for rows in per_fish if len(rows)]
        if not per_fish:
            continue
        whole = np.concatenate(per_fish)
        shares = []
        for _ in range(1000):
            some = np.concatenate(
                [per_fish[i] for i in rng.integers(0, len(per_fish), len(per_fish))]
            )
            shares.append(np.mean(some[:, 1] < RIGHT_WITHIN))
        yield (low, high, len(whole), whole[:, 0].mean(), np.mean(whole[:, 1] < RIGHT_WITHIN),
               *np.quantile(shares, [0.025, 0.975]), np.mean(whole[:, 2:] < 1.96))  # fmt: skip


def test_confidence_and_uncertainty_mean_what_they_say(shared):
    lines = ["| stated confidence | photos | landmarks | mean stated | share right (95 % limits) | "
             "within 1.96 u, per axis |", "|---|---|---|---|---|---|"]  # fmt: skip
    tables = {}
    for kind, fish in (("drawn, held out", list(drawn_held_out())),
                       ("real, development", list(development(shared)))):  # fmt: skip
        tables[kind] = list(binned(fish))
        for low, high, count, stated, right, least, most, covered in tables[kind]:
            lines.append(
                f"| {low:g} to {min(high, 1):g} | {kind} | {count} | {stated:.2f} "
                f"| {right:.2f} ({least:.2f} to {most:.2f}) | {100 * covered:.0f} % |"
            )
        whole = np.concatenate([np.array(rows) for rows in fish])
        lines.append(
            f"| **all** | {kind}, {len(fish)} fish | {len(whole)} | {whole[:, 0].mean():.2f} "
            f"| {np.mean(whole[:, 1] < RIGHT_WITHIN):.2f} "
            f"| {100 * np.mean(whole[:, 2:] < 1.96):.0f} % |"
        )
    write("reliability", lines)
    draw_reliability(tables)
    _, _, _, stated, right, *_ = tables["drawn, held out"][-1]
    assert right > stated - 0.1


def draw_reliability(tables):
    """Stated confidence against the share that was right, with 95 % limits (Okabe-Ito colours)."""
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(figsize=(5.2, 4.6), dpi=110)
    axes.plot([0, 1], [0, 1], "--", color="#777777", linewidth=1)
    axes.text(0.34, 0.37, "as stated", rotation=45, color="#555555", rotation_mode="anchor")
    looks = {
        "drawn, held out": ("#0072B2", "o", -0.006),
        "real, development": ("#D55E00", "s", 0.006),
    }
    for kind, rows in tables.items():
        colour, mark, aside = looks[kind]
        stated, right, least, most = np.array([row[3:7] for row in rows]).T
        axes.errorbar(stated + aside, right, [right - least, most - right], fmt=mark + "-",
                      color=colour, capsize=3, linewidth=1.5, label=kind)  # fmt: skip
    axes.set(xlim=(0.3, 1.01), ylim=(0, 1.02), xlabel="stated confidence of a landmark",
             ylabel="share within 3 % of standard length")  # fmt: skip
    axes.legend(loc="upper left", frameon=False)
    figure.tight_layout()
    figure.savefig(PLOT)
    plt.close(figure)


# -- no fish ---------------------------------------------------------------------------------


def test_no_picture_without_fish_gives_a_fish():
    seen, found = dict.fromkeys(KINDS, 0), defaultdict(list)
    for number in range(20_000, 20_000 + PICTURES):
        kind, pixels = picture(number)
        seen[kind] += 1
        told = propose(photo_of(pixels))
        if not isinstance(told, NotFound):
            found[kind].append((number, round(max(one.confidence for one in told), 2)))
    lines = ["| pictures | number | taken for a fish |", "|---|---|---|"]
    lines += [f"| {kind} | {count} | {len(found[kind])} |" for kind, count in seen.items()]
    lines.append(f"| **all** | {PICTURES} | {sum(map(len, found.values()))} (bar: 0) |")
    write("no fish", lines)
    print(dict(found))
    assert not any(found.values())
