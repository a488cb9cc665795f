"""Sheets of square paper and rulers, drawn as arrays, for tests."""

import numpy as np

SIZE_MM = (270.0, 190.0)


def square_paper(kind, per_mm=16.0, size_mm=SIZE_MM):
    """Draw paper: ``1`` has bold 5 and 10 mm lines, ``5`` and ``10`` none, ``5+10`` bold 10."""
    width, height = (round(side * per_mm) for side in size_mm)
    sheet = np.full((height, width), 255.0)
    spacing, weights = {
        "1": (1.0, {1: (0.12, 90), 5: (0.2, 110), 10: (0.35, 140)}),
        "5": (5.0, {5: (0.25, 150)}),
        "10": (10.0, {10: (0.35, 160)}),
        "5+10": (5.0, {5: (0.2, 120), 10: (0.45, 180)}),
    }[kind]
    for axis, length_mm in ((1, size_mm[0]), (0, size_mm[1])):
        count = round(length_mm / spacing)
        for number in range(count + 1):
            at_mm = number * spacing
            wide, ink = next(
                weights[every] for every in sorted(weights, reverse=True) if at_mm % every < 1e-9
            )
            _line(sheet, axis, at_mm * per_mm, wide * per_mm, ink)
    return sheet.clip(0, 255).astype(np.uint8), spacing


def _line(sheet, axis, at_px, wide_px, ink):
    size = sheet.shape[axis]
    low, high = max(at_px - wide_px / 2, 0), min(at_px + wide_px / 2, size)
    first, last = int(np.floor(low)), min(int(np.ceil(high)), size)
    edges = np.arange(first, last, dtype=float)
    share = np.minimum(edges + 1, high) - np.maximum(edges, low)
    block = sheet[:, first:last] if axis == 1 else sheet[first:last].T
    block[...] = np.minimum(block, 255 - ink * share)


def ruler_sheet(per_mm=16.0, length_mm=160.0, tick_mm=1.0, halves=5, wholes=10):
    """A plastic ruler, 25 mm high: fine ticks, longer ones every 5th and 10th, blocks as digits."""
    sheet = np.full((round(25 * per_mm), round(length_mm * per_mm)), 235.0)
    for number in range(int((length_mm - 10) / tick_mm) + 1):
        long = 8.0 if number % wholes == 0 else 6.0 if number % halves == 0 else 4.0
        rows = sheet[: round(long * per_mm)]
        _line(rows, 1, (5 + number * tick_mm) * per_mm, 0.2 * per_mm, 190)
        if number % wholes == 0:
            left = round((5 + number * tick_mm - 1) * per_mm)
            sheet[round(9 * per_mm) : round(12 * per_mm), left : left + round(2 * per_mm)] = 60
    return sheet.clip(0, 255).astype(np.uint8)
