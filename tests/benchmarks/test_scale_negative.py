"""Pictures without any reference: no scale is invented. The table goes to docs/method/scale.md.

Limits were set on other pictures (textures 0 to 23 of tests/finmeasure/scale/test_negative.py), but
four of the real photos were looked at when the search for rulers was tuned, and which is not
recorded. So the count that the bar of 200 is held against has none of the real photos in it: it is
that of tests/benchmarks/pictures.py, which nothing was tuned on.
"""

from itertools import chain

import cv2
import numpy as np
import pytest
import skimage.data

from finmeasure.photo.reading import read_photo
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest
from finmeasure.scale.tags import find_tags

from ..finmeasure.scale.series import as_photo
from ..finmeasure.scale.test_negative import BUNDLED, rgb, texture
from .pictures import EVEN as EVEN_KINDS
from .pictures import picture
from .test_scale_accuracy import write

pytestmark = pytest.mark.benchmark
REQUESTS = {
    "our cards": ScaleRequest(),
    "square paper, 5 mm": ScaleRequest(square_mm=5.0),
    "ruler, 1 mm": ScaleRequest(tick_mm=1.0),
}
WITH_RULER = ("bluegill_with_ruler.jpg", "squid_with_30cm_ruler.jpg")
EVEN = (2, 4, 5)  # kinds of texture that are even stripes, tiles or waves
LONGEST_PX = 1600
UNTOUCHED = range(5000, 5285)
REAL = "real photo, whole or a quarter"
NEW, NEW_EVEN = "new drawn picture", "new even pattern"


def untouched():
    """Pictures of 15 kinds that nothing was tuned on; four kinds are even patterns."""
    for number in UNTOUCHED:
        kind, pixels = picture(number)
        yield (NEW_EVEN if kind in EVEN_KINDS else NEW), f"{kind} {number}", pixels


def textures():
    for number in range(1000, 1150):
        kind = "even texture" if number % 6 in EVEN else "uneven texture"
        yield kind, f"texture {number}", texture(number)


def samples():
    for name in BUNDLED:
        try:
            picture = rgb(getattr(skimage.data, name)())
        except (OSError, ImportError, ModuleNotFoundError):
            continue
        kind = "even texture" if name in ("checkerboard", "brick") else "sample image"
        yield kind, name, picture


def photos(shared):
    """Real photos without a scale, whole and in quarters."""
    for path in sorted((shared / "photos").glob("*.jpg")):
        if path.name in WITH_RULER or "scalebar" in path.name:
            continue
        pixels = read_photo(path).pixels
        factor = min(1.0, LONGEST_PX / max(pixels.shape))
        small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        half = np.array(small.shape[:2]) // 2
        yield REAL, path.name, small
        for y in (0, half[0]):
            for x in (0, half[1]):
                part = small[y : y + half[0], x : x + half[1]]
                yield (
                    REAL,
                    f"{path.name} {x} {y}",
                    np.ascontiguousarray(part),
                )


def counted(pictures):
    """Count pictures of each kind, and those that were given a scale all the same."""
    seen, found = {}, {}
    for kind, name, pixels in pictures:
        seen[kind] = seen.get(kind, 0) + 1
        for what, request in REQUESTS.items():
            if find_scale(as_photo(pixels), request):
                found.setdefault((kind, what), []).append(name)
        if find_tags(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)).numbers:
            found.setdefault((kind, "tags"), []).append(name)
    print(found)
    return seen, found


def written(name, seen, found):
    asked = [*REQUESTS, "tags"]
    lines = ["| pictures | " + " | ".join(asked) + " |", "|---" * (1 + len(asked)) + "|"]
    for kind, number in seen.items():
        counts = " | ".join(str(len(found.get((kind, what), []))) for what in asked)
        lines.append(f"| {kind}, {number} | {counts} |")
    write(name, lines)


def nothing_but_squares(found):
    """Even patterns are square paper to any program; nothing else is a reference."""
    even = (NEW_EVEN, "even texture")
    return all(kind in even and what == "square paper, 5 mm" for kind, what in found)


def test_no_scale_is_invented_in_pictures_that_nothing_was_tuned_on():
    seen, found = counted(untouched())
    written("negative", seen, found)
    assert seen[NEW] >= 200
    assert nothing_but_squares(found)


def test_no_scale_is_invented_in_older_pictures(shared):
    seen, found = counted(chain(textures(), samples(), photos(shared)))
    written("negative, older", seen, found)
    assert nothing_but_squares(found)
