"""Photos of every kind come out upright, 8-bit, RGB; and what they say about themselves."""

import hashlib
import io
from datetime import datetime

import cv2
import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageOps

from finmeasure.photo.metadata import read_header
from finmeasure.photo.reading import is_photo_name, read_metadata, read_photo, sha256_of

# CIPA DC-008 (EXIF), table of the tag Orientation: where row 0 and column 0 of the stored
# picture lie on the upright one.
ROW_0_AND_COLUMN_0 = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def drawn(height=48, width=80):
    """An upright picture without any symmetry: four flat colours and a bright block."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[: height // 2, : width // 2] = (200, 40, 40)
    pixels[: height // 2, width // 2 :] = (40, 200, 40)
    pixels[height // 2 :, : width // 2] = (40, 40, 200)
    pixels[height // 2 :, width // 2 :] = (120, 120, 120)
    pixels[4:12, 8:32] = (250, 250, 250)
    return pixels


def stored(upright, orientation):
    """The picture as a camera held so would store it, from the standard's table."""
    row_0, column_0 = ROW_0_AND_COLUMN_0[orientation]
    pixels = upright if row_0 in ("top", "bottom") else upright.transpose(1, 0, 2)
    pixels = pixels[::-1] if row_0 in ("bottom", "right") else pixels
    return np.ascontiguousarray(pixels[:, ::-1] if column_0 in ("right", "bottom") else pixels)


def with_orientation(orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    return exif


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize(("ending", "tolerance"), [("jpg", 12), ("png", 0), ("tif", 0)])
def test_all_eight_orientations_come_out_upright(tmp_path, ending, tolerance, orientation):
    path = tmp_path / f"photo.{ending}"
    options = {"quality": 95, "subsampling": 0} if ending == "jpg" else {}
    picture = Image.fromarray(stored(drawn(), orientation))
    picture.save(path, exif=with_orientation(orientation), **options)
    photo = read_photo(path)
    assert photo.pixels.shape == (48, 80, 3)
    assert np.abs(photo.pixels.astype(int) - drawn()).max() <= tolerance
    assert (photo.metadata.width_px, photo.metadata.height_px) == (80, 48)
    assert photo.metadata.orientation == orientation
    with Image.open(path) as opened:  # the reference library turns it the same way
        reference = np.asarray(ImageOps.exif_transpose(opened).convert("RGB")).astype(int)
    assert np.abs(photo.pixels - reference).max() <= 8


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_by_its_own_properties(tmp_path, orientation):
    path = tmp_path / "photo.heic"
    big = np.kron(drawn(), np.ones((4, 4, 1), np.uint8))
    pillow_heif.from_pillow(Image.fromarray(stored(big, orientation))).save(
        path, quality=95, exif=with_orientation(orientation).tobytes()
    )
    photo = read_photo(path)
    assert photo.pixels.shape == big.shape
    assert np.median(np.abs(photo.pixels.astype(int) - big)) <= 4
    assert (photo.metadata.width_px, photo.metadata.height_px) == (320, 192)


def test_pixels_are_c_contiguous_rgb_bytes_and_may_be_written(tmp_path):
    for orientation in (1, 6):
        path = tmp_path / f"{orientation}.png"
        exif = with_orientation(orientation)
        Image.fromarray(stored(drawn(), orientation)).save(path, exif=exif)
        pixels = read_photo(path).pixels
        assert pixels.dtype == np.uint8
        assert pixels.flags.c_contiguous
        assert pixels.flags.writeable


def test_jpeg_pixels_are_those_of_plain_opencv_decoding(tmp_path):
    """Independent second way: cv2.imread of the same file."""
    path = tmp_path / "photo.jpg"
    noise = np.random.default_rng(1).integers(0, 256, (64, 96, 3), dtype=np.uint8)
    Image.fromarray(noise).save(path, quality=80)
    assert (read_photo(path).pixels[:, :, ::-1] == cv2.imread(str(path))).all()


def test_checksum_is_that_of_the_bytes(tmp_path):
    path = tmp_path / "photo.png"
    Image.fromarray(drawn()).save(path)
    expected = hashlib.sha256(path.read_bytes()).hexdigest()
    assert sha256_of(path) == read_photo(path).sha256 == expected


def test_sha256_of_the_worked_example_of_the_standard(tmp_path):
    """FIPS 180-4 example: SHA-256 of the three bytes "abc"."""
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    assert sha256_of(path) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def saved(picture, kind, **options):
    file = io.BytesIO()
    picture.save(file, kind, **options)
    return file.getvalue()


GREY = np.tile(np.arange(0, 256, 4, dtype=np.uint8), (40, 1))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_grey_photos_become_rgb(tmp_path, kind):
    path = tmp_path / "photo"
    path.write_bytes(saved(Image.fromarray(GREY), kind))
    pixels = read_photo(path).pixels
    assert pixels.shape == (40, 64, 3)
    assert (pixels[..., 0] == pixels[..., 2]).all()
    assert np.abs(pixels[..., 1].astype(int) - GREY).max() <= 3


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_sixteen_bit_grey_keeps_its_upper_byte(tmp_path, kind):
    values = np.tile(np.arange(0, 65536, 1024, dtype=np.uint16), (40, 1))
    path = tmp_path / "photo"
    path.write_bytes(saved(Image.fromarray(values), kind))
    assert (read_photo(path).pixels[..., 0] == values // 256).all()


@pytest.mark.parametrize("ending", [".png", ".tif"])
def test_sixteen_bit_colour_keeps_its_upper_byte(tmp_path, ending):
    """Written by OpenCV, because Pillow cannot write this kind."""
    values = np.random.default_rng(2).integers(0, 65536, (40, 64, 3)).astype(np.uint16)
    path = tmp_path / f"photo{ending}"
    assert cv2.imwrite(str(path), values)
    assert (read_photo(path).pixels[..., ::-1] == values // 256).all()


@pytest.mark.parametrize("kind", ["JPEG", "TIFF"])
def test_printing_inks_become_rgb(tmp_path, kind):
    """No ink is white, full cyan has no red: the plain complement."""
    inks = np.zeros((40, 64, 4), np.uint8)
    inks[:, 32:, 0] = 255
    path = tmp_path / "photo"
    path.write_bytes(saved(Image.fromarray(inks, "CMYK"), kind))
    pixels = read_photo(path).pixels.astype(int)
    assert np.abs(pixels[20, 8] - 255).max() <= 3
    assert np.abs(pixels[20, 56] - (0, 255, 255)).max() <= 3


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_see_through_places_are_white(tmp_path, kind):
    rgba = np.zeros((40, 64, 4), np.uint8)
    rgba[:, 32:] = (10, 20, 30, 255)
    rgba[:, :16] = (0, 0, 0, 51)  # a fifth black on white is 204
    path = tmp_path / "photo"
    path.write_bytes(saved(Image.fromarray(rgba), kind))
    pixels = read_photo(path).pixels
    assert tuple(pixels[0, 40]) == (10, 20, 30)
    assert tuple(pixels[0, 20]) == (255, 255, 255)
    assert tuple(pixels[0, 3]) == (204, 204, 204)


def test_palettes_become_their_colours_and_their_see_through_entry_white(tmp_path):
    colours = Image.fromarray(drawn()).quantize(8)
    path = tmp_path / "photo.png"
    colours.save(path)
    assert (read_photo(path).pixels == np.asarray(colours.convert("RGB"))).all()
    entry = colours.getpixel((2, 40))
    colours.save(path, transparency=entry)
    assert tuple(read_photo(path).pixels[40, 2]) == (255, 255, 255)
    assert tuple(read_photo(path).pixels[6, 10]) == tuple(colours.convert("RGB").getpixel((10, 6)))


def test_black_and_white_and_progressive_files_are_read(tmp_path):
    path = tmp_path / "photo"
    path.write_bytes(saved(Image.fromarray(GREY > 100), "TIFF"))
    assert set(np.unique(read_photo(path).pixels)) == {0, 255}
    path.write_bytes(saved(Image.fromarray(drawn()), "JPEG", progressive=True))
    assert read_photo(path).pixels.shape == (48, 80, 3)


def test_what_is_inside_counts_not_the_ending(tmp_path):
    path = tmp_path / "really_a_png.jpg"
    path.write_bytes(saved(Image.fromarray(drawn()), "PNG"))
    assert (read_photo(path).pixels == drawn()).all()


def test_of_several_heic_pictures_the_primary_one_is_read(tmp_path):
    path = tmp_path / "photo.heic"
    big = np.kron(drawn(), np.ones((2, 2, 1), np.uint8))
    pictures = pillow_heif.from_pillow(Image.fromarray(255 - big))
    pictures.add_from_pillow(Image.fromarray(big))
    pictures.save(path, quality=95, primary_index=1)
    assert np.median(np.abs(read_photo(path).pixels.astype(int) - big)) <= 4


def test_heic_of_ten_bits_becomes_eight(tmp_path):
    path = tmp_path / "photo.heic"
    values = np.full((64, 64, 3), 512 << 6, np.uint16)  # half of 1024 in the upper ten bits
    pillow_heif.encode("RGB;16", (64, 64), values.tobytes(), path, quality=95)
    assert pillow_heif.open_heif(path, convert_hdr_to_8bit=False).info["bit_depth"] == 10
    assert np.abs(read_photo(path).pixels.astype(int) - 128).max() <= 2


def test_the_first_picture_of_a_phone_file_with_appended_pictures_is_read(tmp_path):
    path = tmp_path / "photo.jpg"
    small = Image.fromarray(drawn()[:32, :32])
    Image.fromarray(drawn()).save(path, "MPO", save_all=True, append_images=[small])
    assert read_photo(path).pixels.shape == (48, 80, 3)


def test_a_thumbnail_page_in_a_tiff_is_let_pass(tmp_path):
    """NewSubfileType bit 0 marks a reduced copy (TIFF 6.0, page 36)."""
    path = tmp_path / "photo.tif"
    small = Image.fromarray(drawn()[::2, ::2])
    small.encoderinfo = {"tiffinfo": {254: 1}}
    Image.fromarray(drawn()).save(path, save_all=True, append_images=[small])
    assert (read_photo(path).pixels == drawn()).all()


def camera_exif():
    """EXIF as Pillow writes it: the outside check of our reader of tags."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "ACME", "Pocket 3"
    exif[0x0132] = "2026:05:02 09:00:00"
    exif[0x9C9D] = "owner".encode("utf-16-le")
    exif[0x013B] = "Jane Roe"
    exif.get_ifd(0x8769).update({0x9003: "2026:05:01 14:03:22", 0xA405: 50})
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 30.0, 0.0)})
    for directory in (0x8769, 0x8825):
        exif[directory] = exif.get_ifd(directory)
    return exif


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_time_camera_and_focal_length_are_read(tmp_path, kind):
    path = tmp_path / "photo"
    path.write_bytes(saved(Image.fromarray(drawn()), kind, exif=camera_exif()))
    metadata = read_metadata(path)
    assert metadata == read_photo(path).metadata
    assert metadata.taken_at == datetime(2026, 5, 1, 14, 3, 22)
    assert metadata.camera == "ACME Pocket 3"
    assert metadata.focal_35mm == 50.0


def test_heic_tells_time_and_camera_too(tmp_path):
    path = tmp_path / "photo.heic"
    picture = Image.fromarray(np.kron(drawn(), np.ones((2, 2, 1), np.uint8)))
    pillow_heif.from_pillow(picture).save(path, exif=camera_exif().tobytes())
    assert read_metadata(path).taken_at == datetime(2026, 5, 1, 14, 3, 22)
    assert read_metadata(path).camera == "ACME Pocket 3"


def test_place_and_owner_are_nowhere_in_what_is_kept(tmp_path):
    path = tmp_path / "photo.jpg"
    Image.fromarray(drawn()).save(path, exif=camera_exif())
    with Image.open(path) as opened:
        assert opened.getexif().get_ifd(0x8825)  # they are in the file
    photo = read_photo(path)
    kept = {name: getattr(photo.metadata, name) for name in photo.metadata.__dataclass_fields__}
    assert set(kept) == {
        "width_px", "height_px", "taken_at", "camera", "focal_35mm", "orientation",
    }  # fmt: skip
    assert "Jane" not in repr(kept)
    assert "52" not in repr(kept)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("0000:00:00 00:00:00", None),
        ("    :  :     :  :  ", None),
        ("2026:13:01 10:00:00", None),
        ("2026:05:01 14:03:22\x00junk", datetime(2026, 5, 1, 14, 3, 22)),
        ("2026-05-01 14:03:22", None),
    ],
)
def test_cameras_without_a_clock_tell_no_time(tmp_path, written, expected):
    exif = Image.Exif()
    exif[0x0132] = written
    path = tmp_path / "photo.jpg"
    Image.fromarray(drawn()).save(path, exif=exif)
    assert read_metadata(path).taken_at == expected


@pytest.mark.parametrize("orientation", [0, 9, 255, 65535])
def test_an_orientation_that_does_not_exist_means_upright(tmp_path, orientation):
    path = tmp_path / "photo.png"
    Image.fromarray(drawn()).save(path, exif=with_orientation(orientation))
    assert (read_photo(path).pixels == drawn()).all()


def test_metadata_needs_no_decoding(tmp_path):
    """The pixels of this file cannot be decoded, its size and camera can be read."""
    whole = saved(Image.fromarray(drawn(600, 900)), "JPEG", exif=camera_exif())
    head = read_header(whole)
    assert (head.width_px, head.height_px) == (900, 600)
    path = tmp_path / "photo.jpg"
    path.write_bytes(whole[: whole.index(b"\xff\xda") + 20])
    assert read_metadata(path).camera == "ACME Pocket 3"


@pytest.mark.parametrize(
    "name", ["A.JPG", "b.jpeg", "c.PnG", "d.tif", "e.TIFF", "f.heic", "g.HEIF"]
)
def test_photos_are_known_by_their_ending(name):
    assert is_photo_name(name)
    assert is_photo_name(f"/some/folder.txt/{name}")


@pytest.mark.parametrize("name", ["a.txt", "jpg", "a.jpg.part", "._a.jpg", "notes", "", "x.gif"])
def test_other_files_are_left_alone(name):
    assert not is_photo_name(name)


def test_real_photographs_are_read_as_opencv_reads_them(shared):
    """Outside check on 22 photographs of 15 cameras; truth: cv2.imread, sizes of PROVENANCE.csv."""
    import csv

    with (shared / "photos" / "PROVENANCE.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 22
    for row in rows:
        path = shared / "photos" / row["file"]
        metadata = read_metadata(path)
        size = (int(row["width_px"]), int(row["height_px"]))
        assert (metadata.width_px, metadata.height_px) == size
        assert sha256_of(path) == row["sha256"]
    for name in ("lemon-tetra.jpg", "sardine_white.jpg", "bluegill_with_ruler.jpg"):
        path = shared / "photos" / name
        assert (read_photo(path).pixels[:, :, ::-1] == cv2.imread(str(path))).all()
    assert read_metadata(shared / "photos" / "bluegill_with_ruler.jpg").focal_35mm == 105.0
