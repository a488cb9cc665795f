"""Grounds that a fish must be told from: cards, rulers, wood, leaves, stones, hands, text."""

from __future__ import annotations

import colorsys
from collections.abc import Callable

import cv2
import numpy as np

from finmeasure.drawing.grounds import GROUNDS
from finmeasure.drawing.noise import Field, smooth_field
from finmeasure.drawing.wild import wild_colour

Shape = tuple[int, int]
_LETTERS = list("ABCDEFGHKLMNOPRSTUVXYZ0123456789 -cm")


def cluttered_ground(shape: Shape, rng: np.random.Generator) -> Field:
    """Draw a random ground with random things on it, shape (H, W, 3), 0 to 1."""
    if rng.random() < 0.4:
        picture = GROUNDS[str(rng.choice(list(GROUNDS)))](shape, rng)
    else:
        picture = _OWN[int(rng.integers(len(_OWN)))](shape, rng)
    picture = np.ascontiguousarray(np.clip(picture, 0, 1), np.float32)
    for draw, share in ((_leaves, 0.2), (_pebbles, 0.15), (_hand, 0.08), (_text, 0.12)):
        if rng.random() < share:
            picture = draw(picture, rng)
    if rng.random() < 0.35:
        picture = cv2.GaussianBlur(picture, (0, 0), float(np.exp(rng.uniform(-0.5, 2.3))))
    if rng.random() < 0.25:
        picture = picture[..., rng.permutation(3)]
    return np.asarray(np.clip(picture, 0, 1), np.float32)


def _ink(colour: tuple[float, ...]) -> tuple[float, float, float]:
    return (float(colour[0]), float(colour[1]), float(colour[2]))


def _tone(rng: np.random.Generator) -> Field:
    """Paper white, grey, black or any colour."""
    if rng.random() < 0.65:
        value = rng.choice([rng.uniform(0.8, 1), rng.uniform(0.35, 0.8), rng.uniform(0.0, 0.12)])
        return np.array(colorsys.hsv_to_rgb(rng.random(), rng.uniform(0, 0.1), value), np.float32)
    return np.array(wild_colour(rng), np.float32)


def _sheet(shape: Shape, rng: np.random.Generator) -> Field:
    """Draw paper or board, one side a little darker."""
    slope = np.linspace(rng.uniform(0.75, 1), 1, shape[1], dtype=np.float32)
    if rng.random() < 0.5:
        slope = slope[::-1]
    light = slope[None, :] * (1 + 0.02 * smooth_field(rng, shape, 4))
    return np.asarray(light[..., None] * _tone(rng), np.float32)


def _printed(shape: Shape, rng: np.random.Generator) -> Field:
    """Draw a card, grid paper or a board with a ruler."""
    picture = np.ascontiguousarray(_sheet(shape, rng))
    dark = picture.mean() > 0.35
    ink = _ink((rng.uniform(0, 0.3) if dark else rng.uniform(0.7, 1),) * 3)
    height, width = shape
    if rng.random() < 0.35:
        step = int(rng.uniform(8, 48))
        for place in range(int(rng.uniform(0, step)), max(shape), step):
            cv2.line(picture, (place, 0), (place, height), ink, 1, cv2.LINE_AA)
            cv2.line(picture, (0, place), (width, place), ink, 1, cv2.LINE_AA)
    if rng.random() < 0.5:
        _chequered_ring(picture, ink, rng)
    if rng.random() < 0.5:
        _ruler(picture, ink, rng)
    return picture


def _chequered_ring(picture: Field, ink: tuple[float, float, float],
                    rng: np.random.Generator) -> None:  # fmt: skip
    height, width = picture.shape[:2]
    step, border = int(rng.uniform(8, 40)), int(rng.uniform(0, 60))
    for row in (border, height - border - step):
        for left in range(border, width - border, 2 * step):
            cv2.rectangle(picture, (left, row), (left + step, row + step), ink, -1)
    for column in (border, width - border - step):
        for top in range(border, height - border, 2 * step):
            cv2.rectangle(picture, (column, top), (column + step, top + step), ink, -1)


def _ruler(picture: Field, ink: tuple[float, float, float], rng: np.random.Generator) -> None:
    height, width = picture.shape[:2]
    y = int(rng.choice([rng.uniform(0.03, 0.25), rng.uniform(0.75, 0.97)]) * height)
    step = rng.uniform(3, 10)
    left, right = int(rng.uniform(0, 0.3) * width), int(rng.uniform(0.5, 1) * width)
    if rng.random() < 0.5:
        colour = _ink(wild_colour(rng))
        cv2.rectangle(picture, (left - 8, y - 8), (right + 8, y + int(rng.uniform(15, 40))),
                      colour, -1)  # fmt: skip
    for number in range(int((right - left) / step)):
        long = 14 if number % 10 == 0 else 9 if number % 5 == 0 else 6
        x = int(left + number * step)
        cv2.line(picture, (x, y), (x, y + long), ink, 1, cv2.LINE_AA)


def _wood(shape: Shape, rng: np.random.Generator) -> Field:
    grain = cv2.resize(smooth_field(rng, (shape[0], max(shape[1] // 14, 8)), 30), shape[::-1])
    picture = np.array(wild_colour(rng), np.float32) * (0.8 + 0.15 * grain[..., None])
    return np.asarray(np.swapaxes(picture, 0, 1) if rng.random() < 0.3 and shape[0] == shape[1]
                      else picture, np.float32)  # fmt: skip


def _rough(shape: Shape, rng: np.random.Generator) -> Field:
    """Draw rock, sand or moss: coarse and fine unevenness of two colours."""
    share = 0.5 + 0.35 * smooth_field(rng, shape, rng.uniform(2, 12), octaves=6)
    one, other = np.array(wild_colour(rng)), np.array(wild_colour(rng))
    other = other if rng.random() < 0.4 else one * rng.uniform(0.1, 0.7)
    picture = one + np.clip(share, 0, 1)[..., None] * (other - one)
    grain = rng.standard_normal(shape, np.float32) * rng.uniform(0, 0.2)
    grain = cv2.GaussianBlur(grain, (0, 0), rng.uniform(0.5, 2))
    return np.asarray(picture * (1 + grain[..., None]), np.float32)


def _half_and_half(shape: Shape, rng: np.random.Generator) -> Field:
    """Put one ground over another: a tank's floor, a table's edge, a wall."""
    upper, lower = _rough(shape, rng), _sheet(shape, rng)
    if rng.random() < 0.5:
        upper, lower = lower, upper
    row = int(shape[0] * rng.uniform(0.2, 0.85))
    picture = upper.copy()
    picture[row:] = lower[row:]
    return picture


def _leaves(picture: Field, rng: np.random.Generator) -> Field:
    height, width = picture.shape[:2]
    hue = rng.uniform(0.17, 0.4) if rng.random() < 0.8 else rng.uniform(0, 1)
    for _ in range(int(rng.uniform(5, 90))):
        value, saturation = rng.uniform(0.1, 0.8), rng.uniform(0.3, 0.9)
        tint = _ink(colorsys.hsv_to_rgb((hue + rng.normal(0, 0.03)) % 1.0, saturation, value))
        at = (int(rng.uniform(0, width)), int(rng.uniform(0, height)))
        axes = (int(rng.uniform(5, 0.15 * width)), int(rng.uniform(3, 0.05 * width)))
        angle = rng.uniform(0, 180)
        cv2.ellipse(picture, at, axes, angle, 0, 360, tint, -1, cv2.LINE_AA)
        if rng.random() < 0.4:
            rib = _ink(tuple(min(1.3 * tone, 1.0) for tone in tint))
            cv2.ellipse(picture, at, (axes[0], 1), angle, 0, 360, rib, -1, cv2.LINE_AA)
    return picture


def _pebbles(picture: Field, rng: np.random.Generator) -> Field:
    height, width = picture.shape[:2]
    top, tone = rng.uniform(0.0, 0.85), np.array(wild_colour(rng))
    largest = rng.uniform(5, 24)
    for _ in range(int(rng.uniform(150, 700))):
        colour = _ink(tuple(np.clip(tone * rng.uniform(0.4, 1.6), 0, 1)))
        at = (int(rng.uniform(0, width)), int(rng.uniform(top, 1.02) * height))
        axes = (int(rng.uniform(2, largest)), int(rng.uniform(2, 0.8 * largest)) + 1)
        cv2.ellipse(picture, at, axes, rng.uniform(0, 180), 0, 360, colour, -1, cv2.LINE_AA)
    return picture


def _hand(picture: Field, rng: np.random.Generator) -> Field:
    """Lay a hand over the ground: palm, four fingers, soft shading."""
    height, width = picture.shape[:2]
    skin = np.array(colorsys.hsv_to_rgb(rng.uniform(0.02, 0.07), rng.uniform(0.25, 0.6),
                                        rng.uniform(0.35, 0.95)), np.float32)  # fmt: skip
    layer, turn = np.zeros((height, width), np.float32), rng.uniform(0, 2 * np.pi)
    middle = np.array([rng.uniform(0.2, 0.8) * width, rng.uniform(0.3, 0.9) * height])
    size = 0.22 * width * rng.uniform(0.7, 1.4)
    palm = (int(size), int(0.7 * size))
    cv2.ellipse(layer, (int(middle[0]), int(middle[1])), palm, np.degrees(turn), 0, 360, 1.0, -1)
    ahead = np.array([np.cos(turn), np.sin(turn)])
    beside = np.array([-ahead[1], ahead[0]])
    for finger in range(4):
        start = middle + beside * (finger - 1.5) * 0.36 * size
        end = start + ahead * size * rng.uniform(1.2, 1.9)
        cv2.line(layer, tuple(start.astype(int).tolist()), tuple(end.astype(int).tolist()),
                 1.0, max(int(0.3 * size), 1), cv2.LINE_AA)  # fmt: skip
    layer = cv2.GaussianBlur(layer, (0, 0), 1.2)
    shade = 0.7 + 0.4 * cv2.GaussianBlur(layer, (0, 0), 0.1 * size + 1)
    return np.asarray(picture + layer[..., None] * (skin * shade[..., None] - picture), np.float32)


def _text(picture: Field, rng: np.random.Generator) -> Field:
    height, width = picture.shape[:2]
    ink = np.float32(rng.uniform(0, 0.3) if picture.mean() > 0.4 else rng.uniform(0.7, 1))
    letters = np.zeros((height, width), np.uint8)  # OpenCV writes on bytes only
    for _ in range(int(rng.integers(1, 4))):
        words = "".join(rng.choice(_LETTERS, int(rng.uniform(2, 14))))
        at = (int(rng.uniform(0, 0.8) * width), int(rng.uniform(0.05, 0.98) * height))
        cv2.putText(letters, words, at, int(rng.integers(0, 8)), rng.uniform(0.3, 1.6),
                    255, int(rng.integers(1, 3)), cv2.LINE_AA)  # fmt: skip
    cover = (letters / np.float32(255))[..., None]
    return np.asarray(picture + cover * (ink - picture), np.float32)


_OWN: tuple[Callable[[Shape, np.random.Generator], Field], ...] = (
    _sheet, _printed, _printed, _wood, _rough, _rough, _half_and_half,
)  # fmt: skip
