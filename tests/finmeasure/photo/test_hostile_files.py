"""Damaged, wrong and hostile photo files: one clear line each, quickly, in little memory."""

import io
import os
import socket
import struct
import time
import tracemalloc
import zlib

import cv2
import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from finmeasure.errors import PhotoError
from finmeasure.photo.files import printable
from finmeasure.photo.metadata import read_header
from finmeasure.photo.reading import read_metadata, read_photo, sha256_of
from finmeasure.photo.record import Photo, PhotoMetadata

PICTURE = Image.fromarray(
    np.random.default_rng(7).integers(0, 256, (90, 140, 3), dtype=np.uint8).repeat(2, 0)
)


def saved(kind, picture=PICTURE, **options):
    file = io.BytesIO()
    if kind == "HEIF":
        pillow_heif.from_pillow(picture).save(file, **options)
    else:
        picture.save(file, kind, **options)
    return file.getvalue()


def refusal(path):
    """The line that both readers give for a file, after checking its form."""
    with pytest.raises(PhotoError) as caught:
        read_photo(path)
    line = str(caught.value)
    assert line.startswith(printable(path))
    assert line.endswith(".")
    assert line.isprintable()
    assert len(line) < 330
    return line


def written(tmp_path, data, name="photo.jpg"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


KINDS = {"JPEG": "jpg", "PNG": "png", "TIFF": "tif", "HEIF": "heic"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.0, 0.01, 0.1, 0.5, 0.9, 0.999])
def test_a_cut_off_file_is_refused(tmp_path, kind, share):
    data = saved(kind)
    line = refusal(written(tmp_path, data[: int(len(data) * share)]))
    assert "camera" in line or "Save it" in line


def test_a_copy_whose_end_was_filled_with_zeros_is_refused(tmp_path):
    data = saved("JPEG")
    half = len(data) // 2
    assert "cut off" in refusal(written(tmp_path, data[:half] + bytes(len(data) - half)))


def test_a_jpeg_with_bytes_lost_inside_is_refused(tmp_path):
    """OpenCV would give a picture with grey or shifted stripes. A single changed bit may pass."""
    data = saved("JPEG")
    middle = data.index(b"\xff\xda") + 3000
    for damaged in (
        data[:middle] + b"\xff\xd3" * 25 + data[middle + 50 :],
        data[:middle] + data[middle + 500 :],
    ):
        assert "damaged inside" in refusal(written(tmp_path, damaged))
        assert cv2.imread(str(tmp_path / "photo.jpg")) is not None


def test_a_few_stray_bytes_at_the_end_are_let_pass(tmp_path):
    """Some cameras write them; behind the end mark anything may stand."""
    data = saved("JPEG")
    expected = read_photo(written(tmp_path, data)).pixels
    for padded in (data[:-2] + bytes(8) + data[-2:], data + b"appended" * 100):
        assert (read_photo(written(tmp_path, padded)).pixels == expected).all()


def test_an_empty_file_says_so(tmp_path):
    assert "empty (0 bytes)" in refusal(written(tmp_path, b""))


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (saved("GIF"), "a GIF picture"),
        (saved("BMP"), "a BMP picture"),
        (saved("WEBP"), "a WebP picture"),
        (saved("PDF"), "a PDF document"),
        (b"PK\x03\x04" + bytes(40), "a ZIP archive"),
        (b"<html><script>alert(1)</script></html>", "a web page or drawing"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "a web page or drawing"),
        (b"hello", "no photo"),
        (bytes(5000), "no photo"),
        (b"II+\x00" + bytes(60), "a BigTIFF file"),
        (b"\x00\x00\x00\x20ftypisom" + bytes(60), "a video"),
    ],
)
def test_another_kind_of_file_is_named(tmp_path, data, what):
    line = refusal(written(tmp_path, data))
    assert what in line
    assert "JPEG, PNG, TIFF and HEIC" in line


def test_animations_and_several_pages_are_refused(tmp_path):
    other = Image.fromarray(255 - np.asarray(PICTURE))
    path = tmp_path / "moving.png"
    PICTURE.save(path, save_all=True, append_images=[other])
    assert "animation" in refusal(path)
    path = tmp_path / "pages.tif"
    PICTURE.save(path, save_all=True, append_images=[other])
    assert "several pages" in refusal(path)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_one_pixel_is_no_photo(tmp_path, kind):
    line = refusal(written(tmp_path, saved(kind, Image.new("RGB", (1, 1)))))
    assert "1 × 1 pixels" in line
    assert "at least 32" in line


@pytest.mark.parametrize("mode", ["F", "I"])
def test_values_that_are_no_photo_are_named(tmp_path, mode):
    line = refusal(written(tmp_path, saved("TIFF", Image.new(mode, (64, 64)))))
    assert f"type {mode}" in line
    assert "8 or 16 bits" in line


def png_saying(width, height):
    """A tiny PNG file that claims any size (a decompression bomb's head)."""

    def chunk(kind, body):
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(bytes(1_000_000), 9)
    start = b"\x89PNG\r\n\x1a\n"
    return start + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def jpeg_saying(width, height):
    data = bytearray(saved("JPEG"))
    place = data.index(b"\xff\xc0")
    data[place + 5 : place + 9] = struct.pack(">HH", height, width)
    return bytes(data)


def tiff_saying(width, height):
    tags = [(256, 4, 1, width), (257, 4, 1, height), (258, 3, 1, 8), (259, 3, 1, 1)]
    tags += [(262, 3, 1, 1), (273, 4, 1, 8), (277, 3, 1, 1), (279, 4, 1, 100)]
    body = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    return b"II*\x00" + struct.pack("<IH", 8, len(tags)) + body + bytes(200)


@pytest.mark.parametrize(
    "data",
    [
        png_saying(60_000, 60_000),
        png_saying(2**31 - 1, 2**31 - 1),
        jpeg_saying(65_000, 65_000),
        tiff_saying(100_000, 100_000),
        tiff_saying(2**32 - 1, 2**32 - 1),
    ],
)
def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path, data):
    path = written(tmp_path, data)
    tracemalloc.start()
    started = time.monotonic()
    line = refusal(path)
    peak_bytes = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "Allowed: up to 200 million" in line
    assert time.monotonic() - started < 1
    assert peak_bytes < 20e6
    with pytest.raises(PhotoError, match="200 million"):
        read_metadata(path)


def exif_bomb(size_bytes):
    """EXIF whose 5,000 tags each claim the whole block as their value."""
    count = 5000
    entries = b"".join(struct.pack("<HHII", 0x9000 + n, 7, size_bytes - 8, 8) for n in range(count))
    body = b"II*\x00" + struct.pack("<IH", 8, count) + entries + bytes(4)
    return body + bytes(size_bytes - len(body))


def test_an_exif_bomb_costs_nothing(tmp_path):
    """2 MB of EXIF in 64 kB segments, as one decoder glues them together, would become 10 GB."""
    bomb = exif_bomb(2_000_000)
    segments = b"".join(
        b"\xff\xe1" + struct.pack(">H", len(part) + 8) + b"Exif\x00\x00" + part
        for part in (bomb[n : n + 65_000] for n in range(0, len(bomb), 65_000))
    )
    jpeg = saved("JPEG", Image.fromarray(np.asarray(PICTURE.convert("L"))))
    inks = saved("JPEG", PICTURE.convert("CMYK"))
    png = saved("PNG", exif=bomb)
    for data in (jpeg[:2] + segments + jpeg[2:], inks[:2] + segments + inks[2:], png):
        path = written(tmp_path, data)
        tracemalloc.start()
        started = time.monotonic()
        assert read_photo(path).metadata.width_px == 140
        peak_bytes = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert time.monotonic() - started < 2
        assert peak_bytes < 30e6


def test_a_tiff_with_a_bomb_of_tags_is_refused(tmp_path):
    good = bytearray(saved("TIFF"))
    start = struct.unpack_from("<I", good, 4)[0]
    count = struct.unpack_from("<H", good, start)[0]
    entries = bytes(good[start + 2 : start + 2 + 12 * count])
    size = len(good)
    bomb = b"".join(struct.pack("<HHII", 40_000 + n, 7, size, 0) for n in range(3000))
    directory = struct.pack("<H", count + 3000) + entries + bomb + bytes(4)
    struct.pack_into("<I", good, 4, size)
    assert "more tags" in refusal(written(tmp_path, bytes(good) + directory))


def test_a_jpeg_of_thousands_of_scans_is_refused(tmp_path):
    data = saved("JPEG", progressive=True)
    place = data.rindex(b"\xff\xda")
    line = refusal(written(tmp_path, data[:place] + data[place:-2] * 300 + b"\xff\xd9"))
    assert "take hours" in line


def test_folders_pipes_sockets_and_devices_are_named_and_never_waited_for(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)  # a socket's path must be short
    (tmp_path / "folder.jpg").mkdir()
    os.mkfifo(tmp_path / "pipe.jpg")
    os.symlink("/dev/zero", tmp_path / "device.jpg")
    listener = socket.socket(socket.AF_UNIX)
    listener.bind("socket.jpg")
    started = time.monotonic()
    assert "is a folder" in refusal(tmp_path / "folder.jpg")
    for name in ("pipe.jpg", "device.jpg", "socket.jpg"):
        assert "pipe or device" in refusal(tmp_path / name)
        with pytest.raises(PhotoError, match="pipe or device"):
            sha256_of(tmp_path / name)
    listener.close()
    assert time.monotonic() - started < 1


def test_links_that_lead_nowhere_or_back_are_named(tmp_path):
    os.symlink("b.jpg", tmp_path / "a.jpg")
    os.symlink("a.jpg", tmp_path / "b.jpg")
    os.symlink("gone.jpg", tmp_path / "c.jpg")
    assert "link that leads back" in refusal(tmp_path / "a.jpg")
    assert "not there" in refusal(tmp_path / "c.jpg")
    assert "not there" in refusal(tmp_path / "none.jpg")


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_that_may_not_be_read_is_named(tmp_path):
    path = written(tmp_path, saved("JPEG"))
    path.chmod(0)
    assert "may not be read" in refusal(path)


def test_a_huge_file_is_refused_without_being_read(tmp_path):
    path = tmp_path / "huge.jpg"
    with path.open("wb") as file:
        file.truncate(10_000_000_000)  # takes no space on disk
    started = time.monotonic()
    assert "10000 MB" in refusal(path)
    assert time.monotonic() - started < 1


@pytest.mark.parametrize(
    "name",
    [
        "=1+1.jpg",
        "-rf.jpg",
        "a\nb.jpg",
        "🐟 'ß\".jpg",
        "x" * 251 + ".jpg",
        "<b>.jpg",
        "\x1b[31m.jpg",
    ],
)
def test_strange_names_are_read_and_shown_on_one_line(tmp_path, name):
    path = written(tmp_path, saved("JPEG"), name)
    assert read_photo(path).metadata.width_px == 140
    path.write_bytes(b"")
    assert "empty" in refusal(path)


def test_a_name_of_undecodable_bytes_is_read(tmp_path):
    path = tmp_path / os.fsdecode(b"\xff\xfe.jpg")
    path.write_bytes(saved("JPEG"))
    assert read_photo(path).metadata.width_px == 140
    path.write_bytes(b"")
    refusal(path).encode("utf-8")  # can be printed


@pytest.mark.parametrize("name", ["a\x00b.jpg", "y" * 300 + ".jpg"])
def test_names_that_no_file_can_have_are_refused(tmp_path, name):
    refusal(tmp_path / name)


GOOD_FILES = [saved(kind) for kind in KINDS] + [
    saved("JPEG", PICTURE.convert("CMYK")),
    saved("JPEG", progressive=True),
    saved("PNG", PICTURE.quantize(16), transparency=3),
    saved("TIFF", compression="tiff_lzw"),
]


@st.composite
def damaged_files(draw):
    """A good file of some kind with bytes overwritten, cut out, doubled or cut off."""
    data = bytearray(draw(st.sampled_from(GOOD_FILES)))
    for _ in range(draw(st.integers(1, 6))):
        head = draw(st.booleans())  # damage to the head matters most
        place = draw(st.integers(0, min(len(data), 400) - 1 if head else len(data) - 1))
        kind = draw(st.sampled_from(["overwrite", "cut", "double", "end"]))
        if kind == "overwrite":
            data[place : place + 4] = draw(st.binary(min_size=1, max_size=4))
        elif kind == "cut":
            del data[place : place + draw(st.integers(1, 64))]
        elif kind == "double":
            data[place:place] = data[place : place + draw(st.integers(1, 64))]
        else:
            del data[max(place, 8) :]
        if not data:
            break
    return bytes(data)


@settings(max_examples=400, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(damaged_files())
def test_damaged_files_give_a_photo_or_a_photo_error(tmp_path, data):
    path = written(tmp_path, data)
    for read, record in ((read_photo, Photo), (read_metadata, PhotoMetadata)):
        line = ""
        try:
            assert isinstance(read(path), record)
        except PhotoError as error:
            line = str(error)
        assert line.isprintable()


@settings(max_examples=300, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(st.sampled_from([b"", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*",
                        b"\x00\x00\x00\x18ftypheic"]), st.binary(max_size=300))  # fmt: skip
def test_arbitrary_bytes_give_a_photo_error(tmp_path, start, rest):
    path = written(tmp_path, start + rest)
    with pytest.raises(PhotoError):
        read_photo(path)


def test_the_header_of_a_good_file_is_found_in_its_first_bytes():
    for data in GOOD_FILES[:2]:
        assert read_header(data[:2000]).width_px == 140


@pytest.mark.parametrize("compression", ["tiff_adobe_deflate", "tiff_lzw"])
def test_a_damaged_tiff_says_one_line_and_its_library_nothing(tmp_path, capfd, compression):
    """libtiff writes to the error output of the process itself, past Python."""
    data = bytearray(saved("TIFF", compression=compression))
    data[60:2000:7] = bytes(255 - value for value in data[60:2000:7])
    assert "is damaged" in refusal(written(tmp_path, bytes(data), "photo.tif"))
    assert capfd.readouterr().err == ""
