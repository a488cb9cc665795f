"""The scale from one of our cards."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from finmeasure.card_design import SquaresDesign, WindowDesign
from finmeasure.errors import NotFound
from finmeasure.scale import budget, quality
from finmeasure.scale.advice import less_glare, sharper
from finmeasure.scale.calibration import BudgetLine, Scale
from finmeasure.scale.card_fit import CardFit, fit_card
from finmeasure.scale.lens import Lens
from finmeasure.scale.markers import FEWEST_MARKERS, Sighting, find_markers, sightings
from finmeasure.scale.orientation import oriented
from finmeasure.scale.plane_fit import Frame
from finmeasure.scale.request import PrintCheck, ScaleRequest

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
# Corner errors go together, so a fit's own covariance is too small: by little where squares meet,
# by more where thin lines cross (coverage of simulated photos, docs/method/scale.md).
WIDENED = {"window": 1.0, "squares": 3.0}
# A card partly hidden: the fit reaches beyond its corners, and some lie at the fish's edge.
WIDENED_HIDDEN = 4.0
U_FLOOR = 0.0005  # corner errors that go together: 98 % of 1110 lengths inside 2 u (methods)
U_PRINT_UNCHECKED = 0.0005
U_LENS_UNKNOWN = 0.005  # a radial term of −0.1 left out gave 0.49 %
RADIAL_OF_U_LENS = 0.065  # the same −0.1, of the focal length, in half diagonals of that camera
PRINT_RATIO = (0.4, 1.6)  # measured over nominal check line; beyond: another line was measured
# Stretched from A4 onto letter, the directions differ by 1.093 (215.9/210 over 279.4/297)
MOST_STRETCHED = 1.1


def card_scale(
    gray: Gray,
    request: ScaleRequest,
    *,
    fish_region_px: Array | None = None,
    lens: Lens | None = None,
) -> Scale | NotFound:
    """Find our card in a photo and make its scale.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The upright photo, grey.
    request : ScaleRequest
        Which kind of card, and its measured check lines.
    fish_region_px : ndarray of shape (N, 2), optional
        Where the fish is; it chooses between two cards, and must lie on the card.
    lens : Lens, optional
        The camera's radial term, used where the card shows it less surely itself.

    Returns
    -------
    Scale or NotFound
    """
    card = good_card(gray, request, fish_region_px=fish_region_px, lens=lens)
    if isinstance(card, NotFound):
        return card
    scale = _scale_of(card, request, fish_region_px, lens)
    if isinstance(scale, NotFound):
        return scale
    blur_px = quality.blur_px(gray, card, card.fit.mapping())
    told = (sharper(blur_px), less_glare(gray, _region_px(card)))
    return replace(scale, advice=tuple(sentence for sentence in told if sentence))


def good_card(
    gray: Gray,
    request: ScaleRequest,
    *,
    fish_region_px: Array | None = None,
    lens: Lens | None = None,
) -> CardFit | NotFound:
    """Find our card, fit it and check it; parameters as for :func:`card_scale`."""
    frame = Frame.of_size(gray.shape[1], gray.shape[0])
    markers = find_markers(gray)
    seen = sightings(markers, frame, request.card)
    if not seen:
        return _nothing_seen(gray, frame, len(markers), request)
    cards = [card for one in seen if (card := _fitted(gray, one, frame, lens)) is not None]
    if not cards:
        return NotFound(
            f"{len(markers)} markers were seen, but they do not lie on one flat card.",
            "Flatten the card and photograph it straight from the front.",
        )
    chosen = _the_one(cards, fish_region_px)
    if isinstance(chosen, NotFound):
        return chosen
    refused = quality.refusal(gray, chosen)
    return chosen if refused is None else refused


def _fitted(gray: Gray, sighting: Sighting, frame: Frame, lens: Lens | None) -> CardFit | None:
    """Fit a card; with the camera's radial term where the card shows it less surely itself."""
    card = fit_card(gray, sighting, frame)
    if card is None or lens is None or card.fit.u_radial <= lens.u_radial:
        return card
    return fit_card(gray, sighting, replace(frame, radial=lens.radial))


def _nothing_seen(gray: Gray, frame: Frame, seen: int, request: ScaleRequest) -> NotFound:
    """Say why no card was found; a mirrored photo is told from one without a card."""
    mirrored = np.ascontiguousarray(gray[:, ::-1])
    if sightings(find_markers(mirrored), frame, request.card):
        return NotFound(
            "The card in the photo is mirrored.",
            "Use the photo as the camera took it, not a mirrored selfie, or print the card anew.",
        )
    wanted = f"{request.card} card" if request.card else "card"
    if not seen:
        return NotFound(
            f"No {wanted} is found in the photo.",
            "Place our printed card beside or behind the fish, or mark a bar of known length.",
        )
    return NotFound(
        f"Only {seen} markers can be read, too few for a {wanted}: at least "
        f"{FEWEST_MARKERS['window']} of one window card are needed, "
        f"{FEWEST_MARKERS['squares']} of one squares card.",
        "Get the whole card into the photo, sharp and without glare.",
    )


def _the_one(cards: list[CardFit], fish_region_px: Array | None) -> CardFit | NotFound:
    """Choose the card that the fish is before."""
    if len(cards) == 1:
        return cards[0]
    if fish_region_px is not None:
        outside = [quality.share_outside(_region_px(card), fish_region_px) for card in cards]
        on_card = [card for card, share in zip(cards, outside, strict=True) if share < 0.5]
        if len(on_card) == 1:
            return on_card[0]
    names = " and ".join(f"{card.design.kind} {card.design.paper}" for card in cards)
    return NotFound(
        f"{len(cards)} cards are in the photo ({names}), and it cannot be told which one counts.",
        "Leave one card in the photo, or say --card window or --card squares.",
    )


def _scale_of(
    card: CardFit, request: ScaleRequest, fish_region_px: Array | None, lens: Lens | None
) -> Scale | NotFound:
    """Turn a good card into a scale with uncertainty and flags."""
    check = request.print_check_of(card.design.name)
    printed = print_ratio(card.design, check)
    if isinstance(printed, NotFound):
        return printed
    region = _region_px(card)
    outside = 0.0 if fish_region_px is None else quality.share_outside(region, fish_region_px)
    if outside > quality.LARGEST_SHARE_OUTSIDE:
        return NotFound(
            f"{100 * outside:.0f} % of the fish lies outside the card; at most "
            f"{100 * quality.LARGEST_SHARE_OUTSIDE:.0f} % is allowed.",
            "Use a larger card, or move the fish in front of its middle.",
        )
    flags = ("print_unchecked",) if check is None else ()
    scale = oriented(card.fit.mapping(), _middle_of_field(card.design), np.array(printed))
    scale = replace(scale, method=f"{card.design.kind}_card", region_px=region)
    scale = budget.with_lines(scale, _lines(card, check, lens))
    return budget.with_flags(scale, *flags, *(("outside_card",) if outside > 0 else ()))


def print_ratio(
    design: WindowDesign | SquaresDesign, check: PrintCheck | None
) -> tuple[float, float] | NotFound:
    """Give measured over nominal length of the check lines, across and down."""
    if check is None:
        return 1.0, 1.0
    ratio = check.across_mm / design.check_mm[0], check.down_mm / design.check_mm[1]
    low, high = PRINT_RATIO
    stretched = max(ratio) / min(ratio) if min(ratio) > 0 else math.inf
    if all(low < value < high for value in ratio) and stretched < MOST_STRETCHED:
        return ratio
    return NotFound(
        f"The check lines were measured as {check.across_mm:g} mm and {check.down_mm:g} mm, but "
        f"the {design.kind} card for {design.paper} has lines of {design.check_mm[0]:g} mm and "
        f"{design.check_mm[1]:g} mm.",
        "Measure the check lines of this card, in millimetres: first the line across, then the "
        "line down. A printer shrinks both alike.",
    )


def _lines(card: CardFit, check: PrintCheck | None, lens: Lens | None) -> list[BudgetLine]:
    """Give the sources of uncertainty of a card's scale."""
    points = "markers" if card.by_markers else "corners"
    fit = card.fit
    widened = WIDENED[card.design.kind]
    if card.partly_hidden:
        widened = WIDENED_HIDDEN
    lines = [
        BudgetLine(
            "fit",
            widened * fit.u_of_lengths(_typical_lengths_px(card)),
            f"{int(fit.used.sum())} {points}, each {fit.residual_px:.2f} px off",
        ),
        BudgetLine("corners", U_FLOOR, "corner errors that go together: blur and lens"),
    ]
    if check is None:
        lines.append(BudgetLine("print", U_PRINT_UNCHECKED, "check lines not measured"))
    else:
        shares = [check.u_mm / nominal for nominal in (check.across_mm, check.down_mm)]
        u_print = math.sqrt(sum(share**2 for share in shares) / 2)
        lines.append(BudgetLine("print", u_print, f"check lines measured to {check.u_mm:g} mm"))
    if lens is not None and fit.frame.radial is not None:
        share = U_LENS_UNKNOWN * lens.u_radial / RADIAL_OF_U_LENS
        lines.append(BudgetLine("lens", share, f"camera calibrated from {lens.photos} photos"))
    elif not card.with_radial:
        lines.append(BudgetLine("lens", U_LENS_UNKNOWN, "too little of the card for the lens term"))
    return lines


def _middle_of_field(design: WindowDesign | SquaresDesign) -> Array:
    field = design.field
    return np.array([field.left + field.right, field.top + field.bottom]) / 2


def _region_px(card: CardFit) -> Array:
    """Outer border of ring or grid in the photo, shape (4, 2)."""
    edge = card.design.pattern
    border = [
        (edge.left, edge.top),
        (edge.right, edge.top),
        (edge.right, edge.bottom),
        (edge.left, edge.bottom),
    ]
    return card.fit.mapping().to_px(border)


def _typical_lengths_px(card: CardFit) -> Array:
    """Choose the ends of lengths across the fish's field, shape (N, 2, 2)."""
    field = card.design.field
    x = np.linspace(field.left, field.right, 4)
    y = np.linspace(field.top, field.bottom, 4)
    pairs = [((x[1], y[k]), (x[2], y[k])) for k in range(4)]
    pairs += [((x[k], y[1]), (x[k], y[2])) for k in range(4)]
    pairs += [((x[0], y[0]), (x[3], y[3])), ((x[0], y[3]), (x[3], y[0]))]
    return card.fit.mapping().to_px(np.array(pairs).reshape(-1, 2)).reshape(-1, 2, 2)
