"""What a drawn fish is made of: all shape parameters in millimetres."""

from __future__ import annotations

from dataclasses import dataclass, field

from finmeasure.drawing.damage import Damage
from finmeasure.reading import Spread

Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class FinSpec:
    """One fin.

    Parameters
    ----------
    part : str
        Contract name: dorsal, second_dorsal, adipose, caudal, anal, pelvic or pectoral.
    kind : str
        Shape of the margin, a key of :data:`finmeasure.drawing.fan.LENGTH_PROFILES`.
    length_mm : float
        Length of the longest ray.
    front_mm, rear_mm : float
        Base of a median or pelvic fin, measured along the body axis from the snout; of a pectoral
        fin its place along the axis and the height of its base. Not used by the caudal fin.
    first_ray_deg, last_ray_deg : float
        Directions of the first and last ray away from the rear; positive is away from the body
        (caudal and pectoral fins: upwards).
    curl_deg : float
        Turn of the rays towards the rear.
    depth : float
        How deep the kind's feature is (fork, scallops, gaps, thread), share of the longest ray.
    opening : float
        Factor on the angle between first and last ray; the rays' lengths stay.
    folded : float
        0 spread to 1 lying flat (clamped).
    height_share : float
        Pectoral fin: place of its base, −1 at the belly, 1 at the back.
    look : FinLook, optional
        Colours of this fin where they differ from those of the fish's other fins.
    """

    part: str
    kind: str
    length_mm: float
    front_mm: float = 0.0
    rear_mm: float = 0.0
    first_ray_deg: float = 65.0
    last_ray_deg: float = 25.0
    curl_deg: float = 0.0
    depth: float = 0.1
    ray_count: int = 12
    opening: float = 1.0
    folded: float = 0.0
    height_share: float = -0.4
    damages: tuple[Damage, ...] = ()
    look: FinLook | None = None

    @property
    def spread(self) -> Spread:
        """How the fin is held, in the words of an outline."""
        if self.folded < 0.2:
            return "spread"
        return "part_folded" if self.folded < 0.75 else "clamped"


@dataclass(frozen=True, slots=True)
class Pattern:
    """A marking on the flank: its kind, colour, strength, place and size as shares of the body."""

    kind: str
    colour: Colour
    strength: float = 0.7
    place: float = 0.0
    size: float = 0.2
    seed: int = 0


@dataclass(frozen=True, slots=True)
class FinLook:
    """Colour and translucency of the fins.

    `membrane` and `ray` are opacities, 0 to 1; `ray_tone` makes the rays darker (negative) or
    lighter than the membrane; `edge` is the strength of a coloured margin, `spots` of spots.
    """

    colour: Colour = (0.75, 0.72, 0.62)
    tip_colour: Colour = (0.8, 0.78, 0.72)
    membrane: float = 0.25
    ray: float = 0.6
    ray_tone: float = -0.15
    edge: float = 0.0
    edge_colour: Colour = (0.1, 0.1, 0.1)
    spots: float = 0.0


@dataclass(frozen=True, slots=True)
class Look:
    """Colours of a fish; red, green, blue from 0 to 1."""

    back: Colour = (0.36, 0.34, 0.24)
    flank: Colour = (0.68, 0.66, 0.56)
    belly: Colour = (0.88, 0.87, 0.82)
    iris: Colour = (0.75, 0.68, 0.45)
    patterns: tuple[Pattern, ...] = ()
    fins: FinLook = field(default_factory=FinLook)
    gloss: float = 0.3
    scale_rows: int = 9
    scale_contrast: float = 0.35
    seed: int = 0


@dataclass(frozen=True, slots=True)
class FishSpec:
    """One fish, lying straight, in millimetres.

    Parameters
    ----------
    body_form : str
        One of :data:`finmeasure.drawing.forms.BODY_FORMS`.
    standard_length_mm : float
        Snout tip to the rear edge of the flesh.
    depth_mm, deepest_mm : float
        Greatest body depth and its distance from the snout.
    back_share : float
        Share of the depth above the snout–caudal axis.
    peduncle_depth_mm, peduncle_mm : float
        Least depth of the tail stalk and its distance from the snout.
    bluntness : float
        0 pointed to 1 blunt head.
    mouth_drop : float
        How far the snout tip lies below the axis (above: negative), share of the depth.
    operculum_mm : float
        Rear bony edge of the gill cover, from the snout.
    eye_mm, eye_diameter_mm, eye_height_share : float
        Eye centre from the snout, its diameter, its height between axis (0) and back (1).
    fins : tuple of FinSpec
        At most one per part.
    barbels : int
        Number of barbels at the mouth.
    bend_deg : float
        Turn of the body axis behind the head; 0 is straight.
    yaw_deg : float
        Angle by which the fish points out of the card's plane; it shortens lengths along the axis.
    """

    body_form: str
    standard_length_mm: float
    depth_mm: float
    deepest_mm: float
    peduncle_depth_mm: float
    peduncle_mm: float
    operculum_mm: float
    eye_mm: float
    eye_diameter_mm: float
    back_share: float = 0.5
    bluntness: float = 0.5
    mouth_drop: float = 0.0
    eye_height_share: float = 0.3
    fins: tuple[FinSpec, ...] = ()
    look: Look = field(default_factory=Look)
    barbels: int = 0
    bend_deg: float = 0.0
    yaw_deg: float = 0.0

    def fin(self, part: str) -> FinSpec | None:
        """Fin of that name, or None where the fish has none."""
        return next((fin for fin in self.fins if fin.part == part), None)
