"""The printed card: read back from the PDF by an independent rasteriser (pypdfium2)."""

import numpy as np
import pypdfium2 as pdfium
import pytest

from finmeasure.card.advice import card_for_fish, expected_px_per_mm, longest_fish, tank_inner_mm
from finmeasure.card.sheet import GROUNDS, write_card
from finmeasure.card_design import DESIGNS, PAPER_MM, card_design
from finmeasure.errors import DefinitionError, ScaleError
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest

PAPERS = list(PAPER_MM)
CARDS = [("window", paper, ground) for paper in PAPERS for ground in GROUNDS] + [
    ("squares", paper, "white") for paper in PAPERS
]


def rendered(path, dpi, page=0):
    with pdfium.PdfDocument(path) as document:
        bitmap = document[page].render(scale=dpi / 72).to_numpy()
    return np.ascontiguousarray(bitmap[..., :3])


def rendered_px_per_mm(pixels, kind, paper):
    """The rasteriser fits the page into whole pixels, so the dots per inch are not exact."""
    height, width = pixels.shape[:2]
    page = card_design(kind, paper).page_mm
    return (width / page[0] + height / page[1]) / 2


def as_photo(pixels):
    height, width = pixels.shape[:2]
    return Photo(pixels, "0" * 64, PhotoMetadata(width, height))


@pytest.mark.parametrize("dpi", [300, 600])
@pytest.mark.parametrize(("kind", "paper", "ground"), CARDS)
def test_card_is_found_and_measured_with_the_right_millimetres(tmp_path, kind, paper, ground, dpi):
    write_card(tmp_path / "card.pdf", kind, paper, ground=ground)
    pixels = rendered(tmp_path / "card.pdf", dpi)
    scale = find_scale(as_photo(pixels), ScaleRequest())
    assert scale, scale
    assert scale.method == f"{kind}_card"
    expected = rendered_px_per_mm(pixels, kind, paper)
    assert expected == pytest.approx(dpi / 25.4, rel=8e-4)  # 1 inch = 25.4 mm exactly
    assert scale.px_per_mm == pytest.approx(expected, rel=2e-4)  # sharp edges: corners to 0.08 px


@pytest.mark.parametrize("design", DESIGNS, ids=lambda d: f"{d.kind}-{d.paper}")
def test_check_lines_have_their_stated_length_on_the_page(tmp_path, design):
    write_card(tmp_path / "card.pdf", design.kind, design.paper)
    dpi = 400
    dark = rendered(tmp_path / "card.pdf", dpi)[..., 0] < 128
    across, down = (length * dpi / 25.4 for length in design.check_mm)
    # A check line is the only straight run of ink of just its length.
    assert longest_runs(dark) & set(range(round(across) - 2, round(across) + 3))
    assert longest_runs(dark.T) & set(range(round(down) - 2, round(down) + 3))


def longest_runs(dark):
    """Length of the longest run of ink in each row."""
    runs = set()
    for row in dark:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
        if len(edges):
            runs.add(int((edges[1::2] - edges[::2]).max()))
    return runs


@pytest.mark.parametrize("design", DESIGNS, ids=lambda d: f"{d.kind}-{d.paper}")
def test_nothing_is_printed_at_the_very_edge_of_the_page(tmp_path, design):
    # Common practice, no source: office printers leave about 3 mm blank on every side.
    write_card(tmp_path / "card.pdf", design.kind, design.paper)
    dark = rendered(tmp_path / "card.pdf", 100)[..., 0] < 200
    rim = round(2.5 / 25.4 * 100)
    assert not dark[:rim].any()
    assert not dark[-rim:].any()
    assert not dark[:, :rim].any()
    assert not dark[:, -rim:].any()


@pytest.mark.parametrize("design", DESIGNS, ids=lambda d: f"{d.kind}-{d.paper}")
def test_pages_carry_sentence_tank_and_cautions(tmp_path, design):
    write_card(tmp_path / "card.pdf", design.kind, design.paper)
    with pdfium.PdfDocument(tmp_path / "card.pdf") as document:
        texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
        size = [side / 72 * 25.4 for side in document[0].get_size()]
    assert size == pytest.approx(design.page_mm, abs=0.01)
    assert len(texts) == 2
    assert "Print at 100 %, not “fit to page”" in texts[0]
    assert "caliper" in texts[0]
    width, height, depth = tank_inner_mm(design)
    assert f"{width:.0f} × {height:.0f} × {depth:.0f} mm" in texts[0]
    for words in ("Spines", "gasps", "ammonia", "granuloma", "mains lamps", "veterinarian"):
        assert words in texts[1]


def test_the_same_card_is_the_same_file(tmp_path):
    write_card(tmp_path / "one.pdf")
    write_card(tmp_path / "two.pdf")
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        (("round", "A4", "white"), DefinitionError, "window, squares"),
        (("window", "A3", "white"), DefinitionError, "A4, A5, A6, letter, ID1"),
        (("window", "A4", "pink"), ScaleError, "white, grey, black, cut-out"),
        (("squares", "A4", "black"), ScaleError, "--kind window"),
    ],
)
def test_a_wrong_card_is_refused_with_what_is_allowed(tmp_path, arguments, error, words):
    kind, paper, ground = arguments
    with pytest.raises(error, match=words):
        write_card(tmp_path / "card.pdf", kind, paper, ground=ground)


def test_a_folder_that_does_not_exist_is_one_clear_error(tmp_path):
    with pytest.raises(ScaleError, match="cannot be written"):
        write_card(tmp_path / "missing" / "card.pdf")


# The design's figures: card filling 80 % of a 4000 px wide photo, 5 mm fin (design.md).
@pytest.mark.parametrize(("paper", "fin_px"), [("A4", 54), ("A5", 76), ("A6", 108), ("ID1", 187)])
def test_pixels_of_a_five_millimetre_fin(paper, fin_px):
    assert round(5 * expected_px_per_mm(card_design("window", paper))) == fin_px


def test_the_smallest_card_that_holds_the_fish_is_chosen():
    assert [card_for_fish(fish).design.paper for fish in (25, 60, 100, 160)] == [
        "ID1", "A6", "A5", "A4",
    ]  # fmt: skip
    for fish in (25, 60, 100, 160):
        advice = card_for_fish(fish)
        assert longest_fish(advice.design) >= fish
        assert all("mm" in sentence for sentence in advice.sentences())


def test_a_fin_with_too_few_pixels_is_said():
    assert "100 px" in card_for_fish(15).sentences()[1] or card_for_fish(15).fin_px(3) >= 100
    assert "Edge figures need 100 px" not in card_for_fish(60).sentences()[1]


@pytest.mark.parametrize("fish", [0, -5, 900])
def test_a_fish_that_no_card_holds_is_refused(fish):
    with pytest.raises(ScaleError):
        card_for_fish(fish)
