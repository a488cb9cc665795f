"""Pictures without fish and without any reference, drawn from a seed, for long negative series.

Nothing here was looked at when limits of the program were set: numbers from 5000 on are kept for
the counts in docs/method.
"""

import string

import cv2
import numpy as np

SIZE = (700, 900)
EVEN = ("woven cloth", "brick wall", "blinds", "scales")  # squares, stripes or waves of one size
LETTERS = list(string.ascii_letters + string.digits + " .,-")


def picture(number):
    """Give the kind and the RGB pixels of one picture."""
    rng = np.random.default_rng([5, number])
    kind = KINDS[number % len(KINDS)]
    pixels = MAKERS[kind](rng).clip(0, 255).astype(np.uint8)
    if rng.random() < 0.5:
        pixels = cv2.GaussianBlur(pixels, (0, 0), rng.uniform(0.5, 2.0))
    coded = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 96))])[1]
    return kind, cv2.imdecode(coded, cv2.IMREAD_COLOR)


def _colour(rng):
    return rng.uniform(0, 255, 3)


def _canvas(rng):
    return np.full((*SIZE, 3), _colour(rng), np.float32)


def _one_over_f(rng, falls):
    radius = np.hypot(
        *np.meshgrid(np.fft.fftfreq(SIZE[0]), np.fft.rfftfreq(SIZE[1]), indexing="ij")
    )
    radius[0, 0] = 1
    wave = radius**-falls * np.exp(2j * np.pi * rng.random(radius.shape))
    wave[0, 0] = 0
    value = np.fft.irfft2(wave, SIZE)
    return (value - value.min()) / np.ptp(value)


def _between(value, rng):
    return value[..., None] * _colour(rng) + (1 - value[..., None]) * _colour(rng)


def clouds(rng):
    return _between(_one_over_f(rng, rng.uniform(0.6, 2.0)), rng)


def pebbles(rng):
    """Stones that lie over each other, each with its own shade."""
    pixels = _canvas(rng)
    for _ in range(int(rng.integers(200, 900))):
        place = rng.uniform([0, 0], SIZE[::-1])
        axes = rng.uniform(6, 45, 2)
        shade = rng.uniform(0.3, 1.1) * np.array([200, 185, 160])
        ellipse = (tuple(map(float, place)), tuple(map(float, axes)), rng.uniform(0, 180))
        cv2.ellipse(pixels, ellipse, shade.tolist(), -1, cv2.LINE_AA)
        cv2.ellipse(pixels, ellipse, (0.5 * shade).tolist(), 1, cv2.LINE_AA)
    return pixels


def plants(rng):
    """Bent leaves before a soft ground."""
    pixels = np.ascontiguousarray(clouds(rng), np.float32)
    for _ in range(int(rng.integers(20, 90))):
        root = rng.uniform([0, SIZE[0] / 2], [SIZE[1], SIZE[0] * 1.1])
        t = np.linspace(0, 1, 40)[:, None]
        bend, tip = (
            rng.normal(0, 90, 2),
            root + np.array([rng.normal(0, 120), -rng.uniform(150, 600)]),
        )
        middle = (1 - t) ** 2 * root + 2 * t * (1 - t) * ((root + tip) / 2 + bend) + t**2 * tip
        wide = rng.uniform(2, 18) * np.sin(np.pi * np.clip(t, 0.05, 0.97))
        leaf = np.vstack([middle - [1, 0] * wide, (middle + [1, 0] * wide)[::-1]])
        green = rng.uniform(0.3, 1.0) * np.array([rng.uniform(60, 140), 170, 70])
        cv2.fillPoly(pixels, [leaf.astype(np.int32)], green.tolist(), cv2.LINE_AA)
    return pixels


def wood(rng):
    y, x = np.mgrid[0 : SIZE[0], 0 : SIZE[1]]
    bent = y + 60 * _one_over_f(rng, 2.0) + 0.1 * x
    return _between(0.5 + 0.5 * np.sin(bent / rng.uniform(3, 10) + 4 * _one_over_f(rng, 1.5)), rng)


def noise(rng):
    value = rng.normal(0, 1, (*SIZE, 3)).astype(np.float32)
    if rng.random() < 0.5:
        value = cv2.GaussianBlur(value, (0, 0), rng.uniform(0.5, 4.0))
    return 128 + rng.uniform(15, 60) * value / value.std()


def text(rng):
    pixels, size = _canvas(rng).astype(np.uint8), rng.uniform(0.5, 1.6)
    ink = _colour(rng).tolist()
    for row in np.arange(30, SIZE[0], 34 * size):
        line = "".join(rng.choice(LETTERS, int(rng.integers(20, 70))))
        face = int(rng.integers(0, 8))
        cv2.putText(pixels, line, (15, int(row)), face, size, ink, int(rng.integers(1, 3)),
                    cv2.LINE_AA)  # fmt: skip
    return pixels


def drawing(rng):
    """Lines, circles, arrows and boxes, as a child or an engineer draws them."""
    pixels = np.full((*SIZE, 3), 250, np.float32)
    for _ in range(int(rng.integers(10, 60))):
        ink, wide = (0.6 * _colour(rng)).tolist(), int(rng.integers(1, 6))
        a, b = rng.integers(0, SIZE[::-1], (2, 2)).tolist()
        what = rng.integers(0, 5)
        if what == 0:
            cv2.line(pixels, a, b, ink, wide, cv2.LINE_AA)
        elif what == 1:
            cv2.circle(pixels, a, int(rng.integers(5, 150)), ink, wide, cv2.LINE_AA)
        elif what == 2:
            cv2.arrowedLine(pixels, a, b, ink, wide, cv2.LINE_AA)
        elif what == 3:
            cv2.rectangle(pixels, a, b, ink, wide, cv2.LINE_AA)
        else:
            steps = np.cumsum(rng.normal(0, 30, (30, 2)), axis=0) + a
            cv2.polylines(pixels, [steps.astype(np.int32)], False, ink, wide, cv2.LINE_AA)
    return pixels


def plain(rng):
    """Black, white, one colour, or a slow change from one to another."""
    which = rng.integers(0, 4)
    if which < 2:
        return np.full((*SIZE, 3), 255.0 * which)
    if which == 2:
        return _canvas(rng)
    y, x = np.mgrid[0 : SIZE[0], 0 : SIZE[1]]
    return _between((x * rng.random() + y * rng.random()) / sum(SIZE), rng)


def bubbles(rng):
    pixels = np.ascontiguousarray(clouds(rng), np.float32)
    for _ in range(int(rng.integers(30, 200))):
        place, size = rng.integers(0, SIZE[::-1]).tolist(), int(rng.integers(2, 40))
        cv2.circle(pixels, place, size, [230, 240, 250], 1, cv2.LINE_AA)
        spot = [place[0] - size // 3, place[1] - size // 3]
        cv2.circle(pixels, spot, max(1, size // 5), [255, 255, 255], -1, cv2.LINE_AA)
    return pixels


def boxes(rng):
    """Shelves, screens and parcels: rectangles of all sizes over each other."""
    pixels = _canvas(rng)
    for _ in range(int(rng.integers(20, 150))):
        a = rng.integers(-50, SIZE[::-1])
        b = a + rng.integers(10, 300, 2)
        cv2.rectangle(pixels, a.tolist(), b.tolist(), _colour(rng).tolist(),
                      -1 if rng.random() < 0.7 else 2)  # fmt: skip
    return pixels


def leaves(rng):
    pixels = _canvas(rng)
    for _ in range(int(rng.integers(40, 300))):
        place = tuple(map(float, rng.uniform([0, 0], SIZE[::-1])))
        long = rng.uniform(20, 140)
        ellipse = (place, (long, long * rng.uniform(0.2, 0.5)), rng.uniform(0, 180))
        cv2.ellipse(pixels, ellipse, (_colour(rng) * [0.7, 1, 0.5]).tolist(), -1, cv2.LINE_AA)
        turn = np.radians(ellipse[2])
        rib = 0.45 * long * np.array([np.cos(turn), np.sin(turn)])
        ends = np.rint([place - rib, place + rib]).astype(int).tolist()
        cv2.line(pixels, *ends, [60, 80, 40], 1, cv2.LINE_AA)
    return pixels


def _turned(rng):
    y, x = np.mgrid[0 : SIZE[0], 0 : SIZE[1]].astype(float)
    angle = rng.uniform(0, np.pi)
    lean = 1 + 3e-4 * rng.normal() * (x - SIZE[1] / 2)
    return ((x * np.cos(angle) + y * np.sin(angle)) / lean,
            (y * np.cos(angle) - x * np.sin(angle)) / lean)  # fmt: skip


def woven_cloth(rng):
    u, v = _turned(rng)
    thread = rng.uniform(5, 14)
    over = (np.floor(u / thread) + np.floor(v / thread)) % 2
    value = np.where(over, np.sin(np.pi * u / thread), np.sin(np.pi * v / thread)) ** 2
    return _between(value, rng) + rng.normal(0, 6, (*SIZE, 1))


def brick_wall(rng):
    u, v = _turned(rng)
    high = rng.uniform(14, 50)
    row = np.floor(v / high)
    column = np.floor(u / (2.2 * high) + 0.5 * (row % 2))
    shade = rng.uniform(0.6, 1.0, (64, 64))[row.astype(int) % 64, column.astype(int) % 64]
    joint = (v / high % 1 < 0.1) | ((u / (2.2 * high) + 0.5 * (row % 2)) % 1 < 0.05)
    return np.where(joint[..., None], 200.0, shade[..., None] * [170, 80, 60])


def blinds(rng):
    u, _ = _turned(rng)
    return _between(0.5 + 0.5 * np.sin(2 * np.pi * u / rng.uniform(6, 40)), rng)


def scales(rng):
    u, v = _turned(rng)
    wide = rng.uniform(8, 30)
    value = np.zeros(SIZE)
    for row in (0, 1):
        du = (u / wide + 0.5 * row) % 1 - 0.5
        dv = (v / wide + 0.5 * row) % 1 - 0.5
        value = np.maximum(value, 1 - 2 * np.hypot(du, dv))
    return _between(value.clip(0, 1), rng) + 20 * _one_over_f(rng, 1.0)[..., None]


MAKERS = {
    "clouds": clouds, "pebbles": pebbles, "plants": plants, "wood": wood, "noise": noise,
    "text": text, "drawing": drawing, "plain": plain, "bubbles": bubbles, "boxes": boxes,
    "leaves": leaves, "woven cloth": woven_cloth, "brick wall": brick_wall, "blinds": blinds,
    "scales": scales,
}  # fmt: skip
KINDS = tuple(MAKERS)
