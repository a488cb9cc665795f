"""Fish of every shape and colour, wider than nature: what a network must not be surprised by."""

from __future__ import annotations

import colorsys
from dataclasses import replace

import numpy as np

from finmeasure.drawing.forms import BODY_FORMS, long_finned, random_spec
from finmeasure.drawing.spec import Colour, FinLook, FinSpec, FishSpec, Look, Pattern
from finmeasure.drawing.variation import damaged, folded

_MEDIAN_KINDS = ("triangular", "rounded", "lobed", "scalloped", "long_rayed", "comb", "truncate")
_CAUDAL_KINDS = ("forked", "emarginate", "truncate", "rounded", "scalloped", "comb")
_PAIRED_KINDS = ("triangular", "rounded", "long_rayed")
#: Probability that a fish of a kind that has the fin lacks it.
_LOST = {"dorsal": 0.03, "anal": 0.03, "pelvic": 0.06, "pectoral": 0.08, "adipose": 0.15}
_REAR_LIMIT = 0.95


def wild_spec(rng: np.random.Generator) -> FishSpec:
    """Draw a fish whose form, fins, posture and colours vary far beyond one kind."""
    spec = random_spec(rng, body_form=str(rng.choice(list(BODY_FORMS))))
    spec = _wild_body(spec, rng)
    kept = (fin for fin in spec.fins if rng.random() >= _LOST.get(fin.part, 0.0))
    look = _wild_look(rng)
    shared = rng.random() < 0.5
    fins = (_wild_fin(fin, spec.standard_length_mm, rng) for fin in kept)
    dressed = tuple(fin if shared else replace(fin, look=_fin_look(rng, look)) for fin in fins)
    spec = replace(spec, fins=_in_order(dressed, spec.standard_length_mm), look=look)
    if rng.random() < 0.08:
        spec = long_finned(spec, rng.uniform(1.3, 2.0))
    if rng.random() < 0.45:
        spec = folded(spec, rng, share=0.35)
    if rng.random() < 0.4:
        spec = damaged(spec, rng, share=0.4)
    bend = rng.normal(0, 7.0) if rng.random() < 0.4 else 0.0
    return replace(spec, bend_deg=bend, yaw_deg=abs(rng.normal(0, 9.0)))


def _wild_body(spec: FishSpec, rng: np.random.Generator) -> FishSpec:
    length = spec.standard_length_mm
    depth = float(np.clip(spec.depth_mm * np.exp(rng.normal(0, 0.22)), 0.1 * length, 0.9 * length))
    peduncle = spec.peduncle_depth_mm * np.exp(rng.normal(0, 0.2))
    eye = spec.eye_diameter_mm * np.exp(rng.normal(0, 0.22))
    eye = min(eye, 0.5 * depth)
    return replace(
        spec,
        depth_mm=depth,
        deepest_mm=float(np.clip(spec.deepest_mm + rng.normal(0, 0.045) * length,
                                 0.2 * length, 0.62 * length)),
        peduncle_depth_mm=float(np.clip(peduncle, 0.035 * length, 0.6 * depth)),
        eye_diameter_mm=eye,
        eye_mm=eye * 0.5 + rng.uniform(0.03, 0.1) * length,
        operculum_mm=float(np.clip(spec.operculum_mm * np.exp(rng.normal(0, 0.1)),
                                   0.17 * length, 0.38 * length)),
        back_share=float(np.clip(spec.back_share + rng.normal(0, 0.05), 0.3, 0.8)),
        bluntness=float(np.clip(spec.bluntness + rng.normal(0, 0.15), 0.05, 0.98)),
        mouth_drop=spec.mouth_drop + rng.normal(-0.03, 0.06),
        eye_height_share=rng.uniform(0.1, 0.5),
        barbels=spec.barbels if rng.random() < 0.8 else int(rng.integers(0, 3)),
    )  # fmt: skip


def _wild_fin(fin: FinSpec, length: float, rng: np.random.Generator) -> FinSpec:
    special = fin.kind in {"rod", "thread", "sword"} or fin.part == "adipose"
    fin = replace(
        fin,
        length_mm=fin.length_mm * float(np.exp(rng.normal(0, 0.1 if special else 0.28))),
        first_ray_deg=fin.first_ray_deg + rng.normal(0, 1 if special else 8),
        last_ray_deg=fin.last_ray_deg + rng.normal(0, 1 if special else 8),
        curl_deg=fin.curl_deg + rng.normal(0, 2 if special else 10),
        ray_count=max(int(fin.ray_count * np.exp(rng.normal(0, 0.25))), 3 if not special else 1),
    )
    if fin.part == "pectoral":
        turn = rng.normal(12, 16)
        return replace(
            fin,
            front_mm=fin.front_mm + rng.normal(0, 0.015) * length,
            height_share=float(np.clip(fin.height_share + rng.normal(-0.15, 0.2), -0.92, 0.3)),
            first_ray_deg=fin.first_ray_deg - turn,
            last_ray_deg=fin.last_ray_deg - turn,
            kind=_other_kind(fin, _PAIRED_KINDS, rng),
        )
    if fin.part == "caudal":
        depth = float(np.clip(fin.depth + rng.normal(0, 0.08), 0.02, 0.7))
        return replace(fin, kind=_other_kind(fin, _CAUDAL_KINDS, rng), depth=depth)
    if fin.part == "pelvic" and not special:
        # Most pelvic fins are held half folded along the belly.
        flat = max(rng.normal(14, 12), -10.0)
        fin = replace(fin, first_ray_deg=fin.first_ray_deg - flat,
                      last_ray_deg=fin.last_ray_deg - 0.6 * flat)  # fmt: skip
    base = (fin.rear_mm - fin.front_mm) * np.exp(rng.normal(0, 0.1 if special else 0.3))
    front = fin.front_mm + rng.normal(0, 0.015 if special else 0.035) * length
    kinds = _PAIRED_KINDS if fin.part == "pelvic" else _MEDIAN_KINDS
    return replace(
        fin,
        front_mm=front,
        rear_mm=min(front + base, _REAR_LIMIT * length),
        kind=fin.kind if special else _other_kind(fin, kinds, rng),
        depth=fin.depth if special else float(np.clip(fin.depth + rng.normal(0, 0.1), 0.02, 0.9)),
    )


def _other_kind(fin: FinSpec, kinds: tuple[str, ...], rng: np.random.Generator) -> str:
    return str(rng.choice(kinds)) if rng.random() < 0.3 else fin.kind


def _in_order(fins: tuple[FinSpec, ...], length: float) -> tuple[FinSpec, ...]:
    """Keep fins on the back, and those on the belly, from lying over each other's bases."""
    by_part = {fin.part: fin for fin in fins}
    for row in (("dorsal", "second_dorsal", "adipose"), ("pelvic", "anal")):
        end = 0.12 * length
        for part in (part for part in row if part in by_part):
            fin = by_part[part]
            front = max(fin.front_mm, end + 0.005 * length)
            rear = min(max(fin.rear_mm, front + 0.012 * length), (_REAR_LIMIT + 0.02) * length)
            by_part[part] = replace(fin, front_mm=min(front, rear - 0.01 * length), rear_mm=rear)
            end = rear
    return tuple(by_part.values())


_TONES: tuple[tuple[tuple[float, float], tuple[float, float], tuple[float, float]], ...] = (
    ((0.05, 0.65), (0.02, 0.2), (0.5, 0.95)),  # silver
    ((0.04, 0.12), (0.2, 0.65), (0.2, 0.6)),  # brown
    ((0.1, 0.25), (0.2, 0.6), (0.2, 0.6)),  # olive
    ((-0.03, 0.09), (0.6, 1.0), (0.5, 1.0)),  # red and orange
    ((0.1, 0.17), (0.4, 0.95), (0.6, 1.0)),  # yellow
    ((0.5, 0.68), (0.3, 0.95), (0.25, 0.95)),  # blue
    ((0.25, 0.45), (0.2, 0.8), (0.25, 0.8)),  # green
    ((0.0, 1.0), (0.0, 0.4), (0.02, 0.2)),  # black
    ((0.0, 1.0), (0.0, 0.08), (0.85, 1.0)),  # white
    ((0.88, 1.02), (0.2, 0.6), (0.6, 0.95)),  # pink
    ((0.0, 1.0), (0.2, 1.0), (0.2, 1.0)),  # anything
)


def wild_colour(rng: np.random.Generator) -> Colour:
    """Draw a colour as animals, plants and things have them."""
    hue, saturation, value = (rng.uniform(*span) for span in _TONES[rng.integers(len(_TONES))])
    return colorsys.hsv_to_rgb(hue % 1.0, saturation, value)


def _shaded(colour: Colour, share: float) -> Colour:
    red, green, blue = (float(np.clip(tone * share, 0, 1)) for tone in colour)
    return red, green, blue


def _wild_look(rng: np.random.Generator) -> Look:
    flank = wild_colour(rng)
    kinds = ["stripe", "bars", "spots", "blotch", "rear"]
    patterns = tuple(
        Pattern(
            str(rng.choice(kinds)),
            wild_colour(rng) if rng.random() < 0.6 else _shaded(flank, rng.uniform(0.1, 0.5)),
            rng.uniform(0.3, 1.0),
            rng.uniform(-0.5, 1.0),
            float(np.exp(rng.uniform(np.log(0.03), np.log(0.5)))),
            int(rng.integers(2**31)),
        )
        for _ in range(int(rng.choice([0, 1, 2, 3, 4], p=[0.25, 0.3, 0.25, 0.12, 0.08])))
    )
    look = Look(
        back=wild_colour(rng) if rng.random() < 0.2 else _shaded(flank, rng.uniform(0.25, 1.1)),
        flank=flank,
        belly=wild_colour(rng) if rng.random() < 0.15 else _shaded(flank, rng.uniform(0.6, 1.7)),
        iris=wild_colour(rng),
        patterns=patterns,
        gloss=rng.uniform(0.0, 1.0),
        scale_rows=int(rng.integers(6, 18)),
        scale_contrast=rng.uniform(0.0, 0.8),
        seed=int(rng.integers(2**31)),
    )
    return replace(look, fins=_fin_look(rng, look))


def _fin_look(rng: np.random.Generator, look: Look) -> FinLook:
    """Fins of the body's colour, of their own, or clear as glass."""
    colour = wild_colour(rng) if rng.random() < 0.4 else _shaded(look.flank, rng.uniform(0.5, 1.3))
    if rng.random() < 0.25:
        tone = rng.uniform(0.55, 0.95)
        colour = (tone, tone, tone * rng.uniform(0.8, 1.0))
    tip = wild_colour(rng) if rng.random() < 0.35 else _shaded(colour, rng.uniform(0.6, 1.3))
    kind = rng.choice(["solid", "half", "clear"], p=[0.42, 0.35, 0.23])
    low, high = {"solid": (0.55, 1.0), "half": (0.2, 0.55), "clear": (0.05, 0.2)}[str(kind)]
    membrane = rng.uniform(low, high)
    return FinLook(
        colour=colour,
        tip_colour=tip,
        membrane=membrane,
        ray=min(membrane + rng.uniform(0.05, 0.45), 1.0),
        ray_tone=rng.uniform(-0.5, 0.4),
        edge=rng.uniform(0.3, 1.0) if rng.random() < 0.25 else 0.0,
        edge_colour=wild_colour(rng),
        spots=rng.uniform(0.3, 1.0) if rng.random() < 0.2 else 0.0,
    )
