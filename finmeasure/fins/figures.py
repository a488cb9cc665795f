"""From a fin's shape to its measures, each with its uncertainty, and to its picture's parts."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.natural import looks_like_comb
from finmeasure.fins.notches import Envelope, FoundNotch, find_notches
from finmeasure.fins.profile import ray_profile
from finmeasure.fins.records import FinEdge, Notch, in_words
from finmeasure.fins.shape import FinShape
from finmeasure.fins.uncertainty import area_u, length_u, notch_area_u, notch_depth_u
from finmeasure.geometry import polygon_area, polyline_length
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.scale.calibration import Scale

Points = NDArray[np.float64]

#: Edge figures need this many pixels along the fin.
REFUSED_BELOW_PX = 80.0
#: On an edge that was followed in the photo a notch counts from this share of the fin's length on,
#: and from so many times the boundary's uncertainty (1.6 px in a sharp photo, 2.6 px in a blurred
#: one). On drawn fins whole margins, scallops of 2.5 % included, read at most 1.7 % in good photos
#: and 2.4 px in poor ones; bites of 5 % at least 2.4 %.
FOLLOWED_DEPTH, FOLLOWED_BOUNDARIES = 0.022, 3.25
#: The same for an edge that was clicked point by point.
CLICKED_DEPTH, CLICKED_DEPTH_PX = 0.03, 2.5
#: A base point that was clicked beside the fin's foot makes a step at the end of the margin: a
#: hollow so near to a base point and so shallow, in clicks, is not counted.
STEP_REACH_CLICKS, STEP_DEPTH_CLICKS = 8.0, 4.0
#: A notch so many times as wide as deep may be the shape of a sickle-shaped fin: round bites are
#: up to 2.6 times as wide as deep.
BROAD_HOLLOW = 4.0
#: So many notches before a marked dip may be the gaps between free spine tips.
GAPS_BEFORE_DIP = 2

EDGE_MEASURES = (
    ("notch_area", "%"), ("notch_depth", "%"), ("notch_count", "1"), ("split_count", "1"),
)  # fmt: skip
ALL_MEASURES = (("area", "mm2"), *EDGE_MEASURES, ("relative_length", "1"))
_EDGE_FLAGS = frozenset(
    {"broad_hollow", "low_resolution", "edge_not_visible", "fork_not_marked", "free_tips"}
)
_SIZE_FLAGS = frozenset({"low_resolution", "edge_not_visible", "bent"})


@dataclass(frozen=True, slots=True, eq=False)
class KnownFin:
    """What is known of one fin before its figures are formed, in the plane's unit.

    Parameters
    ----------
    natural : ndarray of shape (J, 2)
        Natural notches on the margin.
    followed : bool
        True for an edge with a point at every pixel or two, False for one clicked by hand.
    standard_length : tuple of float, optional
        Value and standard uncertainty.
    u_click, u_boundary : float
        Standard uncertainty of a base point per axis, and of the boundary's position.
    """

    name: str
    shape: FinShape
    scale: Scale | None
    natural: Points
    followed: bool
    standard_length: tuple[float, float] | None
    flags: frozenset[str]
    u_click: float
    u_boundary: float
    blur_px: float | None

    @property
    def least_depth(self) -> float:
        """Depth from which a notch counts."""
        if self.followed:
            return max(FOLLOWED_DEPTH * self.shape.share, FOLLOWED_BOUNDARIES * self.u_boundary)
        least_px = CLICKED_DEPTH_PX * self.shape.unit_per_px
        return max(CLICKED_DEPTH * self.shape.share, least_px)


def refused(
    fin: str, names: Iterable[tuple[str, str]], flags: Iterable[str], reason: str
) -> tuple[Measure, ...]:
    """Refuse measures, all for one reason."""
    kept = tuple(sorted(flags))
    return tuple(
        Measure(f"{fin}_{name}", unit, "refused", flags=kept, reason=reason) for name, unit in names
    )


def edge_of(fin: KnownFin, reading: Reading) -> FinEdge:
    """Form all figures of a fin whose outline can be used.

    Parameters
    ----------
    fin : KnownFin
        Shape, flags and uncertainties.
    reading : Reading
        For the directions of the rays.

    Returns
    -------
    FinEdge
        Where the edge figures are refused it has no envelope and no notches.
    """
    shape, to_px = fin.shape, fin.shape.plane.to_px
    envelope = _without_steps(
        find_notches(shape.margin, shape.share, least_depth=fin.least_depth, natural=fin.natural),
        fin,
    )
    flags = fin.flags | _flags_of(fin, envelope)
    reason = _edge_refusal(fin)
    splits = [notch.on_margin for notch in envelope.notches if notch.kind == "split"]
    profile, sectors = ray_profile(
        fin.name,
        shape,
        reading,
        splits=splits,
        standard_length=fin.standard_length,
        u_click=fin.u_click,
        flags=flags,
    )
    return FinEdge(
        fin=fin.name,
        measures=(_area(fin), *_edge_measures(fin, envelope, flags, reason), _relative_length(fin)),
        profile=profile,
        length_px=shape.length_px,
        margin_px=to_px(shape.margin),
        envelope_px=() if reason else tuple(to_px(ring) for ring in envelope.rings),
        notches=() if reason else tuple(_shown(each, fin, envelope) for each in envelope.notches),
        natural_notches_px=to_px(fin.natural),
        sectors_px=tuple(to_px(ring) for ring in sectors),
        blur_px=fin.blur_px,
    )


def _without_steps(envelope: Envelope, fin: KnownFin) -> Envelope:
    """Leave out the hollows that a base point clicked beside the fin's foot makes."""
    ends = fin.shape.margin[[0, -1]]
    kept = [
        notch
        for notch in envelope.notches
        if notch.depth >= STEP_DEPTH_CLICKS * fin.u_click
        or np.hypot(*(ends - notch.deepest).T).min() >= STEP_REACH_CLICKS * fin.u_click
    ]
    return replace(envelope, notches=tuple(kept))


def _flags_of(fin: KnownFin, envelope: Envelope) -> set[str]:
    """Find the flags that follow from the notches."""
    broad = any(notch.width >= BROAD_HOLLOW * notch.depth for notch in envelope.notches)
    free = _is_comb(fin.shape, envelope) or _has_gaps_before_dip(fin, envelope)
    told = {"free_tips": free, "broad_hollow": broad}
    return {flag for flag, holds in told.items() if holds}


def _has_gaps_before_dip(fin: KnownFin, envelope: Envelope) -> bool:
    """Whether the part before a dorsal fin's marked dip, which has spines, is notched.

    The skin of many fish ends in free tips behind each spine, so such gaps may be the fin's own.
    """
    if fin.name != "dorsal" or not len(fin.natural):
        return False
    dip = int(np.hypot(*(fin.shape.margin - fin.natural[0]).T).argmin())
    before = [np.flatnonzero(notch.on_margin).mean() < dip for notch in envelope.notches]
    return bool(sum(before) >= GAPS_BEFORE_DIP)


def _is_comb(shape: FinShape, envelope: Envelope) -> bool:
    """Whether the notches are the even gaps between free ray tips."""
    depths = np.array([notch.depth for notch in envelope.notches])
    middles = [np.flatnonzero(notch.on_margin).mean() for notch in envelope.notches]
    return looks_like_comb(depths, np.array(middles) / len(shape.margin))


def _edge_refusal(fin: KnownFin) -> str:
    """Why the edge figures are refused, or nothing."""
    if fin.shape.length_px < REFUSED_BELOW_PX:
        return (
            f"The {in_words(fin.name)} fin is {math.floor(fin.shape.length_px)} px long, at least "
            f"{REFUSED_BELOW_PX:.0f} px are needed. Use a smaller card or go nearer."
        )
    if "edge_not_visible" in fin.flags:
        return (
            f"The {in_words(fin.name)} fin's edge hardly differs from the background. "
            "Use a ground of another colour, or light from behind."
        )
    if "fork_not_marked" in fin.flags:
        return "The tail looks forked. Mark caudal_fork, or mark it absent if there is no fork."
    return ""


def _edge_measures(
    fin: KnownFin, envelope: Envelope, flags: frozenset[str], reason: str
) -> tuple[Measure, ...]:
    """Notch area, notch depth and both counts."""
    kept = tuple(sorted(flags & _EDGE_FLAGS))
    if reason:
        return refused(fin.name, EDGE_MEASURES, kept, reason)
    share, found = fin.shape.share, envelope.notches
    deepest = max(found, key=lambda notch: notch.depth, default=None)
    splits = sum(notch.kind == "split" for notch in found)
    wall = sum(notch.wall for notch in found)
    values = (
        100.0 * sum(notch.area for notch in found) / envelope.area,
        0.0 if deepest is None else 100.0 * deepest.depth / share,
        float(len(found) - splits),
        float(splits),
    )
    depth_u = notch_depth_u(deepest, share, fin.least_depth, fin.u_boundary)
    uncertainties = notch_area_u(wall, envelope.area, fin.u_boundary), depth_u, None, None
    return tuple(
        Measure(f"{fin.name}_{name}", unit, "measured", value, u, kept)
        for (name, unit), value, u in zip(EDGE_MEASURES, values, uncertainties, strict=True)
    )


def _area(fin: KnownFin) -> Measure:
    """Area closed by the straight base line, mm²."""
    name = f"{fin.name}_area"
    if fin.scale is None:
        reason = "Areas need a scale. Photograph the fish in front of the card."
        return Measure(name, "mm2", "refused", flags=("no_scale",), reason=reason)
    shape = fin.shape
    value = polygon_area(shape.traced)
    length = polyline_length(shape.traced)
    own = area_u(length, shape.base_length, fin.u_click, fin.u_boundary)
    u = float(np.hypot(own, 2.0 * fin.scale.u_rel * value))
    return Measure(name, "mm2", "measured", value, u, _sorted(fin.flags & _SIZE_FLAGS, fin.scale))


def _relative_length(fin: KnownFin) -> Measure:
    """Fin length divided by standard length."""
    name = f"{fin.name}_relative_length"
    if fin.standard_length is None:
        reason = "The standard length is not known. Mark snout_tip and caudal_base."
        return Measure(name, "1", "hidden", reason=reason)
    standard, u_standard = fin.standard_length
    value = fin.shape.length / standard
    u_length = length_u(fin.u_click, fin.u_boundary)
    u = value * float(np.hypot(u_length / fin.shape.length, u_standard / standard))
    flags = _sorted(fin.flags & _SIZE_FLAGS, fin.scale)
    return Measure(name, "1", "measured", value, u, flags)


def _sorted(flags: frozenset[str], scale: Scale | None) -> tuple[str, ...]:
    """Own flags and those of the photo's scale; without a scale ratios are not rectified."""
    photo = ("not_rectified",) if scale is None else scale.flags
    return tuple(sorted({*flags, *photo}))


def _shown(notch: FoundNotch, fin: KnownFin, envelope: Envelope) -> Notch:
    """One notch as shares of the fin, with its places in the photo."""
    to_px, share = fin.shape.plane.to_px, fin.shape.share
    return Notch(
        kind=notch.kind,
        depth_pct=100.0 * notch.depth / share,
        width_pct=100.0 * notch.width / share,
        area_pct=100.0 * notch.area / envelope.area,
        deepest_px=to_px(notch.deepest[None])[0],
        mouth_px=to_px(notch.mouth[None])[0],
        outline_px=to_px(notch.ring),
    )
