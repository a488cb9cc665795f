"""How well rays are counted along a line: drawn fans by their number of rays."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from finmeasure.fins.counting import count_along, strip_along

pytestmark = pytest.mark.benchmark
ROOT = Path(__file__).parents[2]
_spec = importlib.util.spec_from_file_location(
    "drawn_fans", ROOT / "tests/finmeasure/fins/test_counting.py"
)
drawn_fans = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(drawn_fans)
TABLE = ROOT / "docs/method/window.md"
BEGIN, END = "<!-- counting -->", "<!-- end counting -->"


def test_counts_of_drawn_fans():
    """Bars (our choice): exact in 4 of 5, range right in 17 of 20."""
    rng = np.random.default_rng(2026)
    lines = ["| rays | fans | exact | off by one at most | range right | width of the range |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    everything = []
    for low, high in ((6, 12), (12, 20), (20, 32)):
        rows = []
        for _ in range(150):
            rays = int(rng.integers(low, high))
            gray, line = drawn_fans.fan(rng, rays)
            found = count_along(strip_along(gray, line))
            inside = found.low <= rays <= found.high
            rows.append((abs(found.count - rays), inside, found.high - found.low))
        off, inside, width = (np.array(column) for column in zip(*rows, strict=True))
        lines.append(
            f"| {low} to {high - 1} | {len(rows)} | {np.mean(off == 0):.0%} | "
            f"{np.mean(off <= 1):.0%} | {np.mean(inside):.0%} | {width.mean():.1f} |"
        )
        everything += rows
    off, inside, _ = (np.array(column) for column in zip(*everything, strict=True))
    text = TABLE.read_text()
    start, end = text.index(BEGIN), text.index(END)
    TABLE.write_text("\n".join([text[:start] + BEGIN, *lines, text[end:]]))
    assert np.mean(off == 0) >= 0.8
    assert np.mean(inside) >= 0.85
