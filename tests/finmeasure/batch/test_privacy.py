"""Where a photo was taken and whose camera it was: nowhere in what the program writes."""

import base64
import re
import shutil
import struct

from PIL import Image

OWNER = "Jane Roe (invented)"
LATITUDE = (52.0, 31.0, 17.0)


def with_place_and_owner(source, target):
    """Save a photo again with GPS position, artist and owner (EXIF 2.32, GPS IFD; tag 0x9C9D)."""
    exif = Image.Exif()
    exif[0x013B] = OWNER
    exif[0x9C9D] = OWNER.encode("utf-16-le")
    exif[0x8825] = exif.get_ifd(0x8825) | {1: "N", 2: LATITUDE, 3: "E", 4: LATITUDE}
    with Image.open(source) as opened:
        opened.save(target, exif=exif, quality=95)


def traces(content):
    """Signs of the tags in a file's bytes."""
    degrees = [struct.pack(order + "IIII", 52, 1, 31, 1) for order in "<>"]
    signs = [OWNER.encode(), OWNER.encode("utf-16-le"), b"Exif\0\0", *degrees]
    return [sign for sign in signs if sign in content]


def test_place_and_owner_are_in_no_file_of_the_study(drawn, run, tmp_path):
    folder, study = tmp_path / "photos", tmp_path / "study"
    folder.mkdir()
    shutil.copy(drawn.path / "landmarks.csv", folder)
    with_place_and_owner(drawn.path / "a.jpg", folder / "a.jpg")
    assert len(traces((folder / "a.jpg").read_bytes())) >= 4
    call = ("measure", folder, "--study", study, "--landmarks", folder / "landmarks.csv")
    assert run(*call, "--jobs", "0").returncode == 0
    assert run("check", "--backup", tmp_path / "backup.db", study).returncode == 0
    written = [file for file in study.rglob("*") if file.is_file()]
    assert {".jpg", ".db", ".csv", ".html"} <= {file.suffix for file in written}
    for file in (*written, tmp_path / "backup.db"):
        assert traces(file.read_bytes()) == [], file.name
    report = (study / "report.html").read_text(encoding="utf-8")
    pictures = re.findall(r"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", report)
    assert pictures
    for picture in pictures:
        assert traces(base64.b64decode(picture)) == []
