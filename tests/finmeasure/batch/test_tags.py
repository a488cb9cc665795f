"""Number tags: printed, photographed, read, and what they tell of the photos of a run."""

import csv
from datetime import datetime, timedelta

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest
from PIL import Image

from finmeasure.batch.tagged import TaggedPhoto, tell_tags
from finmeasure.card.tag_sheet import tags_on, write_tags
from finmeasure.card_design import PAPER_MM
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.errors import DefinitionError, ScaleError
from finmeasure.exchange.landmarks import write_landmarks
from finmeasure.scale.tags import find_tags
from finmeasure.tag_design import TAG_MM, number_of, tag_digits

DPI = 254  # ten dots per millimetre
START = datetime(2026, 5, 1, 9, 0)


@pytest.fixture(scope="session")
def sheet(tmp_path_factory):
    """A sheet of tags as the independent rasteriser (pypdfium2) prints it, numbers 1 to 16."""
    file = tmp_path_factory.mktemp("tags") / "tags.pdf"
    assert write_tags(file, "A5") == (1, 16)
    with pdfium.PdfDocument(file) as document:
        return np.ascontiguousarray(document[0].render(scale=DPI / 72).to_numpy()[..., 0])


def tag_picture(sheet, number):
    """Cut one tag out of the printed sheet."""
    columns, _ = tags_on("A5")
    row, column = divmod(number - 1, columns)
    left = (PAPER_MM["A5"][0] - columns * TAG_MM[0]) / 2 + column * TAG_MM[0]
    top = 6.0 + row * TAG_MM[1]
    y, x = (slice(round(10 * a), round(10 * (a + b))) for a, b in ((top, TAG_MM[1]),
                                                                  (left, TAG_MM[0])))  # fmt: skip
    return sheet[y, x]


def photographed(picture, rng, *, size=(900, 600), mark_px=40.0, blur=1.2):
    """Photograph a tag: any rotation, tilt, blur, noise and JPEG, 8 mm markers so many px."""
    per_px = mark_px / 80.0
    angle = rng.uniform(0, 2 * np.pi)
    c, s = per_px * np.cos(angle), per_px * np.sin(angle)
    middle = np.array(picture.shape[::-1]) / 2
    turn = np.array([[c, -s], [s, c]])
    shift = np.array(size) / 2 - turn @ middle
    lean = rng.uniform(-1, 1, 2) * 0.15 / (per_px * picture.shape[1])
    matrix = np.vstack([np.column_stack([turn, shift]), [0, 0, 1]])
    tilt = np.array([[1, 0, 0], [0, 1, 0], [*lean, 1 - lean @ (np.array(size) / 2)]])
    ground = float(rng.uniform(60, 180))
    image = cv2.warpPerspective(picture, tilt @ matrix, size, borderValue=ground,
                                flags=cv2.INTER_AREA)  # fmt: skip
    image = cv2.GaussianBlur(20 + 0.8 * image.astype(np.float32), (0, 0), blur)
    image += rng.normal(0, 5, image.shape)
    return cv2.imdecode(
        cv2.imencode(".jpg", image.clip(0, 255).astype(np.uint8),
                     [cv2.IMWRITE_JPEG_QUALITY, 75])[1], cv2.IMREAD_GRAYSCALE)  # fmt: skip


def test_check_digits_are_those_of_the_standard():
    # Worked example of the Luhn formula (ISO/IEC 7812-1, annex B; from memory): 7992739871 gets 3.
    digits = [int(digit) for digit in "7992739871"][::-1]
    doubled = [2 * d if place % 2 == 0 else d for place, d in enumerate(digits)]
    assert -sum(d // 10 + d % 10 for d in doubled) % 10 == 3
    for number in (1, 7, 42, 123, 999):
        whole = [*tag_digits(number)][::-1]
        luhn = [2 * d if place % 2 else d for place, d in enumerate(whole)]
        assert sum(d // 10 + d % 10 for d in luhn) % 10 == 0
    for number in range(1, 1000):
        digits = tag_digits(number)
        assert number_of(digits) == number
        for place in range(4):  # a single wrong digit never makes another tag
            wrong = list(digits)
            wrong[place] = (wrong[place] + 1 + number % 9) % 10
            assert number_of(tuple(wrong)) is None
    with pytest.raises(DefinitionError, match="1 to 999"):
        tag_digits(1000)


def test_every_printed_tag_is_read(sheet):
    assert find_tags(sheet).numbers == tuple(range(1, 17))


def test_tags_are_read_from_tilted_blurred_photos(sheet):
    rng = np.random.default_rng(3)
    for number in range(1, 17):
        gray = photographed(tag_picture(sheet, number), rng, mark_px=rng.uniform(28, 90))
        assert find_tags(gray).numbers == (number,)


def test_a_tag_with_a_hidden_marker_or_in_a_mirror_is_not_read(sheet):
    picture = tag_picture(sheet, 12)
    assert find_tags(np.ascontiguousarray(np.pad(picture[:, ::-1], 60))).numbers == ()
    hidden = picture.copy()
    hidden[140:220, 40:120] = 255
    assert find_tags(hidden).numbers == ()


def _photos(*told):
    return [TaggedPhoto(name, START + timedelta(minutes=at) if at is not None else None,
                        numbers, fish) for name, at, numbers, fish in told]  # fmt: skip


def test_a_tag_alone_opens_its_group_by_the_cameras_time():
    told = tell_tags(
        _photos(
            ("z.jpg", 0, (7,), False), ("y.jpg", 1, (), True), ("x.jpg", 2, (3,), True),
            ("b.jpg", 3, (8,), False), ("a.jpg", 4, (), True), ("other/q.jpg", 5, (), True),
        )
    )  # fmt: skip
    assert told.labels == {"z.jpg": "tag 7", "b.jpg": "tag 8"}
    assert told.groups == {
        "y.jpg": "tag 7", "x.jpg": "tag 7", "a.jpg": "tag 8", "other/q.jpg": "",
    }  # fmt: skip
    assert told.fish == {"x.jpg": "tag 3"}


def test_without_times_the_names_give_the_order_and_two_tags_tell_nothing():
    told = tell_tags(
        _photos(("1.jpg", None, (7,), False), ("2.jpg", 9, (), True), ("3.jpg", 1, (1, 2), False),
                ("4.jpg", 0, (), True), ("5.jpg", 0, (4, 5), True))
    )  # fmt: skip
    assert told.groups == {"2.jpg": "tag 7", "4.jpg": "", "5.jpg": ""}
    assert told.fish == {}
    assert [note.split(":")[0] for note in told.notes] == ["3.jpg", "5.jpg"]


def _saved(pixels, file, minute):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = (START + timedelta(minutes=minute)).strftime("%Y:%m:%d %H:%M:%S")
    Image.fromarray(pixels).save(file, quality=92, exif=exif)


@pytest.fixture(scope="module")
def phone(sheet, tmp_path_factory):
    """Photos of a phone: tag 7 alone, a fish, a fish with tag 12 beside it, tag 8 alone, a fish."""
    folder, rng = tmp_path_factory.mktemp("phone"), np.random.default_rng(8)
    readings = []
    for name, minute, tag in (("IMG_4", 1, 0), ("IMG_3", 2, 12), ("IMG_1", 4, 0)):
        view = View(width_px=1000, height_px=500, card=printed_card("window", "A6"),
                    px_per_mm=4.2, tilt_deg=2.0)  # fmt: skip
        photo = draw_photo(random_spec(rng, body_form="plain"), view, rng)
        pixels = photo.pixels.copy()
        if tag:
            small = cv2.resize(tag_picture(sheet, tag), None, fx=0.42, fy=0.42,
                               interpolation=cv2.INTER_AREA)  # fmt: skip
            small = cv2.GaussianBlur(np.rot90(small), (0, 0), 0.8)
            pixels[150 : 150 + small.shape[0], 30 : 30 + small.shape[1]] = small[..., None]
        _saved(pixels, folder / f"{name}.jpg", minute)
        readings.append((f"{name}.jpg", true_reading(photo)))
    for name, minute, tag in (("IMG_5", 0, 7), ("IMG_2", 3, 8)):
        gray = photographed(tag_picture(sheet, tag), rng, mark_px=70)
        _saved(np.dstack([gray] * 3), folder / f"{name}.jpg", minute)
    write_landmarks(folder / "landmarks.csv", readings)
    return folder


def fish(study):
    with (study / "fish.csv").open(newline="", encoding="utf-8") as file:
        return {row["photo"]: (row["group"], row["fish"]) for row in csv.DictReader(file)}


def test_measure_takes_groups_and_names_from_tags(run, phone, tmp_path):
    study = tmp_path / "study"
    call = ("measure", phone, "--study", study, "--jobs", "0",
            "--landmarks", phone / "landmarks.csv")  # fmt: skip
    done = run(*call)  # tags are not asked for: their photos are refused, no fish is on them
    assert done.returncode == 1
    assert fish(study) == {f"IMG_{n}.jpg": ("", "1") for n in (1, 3, 4)}
    done = run(*call, "--tags", "--group", "unnamed")
    assert done.returncode == 0, done.stderr
    assert "IMG_5.jpg: shows tag 7 alone; 2 photos" in done.stderr
    assert fish(study) == {
        "IMG_4.jpg": ("tag 7", "1"), "IMG_3.jpg": ("tag 7", "tag 12"), "IMG_1.jpg": ("tag 8", "1"),
    }  # fmt: skip
    assert "refused" not in {row["state"] for row in _rows(study / "photos.csv")}
    assert "3 of them as before" in run(*call, "--tags", "--group", "unnamed").stdout


def _rows(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_names_of_files_go_before_tags_and_tags_before_the_option(run, phone, tmp_path):
    marks = ("--landmarks", phone / "landmarks.csv")
    run("measure", phone, "--study", tmp_path / "s", "--jobs", "0", "--tags", *marks,
        "--name-pattern", "{group}_{fish}", "--group", "unnamed")  # fmt: skip
    assert fish(tmp_path / "s")["IMG_3.jpg"] == ("IMG", "IMG 3")


def test_the_program_names_the_fish_it_marks_itself(run, phone, tmp_path):
    photo = tmp_path / "IMG_3.jpg"  # larger: the program marks fish from 150 px on
    larger = cv2.resize(cv2.imread(str(phone / photo.name)), None, fx=1.8, fy=1.8)
    cv2.imwrite(str(photo), larger)
    run("measure", photo, "--study", tmp_path / "s", "--jobs", "0", "--tags",
        "--question", "size", "--group", "bag 1")  # fmt: skip
    assert set(fish(tmp_path / "s").values()) == {("bag 1", "tag 12")}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--kind", "tags", "--out", "{t}/t.pdf", "--first-tag", "1000"], ["1000", "1 to 999"]),
        (["--kind", "tags", "--out", "{t}/t.pdf", "--paper", "ID1"], ["ID1", "A4, A5, A6, letter"]),
        (["--kind", "tags", "--for-fish", "30", "--out", "{t}/t.pdf"], ["--for-fish", "tags"]),
        (["--kind", "ruler", "--check-lines", "130", "100", "--study", "{t}/s"], ["--out"]),
        (["--kind", "ruler", "--out", "{t}/r.pdf", "--paper", "ID1"], ["ID1", "A4"]),
    ],
)
def test_wrong_sheets_are_one_line(run, tmp_path, arguments, words):
    done = run("card", *[item.format(t=tmp_path) for item in arguments])
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert all(word in done.stderr for word in words)
    assert list(tmp_path.iterdir()) == []


def test_the_sheet_says_how_to_go_on(run, tmp_path):
    done = run("card", "--kind", "tags", "--paper", "A6", "--out", tmp_path / "t.pdf",
               "--first-tag", "998")  # fmt: skip
    assert done.returncode == 0
    assert "tags 998 to 999" in done.stdout
    with pytest.raises(ScaleError, match="cannot be written"):
        write_tags(tmp_path / "none" / "t.pdf")
