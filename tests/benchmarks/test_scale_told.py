"""Rulers that the program finds, number tags, and marked cards and coins: long drawn series.

Truth as in test_scale_accuracy.py; the tables go to docs/method/scale.md between the markers.
"""

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest

from finmeasure.card.tag_sheet import tags_on, write_tags
from finmeasure.card_design import PAPER_MM
from finmeasure.scale.find import find_scale
from finmeasure.scale.references import COINS_MM, MarkedObject
from finmeasure.scale.request import ScaleRequest
from finmeasure.scale.tags import find_tags
from finmeasure.tag_design import TAG_MM

from ..finmeasure.scale.drawn import Camera, Conditions, draw
from ..finmeasure.scale.paper_sheets import ruler_sheet
from ..finmeasure.scale.series import as_photo, length_errors
from .pictures import picture
from .test_scale_accuracy import HEAD, Series, write

pytestmark = pytest.mark.benchmark
COUNT = 300
INCH = 25.4 / 16
BLANK = as_photo(np.zeros((60, 80, 3), np.uint8))
ID1 = np.array([[0.0, 0.0], [85.60, 0.0], [85.60, 53.98], [0.0, 53.98]])  # ISO/IEC 7810
RADIALS = [-0.1, -0.04, 0.0, 0.05]


def added(series, scale, errors):
    if scale:
        series.add(scale, errors)
    else:
        series.refused += 1


def lengths_mm(rng, low, high, count=15):
    """Ends of random lengths in a rectangle, none shorter than a sixth of its width."""
    low, high = np.array(low, float), np.array(high, float)
    ends = low + rng.random((20 * count, 2, 2)) * (high - low)
    return ends[np.hypot(*(ends[:, 1] - ends[:, 0]).T) > (high - low)[0] / 6][:count]


def told(name, marks_px):
    return ScaleRequest(marked=MarkedObject(name, tuple(map(tuple, marks_px))))


def told_camera(rng, aim_mm, per_mm, tilt_deg):
    """A phone of 12 megapixels; nothing is drawn, a person's marks are all that counts."""
    return Camera(
        width=4000, height=3000, focal_px=3100.0,
        radial=float(rng.choice(RADIALS)), distance_mm=3100 / per_mm,
        tilt_deg=rng.uniform(*tilt_deg), tilt_direction_deg=rng.uniform(0, 360),
        roll_deg=rng.uniform(0, 360), aim_mm=tuple(aim_mm),
    )  # fmt: skip


def test_marked_card():
    """An ID-1 card within its limits, marked at its corners; fish on it, then beside it."""
    rng = np.random.default_rng(800)
    on_it, beside = Series(), Series()
    for number in range(COUNT):
        size = np.array([rng.uniform(85.47, 85.72), rng.uniform(53.92, 54.03)])
        camera = told_camera(rng, [43, 40], rng.uniform(8, 16), (0, 25))
        corners = np.roll(ID1 / ID1[2] * size, number % 4, axis=0)
        marks = camera.to_pixel(corners) + rng.normal(0, 1, (4, 2))
        scale = find_scale(
            BLANK, ScaleRequest(marked=MarkedObject("ID1", tuple(map(tuple, marks))))
        )
        for series, low, high in ((on_it, [3, 3], [83, 51]), (beside, [3, 57], [83, 90])):
            added(series, scale, length_errors(scale, camera, lengths_mm(rng, low, high))
                  if scale else None)  # fmt: skip
    write("marked card", [*HEAD, on_it.row("blank ID-1 card, fish before it"),
                          beside.row("same, fish beside it, up to 36 mm")])  # fmt: skip
    for series in (on_it, beside):
        assert series.gross == 0
        assert series.coverage()[1] >= 0.93


def test_marked_coin():
    """A coin of any size, 8 to 24 points round its rim; fish over it, then beside it."""
    rng = np.random.default_rng(801)
    over, beside = Series(), Series()
    for _ in range(COUNT):
        name = str(rng.choice(list(COINS_MM)))
        radius = COINS_MM[name] / 2 + rng.normal(0, 0.02)
        turn = np.linspace(0, 2 * np.pi, int(rng.integers(8, 25)), endpoint=False)
        camera = told_camera(rng, rng.normal(0, 10, 2), rng.uniform(8, 16), (0, 25))
        rim = camera.to_pixel(radius * np.column_stack([np.cos(turn), np.sin(turn)]))
        marks = rim + rng.normal(0, 1, rim.shape)
        scale = find_scale(BLANK, told(name, marks))
        for series, low, high in (
            (over, [-radius] * 2, [radius] * 2), (beside, [-25, 14], [25, 40]),
        ):  # fmt: skip
            ends = lengths_mm(rng, low, high)
            added(series, scale, length_errors(scale, camera, ends) if scale else None)
    write("coin", [*HEAD, over.row("coin, fish where it is"),
                   beside.row("same, fish beside it, 14 to 40 mm away")])  # fmt: skip
    assert over.gross == 0
    assert over.coverage()[1] >= 0.93
    assert beside.coverage()[2] >= 0.93


def table_with_ruler(rng, number):
    """A ruler on a table among other things: mm or sixteenths, light or dark, partly hidden."""
    tick_mm = INCH if number % 4 == 3 else 1.0
    halves, wholes = (5, 10) if tick_mm == 1.0 else (8, 16)
    ruler = ruler_sheet(per_mm=12.0, tick_mm=tick_mm, halves=halves, wholes=wholes)
    if number % 3 == 0:
        ruler = 255 - ruler  # light ticks on a dark ruler
    if number % 5 == 0:
        sheet = np.full((120 * 12, 200 * 12), rng.uniform(60, 180), np.uint8)
    else:
        ground = cv2.cvtColor(picture(7000 + number)[1], cv2.COLOR_RGB2GRAY)
        sheet = cv2.resize(ground, (200 * 12, 120 * 12), interpolation=cv2.INTER_CUBIC)
    top = int(rng.integers(0, 90 * 12))
    sheet[top : top + ruler.shape[0], 20 * 12 : 20 * 12 + ruler.shape[1]] = ruler
    if number % 4 == 1:
        hidden = 12 * int(rng.integers(50, 140))
        sheet[top : top + ruler.shape[0], hidden : hidden + 12 * int(rng.integers(8, 25))] = 110
    return sheet, tick_mm, top / 12


def ruler_search_series(count):
    """Photos from good to poor: whatever lies beside the ruler, half of them tilted over 12°."""
    rng, series = np.random.default_rng(805), Series()
    for number in range(count):
        sheet, tick_mm, top_mm = table_with_ruler(rng, number)
        camera = Camera(
            width=1200, height=900, focal_px=930.0, distance_mm=rng.uniform(90, 220),
            tilt_deg=rng.uniform(0, 25), tilt_direction_deg=rng.uniform(0, 360),
            roll_deg=rng.uniform(0, 360), radial=float(rng.choice(RADIALS)),
            aim_mm=(rng.uniform(80, 120), top_mm + rng.uniform(-20, 30)),
        )  # fmt: skip
        conditions = Conditions(
            blur_px=rng.uniform(0.7, 2.0), noise=rng.uniform(2, 8), jpeg=int(rng.integers(70, 96)),
            uneven=rng.uniform(0, 0.6), uneven_direction_deg=rng.uniform(0, 360),
            background=120.0, seed=number,
            glare_px=(rng.uniform(0, 1200), rng.uniform(0, 900), rng.uniform(20, 80))
            if rng.random() < 0.3 else None,
        )  # fmt: skip
        pixels = draw(sheet, 12.0, camera, conditions)
        scale = find_scale(as_photo(pixels), ScaleRequest(tick_mm=tick_mm))
        added(series, scale, np.array([along_the_ruler(scale, camera)]) if scale else None)
        if scale and series.rms[-1] > 0.01:
            print(number, f"off {series.rms[-1]:.4f}, u {scale.u_rel:.4f}", camera)
        elif not scale:
            print(number, scale.reason)
    return series


def along_the_ruler(scale, camera):
    """Error of the mean scale between the ends of the row that was found."""
    frame = scale.region_px
    ends = np.array([frame[0] + frame[3], frame[1] + frame[2]]) / 2
    true_mm, found_mm = (
        float(np.hypot(*np.diff(where(ends), axis=0)[0])) for where in (camera.to_mm, scale.to_mm)
    )
    return found_mm / true_mm - 1


def test_ruler_search():
    series = ruler_search_series(COUNT)
    write("ruler search", [*HEAD, series.row("ruler that the program finds")])
    assert series.gross == 0
    assert series.coverage()[1] >= 0.93
    assert series.refused < 0.6 * COUNT


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """A sheet of tags as the independent rasteriser (pypdfium2) prints it, ten dots per mm."""
    file = tmp_path_factory.mktemp("tags") / "tags.pdf"
    write_tags(file, "A5", first=301)
    with pdfium.PdfDocument(file) as document:
        return np.ascontiguousarray(document[0].render(scale=254 / 72).to_numpy()[..., 0])


def tag_on_a_ground(sheet, number, ground):
    """One of the printed tags on a picture, millimetres from its upper left corner; 10 px/mm."""
    columns, _ = tags_on("A5")
    row, column = divmod(number, columns)
    left = (PAPER_MM["A5"][0] - columns * TAG_MM[0]) / 2 + column * TAG_MM[0]
    top = 6.0 + row * TAG_MM[1]
    y, x = (slice(round(10 * a), round(10 * (a + b))) for a, b in ((top, TAG_MM[1]),
                                                                  (left, TAG_MM[0])))  # fmt: skip
    whole = cv2.resize(ground, (1200, 900), interpolation=cv2.INTER_AREA)
    whole[320 : 320 + sheet[y, x].shape[0], 370 : 370 + sheet[y, x].shape[1]] = sheet[y, x]
    return whole


def test_tags(sheet):
    """Which tags are read, and that none is read wrong: whole, and with a piece hidden."""
    rng = np.random.default_rng(804)
    counts = {}
    for number in range(COUNT):
        ground = cv2.cvtColor(picture(8000 + number)[1], cv2.COLOR_RGB2GRAY)
        whole = tag_on_a_ground(sheet, number % 16, ground)
        hidden = number % 4 == 3
        if hidden:
            at = rng.integers([360, 310], [780, 560])
            cv2.circle(whole, at.tolist(), int(rng.integers(30, 90)), 90, -1)
        mark_px = rng.uniform(16, 90)
        blur = rng.uniform(0.7, 3.3)
        camera = Camera(
            width=1000, height=750, focal_px=900.0, distance_mm=900.0 / (mark_px / 8),
            tilt_deg=rng.uniform(0, 25), tilt_direction_deg=rng.uniform(0, 360),
            roll_deg=rng.uniform(0, 360), radial=float(rng.choice(RADIALS)), aim_mm=(60.0, 45.0),
        )  # fmt: skip
        conditions = Conditions(
            blur_px=blur, noise=rng.uniform(2, 8), jpeg=int(rng.integers(70, 96)), seed=number,
            uneven=rng.uniform(0, 0.6), uneven_direction_deg=rng.uniform(0, 360),
            glare_px=(rng.uniform(0, 1000), rng.uniform(0, 750), rng.uniform(20, 60))
            if rng.random() < 0.3 else None,
        )  # fmt: skip
        gray = cv2.cvtColor(draw(whole, 10.0, camera, conditions), cv2.COLOR_RGB2GRAY)
        numbers = find_tags(np.ascontiguousarray(gray)).numbers
        size = "from 28 px, blur up to a fifth of a cell" if (
            mark_px >= 28 and blur < 0.2 * mark_px / 6) else "smaller or more blurred"  # fmt: skip
        kind = "a piece hidden" if hidden else f"whole, markers {size}"
        seen = counts.setdefault(kind, [0, 0, 0])
        seen[0] += 1
        seen[1] += numbers == (301 + number % 16,)
        seen[2] += any(one != 301 + number % 16 for one in numbers)
    lines = ["| tags | photos | read right | read wrong |", "|---|---|---|---|"]
    lines += [f"| {kind} | {all_} | {right} | {wrong} |"
              for kind, (all_, right, wrong) in sorted(counts.items())]  # fmt: skip
    write("tags", lines)
    assert sum(wrong for _, _, wrong in counts.values()) == 0
    all_, right, _ = next(value for key, value in counts.items() if "from 28 px" in key)
    assert right >= 0.97 * all_
