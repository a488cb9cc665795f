"""Bad input: one clear line each, refused for that photo only, right exit status, no traceback."""

import csv
import os
import shutil

import numpy as np
import pytest
from PIL import Image


def states(study):
    with (study / "photos.csv").open(newline="", encoding="utf-8") as file:
        return {row["photo"]: (row["state"], row["reason"]) for row in csv.DictReader(file)}


def _write_hostile_files(folder, good):
    """Every hostile file of Part 1 of the plan; values are words that the reason must hold."""
    picture = Image.open(good)
    data = good.read_bytes()
    pixels = np.asarray(picture)

    def save(name, image, **options):
        image.save(folder / name, **options)

    (folder / "empty.jpg").write_bytes(b"")
    (folder / "truncated.jpg").write_bytes(data[: len(data) // 2])
    (folder / "text.jpg").write_text("this is no picture")
    (folder / "zip.png").write_bytes(b"PK\x03\x04" + bytes(100))
    (folder / "svg.png").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    save("one_pixel.png", Image.new("RGB", (1, 1)))
    frames = [Image.new("RGB", (50, 50), colour) for colour in ("red", "blue")]
    save("animated.png", frames[0], save_all=True, append_images=frames[1:])
    save("pages.tif", picture, save_all=True, append_images=[picture])
    os.mkfifo(folder / "pipe.jpg")
    (folder / "self.jpg").symlink_to(folder / "self.jpg")
    (folder / "dangling.jpg").symlink_to(folder / "nothing")
    (folder / "folder.jpg").mkdir()
    refused = sorted(entry.name for entry in folder.iterdir() if entry.name != "folder.jpg")
    # unusual but readable: kinds of pixels, wrong ending
    save("gray.jpg", picture.convert("L"))
    save("cmyk.jpg", picture.convert("CMYK"))
    save("palette.png", picture.convert("P"))
    save("alpha.png", picture.convert("RGBA"))
    Image.fromarray(pixels[..., 0].astype(np.uint16) * 257).save(folder / "sixteen.png")
    shutil.copy(good, folder / "really_a_jpeg.png")
    return refused


@pytest.fixture
def hostile(drawn, tmp_path):
    folder = tmp_path / "photos"
    folder.mkdir()
    shutil.copy(drawn.path / "a.jpg", folder / "good.jpg")
    refused = _write_hostile_files(folder, drawn.path / "a.jpg")
    rows = (drawn.path / "landmarks.csv").read_text().splitlines()
    marks = [rows[0]]
    for entry in folder.iterdir():
        marks += [row.replace("a.jpg", entry.name) for row in rows if row.startswith("a.jpg")]
    (tmp_path / "marks.csv").write_text("\n".join(marks))
    return folder, [name for name in refused if name != "good.jpg"]


def test_hostile_files_are_refused_one_by_one(hostile, run, tmp_path):
    folder, refused = hostile
    study = tmp_path / "study"
    done = run("measure", folder, "--study", study, "--landmarks", tmp_path / "marks.csv",
               "--jobs", "0")  # fmt: skip
    assert done.returncode == 1
    found = states(study)
    assert sorted(photo for photo, (state, _) in found.items() if state == "refused") == refused
    for photo in refused:
        reason = found[photo][1]
        assert photo in reason, reason  # names the file
        assert reason.endswith((".", "!")), reason
        assert len(reason.splitlines()) == 1
        told = [line for line in done.stdout.splitlines() if f" {photo}: refused" in line]
        assert len(told) == 1
    assert found["good.jpg"] == ("measured", "")
    assert found["really_a_jpeg.png"] == ("measured", "")
    assert found["gray.jpg"] == ("measured", "")


def test_the_report_of_hostile_files_opens_and_names_them(hostile, run, tmp_path):
    folder, refused = hostile
    study = tmp_path / "study"
    run("measure", folder, "--study", study, "--jobs", "0")
    page = (study / "report.html").read_text(encoding="utf-8")
    for photo in refused:
        assert f"<h3>{photo}</h3>" in page


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("{p},1,knee,100,250", ["column landmark", "'knee'", "not known"]),
        ("{p},1,snout_tip,nan,250", ["column x_px", "nan"]),
        ("{p},1,snout_tip,1e400,250", ["column x_px"]),
        ("{p},1,snout_tip,left,250", ["column x_px", "left"]),
        ("{p},1,snout_tip,100,250\n{p},1,snout_tip,101,250", ["row 3", "row 2"]),
        ("{p},1,snout_tip,100,250,-1", ["column u_px", "-1"]),
    ],
)
def test_a_wrong_row_refuses_its_photo_only(drawn, run, tmp_path, rows, words):
    marks = tmp_path / "landmarks.csv"
    good = [row for row in (drawn.path / "landmarks.csv").read_text().splitlines()
            if row.startswith("b.jpg")]  # fmt: skip
    text = "photo,fish,landmark,x_px,y_px,u_px,state,placed_by,confidence,u_across_px\n"
    marks.write_text(text + rows.format(p="a.jpg") + "\n" + "\n".join(good))
    study = tmp_path / "study"
    done = run("measure", drawn.path / "a.jpg", drawn.path / "b.jpg", "--study", study,
               "--landmarks", marks, "--jobs", "0")  # fmt: skip
    assert done.returncode == 1
    found = states(study)
    assert found["b.jpg"] == ("measured", "")
    state, reason = found["a.jpg"]
    assert state == "refused"
    for word in ["landmarks.csv", *words]:
        assert word in reason, reason


def test_a_point_outside_the_photo_does_not_count(drawn, run, tmp_path):
    marks = tmp_path / "landmarks.csv"
    marks.write_text(
        "photo,fish,landmark,x_px,y_px\na.jpg,1,snout_tip,-50,250\na.jpg,1,caudal_base,99999,250\n"
    )
    study = tmp_path / "study"
    done = run("measure", drawn.path / "a.jpg", "--study", study, "--landmarks", marks,
               "--jobs", "0")  # fmt: skip
    assert done.returncode == 1
    state, reason = states(study)["a.jpg"]
    assert state == "refused"
    assert "outside" in reason, reason


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--landmarks", "{d}/none.csv"], ["none.csv"]),
        (["--landmarks", "{d}/a.jpg"], ["a.jpg"]),
        (["--landmarks", "{t}/header.csv"], ["header.csv", "landmark"]),
        (["--question", "colour"], ["'colour'", "size, sex, fin:NAME, full"]),
        (["--question", "fin:leg"], ["leg"]),
        (["--body-form", "whale"], ["'whale'", "plain"]),
        (["--name-pattern", "{{tank}}"], ["{tank}", "{group}, {date} and {fish}"]),
        (["--px-per-mm", "-3"], ["-3", "above 0"]),
        (["--px-per-mm-u", "0.1"], ["px/mm"]),
        (["--fish-before-card", "600", "--camera-distance", "500"], ["600 mm", "500 mm"]),
        (["--card", "coin"], ["'coin'", "'window', 'squares'"]),
        (["--jobs", "-1"], ["--jobs", "0"]),
        (["--sharpen"], ["--sharpen"]),
    ],
)
def test_a_wrong_call_says_what_is_allowed(drawn, run, tmp_path, arguments, words):
    (tmp_path / "header.csv").write_text("a,b\n1,2\n")
    given = [item.format(d=drawn.path, t=tmp_path) for item in arguments]
    done = run("measure", drawn.path, "--study", tmp_path / "study", *given)
    assert done.returncode == 2
    assert done.stdout == ""
    for word in words:
        assert word in done.stderr, done.stderr
    assert not (tmp_path / "study").exists()


@pytest.mark.parametrize("missing", ["nothing", "nothing.jpg", "notes.txt"])
def test_photos_that_are_not_there_are_a_wrong_call(run, tmp_path, missing):
    (tmp_path / "notes.txt").write_text("x")
    done = run("measure", tmp_path / missing, "--study", tmp_path / "study")
    assert done.returncode == 2
    assert missing in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_study_that_is_no_study_is_said_so(drawn, run, tmp_path):
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.db").write_bytes(b"not a database at all" * 100)
    done = run("measure", drawn.path, "--study", tmp_path / "study")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    for command in ("export", "check"):
        assert run(command, tmp_path / "study").returncode == 2


NAMES = ["=1+1.jpg", "-rf.jpg", "@x.jpg", "+1.jpg", "two\nlines.jpg", "tab\there.jpg",
         "<script>alert(1)<!--.jpg", "\"quote'&amp;.jpg", "äöü 鱼 🐟.jpg", "x" * 251 + ".jpg",
         "\x1b[31mred.jpg", "a,b;c.jpg"]  # fmt: skip


def test_strange_names_come_through_whole_and_harmless(drawn, run, tmp_path):
    folder = tmp_path / "photos"
    folder.mkdir()
    names = [name for name in NAMES if "/" not in name]
    marks = []
    rows = (drawn.path / "landmarks.csv").read_text().splitlines()
    for name in names:
        shutil.copy(drawn.path / "a.jpg", folder / name)
        for row in csv.reader(row for row in rows if row.startswith("a.jpg")):
            # a table that a spreadsheet wrote carries the guard of the contract
            guard = "'" if name[0] in "=+-@\t" else ""
            marks.append([guard + name, *row[1:]])
    with (tmp_path / "marks.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([rows[0].split(","), *marks])
    study = tmp_path / "study"
    done = run("measure", folder, "--study", study, "--landmarks", tmp_path / "marks.csv",
               "--jobs", "0")  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "\x1b" not in done.stdout
    found = states(study)
    assert len(found) == len(names)
    for name in found:
        assert not name.startswith(("=", "+", "-", "@", "\t")), name  # no spreadsheet formula
    assert {name.removeprefix("'") if name[1:2] in set("=+-@") else name for name in found} == set(
        names
    )
    page = (study / "report.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;!--.jpg" in page
    pictures = list((study / "overlays").glob("*.jpg"))
    assert len(pictures) == len(names)
    # safe on every system
    assert all(set(p.name) <= set("-_.") | set(map(chr, range(48, 58)))
               | set(map(chr, range(65, 91))) | set(map(chr, range(97, 123)))
               for p in pictures)  # fmt: skip


def test_html_in_fish_and_group_is_escaped(drawn, run, tmp_path):
    text = (drawn.path / "landmarks.csv").read_text()
    (tmp_path / "marks.csv").write_text(text.replace("a.jpg,1,", "a.jpg,<img src=x onerror=y>,"))
    study = tmp_path / "study"
    done = run("measure", drawn.path / "a.jpg", "--study", study, "--landmarks",
               tmp_path / "marks.csv", "--group", "</td><script>", "--jobs", "0")  # fmt: skip
    assert done.returncode == 0, done.stdout
    page = (study / "report.html").read_text(encoding="utf-8")
    assert "&lt;img src=x onerror=y&gt;" in page
    assert "<img src=x" not in page
    assert "<script>" not in page


def test_a_path_in_a_name_pattern_leads_nowhere(drawn, run, tmp_path):
    done = run("measure", drawn.path / "a.jpg", "--study", tmp_path / "study", *drawn.marks,
               "--name-pattern", "../../{fish}", "--jobs", "0")  # fmt: skip
    assert done.returncode == 0
    assert "do not follow the name pattern" in done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["study"]
