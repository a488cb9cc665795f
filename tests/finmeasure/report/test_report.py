"""Overlays, numbers and the report page: what they must and must not hold."""

import base64
import hashlib
import re
from datetime import date
from html.parser import HTMLParser

import cv2
import numpy as np
import pytest

from finmeasure.cautions import cautions
from finmeasure.quantity import Measure
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.report.fish_drawing import OverlayFish, round_length_mm
from finmeasure.report.html import write_table_report
from finmeasure.report.numbers import with_limits
from finmeasure.report.overlay import (
    CLOSE_UPS,
    draw_close_up,
    draw_overlay,
    fish_box,
    overlay_name,
)
from finmeasure.report.pictures import MOST_PICTURES
from finmeasure.scale.calibration import Scale
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study


def reading(fish="1", at=(100.0, 120.0)):
    x, y = at
    marks = {"snout_tip": (x, y), "caudal_base": (x + 200, y), "dorsal_tip": (x + 90, y - 60)}
    body = np.array([[x, y], [x + 100, y - 40], [x + 200, y], [x + 100, y + 40]], float)
    return Reading(
        fish,
        {name: Landmark(name, *place) for name, place in marks.items()},
        {"body": Outline("body", body, closed=True)},
    )


def pixels(width=600, height=400):
    return np.full((height, width, 3), 180, np.uint8)


def decoded(picture):
    return cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_COLOR)[..., ::-1].astype(int)


def test_an_overlay_changes_the_picture_at_the_marks_and_not_the_photo():
    photo = pixels()
    drawn = decoded(draw_overlay(photo, fish=[OverlayFish(reading())]))
    assert (photo == 180).all()
    changed = np.abs(drawn - 180).max(axis=2) > 40
    assert changed[110:130, 90:110].any()  # snout
    assert not changed[300:340, 450:580].any()  # nothing stands there


def test_large_photos_get_a_small_overlay_with_the_marks_in_their_place():
    photo = pixels(4000, 3000)
    drawn = decoded(draw_overlay(photo, fish=[OverlayFish(reading(at=(2000.0, 1500.0)))]))
    assert drawn.shape[:2] == (1200, 1600)
    changed = np.abs(drawn - 180).max(axis=2) > 40
    assert changed[592:608, 792:808].any()


def test_a_refusal_is_stamped_across_the_top():
    drawn = decoded(draw_overlay(pixels(), refusal="The photo is blurred. Take it again."))
    top, below = drawn[2:10].mean(axis=(0, 1)), drawn[200:210].mean(axis=(0, 1))
    assert top[0] - top[2] > 100  # vermillion: much red, little blue
    assert np.abs(below - 180).max() < 3


def test_the_bar_is_as_long_as_it_says():
    # 3 px/mm in 600 px: the longest round length within a fifth is 20 mm, 60 px
    scale = Scale("known", np.diag([1 / 3, 1 / 3, 1.0]), 0.01, False, (300.0, 200.0))
    drawn = decoded(draw_overlay(pixels(), scale=scale))
    bright = [np.flatnonzero((row > 215).all(axis=1)) for row in drawn[386:]]
    ticks = [row for row in bright if len(row) == 2]  # rows that hold the two end ticks only
    assert len(ticks) >= 3
    assert all(abs(right - left - 60) <= 1 for left, right in ticks)
    assert round_length_mm(0.2 * 600 / 3) == 20.0


@pytest.mark.parametrize(("longest", "expected"), [(1.0, 1.0), (4.99, 2.0), (5.0, 5.0), (99, 50)])
def test_round_lengths_are_one_two_five(longest, expected):
    assert round_length_mm(longest) == pytest.approx(expected)


def test_close_ups_hold_the_fish_and_stay_in_the_photo():
    one = reading(at=(390.0, 20.0))
    left, top, right, bottom = fish_box(one, (600, 400))
    assert (top, right) == (0, 600)
    assert left < 390
    assert bottom > 60
    assert draw_close_up(pixels(), OverlayFish(one)) is not None
    assert draw_close_up(pixels(), OverlayFish(reading(at=(5000.0, 5000.0)))) is None


def test_overlay_names_never_meet():
    names = ["a b.jpg", "a_b.jpg", "a/b.jpg", "a b.png", "../a b.jpg", "鱼.jpg", "鮭.jpg"]
    found = {overlay_name(name) for name in names} | {overlay_name("a b.jpg", "1")}
    assert len(found) == len(names) + 1
    assert all("/" not in name and ".." not in name and name.isascii() for name in found)


@pytest.mark.parametrize(
    ("value", "u", "expected"),
    [
        # JCGM 100:2008, 7.2.6: 10,057 62 Ω with u = 27 mΩ is rounded to the place of u
        (10.05762, 0.027 / 1.96, "10.058 ± 0.027"),
        (123.456, 1.0, "123.5 ± 2.0"),
        (0.5, 0.0, "0.5 ± 0"),
        (7.0, None, "7"),
        (1234.0, 400.0, "1234 ± 784"),
    ],
)
def test_values_are_rounded_with_their_limits(value, u, expected):
    assert with_limits(value, u) == expected


class Page(HTMLParser):
    """Collects tags, attributes and text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.text.append(data)


def result(number, *, ragged=0.0, group="", reason=""):
    measures = (
        Measure("dorsal_height_to_sl", "1", "measured", 0.25, 0.01),
        Measure("dorsal_notch_area", "%", "measured", ragged, 0.2),
        Measure(
            "standard_length", "mm", "refused", flags=("no_scale",), reason="There is no scale."
        ),
    )
    fish = FishResult(reading(), measures, "left", date(2026, 5, 1), group)
    return PhotoResult(
        photo=f"p{number:03}.jpg", sha256=f"{number:064}", given_digest="x", reason=reason,
        state="refused" if reason else "measured", fish=() if reason else (fish,),
    )  # fmt: skip


@pytest.fixture
def page(tmp_path):
    """Make a report of results; every photo has its pictures."""

    def make(results):
        with Study.open(tmp_path / "study", create=True) as study:
            close_ups = study.folder / "overlays" / CLOSE_UPS
            close_ups.mkdir(parents=True)
            picture = draw_overlay(pixels(60, 40))
            for one in results:
                study.record_photo_result(one)
                (close_ups.parent / overlay_name(one.photo)).write_bytes(picture)
                (close_ups / overlay_name(one.photo, "1")).write_bytes(picture)
            write_table_report(study, tmp_path / "report.html")
        return (tmp_path / "report.html").read_text(encoding="utf-8")

    return make


def test_the_page_loads_nothing_runs_nothing_and_says_so(page):
    text = page([result(1, group='"><script>alert(1)</script>')])
    parsed = Page(text)
    assert not {"script", "iframe", "object", "embed", "link", "form"} & set(parsed.tags)
    for tag, name, value in parsed.attributes:
        assert not name.startswith("on"), (tag, name)
        assert name not in ("style", "href"), (tag, name)
        assert name != "src" or value.startswith("data:image/jpeg;base64,")
    policy = next(v for t, n, v in parsed.attributes if n == "content" and "default-src" in v)
    assert "default-src 'none'" in policy
    assert "script" not in policy
    # Content Security Policy Level 2, hashes: SHA-256 of the text between the style tags
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    expected = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{expected}'" in policy
    assert '"><script>alert(1)</script>' in "".join(parsed.text)


def test_the_worst_come_first_and_headline_ratios_lead_the_table(page):
    text = page([result(1), result(2, ragged=9.0), result(3, ragged=4.0)])
    order = [text.index(f'<td class="name">p00{number}.jpg') for number in (2, 3, 1)]
    assert order == sorted(order)
    heads = re.findall(r'<th scope="col">([^<]*)</th>', text[text.index("Every fish") :])
    assert heads.index("height of the dorsal fin / standard length") < heads.index(
        "standard length, mm"
    )
    assert "0.250 ± 0.020" in text
    assert "9.0 ± 0.4 (dorsal)" in text


def test_refused_photos_stand_with_their_reasons(page):
    text = page([result(1), result(2, reason="It is <blurred>. Hold still.")])
    assert "It is &lt;blurred&gt;. Hold still." in text
    assert text.count('<article class="fish">') == 1
    for lines in cautions().values():
        for line in lines:
            assert line.replace("'", "&#39;") in text


def test_no_more_than_two_hundred_pictures(page):
    text = page([result(number, ragged=number / 100) for number in range(230)])
    assert text.count("data:image/jpeg") == MOST_PICTURES == 200
    assert text.count('<td class="name">') == 230
    assert "Fish without a picture here: 30" in text


def test_an_empty_study_gives_a_page(page):
    assert "<b>0</b>" in page([])
