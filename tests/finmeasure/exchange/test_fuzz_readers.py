"""Every reader of files from outside, fed with mutated good files: only our own errors come out.

The short form runs with all tests; `make soak` runs a million inputs in all.
"""

import io
import random

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from finmeasure.errors import FinmeasureError
from finmeasure.exchange.inputs import read_events, read_groups, read_labels, read_water
from finmeasure.exchange.landmarks import read_landmarks
from finmeasure.exchange.outlines import read_outlines
from finmeasure.exchange.scales import read_scales
from finmeasure.landmarks import scheme
from finmeasure.photo.reading import read_metadata, read_photo

PICTURE = Image.fromarray(
    np.random.default_rng(3).integers(0, 256, (48, 64, 3), dtype=np.uint8).repeat(2, 0)
)
DATA = scheme._DATA
TEXT_TOKENS = (
    b",", b'"', b"\n", b"\r", b";", b"\t", b"'=1", b"-", b"nan", b"1e999", b"\xff", b"\x00", b"(",
    b")", b"[", b"]", b"{", b"=", b"#", b"\\", b"'''", b"POLYGON", b"0", b"placed", b"ventral",
)  # fmt: skip
BYTE_TOKENS = (
    b"\x00\x00\x00\x00", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\x80\x00\x00\x00", b"\x00",
    b"\xff", b"\x01", b"\xff\xd9", b"\xff\xda", b"\xff\xe1", b"II*\x00", b"ftyp", b"IDAT",
)  # fmt: skip


def photo(kind, **options):
    file = io.BytesIO()
    if kind == "HEIF":
        pillow_heif.from_pillow(PICTURE).save(file, **options)
    else:
        PICTURE.save(file, kind, **options)
    return file.getvalue()


def camera():
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "ACME"
    exif.get_ifd(0x8769).update({0x9003: "2026:05:01 14:03:22", 0xA405: 50})
    return exif


LANDMARKS = b"""photo,fish,landmark,x_px,y_px,u_px,state,placed_by,confidence
a.jpg,1,snout_tip,10.5,20,1.5,placed,Ann,0.9
a.jpg,1,adipose_tip,,,,absent,Ann,
b.jpg,Goldie,ventral_tip,-3e2,4,,placed,'=x,1
"""
OUTLINES = b"""photo,fish,part,wkt,placed_by,confidence,spread,edge
a.jpg,1,dorsal,"LINESTRING (0 0, 1.5 2, 3 0)",Ann,0.5,spread,clear_new_growth
a.jpg,1,body,"POLYGON ((0 0, 9 0, 9 -9e1, 0 0))",,,,
"""
SCALES = b"photo,x1_px,y1_px,x2_px,y2_px,length_mm,length_mm_u\na.jpg,0,0,300,400,50,0.1\n"
GROUPS = b"""group,body_form,invoiced,grade_mm_from,grade_mm_to,opened_at
Bag 7,plain,48,25,30,2026-05-01
"""
READERS = {
    "JPEG": (read_photo, photo("JPEG", exif=camera()), BYTE_TOKENS),
    "progressive JPEG": (read_photo, photo("JPEG", progressive=True), BYTE_TOKENS),
    "PNG": (read_photo, photo("PNG", exif=camera()), BYTE_TOKENS),
    "TIFF": (read_photo, photo("TIFF", compression="tiff_lzw", exif=camera()), BYTE_TOKENS),
    "HEIC": (read_photo, photo("HEIF", exif=camera().tobytes()), BYTE_TOKENS),
    "metadata": (read_metadata, photo("JPEG", exif=camera()), BYTE_TOKENS),
    "landmarks.csv": (read_landmarks, LANDMARKS, TEXT_TOKENS),
    "outlines.csv": (read_outlines, OUTLINES, TEXT_TOKENS),
    "scales.csv": (read_scales, SCALES, TEXT_TOKENS),
    "groups.csv": (read_groups, GROUPS, TEXT_TOKENS),
    "labels.csv": (read_labels, b"fish,character,value,set_by\nA,sex,male,Ann\n", TEXT_TOKENS),
    "events.csv": (read_events, b"group,date,event\nT1,2026-05-01T10:00,moved\n", TEXT_TOKENS),
    "water.csv": (read_water, b"group,taken_at,quantity,value\nT,2026-05-01,pH,7\n", TEXT_TOKENS),
    "body form": (
        scheme.read_body_form,
        (DATA / "body_forms" / "gourami.toml").read_bytes(),
        TEXT_TOKENS,
    ),
    "questions": (scheme.read_questions, (DATA / "questions.toml").read_bytes(), TEXT_TOKENS),
}


def mutated(rng, data, tokens):
    """The file with one to eight places overwritten, filled in, cut out, doubled or cut off."""
    data = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        if len(data) < 4:
            break
        place = rng.randrange(min(len(data), 500) if rng.random() < 0.6 else len(data))
        token = rng.choice(tokens) if rng.random() < 0.7 else rng.randbytes(rng.randint(1, 4))
        kind = rng.random()
        if kind < 0.4:
            data[place : place + len(token)] = token
        elif kind < 0.65:
            data[place:place] = token
        elif kind < 0.8:
            del data[place : place + rng.randint(1, 40)]
        elif kind < 0.97:
            data[place:place] = data[place : place + rng.randint(1, 40)]
        else:
            del data[place:]
    return bytes(data)


def feed(path, reader, rounds):
    """Feed a reader with that many inputs; give how many it read and how many it refused."""
    read, good, tokens = READERS[reader]
    rng = random.Random(f"{reader} {rounds}")
    counts = {"read": 0, "refused": 0}
    for _ in range(rounds):
        path.write_bytes(mutated(rng, good, tokens))
        try:
            read(path)
        except FinmeasureError:
            counts["refused"] += 1
        else:
            counts["read"] += 1
    return counts


@pytest.mark.parametrize("reader", READERS)
def test_only_our_own_errors_come_out(tmp_path, reader):
    path = tmp_path / "given"
    path.write_bytes(READERS[reader][1])
    READERS[reader][0](path)  # the good file is read
    counts = feed(path, reader, 200)
    assert counts["refused"] > 0
    assert sum(counts.values()) == 200


@pytest.mark.soak
@pytest.mark.parametrize("reader", READERS)
def test_only_our_own_errors_come_out_of_a_million_inputs(tmp_path, reader):
    counts = feed(tmp_path / "given", reader, 1_000_000 // len(READERS) + 1)
    print(reader, counts)  # shown by pytest -rP
